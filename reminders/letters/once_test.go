package letters

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"dunlin/cases"
	"dunlin/cases/schedule"
	realstore "dunlin/cases/store"
)

var coordinator = cases.Actor{ID: "lark", Name: "M. Lark", Role: cases.Coordinator, Via: "test"}

// clock is the program's clock; tests set it, also back.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) set(d cases.Day) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = d.Time().Add(6 * time.Hour)
}

// onDisk opens a real store with the cases that are given.
func onDisk(t interface {
	Fatal(...any)
	Cleanup(func())
}, dir string, k *clock, list ...cases.Case) *realstore.DB {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	db, err := realstore.Open(filepath.Join(dir, "t.dunlin"), realstore.Options{Now: k.now, Scratch: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	for _, c := range list {
		err := db.Update(context.Background(), coordinator, func(w cases.Writer) error {
			_, err := cases.OpenCase(w, cases.DefaultProtocol(), c, cases.Event{Kind: "case-opened"})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return db
}

// unsafe is a store that breaks off: before a transaction, or after it was written, as
// a crash does.
type unsafe struct {
	cases.Store
	breaks func() int // 0: not; 1: before; 2: after
}

var errCrash = errors.New("broken off")

func (u *unsafe) Update(ctx context.Context, a cases.Actor, f func(cases.Writer) error) error {
	how := u.breaks()
	if how == 1 {
		return errCrash
	}
	if err := u.Store.Update(ctx, a, f); err != nil {
		return err
	}
	if how == 2 {
		return errCrash
	}
	return nil
}

func pressOn(s cases.Store, texts func() *Press) *Press {
	p := texts()
	p.Store = s
	return p
}

func basePress(t testing.TB) func() *Press {
	texts, protocol, program := allTexts(t), cases.DefaultProtocol(), alderBay()
	return func() *Press {
		return &Press{Protocol: func() *cases.Protocol { return protocol }, Program: func() *Program { return program }, Texts: texts,
			Message: func(*cases.Case, cases.MessageDue) (cases.Outgoing, error) {
				return cases.Outgoing{Language: "en", Subject: "Please call us", Body: "Please call 555-0142."}, nil
			}, Log: slog.New(slog.DiscardHandler)}
	}
}

// fresh is Ada without identity, to be opened in a real store; a family that may be
// texted, and a doctor.
func fresh(n int) cases.Case {
	c := *ada()
	c.ID, c.Rev, c.Reference = "", 0, fmt.Sprintf("AB-2026-%04d", 100+n)
	c.Family = &cases.Family{Guardians: []cases.Guardian{{Given: "Lin", Family: "Wren", Address: address(fmt.Sprint(n+1, " Curlew Lane")), Phones: []cases.Phone{{Number: "555-555-0142", Kind: "mobile"}}}},
		Consents: []cases.Consent{{Channel: "text", On: day("2026-03-08")}}}
	c.PrimaryCare = &cases.PrimaryCare{Name: "Dr. Heron", Address: address("5 Pier Street")}
	c.Contacts, c.Bookings = nil, nil
	return c
}

// TestEachLetterOnceWhateverHappens draws what people record, days that pass or go
// back, presses that run at once and break off, and looks that no letter or message of
// one case, kind and occasion is made twice, that case and store say the same, and that
// a run that ends well leaves nothing owed but what it set aside with a reason.
func TestEachLetterOnceWhateverHappens(t *testing.T) {
	base := basePress(t)
	protocol := cases.DefaultProtocol()
	dir, n := t.TempDir(), 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		k := &clock{}
		today := day("2026-03-09")
		k.set(today)
		db := onDisk(t, filepath.Join(dir, fmt.Sprint(n)), k, fresh(1), fresh(2))
		desk := cases.NewDesk(db, protocol)
		for range rapid.IntRange(3, 14).Draw(t, "steps") {
			switch rapid.SampledFrom([]string{"run", "run", "two", "crash", "day", "days", "back", "fact", "fact", "fact", "mark"}).Draw(t, "what") {
			case "run":
				runWell(t, pressOn(db, base), db, today)
			case "two":
				var wg sync.WaitGroup
				for range 2 {
					wg.Go(func() { _, _ = pressOn(db, base).Run(context.Background(), today) })
				}
				wg.Wait()
			case "crash":
				left, how := rapid.IntRange(0, 4).Draw(t, "until"), rapid.IntRange(1, 2).Draw(t, "how")
				u := &unsafe{Store: db, breaks: func() int {
					if left--; left < 0 {
						return how
					}
					return 0
				}}
				_, _ = pressOn(u, base).Run(context.Background(), today)
			case "day":
				today++
			case "days":
				today += cases.Day(rapid.IntRange(2, 9).Draw(t, "days"))
			case "back":
				if today > day("2026-03-10") {
					today--
				}
			case "fact":
				record(t, db, desk, today)
			case "mark":
				mark(t, db, desk)
			}
			k.set(today)
			agree(t, db)
		}
		runWell(t, pressOn(db, base), db, today)
		agree(t, db)
	})
}

// runWell runs the press and finds nothing owed but what is set aside.
func runWell(t *rapid.T, p *Press, db *realstore.DB, on cases.Day) {
	tally, err := p.Run(context.Background(), on)
	if err != nil {
		t.Fatal(err)
	}
	if len(tally.Conflicts) > 0 {
		t.Fatalf("alone, and yet: %+v", tally.Conflicts)
	}
	err = db.View(context.Background(), func(r cases.Reader) error {
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			a := p.Protocol().Assess(&c, on)
			for _, due := range OwedOn(&a, on) {
				if !tally.leaves(c.ID, due.Kind, due.Occasion) && !made(&c, due) {
					t.Fatalf("lost: %+v of %s", due, c.Reference)
				}
			}
			for _, due := range a.MessagesDue {
				if !tally.leaves(c.ID, due.Kind, due.Occasion) && !slices.ContainsFunc(c.Messages, func(m cases.MessageMade) bool { return m.Kind == due.Kind && m.Occasion == due.Occasion }) {
					t.Fatalf("message lost: %+v of %s, %+v", due, c.Reference, tally.SetAside)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// leaves tells what was set aside, or left for another day, with a reason.
func (t Tally) leaves(c cases.ID, kind, occasion string) bool {
	return slices.ContainsFunc(slices.Concat(t.SetAside, t.Later), func(s SetAside) bool {
		return s.Case == c && s.Kind == kind && s.Occasion == occasion && s.Reason != ""
	})
}

// agree looks that every letter and message is there once, and the same in both places.
func agree(t *rapid.T, db *realstore.DB) {
	err := db.View(context.Background(), func(r cases.Reader) error {
		seen, states, going := map[string]bool{}, map[string]string{}, map[string]string{}
		for l, err := range r.Letters("") {
			if err != nil {
				return err
			}
			key := fmt.Sprint(l.Case, l.Kind, l.Occasion)
			if seen[key] {
				t.Fatalf("twice: %s %s", l.Kind, l.Occasion)
			}
			seen[key] = true
			if matter := fmt.Sprint(l.Case, l.Kind, cases.BaseOccasion(l.Occasion)); l.State == "to-print" || l.State == "printed" {
				if going[matter] != "" {
					t.Fatalf("two letters about the same wait to go: %s and %s", going[matter], l.Number)
				}
				going[matter] = l.Number
			}
			if l.Case != "" { // a list of the day is of no case
				states[key] = l.State
			}
			if n := len(l.History); n == 0 || l.History[n-1].State != l.State || l.History[n-1].By == "" || l.History[n-1].At.IsZero() {
				t.Fatalf("letter %s is %s and its history says %+v", l.Number, l.State, l.History)
			}
		}
		told := map[string]bool{}
		for o, err := range r.Outgoings("") {
			if err != nil {
				return err
			}
			key := fmt.Sprint(o.Case, o.Kind, o.Occasion) // also by two channels it is one
			if told[key] {
				t.Fatalf("message twice: %s %s", o.Kind, o.Occasion)
			}
			told[key] = true
		}
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			for _, l := range c.Letters {
				key := fmt.Sprint(c.ID, l.Kind, l.Occasion)
				if states[key] != l.State {
					t.Fatalf("%s %s: case says %q, store %q", l.Kind, l.Occasion, l.State, states[key])
				}
				delete(states, key)
			}
			for _, m := range c.Messages {
				key := fmt.Sprint(c.ID, m.Kind, m.Occasion)
				if !told[key] {
					t.Fatalf("message %s %s is on the case only", m.Kind, m.Occasion)
				}
				delete(told, key)
			}
		}
		if len(states)+len(told) > 0 {
			t.Fatalf("in the store only: %v %v", states, told)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// record adds a fact that a person may record; what is refused is no matter here.
func record(t *rapid.T, db *realstore.DB, desk *cases.Desk, today cases.Day) {
	ctx := context.Background()
	c := one(t, db)
	past := today - cases.Day(rapid.IntRange(0, 3).Draw(t, "ago"))
	switch rapid.SampledFrom([]string{"call", "call", "reached", "book", "book", "missed", "cancel", "elsewhere", "doctor", "died", "flag", "declined", "test", "release", "link", "moved", "language"}).Draw(t, "fact") {
	case "call":
		_, _ = desk.RecordContact(ctx, coordinator, c.ID, c.Rev, cases.Contact{On: past, With: "family", By: "phone", Outcome: "no answer"})
	case "reached":
		_, _ = desk.RecordContact(ctx, coordinator, c.ID, c.Rev, cases.Contact{On: past, With: "family", By: "phone", Reached: true})
	case "book":
		_, _ = schedule.NewDesk(db, desk.Protocol()).Book(ctx, coordinator, schedule.Ask{Case: c.ID, Rev: c.Rev, Site: "alder-bay", On: today + cases.Day(rapid.IntRange(0, 9).Draw(t, "in")), At: "09:30",
			ByHand: true, Override: &schedule.Override{By: "Dr. Invented", Reason: "as told"}})
	case "missed", "cancel":
		for i, b := range c.Bookings {
			if b.State == "booked" {
				book := schedule.NewDesk(db, desk.Protocol())
				if b.On <= today {
					_, _ = book.Missed(ctx, coordinator, c.ID, c.Rev, i, "as told")
				} else {
					_, _ = book.Cancel(ctx, coordinator, c.ID, c.Rev, i, "as told")
				}
				return
			}
		}
	case "elsewhere":
		if i := len(c.Bookings) - 1; i >= 0 {
			_, _ = schedule.NewDesk(db, desk.Protocol()).Move(ctx, coordinator, i, schedule.Ask{Case: c.ID, Rev: c.Rev, Site: rapid.SampledFrom([]string{"alder-bay", "heron-point"}).Draw(t, "site"),
				On: c.Bookings[i].On, At: c.Bookings[i].At, Reason: "as told", ByHand: true, Override: &schedule.Override{By: "Dr. Invented", Reason: "as told"}})
		}
	case "doctor":
		_, _ = desk.Change(ctx, coordinator, cases.EditIdentity, c.ID, c.Rev, cases.Event{Kind: "corrected"}, func(c *cases.Case, _ cases.Day) error {
			c.PrimaryCare = &cases.PrimaryCare{Name: "Dr. Finch", Address: address("8 Causeway Road")}
			return nil
		})
	case "died":
		if rapid.IntRange(0, 3).Draw(t, "rarely") == 0 {
			_, _ = desk.RecordDeath(ctx, coordinator, c.ID, c.Rev, past, "the hospital")
		}
	case "flag":
		_, _ = desk.SetFlag(ctx, coordinator, c.ID, c.Rev, cases.Flag{Kind: rapid.SampledFrom([]string{"no-mail", "custody", "safety", "no-voicemail"}).Draw(t, "kind"), From: past, Until: today + cases.Day(rapid.IntRange(0, 4).Draw(t, "until"))})
	case "declined":
		if c.Declined == nil {
			_, _ = desk.Decline(ctx, coordinator, c.ID, c.Rev, cases.Declined{On: past})
		} else {
			_, _ = desk.WithdrawDecline(ctx, coordinator, c.ID, c.Rev)
		}
	case "test":
		ul, cl := 25.0, float64(rapid.SampledFrom([]int{12, 20, 40, 80}).Draw(t, "chloride"))
		nurse := coordinator
		nurse.Role = cases.Nurse
		_, _ = desk.RecordTest(ctx, nurse, c.ID, c.Rev, cases.SweatTest{On: past, Site: "alder-bay", Collector: "tubing",
			Arms: []cases.Arm{{Side: "left", Minutes: 30, AmountUL: &ul, Chloride: &cl}, {Side: "right", Minutes: 30, AmountUL: &ul, Chloride: &cl}}})
	case "release":
		_, _ = desk.ReleaseLetter(ctx, coordinator, c.ID, c.Rev, cases.Release{Kind: rapid.SampledFrom([]string{cases.LetterResult, cases.LetterBooking}).Draw(t, "kind"), By: "Dr. Finch", Licence: "physician"})
	case "moved":
		_, _ = desk.Change(ctx, coordinator, cases.EditIdentity, c.ID, c.Rev, cases.Event{Kind: "corrected"}, func(c *cases.Case, _ cases.Day) error {
			c.Family.Guardians[0].Address = address(rapid.SampledFrom([]string{"3 Mill Road", "77 Wharf Street", "6 Dune Court"}).Draw(t, "street"))
			return nil
		})
	case "language":
		_, _ = desk.Change(ctx, coordinator, cases.EditIdentity, c.ID, c.Rev, cases.Event{Kind: "corrected"}, func(c *cases.Case, _ cases.Day) error {
			c.Family.Language = rapid.SampledFrom([]string{"en", "es"}).Draw(t, "tag")
			return nil
		})
	case "link":
		_, _ = desk.Change(ctx, coordinator, cases.EditIdentity, c.ID, c.Rev, cases.Event{Kind: "sibling-linked"}, func(c *cases.Case, _ cases.Day) error {
			c.Siblings = []string{map[bool]string{true: "AB-2026-0102", false: "AB-2026-0101"}[c.Reference == "AB-2026-0101"]}
			return nil
		})
	}
}

// mark moves a letter on, as the office does.
func mark(t *rapid.T, db *realstore.DB, desk *cases.Desk) {
	var ids []string
	_ = db.View(context.Background(), func(r cases.Reader) error {
		for l, err := range r.Letters("") {
			if err == nil {
				ids = append(ids, l.ID)
			}
		}
		return nil
	})
	if len(ids) == 0 {
		return
	}
	id := rapid.SampledFrom(ids).Draw(t, "letter")
	for _, state := range rapid.SampledFrom([][]string{{"printed"}, {"printed", "mailed"}, {"held"}, {"to-print"}, {"came-back"}, {"printed", "mailed", "came-back"}, {"answered"}, {"unclaimed"}}).Draw(t, "states") {
		_ = desk.MarkLetters(context.Background(), coordinator, []string{id}, state, "", "")
	}
}

func one(t *rapid.T, db *realstore.DB) (c cases.Case) {
	ref := rapid.SampledFrom([]string{"AB-2026-0101", "AB-2026-0102"}).Draw(t, "case")
	_ = db.View(context.Background(), func(r cases.Reader) error {
		var err error
		c, err = r.ByReference(ref)
		return err
	})
	return c
}
