package templates

import (
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// sampleCurve has six cases: reached at 10, 20, 28 and 40, left at 15 and 50.
// The shares are 1/6, 1-5/6*3/4, 1-5/6*3/4*2/3 and 1-5/6*3/4*2/3*1/2, by hand.
func sampleCurve() Curve {
	return Curve{ID: "close", Title: "58% closed by day 28", Description: "A rising step curve.", Done: "closed", Axis: "Age in days", MarkLabel: "Day 28", Mark: 28, WindowFrom: 14, WindowTo: 28, AxisEnd: 70, Until: 50,
		Points:   []CurvePoint{{Day: 0}, {10, 1.0 / 6, .02, .4, true}, {20, .375, .1, .7, true}, {28, 7.0 / 12, .2, .9, true}, {40, 19.0 / 24, .3, .98, true}},
		Censored: []float64{15, 50}, Counts: []CurveCount{{0, 6, 0, 0}, {28, 3, 3, 1}, {70, 0, 4, 2}}}
}

// sampleReports are the reports with the one at path current.
func sampleReports(path string) []Tab {
	tabs := []Tab{{Href: "/reports/closure", Text: "Closure times"}, {Href: "/reports/qns", Text: "QNS by site"}, {Href: "/reports/ages", Text: "Open cases by age"}, {Href: "/reports/faults", Text: "Data faults"}, {Href: "/reports/year", Text: "Figures for the year"}}
	for i := range tabs {
		tabs[i].Current = tabs[i].Href == path
	}
	return tabs
}

func sampleTimes() *ClosureTimesPage {
	return &ClosureTimesPage{Base: sampleBase("Closure times", "reports"), Reports: sampleReports("/reports/closure"), Lead: "Referred 1 Jan to 5 Mar 2026, followed to 5 Mar 2026.", AsOf: DateOf("2026-03-05"),
		From: Field{ID: "from", Label: "Referred from", Value: "1 Jan 2026", Width: "w14"}, To: Field{ID: "to", Label: "to", Width: "w14"}, Route: Choice{ID: "route", Legend: "Referred by", Options: []Option{{Text: "All"}}},
		Facts: []BigFact{{"Closed by day 28", "58%", "95% limits 20 to 90%"}}, Clocks: []ClockTime{{"Birth to closure", 6, 4, 1, 1, "28 days", "10 to 40 days", "20 to 40 days", "58%", "20 to 90%"}},
		Curves: []CurveFigure{{Curve: sampleCurve(), Lead: "Share closed by age.", Rows: []CurveRow{{28, "58%", "20% to 90%", 3, 3, 1}}}}, Open: []OpenBand{{"0 to 13 days", 2, 2, 0}}, OpenSum: 2,
		Ended: []Fact{{Name: "Carrier", Text: "3"}}, Export: "/reports/closure.csv", Agrees: true, Waiting: []WaitingClosing{{sampleWho("QUILLON, Sabine", "AB-2026-0120", "2026-01-02", "62 days", ""), "Lost to follow-up", "Wren Castellano", DateOf("2026-03-04")}}, Terms: []string{"Open cases are counted."}}
}

func init() {
	samples["closure-times"] = func() Page { return sampleTimes() }
	samples["closure-times-empty"] = func() Page {
		p := sampleTimes()
		p.Curves[0].Curve = Curve{ID: "close", Title: "No case yet"}
		p.Ended, p.Small, p.Waiting = nil, "No case was referred in this time.", nil
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
	for i, p := range c.Points {
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

func TestCurveSaysNothingPastItsEnd(t *testing.T) {
	c := sampleCurve()
	c.Until = 20
	c.Points = c.Points[:3]
	if svg := string(c.WideSVG()); strings.Contains(svg, "closed by day 28</text>") {
		t.Error("gives a share for day 28, which nobody reached")
	}
}

func TestPercentNeverHidesTheRest(t *testing.T) {
	for share, want := range map[float64]string{0: "0%", .001: "under 1%", .005: "1%", .5: "50%", .994: "99%", .999: "over 99%", 1: "100%"} {
		if got := Percent(share); got != want {
			t.Errorf("Percent(%v) = %s, want %s", share, got, want)
		}
	}
}
