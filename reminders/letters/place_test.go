package letters

import (
	"context"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// elsewhere moves Ada's test to another place at the same day and time.
func (o *office) elsewhere(site string) {
	o.Helper()
	c := o.case_(adaRef)
	i := len(c.Bookings) - 1
	b := c.Bookings[i]
	o.must(schedule.NewDesk(o.db, o.desk.Protocol()).Move(context.Background(), coordinator, i, schedule.Ask{Case: c.ID, Rev: c.Rev, Site: site, On: b.On, At: b.At,
		Reason: "nearer to the family", ByHand: true, Override: &schedule.Override{By: "Dr. Invented", Reason: "as told"}}))
}

// A test moved to another place at the same time: the letter with the old place does not
// go, or another one goes after it; each family is told the place where the test is.
func TestTheLetterNamesThePlaceWhereTheTestIs(t *testing.T) {
	for name, states := range map[string][]string{"waits": nil, "printed": {"printed"}, "mailed": {"printed", "mailed"}, "held by a person": {"held"}} {
		t.Run(name, func(t *testing.T) {
			o := newOffice(t, day("2026-03-10"), lateBooked())
			o.p.Program = func() *Program {
				p := alderBay()
				p.Sites["heron-point"] = Site{Name: "Heron Point", Address: "40 Ferry Road, Heron Point"}
				p.Sites["heron-point-two"] = Site{Name: "Heron Point Two", Address: "41 Ferry Road, Heron Point"}
				return p
			}
			o.run(day("2026-03-10"))
			o.runThrough("2026-03-11", "2026-03-12")
			for _, state := range states {
				if err := o.mark(adaRef, cases.LetterBooking, cases.LetterChange{State: state}); err != nil {
					t.Fatal(err)
				}
			}
			o.elsewhere("heron-point")
			o.elsewhere("heron-point-two")
			first := o.all(cases.LetterBooking)
			if len(first) != 1 || len(states) < 2 && first[0].State != "held" {
				t.Fatalf("after the move: %d letters", len(first))
			}
			if err := o.desk.MarkLetters(context.Background(), coordinator, []string{first[0].ID}, "to-print", "", ""); err == nil {
				t.Error("the letter with the old place goes to print again")
			}
			o.runThrough("2026-03-13", "2026-03-19")
			all := o.all(cases.LetterBooking)
			if len(all) != 2 || all[1].State != "to-print" {
				t.Fatalf("%d letters", len(all))
			}
			l, err := Decode(all[1])
			if err != nil || !strings.Contains(l.Preview(), "Heron Point Two") || strings.Contains(l.Preview(), "Sweat Test Room") {
				t.Errorf("%v\n%s", err, l.Preview())
			}
			if err := o.desk.MarkLetters(context.Background(), coordinator, []string{all[1].ID}, "printed", "", ""); err != nil {
				t.Error(err)
			}
			if name == "mailed" {
				_ = o.desk.MarkLetters(context.Background(), coordinator, []string{first[0].ID}, "answered", "", "")
				o.runThrough("2026-03-20", "2026-03-20")
				if all = o.all(cases.LetterBooking); len(all) != 2 || all[1].State != "printed" {
					t.Errorf("after the first was answered: %d letters", len(all))
				}
			}
		})
	}
}

// Another doctor, elsewhere, gets the letter that the first one had; a number put right,
// or a practice that moved, is the same doctor.
func TestANewDoctorGetsTheReferral(t *testing.T) {
	for name, x := range map[string]struct {
		now  cases.PrimaryCare
		want int
	}{
		"another doctor":     {cases.PrimaryCare{Name: "Dr. Finch", Practice: "Causeway Pediatrics", Address: address("8 Causeway Road")}, 2},
		"another number":     {cases.PrimaryCare{Name: "Dr. Heron", Phone: "555-0199", Address: address("5 Pier Street")}, 1},
		"a name put right":   {cases.PrimaryCare{Name: "Dr. I. Heron", Address: address("5 Pier Street")}, 1},
		"the practice moved": {cases.PrimaryCare{Name: "Dr. Heron", Address: address("9 Harbor Street")}, 1},
	} {
		t.Run(name, func(t *testing.T) {
			o := newOffice(t, day("2026-03-10"), lateBooked())
			o.runThrough("2026-03-10", "2026-03-12")
			for _, state := range []string{"printed", "mailed"} {
				if err := o.mark(adaRef, cases.LetterReferral, cases.LetterChange{State: state}); err != nil {
					t.Fatal(err)
				}
			}
			o.edit(func(c *cases.Case) { c.PrimaryCare = &x.now })
			o.runThrough("2026-03-13", "2026-03-19")
			all := o.all(cases.LetterReferral)
			if len(all) != x.want {
				t.Fatalf("%d letters", len(all))
			}
			l, err := Decode(all[len(all)-1])
			if err != nil || x.want == 2 && (l.Address[0] != "Dr. Finch" || !strings.Contains(l.Preview(), "Dear Dr. Finch")) {
				t.Errorf("%v: %q", err, l.Address)
			}
		})
	}
}
