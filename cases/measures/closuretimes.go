package measures

import "dunlin/cases"

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
	t := NewTally(w)
	for _, r := range records {
		t.Add(r)
	}
	return t.Report()
}

// notes say on every report how its numbers are made.
var notes = []string{
	"The cohort is every case referred in the window, by its referral date. Open cases are counted: each waits until the day of the report (Kaplan-Meier).",
	"A first test is any chloride collection, QNS included. A case that closed, or an infant who died, without one counts as waiting until then.",
	"A closure of any kind counts as closure: a determination, lost to follow-up, declined, died, moved, referred in error. A proposed closure does not.",
	"Limits are 95 % (log-log for shares, Brookmeyer and Crowley for days, Wilson for rates). \"Not reached\": too few cases have come that far.",
	"Infants who could not be ready for a test by day 28 (age, corrected gestational age) are in the figures of all cases and shown as a group of their own.",
}
