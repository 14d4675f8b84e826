package export

import (
	"strings"

	"dunlin/cases"
)

// caution stands in every line list (protocol of the program; licensed practice).
const caution = "Not a diagnosis: what was recorded, and what the program's protocol implies from it on the day of the list. A named person decides. Contact flags come first: a family with a custody or safety flag is not contacted before the case is read."

// rowColumn is a column of the line list.
type rowColumn struct {
	Column
	of func(*cases.Case, *cases.Assessment) Value
}

// RowsBook is the line list of cases, which names infants and families. each hands
// every case with its assessment to the function it is given.
func RowsBook(m Made, each func(func(*cases.Case, *cases.Assessment) error) error) Book {
	t := Table{Name: "cases"}
	for _, c := range rowColumns {
		t.Columns = append(t.Columns, c.Column)
	}
	t.Rows = func(add func([]Value) error) error {
		row := make([]Value, len(rowColumns))
		return each(func(k *cases.Case, a *cases.Assessment) error {
			for i, c := range rowColumns {
				row[i] = c.of(k, a)
			}
			return add(row)
		})
	}
	return Book{Title: "Line list of cases, with names", Tables: []Table{t}, About: []Pair{
		{"Program", m.Program}, {"Cases", m.Filter}, {"Data as of", cases.Say(m.AsOf)}, {"Made by", m.By},
		{"Names", "This file names infants and families. It leaves the program's protection with whoever saves it: keep it encrypted, and delete it when it has served."},
		{"Caution", caution}, {"Left out", "Notes and other free text, record numbers, addresses other than the one for letters."},
	}}
}

// letterGuardian is the guardian whom letters go to, else the first.
func letterGuardian(k *cases.Case) *cases.Guardian {
	if k.Family == nil || len(k.Family.Guardians) == 0 {
		return &cases.Guardian{}
	}
	for i := range k.Family.Guardians {
		if k.Family.Guardians[i].Letters {
			return &k.Family.Guardians[i]
		}
	}
	return &k.Family.Guardians[0]
}

func family(k *cases.Case) *cases.Family {
	if k.Family == nil {
		return &cases.Family{}
	}
	return k.Family
}

func doctor(k *cases.Case) *cases.PrimaryCare {
	if k.PrimaryCare == nil {
		return &cases.PrimaryCare{}
	}
	return k.PrimaryCare
}

func screen(k *cases.Case) *cases.Screen {
	if k.Referral.Screen == nil {
		return &cases.Screen{}
	}
	return k.Referral.Screen
}

// joined puts the parts that are there behind one another.
func joined(sep string, parts ...string) string {
	var out []string
	for _, p := range parts {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, sep)
}

func phones(g *cases.Guardian) string {
	var list []string
	for _, p := range g.Phones {
		list = append(list, joined(" ", p.Number, p.Kind))
	}
	return strings.Join(list, " / ")
}

func address(a *cases.Address) string {
	if a == nil {
		return ""
	}
	text := joined(", ", joined(", ", a.Lines...), a.City, joined(" ", a.Region, a.Postal), a.Country)
	if a.Bad && text != "" {
		text += " (mail came back)"
	}
	return text
}

// flags are the contact flags in force on a day.
func flags(k *cases.Case, on cases.Day) string {
	var list []string
	for _, f := range k.Flags {
		if (f.From == 0 || f.From <= on) && (f.Until == 0 || on < f.Until) {
			list = append(list, f.Kind)
		}
	}
	return strings.Join(list, ", ")
}

func variants(k *cases.Case) string {
	if k.Genotype == nil {
		return ""
	}
	var list []string
	for _, v := range k.Genotype.Variants {
		list = append(list, v.Name)
	}
	return strings.Join(list, ", ")
}

// some is a number that is not known when it is 0.
func some(n float64) Value {
	if n == 0 {
		return Value{}
	}
	return Num(n)
}

// collections are the chloride collections that are not void.
func collections(a *cases.Assessment) []*cases.TestReading {
	var out []*cases.TestReading
	for i := range a.Tests {
		if t := &a.Tests[i]; t.Outcome != cases.VoidTest && !t.Test.IsConductivity() {
			out = append(out, t)
		}
	}
	return out
}

// booked is the nearest appointment ahead.
func booked(k *cases.Case, on cases.Day) *cases.Booking {
	var next *cases.Booking
	for i := range k.Bookings {
		if b := &k.Bookings[i]; b.State == "booked" && b.On >= on && (next == nil || b.On < next.On) {
			next = b
		}
	}
	if next == nil {
		return &cases.Booking{}
	}
	return next
}
