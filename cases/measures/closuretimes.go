package measures

import (
	"slices"

	"dunlin/cases"
)

// Milestones are the days whose shares a report gives; protocol day 28 comes first.
var Milestones = []int{28, 35, 42, 56, 60}

// ageBands are the first ages, in days, of the bands of open cases.
var ageBands = []int{0, 14, 28, 42, 60, 180}

// Window chooses the cohort: the cases referred from From to To, both included
// (0: no bound), as they stood on AsOf. Cases referred after AsOf are left out.
type Window struct {
	From cases.Day `json:"from"`
	To   cases.Day `json:"to"`
	AsOf cases.Day `json:"as_of"`
}

// Report holds the closure times of one cohort.
type Report struct {
	Window
	Cases    int     `json:"cases"`
	Open     int     `json:"open"`
	Closed   int     `json:"closed"`
	ClosedAs []Count `json:"closed_as"`
	// All takes every case of the cohort; Ready and NotReady split it by
	// whether the infant could be ready for a test by day 28.
	All      Class  `json:"all"`
	Ready    Class  `json:"ready_by_day_28"`
	NotReady Class  `json:"not_ready_by_day_28"`
	Waiting  []Band `json:"waiting"`
	// FirstQNS counts the infants whose first collection gave too little sweat,
	// of all infants with a collection.
	FirstQNS Proportion `json:"first_test_qns"`
	Notes    []string   `json:"notes"`
}

// Count is a number of cases under a word.
type Count struct {
	As string `json:"as"`
	N  int    `json:"n"`
}

// Class holds the four measures of a group of cases.
type Class struct {
	Cases             int     `json:"cases"`
	Open              int     `json:"open"`
	BirthToTest       Measure `json:"birth_to_first_test"`
	ReferralToTest    Measure `json:"referral_to_first_test"`
	BirthToClosure    Measure `json:"birth_to_closure"`
	ReferralToClosure Measure `json:"referral_to_closure"`
}

// Measure is one duration over a group of cases, open ones counted. Cases is
// always Done + Waiting + Left.
type Measure struct {
	Cases   int `json:"cases"`
	Done    int `json:"done"`
	Waiting int `json:"waiting"` // still open on the day of the report
	Left    int `json:"left"`    // closed, or died, before a first test
	// Quarter, Median and ThreeQuarters are the days by which that share of
	// the cases is done; their days are null when not reached.
	Quarter       Quantile `json:"quarter"`
	Median        Quantile `json:"median"`
	ThreeQuarters Quantile `json:"three_quarters"`
	Shares        []Share  `json:"shares"` // by day 28 first, then Milestones
	Curve         Curve    `json:"curve"`
}

// By returns the share done by a milestone day.
func (m Measure) By(day int) Share {
	for _, s := range m.Shares {
		if s.Day == day {
			return s
		}
	}
	return m.Curve.DoneBy(day)
}

// Band counts the open cases of an age band; To is 0 for the last.
type Band struct {
	From     int `json:"from_days"`
	To       int `json:"to_days,omitempty"`
	Open     int `json:"open"`
	Untested int `json:"untested"`  // of these, without a first test
	NotReady int `json:"not_ready"` // of the untested, could not be ready by day 28
}

// ClosureTimes computes the report of the records in the window. The order of
// the records does not matter.
func ClosureTimes(records []Record, w Window) Report {
	cohort := cohort(records, w)
	rep := Report{Window: w, Cases: len(cohort), Notes: notes}
	var ready, notReady []Record
	closed := map[string]int{}
	tested, qns := 0, 0
	for _, r := range cohort {
		if r.open(w.AsOf) {
			rep.Open++
		} else {
			rep.Closed++
			closed[r.ClosedAs]++
		}
		if r.NotReady {
			notReady = append(notReady, r)
		} else {
			ready = append(ready, r)
		}
		if r.FirstTest != 0 && r.FirstTest <= w.AsOf {
			tested++
			if r.FirstQNS {
				qns++
			}
		}
	}
	for _, as := range cases.Determinations {
		if n := closed[as]; n > 0 {
			rep.ClosedAs = append(rep.ClosedAs, Count{As: as, N: n})
		}
	}
	rep.All = classOf(cohort, w.AsOf)
	rep.Ready = classOf(ready, w.AsOf)
	rep.NotReady = classOf(notReady, w.AsOf)
	rep.Waiting = bands(cohort, w.AsOf)
	rep.FirstQNS = NewProportion(qns, tested)
	return rep
}

// classOf computes the four measures of a group.
func classOf(group []Record, asOf cases.Day) Class {
	c := Class{Cases: len(group)}
	for _, r := range group {
		if r.open(asOf) {
			c.Open++
		}
	}
	measure := func(of func(Record) Span, left func(Record) bool) Measure {
		spans := make([]Span, len(group))
		m := Measure{Cases: len(group)}
		for i, r := range group {
			spans[i] = of(r)
			switch {
			case spans[i].Event:
				m.Done++
			case left(r):
				m.Left++
			default:
				m.Waiting++
			}
		}
		m.Curve = KaplanMeier(spans)
		m.Quarter, m.Median, m.ThreeQuarters = m.Curve.Quantile(0.25), m.Curve.Quantile(0.5), m.Curve.Quantile(0.75)
		for _, day := range Milestones {
			m.Shares = append(m.Shares, m.Curve.DoneBy(day))
		}
		return m
	}
	ended := func(r Record) bool { return !r.open(asOf) || r.Died != 0 && r.Died <= asOf }
	never := func(Record) bool { return false }
	c.BirthToTest = measure(func(r Record) Span { return r.toTest(r.Born, asOf) }, ended)
	c.ReferralToTest = measure(func(r Record) Span { return r.toTest(r.Referred, asOf) }, ended)
	c.BirthToClosure = measure(func(r Record) Span { return r.toClosure(r.Born, asOf) }, never)
	c.ReferralToClosure = measure(func(r Record) Span { return r.toClosure(r.Referred, asOf) }, never)
	return c
}

// bands counts the open cases by age on the day of the report.
func bands(cohort []Record, asOf cases.Day) []Band {
	out := make([]Band, len(ageBands))
	for i, from := range ageBands {
		out[i].From = from
		if i+1 < len(ageBands) {
			out[i].To = ageBands[i+1] - 1
		}
	}
	for _, r := range cohort {
		if !r.open(asOf) {
			continue
		}
		i, found := slices.BinarySearch(ageBands, int(asOf-r.Born))
		if !found {
			i--
		}
		out[i].Open++
		if r.FirstTest == 0 || r.FirstTest > asOf {
			out[i].Untested++
			if r.NotReady {
				out[i].NotReady++
			}
		}
	}
	return out
}

// notes say on every report how its numbers are made.
var notes = []string{
	"The cohort is every case referred in the window, by its referral date. Open cases are counted: each waits until the day of the report (Kaplan-Meier).",
	"A first test is any chloride collection, QNS included. A case that closed, or an infant who died, without one counts as waiting until then.",
	"A closure of any kind counts as closure: a determination, lost to follow-up, declined, died, moved, referred in error. A proposed closure does not.",
	"Limits are 95 % (log-log for shares, Brookmeyer and Crowley for days, Wilson for rates). \"Not reached\": too few cases have come that far.",
	"Infants who could not be ready for a test by day 28 (age, corrected gestational age) are in the figures of all cases and shown as a group of their own.",
}
