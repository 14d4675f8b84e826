package letters

import (
	"context"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// withSessions gives the office its test site, with a session on the day of Ada's test.
func (o *office) withSessions() schedule.Session {
	o.Helper()
	s := schedule.Session{Site: "alder-bay", On: day("2026-04-01"), Start: "09:00", Places: 4, Minutes: 60}
	s.ID = schedule.NewSessionID(s.Site, s.On, s.Start)
	o.write(func(w cases.Writer) error {
		if err := schedule.PutSite(w, schedule.Site{Key: "alder-bay", Name: "Alder Bay Sweat Test Room"}); err != nil {
			return err
		}
		return schedule.PutSessions(w, o.desk.Protocol(), s)
	})
	o.p.Nowhere = func(r cases.Reader, b *cases.Booking) (string, error) {
		return schedule.NoPlaceToCome(r, o.desk.Protocol().Calendar(), b)
	}
	return s
}

func (o *office) write(f func(cases.Writer) error) {
	o.Helper()
	if err := o.db.Update(context.Background(), coordinator, f); err != nil {
		o.Fatal(err)
	}
}

// A letter that waits when its session is cancelled, or its site closed, is held in the
// same moment; none is made while nobody can come; once one can it is made again.
func TestNoLetterCallsAFamilyToACancelledSession(t *testing.T) {
	for name, change := range map[string]func(w cases.Writer, p *cases.Protocol, s schedule.Session, gone bool) error{
		"session cancelled": func(w cases.Writer, p *cases.Protocol, s schedule.Session, gone bool) error {
			s.Cancelled = gone
			return schedule.PutSessions(w, p, s)
		},
		"site closed": func(w cases.Writer, p *cases.Protocol, s schedule.Session, gone bool) error {
			at := schedule.Site{Key: s.Site, Name: "Alder Bay Sweat Test Room"}
			if gone {
				at.Closed = []schedule.Closed{{From: s.On, To: s.On, Reason: "floor is laid"}}
			}
			if err := schedule.PutSite(w, at); err != nil {
				return err
			}
			return schedule.HoldStranded(w, p.Calendar(), s.Site, w.Today(), s.On)
		},
		"site closed, held by the night's run": func(w cases.Writer, p *cases.Protocol, s schedule.Session, gone bool) error {
			at := schedule.Site{Key: s.Site, Name: "Alder Bay Sweat Test Room"}
			if gone {
				at.Closed = []schedule.Closed{{From: s.On, To: s.On}}
			}
			return schedule.PutSite(w, at)
		},
	} {
		for _, state := range []string{"to-print", "printed"} {
			t.Run(name+", "+state, func(t *testing.T) {
				o := newOffice(t, day("2026-03-10"), lateBooked())
				s := o.withSessions()
				o.runThrough("2026-03-10", "2026-03-12")
				if err := o.mark(adaRef, cases.LetterBooking, cases.LetterChange{State: state}); err != nil {
					t.Fatal(err)
				}
				o.write(func(w cases.Writer) error { return change(w, o.desk.Protocol(), s, true) })
				if strings.HasSuffix(name, "run") {
					if tally := o.run(day("2026-03-12")); tally.Held != 1 {
						t.Errorf("the run held letters of %d cases", tally.Held)
					}
				}
				l := o.letter(adaRef, cases.LetterBooking)
				if l.State != "held" || !strings.Contains(l.Note, "no session to come to") || !strings.Contains(l.Note, "move the booking") {
					t.Fatalf("the letter is %s: %s", l.State, l.Note)
				}
				if o.desk.MarkLetters(context.Background(), coordinator, []string{l.ID}, "to-print", "", "") == nil {
					t.Error("it goes to print again by hand")
				}
				o.runThrough("2026-03-13", "2026-03-16")
				aside, err := o.p.Waiting(context.Background())
				if err != nil || len(aside) != 1 || !strings.Contains(aside[0].Reason, "no session to come to") {
					t.Errorf("set aside: %+v, %v", aside, err)
				}
				if n := len(o.all(cases.LetterBooking)); n != 1 {
					t.Errorf("%d letters are made while nobody can come", n)
				}
				o.write(func(w cases.Writer) error { return change(w, o.desk.Protocol(), s, false) })
				o.runThrough("2026-03-17", "2026-03-18")
				all := o.all(cases.LetterBooking)
				if len(all) != 2 || all[1].State != "to-print" || cases.BaseOccasion(all[1].Occasion) != all[0].Occasion {
					t.Errorf("once one can come: %+v", all)
				}
				if report, err := o.db.Check(context.Background()); err != nil || len(report) > 0 {
					t.Errorf("check: %+v, err %v", report, err)
				}
			})
		}
	}
}

// A reminder by text is neither queued nor left in the queue.
func TestNoMessageCallsAFamilyToACancelledSession(t *testing.T) {
	for _, queued := range []bool{true, false} {
		c := lateBooked()
		c.Family.Consents = []cases.Consent{{Channel: cases.ByText, On: day("2026-03-09")}}
		c.Family.Guardians[0].Phones = []cases.Phone{{Number: "555-0177", Kind: "mobile"}}
		o := newOffice(t, day("2026-03-10"), c)
		s := o.withSessions()
		o.p.Message = func(_ *cases.Case, d cases.MessageDue) (cases.Outgoing, error) {
			return cases.Outgoing{Kind: d.Kind, Occasion: d.Occasion, By: d.By, ToWhom: cases.ToFamily, Body: "Please call 555-0142."}, nil
		}
		cancel := func() {
			s.Cancelled = true
			o.write(func(w cases.Writer) error { return schedule.PutSessions(w, o.desk.Protocol(), s) })
		}
		o.run(day("2026-03-30"))
		if !queued {
			cancel()
		}
		tally := o.run(day("2026-03-31"))
		if queued && tally.Queued != 1 || !queued && tally.Queued != 0 {
			t.Fatalf("%d messages queued, set aside %+v", tally.Queued, tally.SetAside)
		}
		if queued {
			cancel()
		}
		_ = o.db.View(context.Background(), func(r cases.Reader) error {
			list, err := r.OutgoingOf(o.case_(adaRef).ID)
			if err != nil || queued && (len(list) != 1 || list[0].State != cases.OutHeld) || !queued && len(list) != 0 {
				t.Errorf("queued %v: %+v, err %v", queued, list, err)
			}
			return nil
		})
		if !queued && !strings.Contains(asides(tally), cases.MessageReminder+": there is no session") {
			t.Error(asides(tally))
		}
		// What is kept of it says so too.
		waiting, err := o.p.Waiting(context.Background())
		if told := strings.Contains(asides(Tally{SetAside: waiting}), cases.MessageReminder+": there is no session"); err != nil || told == queued {
			t.Errorf("queued %v: waiting %+v, err %v", queued, waiting, err)
		}
	}
}

func asides(t Tally) string {
	var out []string
	for _, a := range t.SetAside {
		out = append(out, a.Kind+": "+a.Reason)
	}
	return strings.Join(out, "\n")
}
