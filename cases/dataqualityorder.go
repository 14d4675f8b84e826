package cases

import (
	"fmt"
	"strings"
)

// The milestones in the order in which they mostly come. Every interval runs from one
// of them to a later one.
const (
	atBirth = iota
	atCollected
	atReported
	atReferral
	atDoctorTold
	atFamilyReached
	atFirstBooking
	atFirstTest
	atSufficient
	atLastResult
	atDetermination
	atClosure
	milestoneCount
)

// milestoneSubjects begin a sentence about a milestone.
var milestoneSubjects = [milestoneCount]string{"The birth", "The screen’s collection", "The screen’s report", "The referral", "Telling primary care", "Reaching the family",
	"The first booking", "The first test", "The first test with enough sweat", "The latest result", "The determination", "The closing"}

// days gives the days of a case in the order of the milestones.
func (m *Milestones) days() [milestoneCount]Day {
	return [milestoneCount]Day{m.Born, m.Collected, m.Reported, m.Referred, m.DoctorTold, m.FamilyReached,
		m.FirstBooking, m.FirstTest, m.FirstSufficient, m.LastResult, m.Determined, m.Closed}
}

// mustPrecede tells whether the second of two milestones cannot come before the first.
func (m *Milestones) mustPrecede(first, second int) bool {
	switch first {
	case atBirth:
		return second != atFirstBooking // a test may be booked for an infant before birth
	case atCollected:
		return second == atReported || m.Route == "screen"
	case atFirstTest:
		return second == atSufficient || second == atLastResult
	case atReferral:
		return second == atClosure
	}
	return false
}

// wrongOrder is two days of which the one that should come later comes first.
type wrongOrder struct {
	kind       DataFault
	what, than string // what is dated before what
	on, other  Day    // the day of what, and that of than
}

// orderWords says what is in the wrong order, of one kind: each day once, with all those
// that it lies before.
func (m *Milestones) orderWords(days *[milestoneCount]Day, f DataFault) (out []string) {
	var all []wrongOrder
	m.orders(days, func(x wrongOrder) {
		if x.kind == f {
			all = append(all, x)
		}
	})
	for i := 0; i < len(all); {
		var before []string
		x := all[i]
		for ; i < len(all) && all[i].what == x.what && all[i].on == x.on; i++ {
			than := all[i].than
			before = append(before, fmt.Sprintf("%s before %s%s, %s", dayCount(all[i].other-x.on), strings.ToLower(than[:1]), than[1:], Say(all[i].other)))
		}
		out = append(out, fmt.Sprintf("%s, %s, is dated %s.", x.what, Say(x.on), strings.Join(before, "; ")))
	}
	return out
}

// orders gives each pair of days in the wrong order. A determination is dated as its
// closing, and is passed over.
func (m *Milestones) orders(days *[milestoneCount]Day, found func(wrongOrder)) {
	latest := Day(0)
	for second, d := range days {
		if d == 0 || second == atDetermination {
			continue
		}
		if d < latest {
			for first := range second {
				if days[first] <= d || first == atDetermination {
					continue
				}
				kind := UnusualOrder
				if m.mustPrecede(first, second) {
					kind = ImpossibleOrder
				}
				found(wrongOrder{kind, milestoneSubjects[second], milestoneSubjects[first], d, days[first]})
			}
		}
		latest = max(latest, d)
	}
	if m.Died == 0 {
		return
	}
	if m.Died < m.Born {
		found(wrongOrder{ImpossibleOrder, "The death", "The birth", m.Died, m.Born})
	}
	for i := range m.Tests {
		if t := m.Tests[i].On; t > m.Died {
			found(wrongOrder{ImpossibleOrder, "The death", "A test", m.Died, t})
		}
	}
	for i := range m.Visits {
		if v := &m.Visits[i]; v.State == "kept" && v.On > m.Died {
			found(wrongOrder{ImpossibleOrder, "The death", "An appointment that was kept", m.Died, v.On})
		}
	}
}

func dayCount(n Day) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

// ahead tells whether something is recorded as done after today, and gives each to
// found unless that is nil. An appointment may lie ahead, and so may its booking by
// the day it is for.
func (q *DataQuality) ahead(m *Milestones, days *[milestoneCount]Day, found func(what string, on Day)) (any bool) {
	see := func(what string, on Day) {
		if on > q.today {
			any = true
			if found != nil {
				found(what, on)
			}
		}
	}
	for i, d := range days {
		if i != atFirstBooking && i != atSufficient && i != atDetermination { // the latter two are said already
			see(milestoneSubjects[i], d)
		}
	}
	see("The death", m.Died)
	for i := range m.Tests {
		if t := m.Tests[i].On; t != m.FirstTest && t != m.LastResult {
			see("A test", t)
		}
	}
	for i := range m.Visits {
		if v := &m.Visits[i]; v.State == "kept" || v.State == "missed" {
			see("An appointment marked as "+v.State, v.On)
		}
	}
	return any
}
