package letters

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
)

// drawn is Ada with drawn contacts and bookings, each with its day, and tests on the day
// of some bookings.
func drawn(t *rapid.T) func(*cases.Case) {
	return func(c *cases.Case) {
		c.Contacts, c.Bookings = nil, nil
		c.PrimaryCare = &cases.PrimaryCare{Name: "Dr. Heron", Address: address("5 Pier Street")}
		for range rapid.IntRange(0, 4).Draw(t, "contacts") {
			c.Contacts = append(c.Contacts, cases.Contact{On: day("2026-03-08") + cases.Day(rapid.IntRange(0, 15).Draw(t, "contact")), With: "family", By: "phone", Reached: rapid.Bool().Draw(t, "reached")})
		}
		for range rapid.IntRange(0, 4).Draw(t, "bookings") {
			made := day("2026-03-08") + cases.Day(rapid.IntRange(0, 12).Draw(t, "booked"))
			b := cases.Booking{On: made + cases.Day(rapid.IntRange(0, 20).Draw(t, "ahead")), At: "09:30", Site: "alder-bay", State: rapid.SampledFrom([]string{"booked", "booked", "missed"}).Draw(t, "state"), Changed: made}
			c.Bookings = append(c.Bookings, b)
			if rapid.IntRange(0, 3).Draw(t, "tested") == 0 && b.State == "booked" {
				c.SweatTests = []cases.SweatTest{sweat(b.On.String(), 12)}
			}
		}
	}
}

// arrives tells by another way whether the letter of a booking that is made for a day of
// mailing has three working days before the test.
func arrives(mail, test cases.Day) bool {
	cal, n := cases.Calendar{}, 0
	for d := test - 1; d >= mail; d-- {
		if cal.Working(d) {
			n++
		}
	}
	return n >= 3
}

// first tells whether no letter to the family before this one goes on a day of mailing.
func first(made []cases.LetterMade, number string, mail cases.Day) bool {
	for _, m := range made {
		switch {
		case m.Number == number:
			return true
		case m.State != "held" && cases.LetterKindOf(m.Kind).To == cases.ToFamily && (&cases.Protocol{}).MailDay(m.MadeOn) == mail:
			return false
		}
	}
	return true
}

// TestOneLetterADayAndNoneLost draws a family, runs the press every day, and looks that
// of the letters for one day of mailing all but one could not wait, and that each letter
// that had to wait was made while it was of use.
func TestOneLetterADayAndNoneLost(t *testing.T) {
	p := press(t, with())
	cal := cases.Calendar{}
	waited, rapidly := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		s := with(drawn(t))
		p.Store = s
		later := map[string]cases.Day{}
		for d := day("2026-03-08"); d < day("2026-05-01"); d++ {
			s.today = d
			for i := range s.cases[0].Letters { // the office mails what is there
				if l := &s.cases[0].Letters[i]; cal.Working(d) && l.State == "to-print" && l.MadeOn < d {
					l.State, l.MailedOn = "mailed", d
				}
			}
			tally, err := p.Run(context.Background(), d)
			if err != nil || len(tally.SetAside)+len(tally.Conflicts) > 0 {
				t.Fatalf("%v %+v %+v", err, tally.SetAside, tally.Conflicts)
			}
			mail := (&cases.Protocol{}).MailDay(d)
			for _, l := range tally.Made {
				if cases.LetterKindOf(l.Kind).To != cases.ToFamily {
					continue
				}
				key := l.Kind + " " + l.Occasion
				delete(later, key)
				if first(s.cases[0].Letters, l.Number, mail) {
					continue
				}
				rapidly++
				next := cal.Add(mail, 1)
				switch l.Kind {
				case cases.LetterBooking, cases.LetterReminder:
					if arrives(next, cases.OccasionDay(l.Occasion)) {
						t.Fatalf("%s on %s: %s is a second letter and could wait", key, d, mail)
					}
				case cases.LetterFirstNotice:
					soon := false
					for _, b := range s.cases[0].Bookings {
						soon = soon || b.State == "booked" && b.On >= d && b.On <= next
					}
					if !soon {
						t.Fatalf("%s on %s is a second letter and could wait", key, d)
					}
				default:
					t.Fatalf("%s on %s is a second letter", key, d)
				}
			}
			for _, l := range tally.Later {
				later[l.Kind+" "+l.Occasion] = d
				waited++
			}
		}
		for key, on := range later {
			for _, kind := range []string{cases.LetterBooking, cases.LetterReminder, cases.LetterFirstNotice} {
				if strings.HasPrefix(key, kind) {
					t.Fatalf("%s waited on %s and was never made: %+v", key, on, s.cases[0].Letters)
				}
			}
		}
	})
	if waited == 0 || rapidly == 0 {
		t.Errorf("%d letters waited, %d could not: the draws show nothing", waited, rapidly)
	}
}

func TestTheMoreImportantLetterGoesFirst(t *testing.T) {
	for name, x := range map[string]struct {
		on     string
		bookOn string
		want   []string // made day by day
	}{
		"a test weeks ahead": {"2026-03-10", "2026-04-01", []string{"first-notice", "booking", ""}},
		// Friday the 13th: made on the weekend, printed on Monday.
		"made on a Saturday for Monday":                      {"2026-03-14", "2026-04-01", []string{"first-notice", "", "", "booking"}},
		"the letter of a test in 3 working days cannot wait": {"2026-03-10", "2026-03-13", []string{"booking", "first-notice", ""}},
		"in 4 it can, and still comes in time":               {"2026-03-10", "2026-03-16", []string{"first-notice", "booking", ""}},
		"the day before the test nothing can":                {"2026-03-10", "2026-03-11", []string{"first-notice booking", ""}},
		"nor on the Friday before a test on Monday":          {"2026-03-13", "2026-03-16", []string{"first-notice booking", "", ""}},
	} {
		s := with(func(c *cases.Case) { c.Bookings[0].On = day(x.bookOn) })
		p := press(t, s)
		for i, want := range x.want {
			s.today = day(x.on) + cases.Day(i)
			if got := strings.Join(kindsOf(run(t, p, s.today)), " "); got != want {
				t.Errorf("%s, %s: made %q, want %q", name, s.today, got, want)
			}
		}
	}
}

// A second letter of one day goes when a person wants it, under that person's name.
func TestAPersonMayWantBothToday(t *testing.T) {
	o := newOffice(t, day("2026-03-10"), lateBooked())
	o.run(day("2026-03-10"))
	c, ctx := o.case_(adaRef), context.Background()
	manager := cases.Actor{ID: "m", Name: "I. Heron", Role: cases.Manager}
	if _, err := o.p.MakeNow(ctx, manager, c.ID, cases.LetterBooking, "2026-04-01 09:30"); cases.KindOf(err) != cases.Forbidden {
		t.Errorf("without the right: %v", err)
	}
	tally, err := o.p.MakeNow(ctx, coordinator, c.ID, cases.LetterBooking, "2026-04-01 09:30")
	if err != nil || fmt.Sprint(kindsOf(tally)) != "[booking]" || o.letter(adaRef, cases.LetterBooking).History[0].By != coordinator.Name {
		t.Errorf("%s, %v", tally, err)
	}
	for _, occasion := range []string{"2026-04-01 09:30", "2026-05-01 09:30"} {
		if _, err := o.p.MakeNow(ctx, coordinator, c.ID, cases.LetterBooking, occasion); cases.KindOf(err) != cases.Refused {
			t.Errorf("%s: %v", occasion, err)
		}
	}
}
