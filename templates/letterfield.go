package templates

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// LetterField is a value that the texts of a kind may ask for.
type LetterField struct {
	Name, Meaning string
	// Maybe tells that a letter can lack it: a text then asks for it only in a block
	// that is left out without it ("?name ").
	Maybe bool
	// Row tells that it belongs to one infant of a list: it stands in repeated blocks.
	Row bool
}

// fieldRow is one field with the kinds that always have it and those that may lack it.
type fieldRow struct {
	name, meaning string
	always, maybe string // kinds, or the groups all, case, family, doctor, visit
	row           bool
}

// kindGroups are short names for several kinds.
var kindGroups = map[string][]string{
	"all":    LetterKindNames(),
	"family": kindsWhere(func(k letterKind) bool { return k.family }),
	"doctor": {"doctor-referral", "doctor-result", "doctor-cannot-reach"},
	"case":   kindsWhere(func(k letterKind) bool { return k.kind != "clinic-day" }),
	"visit":  {"booking", "reminder"},
}

func kindsWhere(f func(letterKind) bool) []string {
	var out []string
	for _, k := range letterKinds {
		if f(k) {
			out = append(out, k.kind)
		}
	}
	return out
}

var fieldRows = []fieldRow{
	{name: "program", meaning: "the name of the follow-up program", always: "all"},
	{name: "contact", meaning: "the person at the program who answers calls", always: "all"},
	{name: "phone", meaning: "the phone number to call", always: "all"},
	{name: "hours", meaning: "when that phone is answered, in words", always: "all"},
	{name: "emergency", meaning: "the emergency number of the region", always: "family"},
	{name: "fax", meaning: "the program's fax number", maybe: "doctor clinic-day"},
	{name: "center", meaning: "the CF center that the program refers to", maybe: "doctor result carrier"},
	{name: "center_phone", meaning: "the phone number of the CF center", maybe: "doctor result carrier"},
	{name: "counseling", meaning: "whom to call for genetic counseling, with the number", maybe: "result carrier"},
	{name: "infant", meaning: "the infant's name, given name first", always: "case"},
	{name: "infant_born", meaning: "the infant's birth date in long form", always: "case"},
	{name: "doctor", meaning: "the family's doctor as recorded", always: "doctor", maybe: "family"},
	{name: "mother", meaning: "the mother's name", maybe: "doctor"},
	{name: "record", meaning: "the infant's record number with its authority", maybe: "doctor"},
	{name: "visit_day", meaning: "the day of the visit in long form", always: "visit missed clinic-day", maybe: "doctor-referral"},
	{name: "visit_time", meaning: "the time of the visit in words", always: "visit", maybe: "missed doctor-referral"},
	{name: "site", meaning: "the name of the place of the test", always: "visit clinic-day", maybe: "missed doctor-referral"},
	{name: "site_address", meaning: "the street address of the place of the test", maybe: "visit"},
	{name: "site_phone", meaning: "the phone number of the place of the test", maybe: "visit"},
	{name: "site_note", meaning: "what the place asks for: parking, entrance, getting ready", maybe: "visit"},
	{name: "next_day", meaning: "the day of the new visit, when one is booked", maybe: "missed"},
	{name: "next_time", meaning: "the time of the new visit in words", maybe: "missed"},
	{name: "next_site", meaning: "the place of the new visit", maybe: "missed"},
	{name: "test_day", meaning: "the day of the test that the letter is about, in long form", always: "repeat-needed result carrier doctor-result"},
	{name: "released_by", meaning: "the licensed person who let the letter go out", always: "result carrier"},
	{name: "released_on", meaning: "the day on which that person did so", always: "result carrier"},
	{name: "tried_from", meaning: "the day since which the program has tried to reach the family", always: "no-contact doctor-cannot-reach"},
	{name: "tries", meaning: "how often and by which means it was tried", always: "doctor-cannot-reach"},
	{name: "call_by", meaning: "the day until which the family is asked to call", always: "no-contact"},
	{name: "screen_reason", meaning: "why the infant was referred, without values", always: "doctor-referral"},
	{name: "irt", meaning: "the IRT as reported, with its unit", maybe: "doctor-referral"},
	{name: "variants", meaning: "the CFTR variants as reported", maybe: "doctor-referral"},
	{name: "laboratory", meaning: "the screening laboratory", maybe: "doctor-referral"},
	{name: "specimen", meaning: "the number of the screening specimen", maybe: "doctor-referral"},
	{name: "test_from", meaning: "the first day on which the infant can be tested", maybe: "doctor-referral"},
	{name: "test_by", meaning: "the day by which the sweat test is due", always: "doctor-referral doctor-cannot-reach"},
	{name: "chloride", meaning: "the sweat chloride that decides, with its unit", always: "doctor-result"},
	{name: "arms", meaning: "each arm with its chloride", always: "doctor-result"},
	{name: "repeat_by", meaning: "the day by which the repeat is due", maybe: "doctor-result"},
	{name: "count", meaning: "how many infants are on the list", always: "clinic-day"},
	{name: "row_time", meaning: "the infant's time", always: "clinic-day", row: true},
	{name: "row_infant", meaning: "the infant's name", always: "clinic-day", row: true},
	{name: "row_born", meaning: "the infant's birth date", always: "clinic-day", row: true},
	{name: "row_age", meaning: "the infant's age on that day", always: "clinic-day", row: true},
	{name: "row_why", meaning: "first test, or which repeat and after what", always: "clinic-day", row: true},
	{name: "row_weight", meaning: "the last weight with its day", maybe: "clinic-day", row: true},
	{name: "row_language", meaning: "the language of the family, with the wish for an interpreter", maybe: "clinic-day", row: true},
	{name: "row_care", meaning: "what to heed: a hold, a twin, a test before the infant was ready", maybe: "clinic-day", row: true},
}

// letterFields are the fields of each kind by name, built once from fieldRows.
var letterFields = func() map[string]map[string]LetterField {
	out := map[string]map[string]LetterField{}
	for _, k := range letterKinds {
		out[k.kind] = map[string]LetterField{}
	}
	for _, row := range fieldRows {
		for _, kind := range inGroups(row.maybe) {
			out[kind][row.name] = LetterField{row.name, row.meaning, true, row.row}
		}
		for _, kind := range inGroups(row.always) {
			out[kind][row.name] = LetterField{row.name, row.meaning, false, row.row}
		}
	}
	return out
}()

func inGroups(words string) []string {
	var out []string
	for _, w := range strings.Fields(words) {
		if group := kindGroups[w]; group != nil {
			out = append(out, group...)
			continue
		}
		out = append(out, w)
	}
	return out
}

// LetterFieldsOf lists the fields that texts of a kind may use, in order. In another
// language than English the hours may be missing, because the program writes them.
func LetterFieldsOf(kind, language string) []LetterField {
	out := slices.Collect(maps.Values(letterFields[kind]))
	for i := range out {
		out[i].Maybe = out[i].Maybe || hoursMayMiss(out[i].Name, language)
	}
	slices.SortFunc(out, func(a, b LetterField) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// hoursMayMiss: the program gives its hours in English, and in other languages when
// it wants to.
func hoursMayMiss(name, language string) bool { return name == "hours" && language != "en" }

// fieldOf finds a field of a kind, or says what is wrong with asking for it.
func fieldOf(kind, language, name string) (LetterField, error) {
	f, known := letterFields[kind][name]
	f.Maybe = f.Maybe || hoursMayMiss(name, language)
	if known || letterFields[kind] == nil && fieldMeaning(name) != "" {
		return f, nil
	}
	names := strings.Join(slices.Sorted(maps.Keys(letterFields[kind])), ", ")
	if fieldMeaning(name) != "" {
		return f, fmt.Errorf("a letter of the kind %q has no field {%s} (%s); it has: %s", kind, name, fieldMeaning(name), names)
	}
	return f, fmt.Errorf("unknown field {%s}; known: %s", name, names)
}

func fieldMeaning(name string) string {
	for _, row := range fieldRows {
		if row.name == name {
			return row.meaning
		}
	}
	return ""
}
