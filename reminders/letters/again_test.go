package letters

import (
	"context"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// edit changes a case as a person does.
func (o *office) edit(f func(*cases.Case)) {
	o.Helper()
	c := o.case_(adaRef)
	o.must(o.desk.Change(context.Background(), coordinator, cases.EditIdentity, c.ID, c.Rev, cases.Event{Kind: "corrected"}, func(c *cases.Case, _ cases.Day) error {
		f(c)
		return nil
	}))
}

func (o *office) move(street string) {
	o.Helper()
	o.edit(func(c *cases.Case) { c.Family.Guardians[0].Address = address(street) })
}

// all are the letters of a kind of Ada's, in order of making.
func (o *office) all(kind string) (out []cases.Letter) {
	o.Helper()
	id := o.case_(adaRef).ID
	_ = o.db.View(context.Background(), func(r cases.Reader) error {
		list, err := r.LettersOf(id)
		for _, l := range list {
			if l.Kind == kind {
				out = append(out, l)
			}
		}
		return err
	})
	return out
}

func (o *office) owed(kind string, on string) (out []cases.LetterDue) {
	c := o.case_(adaRef)
	a := cases.DefaultProtocol().Assess(&c, day(on))
	for _, l := range append(a.LettersDue, a.DoctorLettersDue...) {
		if l.Kind == kind {
			out = append(out, l)
		}
	}
	return out
}

func (o *office) runThrough(from, to string) {
	o.Helper()
	for d := day(from); d <= day(to); d++ {
		o.run(d)
	}
}

// lateBooked is a case whose test lies weeks ahead.
func lateBooked() cases.Case {
	c := reachedAndBooked(1)
	c.Bookings[0].On = day("2026-04-01")
	return c
}

func TestALetterThatCameBackIsMadeAgainForANewAddress(t *testing.T) {
	o := newOffice(t, day("2026-03-10"), lateBooked())
	o.runThrough("2026-03-10", "2026-03-12")
	for _, x := range []cases.LetterChange{{State: "mailed"}, {State: "came-back"}} {
		if err := o.mark(adaRef, cases.LetterFirstNotice, x); err != nil {
			t.Fatal(err)
		}
	}
	o.runThrough("2026-03-13", "2026-03-16")
	if n := len(o.all(cases.LetterFirstNotice)); n != 1 {
		t.Fatalf("to the address from which it came back: %d letters", n)
	}
	// The appointment waited to be printed for that address: it must not go there.
	if l := o.all(cases.LetterBooking); len(l) != 1 || l[0].State != "held" || !strings.Contains(l[0].Note, "not on record") {
		t.Errorf("%+v", l)
	}
	o.move("3 Mill Road")
	if l := o.owed(cases.LetterFirstNotice, "2026-03-16"); len(l) != 1 || l[0].Occasion != "2026-03-08 again 2" || l[0].Due != day("2026-03-16") {
		t.Errorf("owed %+v", l)
	}
	if l := o.owed(cases.LetterFirstNotice, "2026-03-15"); len(l) != 0 {
		t.Errorf("the day before the new address it was owed: %+v", l)
	}
	if err := o.desk.MarkLetters(context.Background(), coordinator, []string{o.all(cases.LetterBooking)[0].ID}, "to-print", "", ""); err == nil || !strings.Contains(err.Error(), "not on record") {
		t.Errorf("a letter to the old address is put back to print: %v", err)
	}
	o.runThrough("2026-03-17", "2026-03-19")
	for kind, why := range map[string]string{cases.LetterFirstNotice: "which came back", cases.LetterBooking: "which was held"} {
		l := o.all(kind)
		if len(l) != 2 {
			t.Fatalf("%s: %d letters", kind, len(l))
		}
		now, err := Decode(l[1])
		if err != nil || !strings.Contains(strings.Join(now.Address, " "), "3 Mill Road") || l[1].Number == l[0].Number || string(l[1].Data) == string(l[0].Data) {
			t.Errorf("%s: %+v, %v", kind, now.Address, err)
		}
		if !strings.Contains(l[1].Note, "In place of letter "+l[0].Number+", "+why) {
			t.Errorf("%s: note %q", kind, l[1].Note)
		}
		if h := l[0].History[len(l[0].History)-1]; h.Note != "Made again as letter "+l[1].Number+"." || h.State != l[0].State {
			t.Errorf("%s: %+v", kind, h)
		}
	}
	if report, err := o.db.Check(context.Background()); err != nil || len(report) > 0 {
		t.Errorf("check: %+v, err %v", report, err)
	}
}

// What a letter is about has to hold still: a family that was reached about everything,
// and whose test was done, gets no first notice.
func TestALetterThatCameBackIsNotMadeAgainForNothing(t *testing.T) {
	o := newOffice(t, day("2026-03-10"), lateBooked())
	o.runThrough("2026-03-10", "2026-03-12")
	for _, x := range []cases.LetterChange{{State: "mailed"}, {State: "came-back"}} {
		if err := o.mark(adaRef, cases.LetterFirstNotice, x); err != nil {
			t.Fatal(err)
		}
	}
	c := o.case_(adaRef)
	o.must(schedule.NewDesk(o.db, o.desk.Protocol()).Cancel(context.Background(), coordinator, c.ID, c.Rev, 0, "the family asked"))
	o.edit(func(c *cases.Case) { c.SweatTests = []cases.SweatTest{sweat("2026-03-12", 12)} })
	o.move("3 Mill Road")
	o.runThrough("2026-03-13", "2026-03-20")
	for _, kind := range []string{cases.LetterFirstNotice, cases.LetterBooking} {
		if n := len(o.all(kind)); n != 1 {
			t.Errorf("%s: %d letters", kind, n)
		}
	}
}

func TestAHeldLetterIsMadeAgainWhenItMayGo(t *testing.T) {
	o := newOffice(t, day("2026-03-10"), lateBooked())
	ctx := context.Background()
	o.runThrough("2026-03-10", "2026-03-11")
	c := o.case_(adaRef)
	// A flag that ends by the calendar: nobody changes the case on that day.
	o.must(o.desk.SetFlag(ctx, coordinator, c.ID, c.Rev, cases.Flag{Kind: "no-mail", From: day("2026-03-11"), Until: day("2026-03-14")}))
	o.runThrough("2026-03-12", "2026-03-13")
	if l := o.all(cases.LetterBooking); len(l) != 1 || l[0].State != "held" {
		t.Fatalf("%+v", l)
	}
	o.runThrough("2026-03-14", "2026-03-18")
	l := o.all(cases.LetterBooking)
	if len(l) != 2 || l[1].State != "to-print" || l[1].Occasion != "2026-04-01 09:30 again 2" {
		t.Fatalf("%+v", l)
	}
	// The first had left all the same: then the second must not go.
	if err := o.desk.ChangeLetters(ctx, coordinator, []string{l[0].ID}, cases.LetterChange{State: "mailed", On: day("2026-03-11"), Note: "It had left"}); err != nil {
		t.Fatal(err)
	}
	if l = o.all(cases.LetterBooking); l[1].State != "held" || !strings.Contains(l[1].Note, l[0].Number) {
		t.Errorf("%s, %q", l[1].State, l[1].Note)
	}
	o.runThrough("2026-03-19", "2026-03-20")
	if n := len(o.all(cases.LetterBooking)); n != 2 {
		t.Errorf("%d letters", n)
	}
}

// What a person held stays held until a person lets it go.
func TestALetterHeldByAPersonStaysHeld(t *testing.T) {
	o := newOffice(t, day("2026-03-10"), lateBooked())
	o.run(day("2026-03-10"))
	if err := o.mark(adaRef, cases.LetterFirstNotice, cases.LetterChange{State: "held", Note: "They asked to wait"}); err != nil {
		t.Fatal(err)
	}
	o.move("3 Mill Road")
	o.runThrough("2026-03-11", "2026-03-16")
	if l := o.all(cases.LetterFirstNotice); len(l) != 1 || l[0].State != "held" {
		t.Errorf("%+v", l)
	}
}

func TestABookingMovedAwayAndBackGetsItsLetter(t *testing.T) {
	o := newOffice(t, day("2026-03-10"), lateBooked())
	ctx := context.Background()
	o.runThrough("2026-03-10", "2026-03-11")
	book := schedule.NewDesk(o.db, o.desk.Protocol())
	c := o.case_(adaRef)
	o.must(book.Cancel(ctx, coordinator, c.ID, c.Rev, 0, "the family asked"))
	if l := o.all(cases.LetterBooking); len(l) != 1 || l[0].State != "held" {
		t.Fatalf("%+v", l)
	}
	c = o.case_(adaRef)
	if _, err := book.Book(ctx, coordinator, schedule.Ask{Case: c.ID, Rev: c.Rev, Site: "alder-bay", On: day("2026-04-01"), At: "09:30", ByHand: true}); err != nil {
		t.Fatal(err)
	}
	o.runThrough("2026-03-12", "2026-03-13")
	if l := o.all(cases.LetterBooking); len(l) != 2 || l[1].State != "to-print" {
		t.Errorf("%+v", l)
	}
}

func TestALanguageChangedBeforePrinting(t *testing.T) {
	o := newOffice(t, day("2026-03-10"), lateBooked())
	o.run(day("2026-03-10"))
	o.edit(func(c *cases.Case) { c.Family.Language = "es" })
	o.runThrough("2026-03-11", "2026-03-13")
	if l := o.all(cases.LetterFirstNotice); len(l) != 2 || l[0].State != "held" || l[1].Language != "es" || l[1].State != "to-print" {
		t.Errorf("%+v", l)
	}
}
