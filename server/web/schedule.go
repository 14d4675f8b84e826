package web

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// scheduled is an open case with what it implies today.
type scheduled struct {
	c   cases.Case
	a   cases.Assessment
	own place // what its bookings say
}

// place sorts out the bookings of a case on one day.
type place struct {
	ahead int // index of the nearest booking after today or today, -1
	owed  int // index of the oldest booked or kept one before today without a test, -1
}

// placesOf finds the bookings of a case that still ask for something.
func placesOf(c *cases.Case, today cases.Day) place {
	p := place{-1, -1}
	for i := range c.Bookings {
		b := &c.Bookings[i]
		if testedSince(c, b.On) {
			continue
		}
		switch {
		case b.State == "booked" && b.On >= today:
			if p.ahead < 0 || sooner(b, &c.Bookings[p.ahead]) {
				p.ahead = i
			}
		case b.On < today && (b.State == "booked" || b.State == "kept"):
			if p.owed < 0 || sooner(b, &c.Bookings[p.owed]) {
				p.owed = i
			}
		case b.On == today && b.State == "kept":
			p.owed = i
		}
	}
	return p
}

func sooner(a, b *cases.Booking) bool { return a.On < b.On || a.On == b.On && a.At < b.At }

// testedSince tells whether a test lies on or after a day.
func testedSince(c *cases.Case, on cases.Day) bool {
	for i := range c.SweatTests {
		if c.SweatTests[i].On >= on {
			return true
		}
	}
	return false
}

// schedulePage answers GET /schedule.
func (s *server) schedulePage(c Ctx) error {
	today := s.today()
	p := &templates.SchedulePage{Today: date(today), MayBook: can(c, schedule), MayTest: can(c, recordTests), MayWeigh: can(c, weigh), Scale: s.scale()}
	var repeat, ready, wait, light []scheduled
	cut := func(id string, n int) int { return cutRows(c, p, id, n) }
	err := s.view(c, func(r cases.Reader) error {
		for k, err := range r.Open() {
			if err != nil {
				return err
			}
			x := scheduled{c: k, a: s.protocol().AssessStep(&k, today)}
			x.own = placesOf(&k, today)
			s.appointments(p, &x, today)
			if waitsForWeight(&x.a) {
				light = append(light, x)
			}
			switch groupOf(&x, today) {
			case "repeat":
				repeat = append(repeat, x)
			case "ready":
				ready = append(ready, x)
			case "not-ready":
				wait = append(wait, x)
			}
		}
		if err := s.retests(r, p, cut, today); err != nil {
			return err
		}
		if err := s.stranded(r, p); err != nil {
			return err
		}
		var err error
		p.Clinics, err = s.clinics(r)
		return err
	})
	if err != nil {
		return err
	}
	slices.SortStableFunc(repeat, func(a, b scheduled) int {
		return cmp.Or(cmp.Compare(a.a.Repeat.Due, b.a.Repeat.Due), byAge(&a.c, &b.c))
	})
	slices.SortStableFunc(ready, func(a, b scheduled) int { return byAge(&a.c, &b.c) })
	slices.SortStableFunc(wait, func(a, b scheduled) int {
		return cmp.Or(cmp.Compare(a.a.Readiness.Earliest, b.a.Readiness.Earliest), byAge(&a.c, &b.c))
	})
	p.Waiting = len(repeat) + len(ready) + len(wait)
	p.Repeat = s.toBook(repeat[:cut("repeat", len(repeat))], today)
	p.Ready = s.toBook(ready[:cut("ready", len(ready))], today)
	p.NotReady = s.toBook(wait[:cut("not-ready", len(wait))], today)
	p.Weigh = s.toWeigh(light, cut, today)
	order := func(a, b templates.Appointment) int {
		return cmp.Or(strings.Compare(a.On.ISO(), b.On.ISO()), strings.Compare(a.At, b.At), strings.Compare(a.Reference, b.Reference))
	}
	slices.SortStableFunc(p.Day, order)
	slices.SortStableFunc(p.Booked, order)
	slices.SortStableFunc(p.Stranded, order)
	p.Booked = p.Booked[:cut("booked", len(p.Booked))]
	p.Name, p.Current = "Schedule, "+templates.Count(p.Waiting, "infant", "infants")+" without a booking", "schedule"
	return s.render(c, http.StatusOK, p)
}

// scheduleRows is how many rows a table of the schedule shows unless all are asked for.
const scheduleRows = 50

// cutRows is how many of n rows a table shows; what it leaves out is said on the page
// with the address of all. That address names the table: /schedule?all=ready#ready.
func cutRows(c Ctx, p *templates.SchedulePage, id string, n int) int {
	if n <= scheduleRows || c.QueryParam("all") == id {
		return n
	}
	if p.Cuts == nil {
		p.Cuts = map[string]*templates.Cut{}
	}
	p.Cuts[id] = &templates.Cut{Shown: scheduleRows, Of: n, All: "/schedule?all=" + id + "#" + id}
	return scheduleRows
}

func byAge(a, b *cases.Case) int {
	return cmp.Or(cmp.Compare(a.Infant.Born, b.Infant.Born), strings.Compare(a.Reference, b.Reference))
}

// groupOf says in which table an infant without a booking stands, "" for none.
func groupOf(x *scheduled, today cases.Day) string {
	c, a := &x.c, &x.a
	if a.Closed || c.Infant.Died != 0 && c.Infant.Died <= today || x.own.ahead >= 0 || x.own.owed >= 0 {
		return ""
	}
	if a.Supports.Has(cases.SupRefused) || a.Supports.Has(cases.SupMoved) {
		return ""
	}
	switch {
	case a.Repeat != nil:
		return "repeat"
	case a.Clocks.FirstTest.MetOn != 0:
		return ""
	case a.Readiness.Ready:
		return "ready"
	}
	return "not-ready"
}

func (s *server) toBook(list []scheduled, today cases.Day) []templates.ToBook {
	out := make([]templates.ToBook, 0, len(list))
	for i := range list {
		c, a := &list[i].c, &list[i].a
		row := templates.ToBook{Who: s.who(c), Strip: s.strip(c, a), Button: "Book", Href: "/infants/" + c.Reference + "/book?from=schedule"}
		row.Weight, row.WeightNote = s.shortWeight(a)
		row.Earliest, row.Waits = earliestWords(a, today)
		if r := a.Repeat; r != nil {
			row.Why = fmt.Sprintf("%s on %s, repeat due %s", repeatCause(r.Because), shortDay(r.After), shortDay(r.Due))
			row.Late, row.Repeat = lateText(r.Due, today), s.repeatPart(a)
		} else if k := a.Clocks.FirstTest; k.Running {
			row.Late = lateText(k.Due, today)
		}
		row.Why = or(row.Why, whyUnbooked(c, a))
		out = append(out, row)
	}
	return out
}

// whyUnbooked says what an infant without a repeat has behind it, "" for nothing.
func whyUnbooked(c *cases.Case, a *cases.Assessment) string {
	if x := a.Proposed; x != nil {
		return "Closing proposed: " + determinationWord(x.As)
	}
	if n := len(a.Tests); n > 0 {
		return outcomeWord(a.Tests[n-1].Outcome) + " on " + shortDay(a.Tests[n-1].On)
	}
	if d := lastDropped(c); d != nil {
		return sentence(d.State) + " on " + shortDay(d.On)
	}
	return ""
}

// lastDropped is the latest missed or cancelled booking.
func lastDropped(c *cases.Case) *cases.Booking {
	var last *cases.Booking
	for i := range c.Bookings {
		b := &c.Bookings[i]
		if (b.State == "missed" || b.State == "cancelled") && (last == nil || sooner(last, b)) {
			last = b
		}
	}
	return last
}

func lateText(due, today cases.Day) string {
	if due == 0 || due >= today {
		return ""
	}
	return templates.Days(int(today-due)) + " late"
}

// repeatCause is why a repeat is owed, in one or two words.
func repeatCause(because string) string {
	if because == "does-not-fit" {
		return "Does not fit"
	}
	return outcomeWord(cases.Outcome(because))
}

// appointments adds what is booked today, before today and not recorded, and
// after today.
func (s *server) appointments(p *templates.SchedulePage, x *scheduled, today cases.Day) {
	c := &x.c
	for i := range c.Bookings {
		b := &c.Bookings[i]
		if b.State == "cancelled" || b.On < today && i != x.own.owed {
			continue
		}
		ap := templates.Appointment{Who: s.who(c), On: date(b.On), At: string(b.At), Site: s.siteName(b.Site), Rev: uint64(c.Rev),
			Why: or(testedOn(&x.a, b.On), visitWords(&x.a)), Path: bookingPath(c, i), Record: testPath(c, b), Past: b.On < today}
		if b.Site != "" {
			ap.Clinic = clinicPath(b)
		}
		tested := testedSince(c, b.On)
		switch {
		case b.State == "missed":
			ap.State = templates.Tag{Kind: "cross", Text: "Missed"}
		case tested:
			ap.State = templates.Tag{Kind: "done", Text: "Test recorded"}
		case b.State == "kept":
			ap.State, ap.Open, ap.Came = templates.Tag{Kind: "half", Text: "Kept, no test recorded"}, true, true
		case b.On < today:
			ap.State, ap.Open = templates.Tag{Kind: "late", Text: "Not recorded yet"}, true
		case b.On == today && b.At != "" && string(b.At) <= s.clock(s.Now()):
			ap.State, ap.Open = templates.Tag{Kind: "soon", Text: "Not recorded yet"}, true
		default:
			ap.State, ap.Open = templates.Tag{Kind: "book", Text: "Booked"}, true
		}
		if b.On > today {
			if b.State == "booked" {
				p.Booked = append(p.Booked, ap)
			}
			continue
		}
		p.Day = append(p.Day, ap)
	}
}

// testedOn says what the test of a day showed, "" without one: a visit that is over
// is not called the repeat that follows it.
func testedOn(a *cases.Assessment, on cases.Day) string {
	for i := len(a.Tests) - 1; i >= 0; i-- {
		if a.Tests[i].On == on {
			return "Tested that day: " + outcomeWord(a.Tests[i].Outcome)
		}
	}
	return ""
}

// visitWords says which visit a booking is for.
func visitWords(a *cases.Assessment) string {
	if a.Closed {
		return "Re-test"
	}
	if r := a.Repeat; r != nil {
		return "Repeat, " + within(repeatCause(r.Because)) + " on " + shortDay(r.After)
	}
	if len(a.Tests) == 0 {
		return "First test"
	}
	return fmt.Sprintf("Test %d", len(a.Tests)+1)
}

// within writes words so that they can stand inside a sentence: a capital is kept
// in short forms such as QNS.
func within(s string) string {
	if len(s) < 2 || s[1] >= 'A' && s[1] <= 'Z' {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// bookingPath is the address of a booking of a case.
func bookingPath(c *cases.Case, i int) string {
	return fmt.Sprintf("/infants/%s/bookings/%d", c.Reference, i)
}

// testPath is the address of the form that records the test of a booking.
func testPath(c *cases.Case, b *cases.Booking) string {
	return fmt.Sprintf("/infants/%s/tests/new?on=%s&at=%s&site=%s", c.Reference, b.On, escapeQuery(string(b.At)), escapeQuery(b.Site))
}
