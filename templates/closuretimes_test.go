package templates

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// sampleLine has six cases: reached at 10, 20, 28 and 40, left at 15 and 50.
// The shares are 1/6, 1-5/6*3/4, 1-5/6*3/4*2/3 and 1-5/6*3/4*2/3*1/2, by hand.
func sampleLine(name string) CurveLine {
	return CurveLine{Name: name, Until: 50,
		Points:   []CurvePoint{{Day: 0}, {10, 1.0 / 6, .02, .4, true}, {20, .375, .1, .7, true}, {28, 7.0 / 12, .2, .9, true}, {40, 19.0 / 24, .3, .98, true}},
		Censored: []float64{15, 50}}
}

func sampleCurve() Curve {
	days := []int{0, 28, 70}
	return Curve{ID: "close", Title: "58% closed by day 28", Description: "A rising step curve.", Done: "closed", Axis: "Age in days", MarkLabel: "Day 28", Mark: 28, MarkShare: true,
		WindowFrom: 14, WindowTo: 28, AxisEnd: 70, Days: days, Lines: []CurveLine{sampleLine("")}, CountsLead: "Waiting, closed, not so long yet, at each day",
		Counts: []CurveCount{{"Still waiting", 0, days, []string{"6", "3", "0"}}, {"Closed", 0, days, []string{"0", "3", "4"}}, {"Not so long yet", 0, days, []string{"0", "1", "2"}}}}
}

// sampleGroups are n lines that end at the same height, with long names.
func sampleGroups(n int) Curve {
	c := sampleCurve()
	c.ID, c.Title, c.Lines, c.Counts, c.CountsLead = "groups", "Share closed by test site", nil, nil, "Still waiting at each day"
	for i := range n {
		l := sampleLine("Sycamore & Alder Bay site " + strconv.Itoa(i+1))
		c.Lines = append(c.Lines, l)
		c.Counts = append(c.Counts, CurveCount{l.Name, i + 1, c.Days, []string{"6", "3", "0"}})
	}
	return c
}

// sampleReports are the reports with the one at path current.
func sampleReports(path string) []Tab {
	tabs := []Tab{{Href: "/reports/closure", Text: "Closure times"}, {Href: "/reports/qns", Text: "QNS by site"}, {Href: "/reports/ages", Text: "Open cases by age"}, {Href: "/reports/faults", Text: "Data faults"}, {Href: "/reports/year", Text: "Figures for the year"}}
	for i := range tabs {
		tabs[i].Current = tabs[i].Href == path
	}
	return tabs
}

func sampleRow(name string) IntervalRow {
	return IntervalRow{Name: name, Cases: "6", Done: "4", Waiting: "1", Left: "1", Median: "28 days", MedianLimits: "10 to 40", Middle: "20 to 40 days", Ninth: "Not reached",
		By: "58%", ByLimits: "20% to 90%", Mean: "30.1 days", MeanLimits: "± 4.2, of the first 50 days"}
}

func sampleTimes() *ClosureTimesPage {
	rows := []CurveRow{{28, "58%", "20% to 90%", "3", "3", "1"}}
	table := IntervalTable{ID: "groups", Title: "Birth to closure, those who still wait counted", Of: "Test site", Done: "closed", By: "day 28", Days: []int{28, 35},
		Rows: []IntervalRow{sampleRow("All cases"), sampleRow("Alder Bay"), {Name: "Fennick", Few: "fewer than 11"}}, Shares: []ShareRow{{"All cases", []ShareCell{{"58%", "20% to 90%"}, {"Not shown", ""}}}}}
	classes := IntervalTable{ID: "classes", Title: "Who could be ready by day 28, and who could not", Note: "They are in all figures.", Of: "Infants who", Done: "closed", By: "day 28", Rows: []IntervalRow{sampleRow("Could not be ready by day 28")}}
	cohorts := table
	cohorts.ID, cohorts.Title, cohorts.Of = "cohorts", "The two cohorts", "Cohort"
	two := sampleGroups(2)
	two.ID = "cohort-curves"
	pick := func(id, legend, text string) Choice {
		return Choice{ID: id, Legend: legend, Options: []Option{{Text: "All"}, {Value: "x", Text: text, Chosen: true}}}
	}
	return &ClosureTimesPage{Base: sampleBase("Closure times", "reports"), Reports: sampleReports("/reports/closure"), Lead: "How long each step takes.", AsOf: DateOf("2026-03-05"),
		Printed: "Printed 5 Mar 2026, 08:41, by Ines Okafor-Lund.", Figures: Figures{Below: 11, Show: "/reports/closure?figures=full"},
		Often: []Tab{{Href: "/reports/closure?end=closure&start=birth", Text: "Birth to closure", Current: true}, {Href: "/reports/closure?end=first-test&start=birth", Text: "Birth to first test"}},
		Form: IntervalForm{Start: pick("start", "Time from", "Birth"), End: pick("end", "to", "Closure"), By: pick("by", "Cases by", "Day of referral"), Group: pick("group", "Grouped by", "Test site"),
			From: Field{ID: "from", Label: "from", Value: "1 Jan 2026", Width: "w14"}, To: Field{ID: "to", Label: "to", Width: "w14"}, Route: pick("route", "Referred by", "Newborn screen"),
			Class: pick("class", "Infants who", "Could be ready"), Site: pick("site", "Test site", "Alder Bay"), Language: pick("language", "Language", "Spanish"), NoCounties: true,
			AlsoFrom: Field{ID: "also-from", Label: "Compare with cases from", Optional: true, Width: "w14"}, AlsoTo: Field{ID: "also-to", Label: "Compare with cases to", Optional: true, Width: "w14"}, Further: true},
		Cohort: "Infants referred from 1 Jan 2026 to 5 Mar 2026, followed to 5 Mar 2026.", Says: []string{"Half of the cases came to closure within 28 days of birth."},
		Facts: []BigFact{{"Closed by day 28", "58%", "20% to 90%"}}, Groups: table, Classes: classes,
		Curve:       &CurveFigure{Curve: sampleCurve(), Lead: "Share closed by age.", Tables: []CurveTable{{Rows: rows}}},
		ReasonCurve: &CurveFigure{Curve: sampleGroups(3), Lead: "Lines.", Tables: []CurveTable{{"Alder Bay", rows}}},
		Reasons:     &ReasonTable{Days: []int{28}, Rows: []ReasonRow{{"Determined", "4", []ShareCell{{"58%", "20% to 90%"}}}}, Notes: []string{"The reasons compete."}},
		Compare:     &CohortCompare{Lead: "First and second.", Says: []string{"The cohorts do not differ."}, Table: cohorts, Differences: []Fact{{Name: "Mean wait", Text: "+1.0 days"}}, Figure: &CurveFigure{Curve: two, Lead: "Lines."}},
		Refused:     &RefusedCases{"Cases with closure dated before birth are not counted.", "/reports/faults"}, Terms: []Fact{{Name: "Cohort", Text: "Every case referred."}},
		Files: []Tab{{Href: "/reports/closure.xlsx", Text: "Export as workbook"}}, Agrees: true, Waiting: []WaitingClosing{{sampleWho("QUILLON, Sabine", "AB-2026-0120", "2026-01-02", "62 days", ""), "Lost to follow-up", "Wren Castellano", DateOf("2026-03-04")}}}
}

func init() {
	samples["closure-times"] = func() Page { return sampleTimes() }
	samples["closure-times-full"] = func() Page {
		p := sampleTimes()
		p.Figures = Figures{Full: true, Hide: "/reports/closure"}
		p.Form.Full, p.Compare, p.Refused = true, nil, nil
		return p
	}
	samples["closure-times-empty"] = func() Page {
		p := sampleTimes()
		p.Curve = &CurveFigure{Curve: Curve{ID: "curve", Title: "Share closed"}, None: "No case to draw."}
		p.Says = []string{"No case is in this cohort, so there is nothing to measure."}
		p.ReasonCurve = nil
		p.Facts, p.Groups, p.Classes, p.Reasons, p.Compare, p.Refused, p.Waiting = nil, IntervalTable{}, IntervalTable{}, nil, nil, nil, nil
		return p
	}
	samples["protocol"] = func() Page {
		return &ProtocolPage{Base: sampleBase("Protocol", "settings"), Lead: "Read only.", Unchecked: 1, Groups: []ProtocolGroup{{"ready", "When an infant can be tested", []ProtocolValue{
			{"Least age", "min_age_days", "14 days", "", "A published guideline", "I. Okafor-Lund, 12 Jan 2026"}, {"Longest collection", "max_collection_min", "25 minutes", "30 minutes", "Common practice", ""}}}},
			Cautions: []string{"Not a diagnosis."}, Choices: []string{"A later test below 30 never undoes one at or above 60."}, Sites: []Fact{{Name: "alder-bay", Text: "Alder Bay"}}, Links: []Tab{{"/settings/protocol", "Protocol", 0, false, true}}}
	}
}

var stepPath = regexp.MustCompile(`<path d="(M[^"]*)" fill="none" stroke="var\(--act\)"`)

// TestCurveRises reads the step line back out of the drawing: x never falls, y
// never falls back, and each share stands at its height.
func TestCurveRises(t *testing.T) {
	c := sampleCurve()
	m := stepPath.FindStringSubmatch(string(c.WideSVG()))
	if m == nil {
		t.Fatal("no step line")
	}
	x, y := 0.0, 1e9
	var heights []float64
	for _, move := range regexp.MustCompile(`[MHV][0-9. ]+`).FindAllString(m[1], -1) {
		nums := strings.Fields(move[1:])
		v, err := strconv.ParseFloat(nums[0], 64)
		if err != nil {
			t.Fatal(err)
		}
		switch move[0] {
		case 'M', 'H':
			if v < x {
				t.Errorf("x falls from %v to %v", x, v)
			}
			x = v
		case 'V':
			if v > y {
				t.Errorf("the curve falls at x=%v", x)
			}
			y = v
			heights = append(heights, v)
		}
	}
	f := frame{h: 420, top: 22, bottom: 118}
	for i, p := range c.Lines[0].Points {
		if d := heights[i] - f.y(p.Share); d > .06 || d < -.06 {
			t.Errorf("step %d drawn at %v, share %v belongs at %v", i, heights[i], p.Share, f.y(p.Share))
		}
	}
}

func TestCurveMarksCensoredCasesAndDay28(t *testing.T) {
	for name, svg := range map[string]string{"wide": string(sampleCurve().WideSVG()), "thin": string(sampleCurve().ThinSVG())} {
		if n := strings.Count(svg, `v10" stroke="var(--ink)"`); n != 2 {
			t.Errorf("%s: %d censor ticks, want 2", name, n)
		}
		for _, part := range []string{"58% closed by day 28", ">Day 28<", `opacity=".16"`, `role="img"`} {
			if !strings.Contains(svg, part) {
				t.Errorf("%s: lacks %s", name, part)
			}
		}
	}
}

func TestCurveSaysNothingOfADayThatIsNotKnown(t *testing.T) {
	c := sampleCurve()
	c.MarkShare = false
	if svg := string(c.WideSVG()); strings.Contains(svg, "closed by day 28</text>") {
		t.Error("gives a share for day 28, which is not known")
	}
}

// TestLinesCanBeToldApart: each of several lines has a dash and a mark of its own, and
// its name beside its end and its counts, without relying on color.
func TestLinesCanBeToldApart(t *testing.T) {
	c := sampleGroups(MostLines)
	wide, thin := string(c.WideSVG()), string(c.ThinSVG())
	dashes, marks := map[string]bool{}, map[string]bool{}
	for i, look := range lineLooks {
		dashes[look.dash], marks[look.mark] = true, true
		if n := strings.Count(wide, look.mark+`" fill="var(--sheet)"`); n < 3 {
			t.Errorf("mark %d is drawn %d times", i+1, n)
		}
		if name := "Sycamore &amp; Alder Bay…"; strings.Count(wide, name) < MostLines || !strings.Contains(thin, "Sycamore &amp; Alder Bay site "+strconv.Itoa(i+1)) {
			t.Errorf("line %d is not named: %d", i+1, strings.Count(wide, name))
		}
	}
	c.Counts = sampleCurve().Counts // of all lines together: the names need a key
	if thin := string(c.ThinSVG()); !strings.Contains(thin, "Sycamore &amp; Alder Bay site 6") {
		t.Error("lines without numbers of their own are not named in the thin drawing")
	}
	if len(dashes) != MostLines || len(marks) != MostLines {
		t.Errorf("%d dashes and %d marks for %d lines", len(dashes), len(marks), MostLines)
	}
	if strings.Contains(wide, `opacity=".16"`) {
		t.Error("several lines have a band")
	}
}

func TestNumbersDoNotTouch(t *testing.T) {
	f := frame{w: 340, left: 40, right: 0, end: 100} // 3 units a day
	for _, c := range []struct{ days, want []int }{
		{[]int{0, 14, 28}, []int{0, 1, 2}},
		{[]int{0, 5, 12, 20, 25}, []int{0, 2, 4}},
		{[]int{0, 4}, []int{0}},
		{[]int{0, 50, 120}, []int{0, 1}},
		{nil, nil},
	} {
		if got := f.columns(c.days); !slices.Equal(got, c.want) {
			t.Errorf("%v: %v, want %v", c.days, got, c.want)
		}
	}
}

func TestNamesKeepApart(t *testing.T) {
	for _, c := range []struct{ y, want []float64 }{
		{[]float64{100, 100, 100}, []float64{100, 116, 132}},
		{[]float64{300, 20, 21}, []float64{300, 20, 36}},
		{[]float64{318, 317, 5}, []float64{310, 294, 10}},
	} {
		got := apart(c.y, 16, 10, 310)
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%v: %v, want %v", c.y, got, c.want)
				break
			}
		}
	}
}

func TestPercentNeverHidesTheRest(t *testing.T) {
	for share, want := range map[float64]string{0: "0%", .001: "under 1%", .005: "1%", .5: "50%", .994: "99%", .999: "over 99%", 1: "100%"} {
		if got := Percent(share); got != want {
			t.Errorf("Percent(%v) = %s, want %s", share, got, want)
		}
	}
}
