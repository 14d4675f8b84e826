package web

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases/measures"
	"dunlin/templates"
)

// intervalView sets out published figures on the page. What it is given is already
// without what is hidden: it hides nothing itself.
type intervalView struct {
	rule   measures.SmallNumbers
	by     int // the protocol's day of the first test
	window int // the first day on which a test is wanted
}

// doneWord are past participles: of the cases, so many were ...
var doneWord = map[measures.Milestone]string{
	measures.ScreenCollected: "with the screen collected", measures.ScreenReported: "with the screen reported", measures.Referral: "referred",
	measures.DoctorTold: "with the doctor told", measures.FamilyReached: "with the family reached", measures.FirstBooking: "booked",
	measures.FirstTest: "tested", measures.FirstSufficient: "tested with enough sweat", measures.LastResult: "with the last result",
	measures.Determination: "determined", measures.Closure: "closed",
}

// fill puts all figures on the page.
func (v *intervalView) fill(p *templates.ClosureTimesPage, rep *measures.IntervalReport) {
	pub := rep.Publish(v.rule)
	p.Cohort = plainDates(pub.Words())
	p.Says = plainSays(pub.Says)
	done := doneWord[pub.To]
	p.Facts = v.facts(&pub, done)
	curve := v.mainCurve(&pub, done)
	p.Curve = &curve
	if pub.To.IsClosing() {
		p.ReasonCurve, p.Reasons = v.reasonCurve(&pub), v.reasons(&pub)
	}
	groups := append([]measures.PublishedGroup{pub.All}, pub.Groups...)
	p.Groups = v.table("groups", sentence(pub.Interval())+", those who still wait counted", groupHead(pub.Group), done, groups)
	if pub.Group != "class" && len(pub.Classes) > 0 {
		p.Classes = v.table("classes", "Who could be ready by day 28, and who could not", "Infants who", done, pub.Classes)
		p.Classes.Note = "Some infants could not be tested by day 28, for their corrected age or a hold. They are in all figures above, and are shown apart here."
	}
	if rep.RefusedAll() > 0 {
		p.Refused = &templates.RefusedCases{Text: fmt.Sprintf("Cases with %s dated before %s are not counted: a day was wrong, or the order was unusual.", pub.To.Name(), pub.From.Name())}
	}
	p.Terms = v.terms(&pub)
}

// plainDates writes the days of a sentence as the pages do, and percentages too.
func plainDates(text string) string { return strings.ReplaceAll(dated(text), " %", "%") }

func plainSays(says []string) []string {
	out := make([]string, len(says))
	for i, t := range says {
		out[i] = plainDates(t)
	}
	return out
}

// facts are the strip of the most wanted figures.
func (v *intervalView) facts(p *measures.PublishedInterval, done string) []templates.BigFact {
	g := &p.All
	if g.Few || !g.Cases.Hidden && g.Cases.N == 0 {
		return nil
	}
	by := shareBy(g, v.by)
	out := []templates.BigFact{
		{Name: "Half " + done + " by", Value: dayText(g.Median), Note: dayLimits(g.Median)},
		{Name: sentence(fmt.Sprintf("%s by day %d", done, v.by)), Value: shareText(by), Note: shareLimits(by)},
		{Name: "Nine of ten " + done + " by", Value: dayText(g.Ninth)},
		{Name: "Still waiting", Value: cellText(g.Waiting), Note: "counted until " + shortDay(p.AsOf)},
	}
	if p.To != measures.Closure {
		out = append(out, templates.BigFact{Name: "Left the count", Value: cellText(g.Left), Note: leftNote(p.To)})
	}
	return out
}

func leftNote(to measures.Milestone) string {
	if to == measures.Determination {
		return "closed for another reason"
	}
	return "closed, or died, before"
}

// groupHead is the heading of the first column.
func groupHead(group string) string {
	for _, g := range measures.GroupingList() {
		if g.Key == group && group != "" {
			return sentence(g.Name)
		}
	}
	return "Cases"
}

// shareBy is the share done by a day. Where small numbers are hidden it is known for the
// days of ShareDays only.
func shareBy(g *measures.PublishedGroup, day int) measures.PublishedShare {
	if !slices.Contains(measures.ShareDays, day) && !g.Few {
		return measures.PublishedShare{Share: measures.Share{Day: day}, Hidden: true}
	}
	return g.By(day)
}

// table sets out groups.
func (v *intervalView) table(id, title, of, done string, groups []measures.PublishedGroup) templates.IntervalTable {
	t := templates.IntervalTable{ID: id, Title: title, Of: of, Done: done, By: "day " + strconv.Itoa(v.by), Days: measures.ShareDays}
	for i := range groups {
		g := &groups[i]
		row := templates.IntervalRow{Name: sentence(g.Name)}
		if g.Few {
			row.Few = fmt.Sprintf("fewer than %d", v.rule.Below)
			t.Rows = append(t.Rows, row)
			continue
		}
		by := shareBy(g, v.by)
		row.Cases, row.Done, row.Waiting, row.Left = cellText(g.Cases), cellText(g.Done), cellText(g.Waiting), cellText(g.Left)
		row.Median, row.MedianLimits, row.Middle, row.Ninth = dayText(g.Median), dayLimits(g.Median), middleHalf(g), dayText(g.Ninth)
		row.By, row.ByLimits = shareText(by), shareLimits(by)
		row.Mean, row.MeanLimits = meanText(g.RMean)
		t.Rows = append(t.Rows, row)
		if len(g.Shares) == 0 {
			continue
		}
		share := templates.ShareRow{Name: row.Name}
		for _, day := range t.Days {
			x := g.By(day)
			share.Cells = append(share.Cells, templates.ShareCell{Share: shareText(x), Limits: shareLimits(x)})
		}
		t.Shares = append(t.Shares, share)
	}
	return t
}

// reasonDays are the days by which the shares of the reasons are given; where small
// numbers are hidden it is days of the steps, at most so many.
var reasonDays = []int{28, 60, 90, 180, 365}

// reasons is the table of how cases closed.
func (v *intervalView) reasons(p *measures.PublishedInterval) *templates.ReasonTable {
	g := &p.All
	if g.Few || len(g.Reasons) == 0 {
		return nil
	}
	last := -1
	if n := len(g.Curve); n > 0 {
		last = g.Curve[n-1].Day
	}
	t := &templates.ReasonTable{Days: v.daysOfReasons(g, last), Notes: []string{
		"A case can close for one reason only, so the reasons compete (Aalen-Johansen): on each day the shares, and the share still open, add up to all. " +
			"Counting those closed for another reason as still waiting would make each share too large."}}
	if v.rule.Below > 1 {
		t.Notes = append(t.Notes, "Shares are given for the days at which enough had closed for each reason.")
	}
	for _, r := range g.Reasons {
		row := templates.ReasonRow{Name: sentence(r.As), Count: cellText(r.N)}
		inc := reasonOf(g, r.As)
		for _, day := range t.Days {
			row.Shares = append(row.Shares, reasonShare(inc, day))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// daysOfReasons are the days of the table, as far as any case was followed.
func (v *intervalView) daysOfReasons(g *measures.PublishedGroup, last int) []int {
	var days []int
	if v.rule.Below <= 1 {
		for _, day := range reasonDays {
			if day <= last {
				days = append(days, day)
			}
		}
		return days
	}
	for _, r := range g.Incidence {
		for _, s := range r.Steps {
			days = append(days, int(s.Time))
		}
	}
	slices.Sort(days)
	days = slices.Compact(days)
	for len(days) > len(reasonDays) { // the last stays
		days = slices.Delete(days, len(days)/2-1, len(days)/2)
	}
	return days
}

func reasonOf(g *measures.PublishedGroup, as string) *measures.PublishedReason {
	for i := range g.Incidence {
		if g.Incidence[i].As == as {
			return &g.Incidence[i]
		}
	}
	return nil
}

// reasonShare is the share closed for a reason by a day.
func reasonShare(r *measures.PublishedReason, day int) templates.ShareCell {
	if r == nil || r.Hidden {
		return templates.ShareCell{Share: notShown}
	}
	step, limits := r.By(float64(day))
	cell := templates.ShareCell{Share: templates.Percent(float64(step.Value))}
	if limits != nil {
		cell.Limits = limitsRange(limits)
	}
	return cell
}

// terms say how the figures are made.
func (v *intervalView) terms(p *measures.PublishedInterval) []templates.Fact {
	var out []templates.Fact
	for _, m := range measures.MilestoneList() {
		if m.Key == p.From || m.Key == p.To {
			out = append(out, templates.Fact{Name: sentence(m.Name), Text: m.What})
		}
	}
	for _, t := range intervalTerms {
		out = append(out, templates.Fact{Name: t.value, Text: t.text})
	}
	if v.rule.Below > 1 {
		out = append(out, templates.Fact{Name: "Hidden", Text: fmt.Sprintf("Counts from 1 to %d, and as many others as they could be worked out from. A curve has steps only where enough happened since the step before. Figures of other days or filters can still be set against these: take care what leaves the program together.", v.rule.Below-1)})
	}
	return out
}

// intervalTerms are the definitions that every interval has.
var intervalTerms = []word{
	{"Cohort", "Every case referred, or born, in the days chosen; never by the day it closed. Cases without the first milestone have not begun, and are not timed."},
	{"Still waiting", "Not done on the day of the report: counted until then (Kaplan-Meier). Leaving them out would make the program look faster than it is."},
	{"Left the count", "Closed, or died, without the second milestone: counted as waiting until then."},
	{"Not so long yet", "On a day of the axis: those who wait, but for fewer days than that, and those who left. Nothing is known of them on that day."},
	{"Limits", "95%: log-log for shares, Brookmeyer and Crowley for days. \"Not reached\": too few have come that far. A day between two steps is given as the middle."},
	{"Mean wait", "The mean number of days not done, of the days up to the one named (restricted mean), with its standard error."},
	{"Lines compared", "Log-rank test. It says whether lines differ by more than chance would usually give, never why, and blames nobody."},
}

// notKnownYet stands for a share by a day that no case was followed to.
const notKnownYet = "Not yet"

// notShown stands for a figure that rests on too few cases.
const notShown = "Not shown"

// cellText is a count, or that it is hidden.
func cellText(c measures.Cell) string {
	if c.Hidden {
		return "Hidden"
	}
	return templates.Thousands(c.N)
}

// hiddenDay tells a day that is hidden, or was not worked out for a hidden group.
func hiddenDay(q measures.PublishedQuantile) bool { return q.Hidden || q.P == 0 }

func dayText(q measures.PublishedQuantile) string {
	if hiddenDay(q) {
		if t := q.BetweenWords(" days"); t != "" {
			return sentence(t)
		}
		return notShown
	}
	return daysText(q.Day)
}

func daysText(d *float64) string {
	switch {
	case d == nil:
		return "Not reached"
	case *d == 1:
		return "1 day"
	}
	return measures.Days(d) + " days"
}

func dayLimits(q measures.PublishedQuantile) string {
	if hiddenDay(q) || q.LimitsHidden || q.Lower == nil && q.Upper == nil {
		return ""
	}
	return measures.Days(q.Lower) + " to " + measures.Days(q.Upper)
}

func middleHalf(g *measures.PublishedGroup) string {
	if hiddenDay(g.Quarter) && hiddenDay(g.ThreeQuarters) {
		return notShown
	}
	if !hiddenDay(g.Quarter) && g.Quarter.Day == nil {
		return "Not reached"
	}
	end := func(q measures.PublishedQuantile) string {
		if hiddenDay(q) {
			return "(not shown)"
		}
		return measures.Days(q.Day)
	}
	if hiddenDay(g.ThreeQuarters) {
		return end(g.Quarter) + " days to (not shown)"
	}
	return end(g.Quarter) + " to " + end(g.ThreeQuarters) + " days"
}

func shareText(s measures.PublishedShare) string {
	switch {
	case s.Hidden:
		return notShown
	case !s.Known:
		return notKnownYet
	}
	return templates.Percent(s.Share.Share)
}

func shareLimits(s measures.PublishedShare) string {
	if s.Hidden || !s.Known || s.Limits == nil {
		return ""
	}
	return limitsRange(s.Limits)
}

func limitsRange(l *measures.Interval) string {
	return templates.Percent(l.Lower) + " to " + templates.Percent(l.Upper)
}

// meanText is a restricted mean with its standard error and horizon.
func meanText(m measures.RestrictedMean) (mean, note string) {
	if !m.Value.Defined() || float64(m.Tau) == 0 {
		return notShown, ""
	}
	mean = strconv.FormatFloat(float64(m.Value), 'f', 1, 64) + " days"
	note = fmt.Sprintf("of the first %s", templates.Days(int(math.Round(float64(m.Tau)))))
	if m.SE.Defined() {
		note = fmt.Sprintf("± %.1f, ", float64(m.SE)) + note
	}
	return mean, note
}

// largest are the places of the groups to draw: the most numerous, in the order of
// the table.
func largest(groups []measures.PublishedGroup) []int {
	var at []int
	for i := range groups {
		if !groups[i].Few && len(groups[i].Curve) > 0 {
			at = append(at, i)
		}
	}
	if len(at) > templates.MostLines {
		slices.SortStableFunc(at, func(a, b int) int { return groups[b].Curve[0].AtRisk - groups[a].Curve[0].AtRisk })
		at = at[:templates.MostLines]
		slices.Sort(at)
	}
	return at
}
