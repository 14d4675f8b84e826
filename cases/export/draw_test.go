package export

import (
	"fmt"
	"math/rand/v2"
	"reflect"

	"dunlin/cases"
)

// drawer makes up cases in which every field is filled and every text is an
// identifier that occurs nowhere else.
type drawer struct {
	*rand.Rand
	planted []string
}

func newDrawer(seed uint64) *drawer { return &drawer{Rand: rand.New(rand.NewPCG(seed, 0))} }

var words = []string{"Quillfeather", "Zorander", "Ombleton", "Yxilla", "Vantresk", "Jorvexa"}

// identifier is a name, number, address or code in the form that such things have.
func (d *drawer) identifier() string {
	n := d.IntN(1e9)
	forms := []string{"%[2]s%[1]d", "%[1]d-%[2]s", "(555) 01%03[3]d-%[1]d", "%[1]d@%[2]s.example", "https://%[2]s.example/%[1]d", "MRN%09[1]d", "%[1]d %[2]s Lane", "%[2]s County %[1]d", "900-%02[3]d-%[1]d", "192.0.2.%[3]d/%[1]d", "AB-2026-%[1]d"}
	s := fmt.Sprintf(forms[d.IntN(len(forms))]+"%.0[1]d%.0[2]s%.0[3]d", n+1e9, words[d.IntN(len(words))], d.IntN(100))
	d.planted = append(d.planted, s)
	return s
}

func pick[T any](d *drawer, list ...T) T { return list[d.IntN(len(list))] }

// plant puts an identifier in every text that is not one of a list of words.
func (d *drawer) plant(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			d.plant(v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			d.plant(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if f.IsExported() && f.Tag.Get("enum") == "" && f.Name != "Document" {
				d.plant(v.Field(i))
			}
		}
	case reflect.String:
		if v.CanSet() && v.Type() == reflect.TypeFor[string]() {
			v.SetString(d.identifier())
		}
	}
}

// drawCase makes a case born on a day; nothing in it happens after end.
func (d *drawer) drawCase(born, end cases.Day) *cases.Case {
	after := func(day cases.Day, most int) cases.Day { return min(day+cases.Day(d.IntN(most+1)), end) }
	referred := after(born, 20)
	k := &cases.Case{ID: cases.ID(d.identifier()), Document: cases.DocumentName, Owner: "x", Siblings: []string{"x"}, Reference: "x",
		Infant: cases.Infant{Born: born, BornAt: "04:12", Sex: pick(d, "female", "male"), Plurality: 2, BirthOrder: 1, Gestation: cases.Gestation(d.IntN(18*7) + 24*7), BirthWeightG: float64(d.IntN(4000) + 500),
			FormerNames: []string{"x"}, Records: []cases.RecordNo{{}}, Weights: []cases.Weight{{On: after(born, 20), G: float64(d.IntN(4000) + 500)}}},
		Referral: cases.Referral{On: referred, Route: pick(d, routes...), Screen: &cases.Screen{Collected: after(born, 3), Reported: referred}},
		Genotype: &cases.Genotype{Reported: referred, Scope: "panel", Variants: []cases.Variant{{}, {}}},
		Holds:    []cases.Hold{{Reason: "other", From: referred, Until: after(referred, 9)}},
		Family: &cases.Family{MotherBorn: born - 10000, Guardians: []cases.Guardian{{Phones: []cases.Phone{{}}, Address: &cases.Address{Lines: []string{"x"}}, Letters: true}},
			Consents: []cases.Consent{{Channel: "text", On: referred}}, Visits: &cases.Visits{}},
		PrimaryCare: &cases.PrimaryCare{Address: &cases.Address{Lines: []string{"x"}}, Confirmed: referred},
		Flags:       []cases.Flag{{Kind: "no-mail"}}, Handover: &cases.Handover{On: referred}, Letters: []cases.LetterMade{{MadeOn: referred}}, Notes: []cases.Note{{On: referred}}, ToCheck: []cases.ToCheck{{}},
	}
	for range d.IntN(5) {
		on := after(referred, 40)
		k.Contacts = append(k.Contacts, cases.Contact{On: on, With: pick(d, "family", "primary-care"), By: pick(d, "phone", "letter"), Reached: d.IntN(2) == 0})
	}
	for range d.IntN(3) {
		k.Bookings = append(k.Bookings, cases.Booking{On: after(born+14, 60), State: pick(d, "kept", "missed", "cancelled")})
	}
	for range d.IntN(3) {
		amount, value := float64(d.IntN(40)), float64(d.IntN(90))
		k.SweatTests = append(k.SweatTests, cases.SweatTest{On: after(born+14, 60), Collector: pick(d, "tubing", "pad"), WeightG: float64(d.IntN(3000) + 2000),
			Arms: []cases.Arm{{Side: "left", Minutes: 30, AmountUL: &amount, Chloride: &value}, {Side: "right", Minutes: 30, AmountUL: &amount, Chloride: &value}}, Laboratory: &cases.LabReading{}})
	}
	if d.IntN(2) == 0 {
		on := after(referred+20, 100)
		k.Closures = []cases.Closure{{On: on, As: pick(d, closures[1:]...), AgreedOn: on}}
	}
	if d.IntN(20) == 0 {
		k.Infant.Died = after(referred, 100)
	}
	d.plant(reflect.ValueOf(k).Elem())
	// Some of what a line may hold: states, areas, languages.
	if a := k.Family.Guardians[0].Address; d.IntN(2) == 0 {
		a.Region, a.Postal, k.Family.Language = pick(d, "MD", "va", "Wa"), pick(d, "21201", "99901", "20912-1234"), pick(d, "en", "es-MX", "so")
		k.Genotype.Variants[0].Name = "F508del"
	}
	k.Prepare()
	return k
}

// move puts every day of a case n days later.
func move(v reflect.Value, n cases.Day) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			move(v.Elem(), n)
		}
	case reflect.Slice:
		for i := range v.Len() {
			move(v.Index(i), n)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				move(v.Field(i), n)
			}
		}
	default:
		if v.Type() == reflect.TypeFor[cases.Day]() && v.CanSet() && v.Int() != 0 {
			v.SetInt(v.Int() + int64(n))
		}
	}
}
