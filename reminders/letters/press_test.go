package letters

import (
	"context"
	"errors"
	"log/slog"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/reminders"
)

func press(t testing.TB, s *store) *Press {
	protocol := cases.DefaultProtocol()
	return &Press{Store: s, Protocol: func() *cases.Protocol { return protocol }, Program: alderBay, Texts: allTexts(t), Log: slog.New(slog.DiscardHandler)}
}

func run(t testing.TB, p *Press, on cases.Day) Tally {
	t.Helper()
	tally, err := p.Run(context.Background(), on)
	if err != nil {
		t.Fatal(err)
	}
	return tally
}

// with makes further cases like Ada's, each edited.
func with(edits ...func(*cases.Case)) *store {
	s := &store{today: adaToday}
	for i, edit := range edits {
		c := ada()
		c.ID = cases.ID("01J0000000000000000000000" + string(rune('A'+i)))
		c.Reference = "AB-2026-00" + string(rune('1'+i)) + "0"
		c.Letters = []cases.LetterMade{{Kind: cases.LetterReferral, Occasion: "2026-03-08", MadeOn: adaToday - 1, State: "mailed"}} // tests of the doctor's letters take it away
		edit(c)
		s.cases = append(s.cases, *c)
	}
	return s
}

func asIs(*cases.Case) {}

func TestPressMakesEachLetterOnce(t *testing.T) {
	s := with(asIs, asIs)
	p := press(t, s)
	tally := run(t, p, adaToday)
	if got := tally.String(); got != "2 letters made, 2 for another day (one letter a day to a family)" || len(tally.SetAside)+len(tally.Conflicts) != 0 {
		t.Fatalf("%s %+v", got, tally.SetAside)
	}
	if again := run(t, p, adaToday); len(again.Made) != 0 || len(again.Later) != 2 {
		t.Fatalf("the same day: %s", again)
	}
	s.today++
	if tally = run(t, p, adaToday+1); tally.String() != "2 letters made" {
		t.Fatalf("the day after: %s", tally)
	}
	for _, c := range s.cases {
		if len(c.Letters) != 3 || c.Rev != 3 {
			t.Errorf("%s: letters %+v, revision %d", c.Reference, c.Letters, c.Rev)
		}
		for i, l := range c.Letters[1:] {
			if l.State != "to-print" || l.MadeOn != adaToday+cases.Day(i) || l.Number == "" || l.Occasion == "" {
				t.Errorf("%s: %+v", c.Reference, l)
			}
		}
	}
	if len(s.audit) != 4 || s.audit[0].Kind != "letter-made" {
		t.Errorf("audit %+v", s.audit)
	}
	for _, on := range []cases.Day{adaToday + 1, adaToday + 2} {
		if again := run(t, p, on); len(again.Made)+len(again.SetAside)+len(again.Conflicts) != 0 {
			t.Errorf("made again: %+v", again)
		}
	}
	// What was kept can be set.
	for _, rec := range s.letters {
		l, err := Decode(rec)
		if err != nil || l.Number != rec.Number {
			t.Fatalf("%+v, err %v", l, err)
		}
		pdfOf(t, l)
	}
}

func TestPressSetsAsideWithReasonsAndGoesOn(t *testing.T) {
	s := with(
		func(c *cases.Case) { c.Family.Guardians[0].Address = nil },
		func(c *cases.Case) { c.Infant.Given = "عائشة" },
		func(c *cases.Case) { c.TestMessage = true },
		func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "no-mail"}} }, // not due at all
		asIs,
	)
	tally := run(t, press(t, s), adaToday)
	if len(tally.Made) != 1 || len(s.letters) != 1 {
		t.Errorf("made %v", kindsOf(tally))
	}
	reasons := map[string]string{}
	for _, a := range tally.SetAside {
		reasons[a.Reference] = a.Reason
	}
	for ref, want := range map[string]string{"AB-2026-0010": "no address", "AB-2026-0020": "script", "AB-2026-0030": "test message"} {
		if !strings.Contains(reasons[ref], want) {
			t.Errorf("%s: reason %q, want %q", ref, reasons[ref], want)
		}
	}
	if len(reasons) != 3 || tally.String() != "1 letter made, 6 set aside, 1 for another day (one letter a day to a family)" {
		t.Errorf("%q %+v", tally, reasons)
	}
	p := press(t, s)
	waiting, err := p.Waiting(context.Background())
	if err != nil || len(waiting) != 6 || waiting[0].Reason != reasons["AB-2026-0010"] {
		t.Errorf("waiting %+v, err %v", waiting, err)
	}
	if strings.Contains(string(s.aside), "address") || strings.Contains(string(s.aside), "AB-") {
		t.Errorf("kept: %s", s.aside)
	}
	// Once the address is there, the letters are made.
	s.cases[0].Family.Guardians[0].Address = address("1 A Way")
	if waiting, err = p.Waiting(context.Background()); err != nil || len(waiting) != 4 {
		t.Errorf("waiting %+v, err %v", waiting, err)
	}
	if tally = run(t, p, adaToday+1); len(tally.Made) != 2 || len(tally.Later) != 1 { // the first case's first notice, the last one's appointment
		t.Errorf("%s", tally)
	}
}

func TestPressLeavesACaseThatIsBeingChanged(t *testing.T) {
	s := with(asIs, asIs)
	p := press(t, s)
	s.meanwhile = func(s *store) {
		s.meanwhile = nil
		s.cases[0].Rev++ // somebody saved the first case just now
	}
	tally := run(t, p, adaToday)
	if len(tally.Conflicts) == 0 || tally.Conflicts[0].Reference != "AB-2026-0010" || len(s.cases[0].Letters) != 1 || len(s.cases[1].Letters) != 2 {
		t.Fatalf("%s", tally)
	}
	if tally = run(t, p, adaToday); len(tally.Made) != 1 || len(s.cases[0].Letters) != 2 {
		t.Errorf("next time: %s", tally)
	}
}

func TestPressMakesNothingForALetterThatIsNotDueAnyMore(t *testing.T) {
	s := with(asIs)
	p := press(t, s)
	s.meanwhile = func(s *store) { // the same revision, but the infant died: nothing goes out
		s.cases[0].Infant.Died = adaToday
	}
	if tally := run(t, p, adaToday); len(tally.Made) != 0 || len(s.letters) != 0 {
		t.Errorf("%+v", tally)
	}
}

func TestPressTellsWhenTheStoreFails(t *testing.T) {
	s := with(asIs)
	s.broken = errors.New("the disk is gone")
	if _, err := press(t, s).Run(context.Background(), adaToday); err == nil || !strings.Contains(err.Error(), "the disk is gone") {
		t.Errorf("err = %v", err)
	}
}

func TestOneDamagedCaseDoesNotStopTheOthers(t *testing.T) {
	s := with(asIs)
	s.damaged = errors.New("the record does not match its checksum")
	tally, err := press(t, s).Run(context.Background(), adaToday)
	if !errors.Is(err, s.damaged) || len(tally.Made) != 1 {
		t.Errorf("made %d, err %v", len(tally.Made), err)
	}
}

func TestPresumptiveCFHoldsLettersUntilAPersonReleases(t *testing.T) {
	s := with(func(c *cases.Case) {
		c.Genotype = &cases.Genotype{Reported: day("2026-03-08"), Scope: "panel", Variants: []cases.Variant{{Name: "F508del"}, {Name: "G551D"}}}
	})
	p := press(t, s)
	if tally := run(t, p, adaToday); len(tally.Made) != 0 {
		t.Fatalf("made %+v", tally.Made)
	}
	s.cases[0].Releases = []cases.Release{{Kind: cases.LetterBooking, On: adaToday, By: "Dr. Finch"}}
	if tally := run(t, p, adaToday); len(tally.Made) != 1 || tally.Made[0].Kind != cases.LetterBooking || !strings.HasPrefix(tally.Made[0].Note, "Released by Dr. Finch.") {
		t.Errorf("after the release: %+v", tally)
	}
}

func TestDailyMakesListThenLetters(t *testing.T) {
	s := with(func(c *cases.Case) { c.Bookings = nil })
	// Untested past day 28: on the list.
	on := day("2026-04-02")
	s.today = on
	protocol := cases.DefaultProtocol()
	book := &reminders.Book{Store: s, Protocol: func() *cases.Protocol { return protocol }}
	daily := Daily(book, press(t, s))
	for range 2 {
		note, err := daily(context.Background(), time.Date(2026, 4, 2, 6, 0, 0, 0, time.UTC))
		if err != nil || !strings.HasPrefix(note, "1 on the list, ") {
			t.Fatalf("%q, err %v", note, err)
		}
	}
	if len(s.lists) != 1 || s.lists[on].N != 1 || len(s.letters) != 1 {
		t.Errorf("lists %+v, letters %+v", s.lists, s.letters)
	}
}
