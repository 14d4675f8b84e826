package measures

import (
	"fmt"
	"strings"
	"testing"

	"dunlin/cases"
)

// wait is a case by its days from birth: to closing (0: open, born so many days
// before the report).
type wait struct {
	closed, open int
	as, site     string
}

func (w wait) milestones(i int) cases.Milestones {
	m := cases.Milestones{Reference: fmt.Sprintf("AB-%d", i), Born: asOf - cases.Day(w.open), Site: w.site, ClosedAs: w.as}
	if w.closed != 0 {
		m.Born = asOf - 200
		m.Closed = m.Born + cases.Day(w.closed)
		if m.ClosedAs == "" {
			m.ClosedAs = "carrier"
		}
		if ReasonCode(m.ClosedAs) == 1 {
			m.Determined = m.Closed
		}
	}
	m.Referred = m.Born
	return m
}

// waits are n cases closed on one day after the other from first on.
func waitsFrom(first, n int, site string) (out []wait) {
	for i := range n {
		out = append(out, wait{closed: first + i, site: site})
	}
	return out
}

func reportOf(q Question, list []wait) IntervalReport {
	q.By, q.AsOf = ByReferral, asOf
	t := NewIntervalTally(q)
	for i, w := range list {
		m := w.milestones(i)
		t.Add(&m)
	}
	return t.Report()
}

// Each kind of cohort has its sentences. The figures in them were recomputed in R
// (survfit, quantile and survdiff of the package survival).
func TestWhatFiguresSay(t *testing.T) {
	closure, determined, test := Question{From: Birth, To: Closure}, Question{From: Birth, To: Determination}, Question{From: Birth, To: FirstTest}
	bySite := closure
	bySite.Group = "site"
	for name, c := range map[string]struct {
		q     Question
		list  []wait
		below int
		want  []string // each is a sentence
		not   string
	}{
		"empty":         {closure, nil, 0, []string{"No case is in this cohort, so there is nothing to measure."}, "Half"},
		"empty, hidden": {closure, nil, 11, []string{"No case is in this cohort, so there is nothing to measure."}, "Half"},
		"all open": {closure, []wait{{open: 10}, {open: 20}, {open: 30}}, 0, []string{
			"None of 3 cases has reached closure yet, so no day can be given by which half are done.",
			"3 of 3 cases still wait; they are counted until 2026-06-30."}, "Half"},
		"one case": {closure, []wait{{closed: 20}}, 0, []string{"There is one case; it says nothing about how long others wait.",
			"Half of the cases reached closure within 20 days of birth (no 95 % limits can be given)."}, "still wait"},
		"ties": {closure, []wait{{closed: 20}, {closed: 20}, {closed: 20}}, 0, []string{
			"All 3 that are done reached closure on the same day, day 20, so the curve has one step."}, "differ"},
		"censored first": {closure, []wait{{open: 5}, {closed: 20}, {closed: 30}}, 0, []string{
			"The first to go out of observation, on day 5, did so before any was done; up to then it counts."}, "None of"},
		"not reached": {closure, []wait{{closed: 9}, {open: 10}, {open: 20}, {open: 30}}, 0, []string{
			"The day by which half of the cases have reached closure cannot be given yet: too few have.", "How long the slowest tenth take cannot be said yet."}, "Half"},
		"few": {closure, waitsFrom(10, 6, ""), 11, []string{"Fewer than 11 cases are in this cohort, so their figures are not shown. Choose a longer window or fewer filters."}, "6"},
		"negative": {closure, append(waitsFrom(10, 5, ""), wait{closed: -4}), 0, []string{
			"Not counted: 1 case with closure dated before birth. The days are wrong, or the order was unusual; see Data faults."}, "-4"},
		"only negative": {closure, []wait{{closed: -4}}, 0, []string{"No case of this cohort can be counted: none has a day of birth with a later day to count to."}, "Half"},
		"not begun": {Question{From: FirstTest, To: Closure}, waitsFrom(10, 2, ""), 0, []string{
			"Not counted: 2 cases without a day of first test, or over before it."}, "Half"},
		"not begun, hidden": {Question{From: FirstTest, To: Closure}, waitsFrom(10, 2, ""), 11, []string{
			"Not counted: a few cases without a day of first test, or over before it."}, "2 cases"},
		"usual": {closure, waitsFrom(10, 40, ""), 0, []string{
			"Half of the cases reached closure within 29.5 days of birth (95 % limits 23 to 35).", "The slowest tenth took longer than 45.5 days (95 % limits 41 to not reached).",
			"By day 28 after birth, 47.5 % were done (95 % limits 33.5 to 63.9)."}, "still wait"},
		"closed otherwise": {determined, append(waitsFrom(10, 5, ""), wait{closed: 12, as: "lost"}), 0, []string{
			"1 of 6 cases were closed in another way; they count as never determined."}, "still wait"},
		"left": {test, waitsFrom(10, 5, ""), 0, []string{"5 of 5 cases closed, or the infant died, without first test; they count as waiting until then."}, "Half"},
		"groups differ": {bySite, append(waitsFrom(10, 15, "A"), waitsFrom(40, 15, "B")...), 0, []string{
			"The groups differ by more than chance would usually give (log-rank test, p below 0.001). The figures do not say why."}, "because"},
		"groups alike": {bySite, append(waitsFrom(10, 15, "A"), waitsFrom(11, 15, "B")...), 11, []string{
			"The groups do not differ by more than chance would usually give (log-rank test, p 0.467). With few cases a difference can go unseen."}, "why"},
		"few in a group": {bySite, append(waitsFrom(10, 50, "A"), append(waitsFrom(10, 40, "B"), waitsFrom(11, 5, "C")...)...), 11, []string{
			"1 group has fewer than 11 cases: named, with no figures.", "The groups are not compared, because some are too small to show."}, "log-rank"},
		"one group":           {bySite, waitsFrom(10, 15, "A"), 0, []string{"All cases are in one group, so there is nothing to compare."}, "log-rank"},
		"no events in groups": {bySite, []wait{{open: 9, site: "A"}, {open: 9, site: "B"}}, 0, []string{"The groups cannot be compared yet: too few cases are done."}, "log-rank"},
	} {
		p := reportOf(c.q, c.list).Publish(SmallNumbers{Below: c.below})
		text := strings.Join(p.Says, "\n")
		for _, w := range c.want {
			if !strings.Contains("\n"+text+"\n", "\n"+w+"\n") {
				t.Errorf("%s: it does not say %q but\n%s", name, w, text)
			}
		}
		if strings.Contains(text, c.not) {
			t.Errorf("%s: it says %q in\n%s", name, c.not, text)
		}
	}
}

func TestQuestionFaults(t *testing.T) {
	ok := Question{From: Birth, To: Closure, By: ByBirth}
	if f := ok.Faults(); len(f) > 0 {
		t.Fatal(f)
	}
	for want, change := range map[string]func(*Question){
		`There is no milestone "x" to count from`:         func(q *Question) { q.From = "x" },
		`There is no milestone "" to count to`:            func(q *Question) { q.To = "" },
		"must come after the first":                       func(q *Question) { q.To = Birth },
		"the same day":                                    func(q *Question) { q.From = Determination },
		`by referral or by birth, not by "closure"`:       func(q *Question) { q.By = "closure" },
		"2026-06-30, is before its first day, 2026-07-01": func(q *Question) { q.Window.From, q.Window.To = asOf+1, asOf },
		`There is no class "late"`:                        func(q *Question) { q.Class = "late" },
		`cannot be grouped by "eyes"`:                     func(q *Question) { q.Group = "eyes" },
	} {
		q := ok
		change(&q)
		f := q.Faults()
		if len(f) != 1 || !strings.Contains(f[0], want) {
			t.Errorf("faults %q, want one with %q", f, want)
		}
		tally := NewIntervalTally(q)
		m := wait{closed: 10}.milestones(1)
		tally.Add(&m)
		if r := tally.Report(); r.Cases != 0 {
			t.Errorf("%s: a question with faults counted %d cases", want, r.Cases)
		}
	}
}

func TestQuestionWords(t *testing.T) {
	q := Question{From: Birth, To: Closure, By: ByBirth, Window: Window{From: cases.MakeDay(2026, 1, 1), To: cases.MakeDay(2026, 3, 31), AsOf: asOf}, Route: "screen", Site: "alder-bay", Language: "es", County: "Heron", Class: NotReady}
	const want = "Infants born from 2026-01-01 to 2026-03-31, referred by screen, site alder-bay, language es, county Heron, who could not be ready for a test by day 28, followed to 2026-06-30."
	if got := q.Words(); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	if from, to := q.Reads(); from != q.Window.From || to != asOf {
		t.Errorf("a cohort by birth reads referrals from %s to %s", from, to)
	}
	q.By = ByReferral
	if _, to := q.Reads(); to != q.Window.To {
		t.Errorf("a cohort by referral reads to %s", to)
	}
}
