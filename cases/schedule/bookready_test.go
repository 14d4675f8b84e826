package schedule_test

import (
	"testing"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// A booking before the infant is ready is refused until a named person answers for it.
// Limits: protocol.md 10, rows 1 to 3; a projection never makes an infant ready
// (numbers.md 4.5).
func TestNotReadyNeedsANamedPerson(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(8, 0))
	for name, x := range map[string]struct {
		change func(*cases.Case)
		says   string // "" may be booked
	}{
		"ready":             {func(*cases.Case) {}, ""},
		"day 14 exactly":    {func(c *cases.Case) { born(c, clinic-14) }, ""},
		"day 13":            {func(c *cases.Case) { born(c, clinic-13) }, "13 days old on that day, 14 are needed (from Wed 25 Mar 2026)"},
		"36 weeks exactly":  {func(c *cases.Case) { c.Infant.Gestation = 36*7 - cases.Gestation(clinic-c.Infant.Born) }, ""},
		"a day short of it": {func(c *cases.Case) { c.Infant.Gestation = 36*7 - 1 - cases.Gestation(clinic-c.Infant.Born) }, "corrected gestation is reached on Wed 25 Mar 2026"},
		"gestation unknown": {func(c *cases.Case) { c.Infant.Gestation = 0 }, ""},
		"2,000 g":           {func(c *cases.Case) { weighed(c, 2000) }, ""},
		"1,999 g":           {func(c *cases.Case) { weighed(c, 1999) }, "last weighed 1999 g on Mon 16 Mar 2026, 2000 g are needed"},
		"projected to reach it before": {func(c *cases.Case) {
			c.Infant.Weights = []cases.Weight{{On: today - 7, G: 1800}, {On: today, G: 1990}}
		}, "last weighed 1990 g on Fri 20 Mar 2026, 2000 g are needed; weigh again"},
		"only a birth weight that is enough": {func(c *cases.Case) { c.Infant.Weights, c.Infant.BirthWeightG = nil, 2300 }, ""},
		"no weight":                          {func(c *cases.Case) { c.Infant.Weights, c.Infant.BirthWeightG = nil, 0 }, "no weight is known"},
		"on oxygen":                          {func(c *cases.Case) { c.Holds = []cases.Hold{{Reason: "oxygen", From: today - 1}} }, "on hold since Thu 19 Mar 2026"},
		// protocol.md 10, row 22: 28 days after an intermediate test, 14 to 60.
		"13 days after an intermediate test": {func(c *cases.Case) { intermediate(c, clinic-13) }, "the repeat makes sense from Wed 25 Mar 2026, after the test of 11 Mar 2026"},
		"14 days after an intermediate test": {func(c *cases.Case) { intermediate(c, clinic-14) }, ""},
		"hold ends that day":                 {func(c *cases.Case) { c.Holds = []cases.Hold{{Reason: "oxygen", From: today - 1, Until: clinic}} }, ""},
	} {
		t.Run(name, func(t *testing.T) {
			c := w.infant(t, x.change)
			a := ask(c, "09:00")
			if x.says == "" {
				w.cancel(t, w.book(t, a)[0])
				return
			}
			_, err := w.desk.Book(ctx, nurse, a)
			if e := wantRefusal(t, err, cases.Refused, x.says, c.Reference); e.Field != schedule.NeedsOverride {
				t.Errorf("the field is %q", e.Field)
			}
			a.Override = &schedule.Override{Reason: "the family travels"}
			_, err = w.desk.Book(ctx, nurse, a)
			wantRefusal(t, err, cases.Invalid, "override.by")
			a.Override = &schedule.Override{By: "Dr Hale", Reason: " "}
			_, err = w.desk.Book(ctx, nurse, a)
			wantRefusal(t, err, cases.Invalid, "override.reason")

			a.Override = &schedule.Override{By: "Dr Hale", Reason: "the family travels far"}
			done := w.book(t, a)[0]
			b := done.Bookings[0]
			if b.OverrideBy != "Dr Hale" || b.OverrideReason != "the family travels far" {
				t.Errorf("override: %+v", b)
			}
			wantText(t, b.Reason, "Booked in spite of: ", x.says, "the family travels far (Dr Hale)")
			if last := w.history(t, c.ID); last.Event.Reason != b.Reason {
				t.Errorf("the audit trail says %q", last.Event.Reason)
			}
			if r := w.p.Readiness(&done, clinic); r.Ready && len(done.SweatTests) == 0 { // the window of a repeat is no readiness
				t.Error("the override made the infant ready")
			}
			w.cancel(t, done)
		})
	}
}

func TestNobodyLiftsThese(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(8, 0), schedule.Session{Site: "alder-bay", On: today, Start: "15:00", Places: 1, Minutes: 60})
	for name, x := range map[string]struct {
		change func(*cases.Case)
		says   string
	}{
		"died":        {func(c *cases.Case) { c.Infant.Died, c.Infant.DiedReported = today, today }, "Nothing is booked"},
		"declined":    {func(c *cases.Case) { c.Declined = &cases.Declined{On: today - 1} }, "declined"},
		"handed over": {func(c *cases.Case) { c.Handover = &cases.Handover{To: "Marlow", On: today - 2, AcceptedOn: today - 1} }, "was handed over"},
		"closed": {func(c *cases.Case) {
			c.Closures = []cases.Closure{{On: today, As: "other-diagnosis", By: "A", AgreedBy: "B", AgreedOn: today, Reason: "r"}}
		}, "Reopen the case first"},
	} {
		a := ask(w.infant(t, x.change), "09:00")
		a.Override = &schedule.Override{By: "Dr Hale", Reason: "because"}
		_, err := w.desk.Book(ctx, nurse, a)
		t.Run(name, func(t *testing.T) { wantRefusal(t, err, cases.Refused, x.says) })
	}
	c := w.infant(t, func(c *cases.Case) { c.SweatTests = []cases.SweatTest{qns(today)} })
	a := ask(c, "15:00")
	a.On = today
	_, err := w.desk.Book(ctx, nurse, a)
	wantRefusal(t, err, cases.Refused, "tested on Fri 20 Mar 2026", "another day")
}

// What a site accepts is asked for like readiness; places for repeats are for repeats.
func TestSitesAndRepeats(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(2, 1))
	c := w.infant(t, nil)
	for _, k := range []struct {
		accepts schedule.Accepts
		says    []string
	}{
		{schedule.Accepts{MinAgeDays: 30, MinWeightG: 4000}, []string{"Alder Bay Hospital accepts from 30 days of age", "from 4000 g"}},
		{schedule.Accepts{MaxAgeDays: 10}, []string{"Alder Bay Hospital accepts up to 10 days of age"}},
	} {
		w.must(t, func(x cases.Writer) error {
			return schedule.PutSite(x, schedule.Site{Key: "alder-bay", Name: "Alder Bay Hospital", Accepts: k.accepts})
		})
		_, err := w.desk.Book(ctx, nurse, ask(c, "09:00"))
		if e := wantRefusal(t, err, cases.Refused, k.says...); e.Field != schedule.NeedsOverride {
			t.Errorf("the field is %q", e.Field)
		}
	}
	w.must(t, func(x cases.Writer) error {
		return schedule.PutSite(x, schedule.Site{Key: "alder-bay", Name: "Alder Bay Hospital"})
	})
	again := w.infant(t, func(c *cases.Case) { c.SweatTests = []cases.SweatTest{qns(today - 3)} })
	w.book(t, ask(again, "10:00"))
	w.book(t, ask(c, "09:00"))
}

// A re-test long before its day to look again needs a named person's word.
func TestARetestBeforeItsDay(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(2, 0))
	c := w.infant(t, func(c *cases.Case) {
		c.SweatTests = []cases.SweatTest{qns(today - 3)}
		c.Closures = []cases.Closure{{On: today - 1, As: "crms-cfspid", By: "A", AgreedBy: "B", AgreedOn: today - 1, Reason: "r", LookAgain: clinic + 40}}
	})
	a := ask(c, "09:00")
	_, err := w.desk.Book(ctx, nurse, a)
	if e := wantRefusal(t, err, cases.Refused, "the re-test is meant for", "the day to look again"); e.Field != schedule.NeedsOverride {
		t.Errorf("the field is %q", e.Field)
	}
	a.Override = &schedule.Override{By: "Dr Hale", Reason: "the family travels"}
	w.book(t, a)
}

// An infant closed as CRMS/CFSPID comes back for its re-tests, but not to a place that
// is kept for repeats.
func TestRetestOfAClosedInfant(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(2, 1))
	c := w.infant(t, func(c *cases.Case) {
		c.Closures = []cases.Closure{{On: today - 1, As: "crms-cfspid", By: "A", AgreedBy: "B", AgreedOn: today - 1, Reason: "r", LookAgain: clinic}}
	})
	_, err := w.desk.Book(ctx, nurse, ask(c, "10:00"))
	wantRefusal(t, err, cases.Refused, "kept for repeats. The next fitting place is Tue 24 Mar 2026, 09:00")
	w.book(t, ask(c, "09:00"))
}

func TestTwinsTogether(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(3, 0))
	a, b, other := w.infant(t, nil), w.infant(t, nil), w.infant(t, nil)
	w.book(t, ask(other, "10:00"))
	_, err := w.desk.Book(ctx, nurse, ask(a, "09:00"), ask(b, "10:00"))
	wantRefusal(t, err, cases.Conflict, "taken")
	w.filled(t, session(3, 0), 1) // neither twin was booked
	_, err = w.desk.Book(ctx, nurse, ask(a, "09:00"), ask(b, "09:00"))
	wantRefusal(t, err, cases.Invalid, "a place of its own")
	late := ask(b, "10:00")
	late.On++
	_, err = w.desk.Book(ctx, nurse, ask(a, "09:00"), late)
	wantRefusal(t, err, cases.Invalid, "one site on one day")
	_, err = w.desk.Book(ctx, nurse)
	wantRefusal(t, err, cases.Invalid, "Select a place")
	if got := w.book(t, ask(a, "09:00"), ask(b, "11:00")); got[0].Bookings[0].At != "09:00" || got[1].Bookings[0].At != "11:00" {
		t.Errorf("booked: %+v", got)
	}
}

func born(c *cases.Case, d cases.Day) {
	c.Infant.Born, c.Infant.Weights, c.Referral.On = d, nil, d+4
}

func weighed(c *cases.Case, g float64) {
	c.Infant.Weights = []cases.Weight{{On: today - 4, G: g}}
}

// qns is a collection without enough sweat.
func qns(on cases.Day) cases.SweatTest {
	none := 0.0
	return cases.SweatTest{On: on, Collector: "tubing", Arms: []cases.Arm{{Side: "left", Minutes: 30, AmountUL: &none}, {Side: "right", Minutes: 30, AmountUL: &none}}}
}

// intermediate gives the infant, old enough for it, a test of both arms between the classes.
func intermediate(c *cases.Case, on cases.Day) {
	born(c, on-20)
	amount, chloride := 24.0, 44.0
	x := cases.SweatTest{On: on, Site: "alder-bay", Collector: "tubing", Analyte: "chloride"}
	for _, side := range []string{"left", "right"} {
		x.Arms = append(x.Arms, cases.Arm{Side: side, Minutes: 30, AmountUL: &amount, Chloride: &chloride})
	}
	c.SweatTests = append(c.SweatTests, x)
	weighed(c, 3000)
}
