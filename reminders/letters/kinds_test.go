package letters

import (
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/templates"
)

// wanted is one letter of a kind, with what it is made from.
type wanted struct {
	name string // kind, with its variant
	c    *cases.Case
	on   cases.Day
	due  cases.LetterDue
}

// full is ada with everything on record that letters can say.
func full() *cases.Case {
	c := ada()
	irt := 81.4
	c.Infant.Records = []cases.RecordNo{{Authority: "Alder Bay Hospital", Number: "4471"}}
	c.Infant.Weights = []cases.Weight{{On: day("2026-03-09"), G: 3400}}
	c.Referral.Screen = &cases.Screen{IRTNgML: &irt, Laboratory: "Alder Bay Screening Laboratory", Accession: "S-20417"}
	c.Genotype = &cases.Genotype{Reported: day("2026-03-08"), Scope: "panel", Variants: []cases.Variant{{Name: "F508del", Reported: day("2026-03-08")}}}
	c.Family.Mother, c.Family.Language = "Lin Wren", "es"
	c.PrimaryCare = &cases.PrimaryCare{Name: "Dr. Finch", Practice: "Causeway Pediatrics", Phone: "555-0160", Address: address("8 Causeway Road")}
	return c
}

// everyLetter is one letter of every kind and variant.
func everyLetter() []wanted {
	letter := func(kind, occasion, on string, edit func(*cases.Case)) wanted {
		c := full()
		if edit != nil {
			edit(c)
		}
		return wanted{kind, c, day(on), cases.LetterDue{Kind: kind, Occasion: occasion}}
	}
	tested := func(test cases.SweatTest) func(*cases.Case) {
		return func(c *cases.Case) { c.Bookings, c.SweatTests = nil, []cases.SweatTest{test} }
	}
	unreached := func(c *cases.Case) {
		c.Bookings = nil
		c.Contacts = []cases.Contact{
			{On: day("2026-03-09"), With: "family", By: "phone", Outcome: "no answer"},
			{On: day("2026-03-10"), With: "family", By: "phone", Outcome: "no answer"},
			{On: day("2026-03-12"), With: "family", By: "letter", Outcome: "mailed"},
		}
	}
	release := func(kind string) func(*cases.Case) {
		return func(c *cases.Case) {
			tested(sweat("2026-03-18", 14))(c)
			if kind == cases.LetterResult {
				c.Genotype = &cases.Genotype{Reported: day("2026-03-08"), Scope: "panel"}
			}
			c.Releases = []cases.Release{{Kind: kind, On: day("2026-03-19"), By: "Dr. Holt", Licence: "pediatrician"}}
		}
	}
	list := []wanted{
		letter(cases.LetterFirstNotice, "2026-03-08", "2026-03-10", nil),
		letter(cases.LetterBooking, "2026-03-18 09:30", "2026-03-10", nil),
		letter(cases.LetterReminder, "2026-03-18 09:30", "2026-03-12", nil),
		letter(cases.LetterMissed, "2026-03-18 09:30", "2026-03-19", func(c *cases.Case) {
			c.Bookings[0].State = "missed"
			c.Bookings = append(c.Bookings, cases.Booking{On: day("2026-03-20"), At: "13:00", Site: "alder-bay", State: "booked"})
		}),
		letter(cases.LetterRepeatNeeded, "2026-03-18 qns", "2026-03-20", tested(qns("2026-03-18"))),
		letter(cases.LetterRepeatNeeded, "2026-03-18 intermediate", "2026-03-20", tested(sweat("2026-03-18", 40))),
		letter(cases.LetterRepeatNeeded, "2026-03-18 void", "2026-03-20", func(c *cases.Case) {
			tested(sweat("2026-03-18", 20))(c)
			c.SweatTests[0].Verified = &cases.Verified{On: day("2026-03-19"), By: "Dr. Finch", As: "void"}
		}),
		letter(cases.LetterResult, "2026-03-18", "2026-03-20", release(cases.LetterResult)),
		letter(cases.LetterCarrier, "2026-03-18", "2026-03-20", release(cases.LetterCarrier)),
		letter(cases.LetterNoContact, "2026-03-08", "2026-03-20", unreached),
		letter(cases.LetterReferral, "2026-03-08", "2026-03-10", nil),
		letter(cases.LetterReferral, "2026-03-08 presumptive", "2026-03-10", func(c *cases.Case) {
			c.Genotype.Variants = append(c.Genotype.Variants, cases.Variant{Name: "G551D", Phase: "trans", Reported: day("2026-03-08")})
		}),
		letter(cases.LetterDoctorResult, "2026-03-18 unlikely", "2026-03-20", tested(sweat("2026-03-18", 14))),
		letter(cases.LetterDoctorResult, "2026-03-18 intermediate", "2026-03-20", tested(sweat("2026-03-18", 42))),
		letter(cases.LetterDoctorResult, "2026-03-18 consistent-with-cf", "2026-03-20", tested(sweat("2026-03-18", 88))),
		letter(cases.LetterCannotReach, "2026-03-08", "2026-03-20", unreached),
	}
	for i, variant := range []string{4: "qns", 5: "intermediate", 6: "unclear", 11: "presumptive", 12: "unlikely", 13: "intermediate", 14: "consistent-with-cf"} {
		if variant != "" {
			list[i].name += "-" + variant
		}
	}
	return list
}

// complete is the program with all that letters can say.
func complete() *Program {
	p := alderBay()
	p.HoursIn = map[string]string{"es": "de lunes a viernes, de las 8 de la mañana a las 4 de la tarde"}
	p.Fax, p.CFCenter, p.CFCenterPhone, p.Counseling = "555-0143", "Alder Bay CF Center", "555-0155", "Maren Holt, 555-0144"
	return p
}

func (x *wanted) compose(t testing.TB, p *Program) (Letter, error) {
	t.Helper()
	a := cases.DefaultProtocol().Assess(x.c, x.on)
	l, err := Compose(x.c, &a, x.due, allTexts(t), p)
	l.Number = "7KQ294XF"
	return l, err
}

// clinicDay is the list of a day with twins and a repeat.
func clinicDay(t testing.TB, p *Program) (Letter, error) {
	t.Helper()
	first, twin, repeat := full(), full(), full()
	first.Infant.Plurality, twin.Infant.Plurality, twin.Infant.Given = 2, 2, "Bo"
	twin.Holds = []cases.Hold{{Reason: "skin", From: day("2026-03-10")}}
	repeat.Infant.Given, repeat.Family.Language = "Cy", "en"
	repeat.SweatTests = []cases.SweatTest{qns("2026-03-11")}
	d := ClinicDay{Site: "alder-bay", On: day("2026-03-18"), MadeOn: day("2026-03-17")}
	for i, c := range []*cases.Case{repeat, first, twin} {
		a := cases.DefaultProtocol().Assess(c, d.MadeOn)
		d.Infants = append(d.Infants, ClinicInfant{At: []cases.Clock{"11:30", "09:30", "10:30"}[i], Case: c, Assessment: &a})
	}
	l, err := ComposeClinicDay(d, allTexts(t), p)
	l.Number = "7KQ294XF"
	return l, err
}

// Every kind and variant that the texts have can be composed; a family's in its own
// language, a doctor's in English.
func TestComposeMakesEveryKind(t *testing.T) {
	seen := map[string]bool{"clinic-day": true}
	for _, x := range everyLetter() {
		l, err := x.compose(t, complete())
		if err != nil {
			t.Errorf("%s: %v", x.name, err)
			continue
		}
		seen[strings.TrimSuffix(strings.TrimPrefix(l.Source.File, l.Language+"/"), ".txt")] = true
		family := cases.LetterKindOf(x.due.Kind).To == cases.ToFamily
		if want := map[bool]string{true: "es", false: "en"}[family]; l.Language != want || l.Source.File != want+"/"+x.name+".txt" {
			t.Errorf("%s: language %s, text %s", x.name, l.Language, l.Source.File)
		}
		preview, window := l.Preview(), strings.Join(l.Address, "\n")
		if all := preview + asJSON(t, l); strings.Contains(all, "AB-2026") || strings.Contains(all, "0042") {
			t.Errorf("%s: the case's reference is in the letter", x.name)
		}
		if strings.Contains(window, "Ada") || strings.Contains(window, "Screening") {
			t.Errorf("%s: the window shows %q", x.name, window)
		}
		if to := l.Address[0]; family && to != "Parent or guardian, Wren" || !family && to != "Dr. Finch" {
			t.Errorf("%s: goes to %q", x.name, to)
		}
		if sheets, err := l.sheets(); err != nil || len(sheets) > 2 {
			t.Errorf("%s: %d sheets, %v", x.name, len(sheets), err)
		}
	}
	for _, kind := range templates.LetterKindNames() {
		for _, v := range templates.LetterVariants(kind) {
			if name := strings.TrimSuffix(kind+"-"+v, "-"); !seen[name] {
				t.Errorf("no letter of the text %s was composed", name)
			}
		}
	}
	// The kinds of letters and the kinds of their texts are the same.
	for i, k := range cases.LetterKinds {
		if names := templates.LetterKindNames(); len(names) != len(cases.LetterKinds) || names[i] != k.Kind || templates.ForFamily(k.Kind) != (k.To == cases.ToFamily) {
			t.Errorf("kind %d: %+v, of the texts %q", i, k, names)
		}
	}
}

func TestLettersSayWhatIsOnRecord(t *testing.T) {
	want := map[string][]string{
		"missed":                           {"el miércoles 18 de marzo de 2026", "el viernes 20 de marzo de 2026", "Hora: a la 1 de la tarde", "Lugar: Alder Bay Sweat Test Room"},
		"booking":                          {"El miércoles 18 de marzo de 2026, a las 9:30 de la mañana", "Contestamos de lunes a viernes", "Nota del lugar (puede estar en inglés): Park behind"},
		"result":                           {"El miércoles 18 de marzo de 2026 su bebé", "El 19 de marzo de 2026 leyó el resultado y dejó salir esta carta: Dr. Holt, pediatrician.", "Dr. Finch"},
		"carrier":                          {"Maren Holt, 555-0144"},
		"no-contact":                       {"Desde el 9 de marzo de 2026", "antes del lunes 30 de marzo de 2026"},
		"doctor-referral":                  {"One variant", "IRT: 81.4 ng/mL", "CFTR variants: F508del", "Specimen: S-20417", "by March 29, 2026", "from March 15, 2026", "Record number: 4471 (Alder Bay Hospital)", "Mother: Lin Wren", "booked on Wednesday, March 18, 2026", "Fax 555-0143"},
		"doctor-referral-presumptive":      {"Two variants", "F508del, G551D", "CF center today: Alder Bay CF Center, 555-0155"},
		"doctor-result-unlikely":           {"Sweat chloride: 14 mmol/L", "left 14 mmol/L, right 14 mmol/L"},
		"doctor-result-intermediate":       {"Sweat chloride: 42 mmol/L", "A repeat is due by April 15, 2026"},
		"doctor-result-consistent-with-cf": {"Sweat chloride: 88 mmol/L"},
		"doctor-cannot-reach":              {"since March 9, 2026: 2 times by phone and 1 time by letter"},
	}
	for _, x := range everyLetter() {
		l, err := x.compose(t, complete())
		if err != nil {
			t.Fatal(err)
		}
		for _, phrase := range want[x.name] {
			if !strings.Contains(l.Preview(), phrase) {
				t.Errorf("%s does not say %q:\n%s", x.name, phrase, l.Preview())
			}
		}
		delete(want, x.name)
	}
	if len(want) > 0 {
		t.Errorf("not composed: %v", want)
	}
}
