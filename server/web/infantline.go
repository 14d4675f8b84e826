package web

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// newestFirst gives the places 0 to n-1 in falling order of key; equal keys
// with the later place first.
func newestFirst(n int, key func(int) string) []int {
	at := make([]int, n)
	for i := range at {
		at[i] = i
	}
	slices.SortFunc(at, func(a, b int) int { return cmp.Or(strings.Compare(key(b), key(a)), b-a) })
	return at
}

// happened is one event of the time line, in the lane and in the list.
type happened struct {
	on   cases.Day
	lane templates.Lane
	mark string // short, over the mark
	text string
	drop templates.Drop
	plan bool
}

// infantLine draws the time line and lists the same events.
func (s *server) infantLine(p *templates.InfantPage, o *opened) {
	list := s.events(o)
	slices.SortStableFunc(list, func(a, b happened) int { return cmp.Compare(a.on, b.on) })
	p.Strip = s.strip(&o.c, &o.a)
	p.Line = templates.Timeline{Born: date(o.c.Infant.Born), Age: ageOn(&o.c.Infant, o.today), Scale: s.scale()}
	day := func(d cases.Day) int { return int(d - o.c.Infant.Born) }
	for _, e := range list {
		if e.on >= o.c.Infant.Born {
			p.Line.Events = append(p.Line.Events, templates.Event{Day: day(e.on), Lane: e.lane, Label: e.mark, Drop: e.drop, Planned: e.plan})
		}
	}
	p.Line.Desc = s.lineWords(o, list)
	for i := len(list) - 1; i >= 0; i-- {
		p.Events = append(p.Events, templates.EventLine{Day: day(list[i].on), On: date(list[i].on), Text: list[i].text})
	}
	born := "Born"
	if i := &o.c.Infant; i.Gestation != 0 || i.BirthWeightG > 0 {
		born += " at " + gestationWords(i.Gestation)
		if i.BirthWeightG > 0 {
			born += ", " + templates.Kg(int(i.BirthWeightG+0.5))
		}
	}
	p.Events = append(p.Events, templates.EventLine{Day: 0, On: date(o.c.Infant.Born), Text: born})
}

func (s *server) events(o *opened) []happened {
	k := &o.c
	var out []happened
	if sc := k.Referral.Screen; sc != nil && sc.Collected != 0 {
		out = append(out, happened{on: sc.Collected, lane: templates.LaneScreen, mark: "Specimen", text: "Screen specimen " + sc.Accession + " collected"})
	}
	out = append(out, happened{on: k.Referral.On, lane: templates.LaneScreen, mark: "Referred", text: "Referral came in"})
	for i := range k.Contacts {
		x := &k.Contacts[i]
		e := happened{on: x.On, lane: templates.LaneContacts, text: wordOf(contactBy, x.By) + ", " + strings.ToLower(wordOf(contactWith, x.With)) + ": " + or(x.Outcome, "not recorded")}
		if x.Reached {
			e.mark = wordOf(contactWith, x.With)
		}
		out = append(out, e)
	}
	for _, w := range k.Infant.Weights {
		out = append(out, happened{on: w.On, lane: -1, text: "Weighed " + templates.Kg(int(w.G+0.5))})
	}
	for i := range o.a.Tests {
		t := &o.a.Tests[i]
		out = append(out, happened{on: t.On, lane: templates.LaneTests, mark: outcomeWord(t.Outcome), drop: outcomeDrop(t.Outcome), text: fmt.Sprintf("Sweat test %d: %s", i+1, outcomeWord(t.Outcome))})
	}
	for i := range k.Bookings {
		b := &k.Bookings[i]
		switch {
		case b.State == "booked" && b.On >= o.today:
			out = append(out, happened{on: b.On, lane: templates.LaneTests, mark: "Booked, " + date(b.On).Short(), plan: true, text: "Booked: " + s.bookingWords(b)})
		case b.State == "missed":
			out = append(out, happened{on: b.On, lane: templates.LaneTests, mark: "Missed", text: "Missed the visit"})
		}
	}
	for _, l := range k.Letters {
		if l.MadeOn != 0 {
			mark, name := letterMark(l.Kind), cases.LetterKindOf(l.Kind).Word
			out = append(out, happened{on: l.MadeOn, lane: templates.LaneLetters, mark: mark, text: "Letter made: " + name})
		}
	}
	if o.a.Closed {
		out = append(out, happened{on: o.a.ClosedOn, lane: -1, text: "Closed: " + determinationWord(o.a.ClosedAs)})
	}
	return out
}

// lineWords is the time line in one paragraph.
func (s *server) lineWords(o *opened, list []happened) string {
	var b strings.Builder
	for _, e := range list {
		if e.mark != "" && e.lane != templates.LaneContacts {
			fmt.Fprintf(&b, "%s on day %d. ", e.mark, int(e.on-o.c.Infant.Born))
		}
	}
	age, by := ageOn(&o.c.Infant, o.today), s.Protocol.FirstTestByDays
	fmt.Fprintf(&b, "Day %d is %s. Today is day %d. ", by, date(o.c.Infant.Born+cases.Day(by)), age)
	b.WriteString("The same events are listed below.")
	return b.String()
}
