package web

import (
	"fmt"
	"strconv"

	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/templates"
)

// axisStep is the distance between day numbers on the axis of a curve.
const axisStep = 14

// fillClosureTimes sets out a report on its page.
func fillClosureTimes(p *templates.ClosureTimesPage, rep measures.Report, proto *cases.Protocol) {
	p.Cases, p.OpenSum, p.Terms = rep.Cases, rep.Open, rep.Notes
	if rep.Cases == 0 {
		p.Small = "No case was referred in this time. Choose other days."
	} else if rep.Cases < proto.SmallNumberBelow {
		p.Small = fmt.Sprintf("%s only: shares and medians of so few say little.", templates.Count(rep.Cases, "case", "cases"))
	}
	all, by := rep.All, proto.FirstTestByDays
	p.Facts = []templates.BigFact{
		shareFact(fmt.Sprintf("First test by day %d", by), all.BirthToTest.Curve.DoneBy(by)),
		daysFact("Median age at first test", all.BirthToTest),
		daysFact("Median age at closure", all.BirthToClosure),
		{Name: "First test QNS", Value: rateText(rep.FirstQNS), Note: fmt.Sprintf("%d of %d. Benchmark %s or less", rep.FirstQNS.Count, rep.FirstQNS.Of, templates.Percent(proto.QNSBenchmarkYoung))},
		{Name: "Still open", Value: templates.Thousands(rep.Open), Note: "counted until today"},
	}
	for _, m := range []struct {
		name string
		of   measures.Measure
	}{{"Birth to first test", all.BirthToTest}, {"Referral to first test", all.ReferralToTest}, {"Birth to closure", all.BirthToClosure}, {"Referral to closure", all.ReferralToClosure}} {
		p.Clocks = append(p.Clocks, clockTime(m.name, m.of))
	}
	for _, g := range []struct {
		name  string
		class measures.Class
	}{{"could be ready by day 28", rep.Ready}, {"could not be ready by day 28", rep.NotReady}} {
		if g.class.Cases > 0 {
			p.Clocks = append(p.Clocks, clockTime("Birth to first test, "+g.name, g.class.BirthToTest))
		}
	}
	p.Curves = []templates.CurveFigure{
		curveFigure("tested", "tested", "Share with a first test by age. The shaded days are those in which the first test is wanted.", all.BirthToTest, proto),
		curveFigure("closed", "closed", "Share closed by age, for any reason.", all.BirthToClosure, proto),
	}
	for _, b := range rep.Waiting {
		p.Open = append(p.Open, templates.OpenBand{Band: bandWords(b), Open: b.Open, Untested: b.Untested, NotReady: b.NotReady})
	}
	for _, c := range rep.ClosedAs {
		p.Ended = append(p.Ended, templates.Fact{Name: determinationWord(c.As), Text: templates.Thousands(c.N)})
	}
}

// bandWords is an age band in words.
func bandWords(b measures.Band) string {
	if b.To == 0 {
		return fmt.Sprintf("%d days and over", b.From)
	}
	return fmt.Sprintf("%d to %d days", b.From, b.To)
}

func shareFact(name string, s measures.Share) templates.BigFact {
	f := templates.BigFact{Name: name, Value: shareText(s)}
	if s.Known && s.Limits != nil {
		f.Note = "95% limits " + limitsRange(s.Limits)
	}
	return f
}

func daysFact(name string, m measures.Measure) templates.BigFact {
	f := templates.BigFact{Name: name, Value: daysText(m.Median.Day)}
	if m.Quarter.Day != nil || m.ThreeQuarters.Day != nil {
		f.Note = "middle half " + middleHalf(m)
	}
	return f
}

func clockTime(name string, m measures.Measure) templates.ClockTime {
	c := templates.ClockTime{Name: name, Cases: m.Cases, Done: m.Done, Waiting: m.Waiting, Left: m.Left,
		Median: daysText(m.Median.Day), Quartiles: middleHalf(m)}
	if m.Median.Lower != nil || m.Median.Upper != nil {
		c.MedianCI = measures.Days(m.Median.Lower) + " to " + measures.Days(m.Median.Upper)
	}
	by := m.By(measures.Milestones[0])
	c.By28 = shareText(by)
	if by.Known && by.Limits != nil {
		c.By28CI = limitsRange(by.Limits)
	}
	return c
}

func daysText(d *float64) string {
	if d == nil {
		return "Not reached"
	}
	if *d == 1 {
		return "1 day"
	}
	return measures.Days(d) + " days"
}

func middleHalf(m measures.Measure) string {
	if m.Quarter.Day == nil {
		return "Not reached"
	}
	return m.MiddleHalf() + " days"
}

func shareText(s measures.Share) string {
	if !s.Known {
		return "Not known yet"
	}
	return templates.Percent(s.Share)
}

func rateText(p measures.Proportion) string {
	if p.Rate == nil {
		return "None tested"
	}
	return strconv.FormatFloat(100**p.Rate, 'f', 1, 64) + "%"
}

func limitsRange(l *measures.Interval) string {
	return templates.Percent(l.Lower) + " to " + templates.Percent(l.Upper)
}

// curveFigure draws a Kaplan-Meier curve of the share done by age, rising.
func curveFigure(id, done, lead string, m measures.Measure, proto *cases.Protocol) templates.CurveFigure {
	by := proto.FirstTestByDays
	label := "Day " + strconv.Itoa(by)
	c := templates.Curve{ID: id, Done: done, Axis: "Age in days", Mark: float64(by), MarkLabel: label}
	if id == "tested" {
		c.WindowFrom, c.WindowTo = float64(proto.MinAgeDays), float64(by)
	}
	last := 0
	for _, p := range m.Curve {
		last = p.Day
		if p.Events > 0 {
			q := templates.CurvePoint{Day: float64(p.Day), Share: 1 - p.Waiting}
			if p.Limits != nil {
				q.Low, q.High, q.Limits = 1-p.Limits.Upper, 1-p.Limits.Lower, true
			}
			c.Points = append(c.Points, q)
		}
		if p.Censored > 0 {
			c.Censored = append(c.Censored, float64(p.Day))
		}
	}
	c.Until = float64(last)
	end := axisEnd(m.Curve)
	c.AxisEnd = float64(end)
	if m.Cases > 0 && len(c.Points) == 0 {
		c.Points = []templates.CurvePoint{{}}
	}
	share := m.Curve.DoneBy(by)
	c.Title = "Share " + done + " by age"
	if share.Known && m.Cases > 0 {
		c.Title = fmt.Sprintf("%s %s by day %d", templates.Percent(share.Share), done, by)
	}
	c.Description = fmt.Sprintf("A step curve that rises with age: a quarter %s by %s, half by %s, three quarters by %s. The table below has the numbers.",
		done, daysText(m.Quarter.Day), daysText(m.Median.Day), daysText(m.ThreeQuarters.Day))
	fig := templates.CurveFigure{Lead: lead + " The band holds the 95% limits (log-log). Small marks: open or left the count."}
	step := axisStep
	if end > 7*axisStep {
		step = 2 * axisStep
	}
	for day := 0; day <= end; day += step {
		c.Counts = append(c.Counts, countsAt(m, day))
	}
	for _, day := range rowDays(by, end) {
		s, n := m.Curve.DoneBy(day), countsAt(m, day)
		row := templates.CurveRow{Day: day, Share: shareText(s), Limits: "None", Waiting: n.Waiting, Done: n.Done, Left: n.Left}
		if s.Known && s.Limits != nil {
			row.Limits = limitsRange(s.Limits)
		}
		fig.Rows = append(fig.Rows, row)
	}
	fig.Curve = c
	return fig
}

// rowDays are the ages of the table under a curve.
func rowDays(by, end int) []int {
	days := []int{14, 21, 28, 35, 42, 56, 70, 98, 126, 168}
	out := days[:0:0]
	seen := false
	for _, d := range days {
		if d > by && !seen {
			out = append(out, by)
			seen = true
		}
		if d == by {
			seen = true
		}
		if d <= end {
			out = append(out, d)
		}
	}
	return out
}

// axisEnd is the last day drawn: the first multiple of 14 from day 70 on at
// which fewer than 5 cases remain, and at most day 168.
func axisEnd(c measures.Curve) int {
	end := 70
	for end < 168 && c.DoneBy(end).AtRisk >= 5 {
		end += axisStep
	}
	return end
}

// countsAt counts what had become of the cases by the end of a day.
func countsAt(m measures.Measure, day int) templates.CurveCount {
	n := templates.CurveCount{Day: day, Waiting: m.Cases}
	for _, p := range m.Curve {
		if p.Day > day {
			break
		}
		n.Done += p.Events
		n.Left += p.Censored
	}
	n.Waiting -= n.Done + n.Left
	return n
}
