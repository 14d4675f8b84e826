package templates

import (
	"regexp"
	"strconv"
	"strings"
	"testing"
)

func at(v float64) *float64 { return &v }

func sampleFunnel() Funnel {
	c := Funnel{ID: "funnel", Title: "Marlow Creek is above the limits for QNS", Description: "Three sites.", Axis: "Infants tested at the site", Center: .1, CenterLabel: "Benchmark 10%",
		Marks: []FunnelMark{{"Alder Bay CF Clinic", 128, 10.0 / 128, false}, {"Marlow Creek Lab", 61, 12.0 / 61, true}, {"Gullane Road Clinic", 17, 1.0 / 17, false}}}
	for _, n := range []int{5, 20, 60, 140} { // made up, narrower with the number
		w := 1 / float64(n)
		c.Limits = append(c.Limits, FunnelLimit{n, .1 - 2*w, .1 + 2.5*w, .1 - 4*w, .1 + 5*w})
	}
	return c
}

func sampleRates() *RatesPage {
	all := RateRow{Name: "Alder Bay CF Clinic", Of: "128", Count: "10", Rate: "7.8%", Limits: "4.3 to 13.8%", P: "0.827", Holm: "1.000", Place: Tag{"done", "Inside the limits"}}
	few := RateRow{Name: "Gullane Road Clinic", Of: "17", Count: "Hidden"}
	return &RatesPage{Base: sampleBase("QNS by site", "reports"), Reports: sampleReports("/reports/qns"), Figures: Figures{Below: 11, Show: "/reports/qns?figures=full"}, Files: []Tab{{Href: "/reports/qns.xlsx", Text: "Export as workbook"}},
		Lead: "Infants referred 1 Jan to 5 Mar 2026, followed to 5 Mar 2026: 206 infants.", AsOf: DateOf("2026-03-05"),
		From: Field{ID: "from", Label: "From", Value: "1 Jan 2026", Width: "w14"}, To: Field{ID: "to", Label: "To", Width: "w14"},
		By: Choice{ID: "by", Legend: "These are", Options: []Option{{Text: "the day of referral"}}}, Count: Choice{ID: "count", Legend: "Count", Options: []Option{{Text: "First tests"}}}, Route: Choice{ID: "route", Legend: "Referred by", Options: []Option{{Text: "All"}}},
		Says: []string{"23 of 206 first tests were QNS: 11.2%."}, Facts: []BigFact{{"Missed appointments", "Hidden", ""}},
		Funnel: FunnelFigure{Chart: sampleFunnel(), Lead: "Solid lines: 95% limits.", Left: "Not drawn: North Spit."},
		Tables: []RateTable{{ID: "by-site", Title: "QNS by site", Lead: "First tests.", By: "Site", Of: "Tested", Count: "QNS", Against: true, Rows: []RateRow{all, few}}, {ID: "by-age", Title: "QNS by age", By: "Age", Of: "Tested", Count: "QNS"}},
		Ages:   &AgesFigure{Chart: sampleAges(), Lead: "One dot for each infant.", Rows: []AgesNumbers{{"Jan to Mar 2026", "24", "Hidden", "24 days", "20 to 30 days"}}},
		Tested: []TestedRow{{"Day 28", all, RateRow{Of: "Hidden", Count: "Hidden"}, RateRow{Of: "0", Count: "0", Rate: "None"}}}, Others: []RateRow{few},
		Missed: &RateTable{ID: "missed", Title: "Missed appointments by site", By: "Site", Of: "Kept or missed", Count: "Missed", Rows: []RateRow{all}},
		Waits:  []WaitRow{{"From a first QNS to the next test", "24", "7 days", "6 to 9 days", "88%"}}, Calls: []Fact{{Name: "Mean", Text: "1.8"}}, Complete: []RateRow{all}, Terms: []RateTerm{{"QNS", "Collections with too little sweat", "Collections", ""}}, Notes: []string{"Limits are 95 %."}}
}

func sampleAges() AgesChart {
	return AgesChart{ID: "ages", Title: "Median age at first test: 24 days", Description: "One row.", Axis: "Age at first test, days", Mark: 28, WindowFrom: 14,
		Rows: []AgesRow{{Name: "Oct to Dec 2025", Dots: []AgeDots{{18, 3}, {20, 5}, {70, 1}}, Quarter: at(20), Median: at(24), ThreeQuarter: at(30)}, {Name: "Jan to Mar 2026", Quarter: at(22)}}}
}

func init() {
	samples["rates"] = func() Page { return sampleRates() }
	samples["rates-empty"] = func() Page {
		p := sampleRates()
		p.Figures, p.Small, p.Says, p.Funnel, p.Ages, p.Tested = Figures{Full: true, Hide: "/reports/qns"}, "There is nothing to count in this time.", nil, FunnelFigure{Chart: Funnel{ID: "funnel", Title: "QNS by size of site"}, Note: "Nothing is drawn."}, nil, nil
		return p
	}
	samples["open-ages"] = func() Page {
		return &OpenAgesPage{Base: sampleBase("Open cases by age", "reports"), Reports: sampleReports("/reports/ages"), Figures: Figures{Below: 11}, Files: []Tab{{Href: "/reports/ages.zip", Text: "Export as CSV"}}, Lead: "As of 5 Mar 2026.", Head: "Days late",
			Rows: Choice{ID: "rows", Legend: "Rows", Options: []Option{{Text: "Days late"}}}, Columns: Choice{ID: "columns", Legend: "Columns", Options: []Option{{Text: "Age"}}},
			Says: []string{"31 cases are open."}, Heads: []string{"0 to 13 days", "All"}, Terms: []string{"Every open case counts once."},
			Table: []OpenAgesRow{{Name: "On time", Cells: []OpenAgesCell{{"0 to 13 days", "Hidden", "/reports/ages/cases?age=0-13&late=on-time", "Hidden: list of cases, On time, 0 to 13 days", false}, {"All", "18", "", "", true}}},
				{Name: "All", Total: true, Cells: []OpenAgesCell{{"0 to 13 days", "0", "", "", true}, {"All", "31", "/reports/ages/cases", "31: list of cases", true}}}}}
	}
	samples["open-cases"] = func() Page {
		return &OpenCasesPage{Base: sampleBase("Open cases", "reports"), Reports: sampleReports("/reports/ages"), Head: "Open cases, 28 to 41 days", Lead: "Showing all 1.", Back: "/reports/ages",
			Rows: []OpenCaseRow{{sampleWho("QUILLON, Sabine", "AB-2026-0120", "2026-01-02", "62 days", ""), Tag{"late", "Family not reached"}, "Call the family", Tag{"late", "3 days late"}, "Wren Castellano", "Not known yet"}}}
	}
}

// drawn reads a number of a drawing.
func drawn(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Each site stands at its number and rate: a circle inside the limits, a diamond
// outside of them.
func TestFunnelPlacesSites(t *testing.T) {
	c := sampleFunnel()
	svg := string(c.WideSVG())
	x := func(n int) float64 { return 50 + float64(n)/140*(620-64) }
	y := func(rate float64) float64 { return 22 + (1-rate/.4)*(418-74) }
	circles := regexp.MustCompile(`<circle cx="([0-9.]+)" cy="([0-9.]+)"`).FindAllStringSubmatch(svg, -1)
	diamonds := regexp.MustCompile(`<path d="M([0-9.]+) ([0-9.]+)l8 8-8 8-8-8z"`).FindAllStringSubmatch(svg, -1)
	if len(circles) != 2 || len(diamonds) != 1 {
		t.Fatalf("%d circles and %d diamonds", len(circles), len(diamonds))
	}
	near := func(what string, got, want float64) {
		if d := got - want; d > .06 || d < -.06 {
			t.Errorf("%s at %v, want %v", what, got, want)
		}
	}
	near("the first site's x", drawn(t, circles[0][1]), x(128))
	near("the first site's y", drawn(t, circles[0][2]), y(10.0/128))
	near("the site outside, x", drawn(t, diamonds[0][1]), x(61))
	near("the site outside, y", drawn(t, diamonds[0][2])+8, y(12.0/61))
	if n := strings.Count(svg, `stroke-dasharray="5 4"`); n != 2 {
		t.Errorf("%d dashed limits, want 2", n)
	}
	for _, want := range []string{">Alder Bay CF Clinic<", `font-weight="700">Marlow Creek Lab<`, ">Benchmark 10%<", ">40%<"} {
		if !strings.Contains(svg, want) {
			t.Errorf("the drawing lacks %s", want)
		}
	}
	if thin := string(c.ThinSVG()); strings.Contains(thin, "Gullane") || !strings.Contains(thin, "Marlow Creek") {
		t.Error("on a phone, the site outside is named and the small one is not")
	}
}

// A rate above the usual axis stretches it, and stays inside the drawing.
func TestFunnelHoldsHighRates(t *testing.T) {
	c := sampleFunnel()
	c.Marks[1].Rate = .95
	if svg := string(c.WideSVG()); !strings.Contains(svg, ">100%<") {
		t.Error("the axis does not reach 100 %")
	}
}

// Names do not cover one another: one that has no room is left out.
func TestSiteNamesKeepApart(t *testing.T) {
	l := labels{right: 100, bottom: 100}
	var b strings.Builder
	for range 40 {
		l.write(&b, 50, 50, "North", false)
	}
	for i, p := range l.taken {
		for _, q := range l.taken[:i] {
			if p.meets(q) {
				t.Fatalf("%v covers %v", p, q)
			}
		}
	}
	if n := strings.Count(b.String(), "North"); n < 3 || n == 40 {
		t.Errorf("%d names are written", n)
	}
}

func TestAgesChart(t *testing.T) {
	c := sampleAges()
	for name, svg := range map[string]string{"wide": string(c.WideSVG()), "thin": string(c.ThinSVG())} {
		if n := strings.Count(svg, "<circle"); n != 9 {
			t.Errorf("%s: %d dots for 9 infants", name, n)
		}
		if n := strings.Count(svg, `stroke-width="3.5"`); n != 1 {
			t.Errorf("%s: %d medians, want 1", name, n)
		}
		for _, want := range []string{">Day 28<", ">50+<", ">Oct to Dec 2025<", `role="img"`} {
			if !strings.Contains(svg, want) {
				t.Errorf("%s: lacks %s", name, want)
			}
		}
	}
	// The infant of day 70 stands at the end of the axis.
	if !strings.Contains(string(c.WideSVG()), `<circle cx="602.0"`) {
		t.Error("an age past the axis is drawn elsewhere")
	}
}

func TestRoundSteps(t *testing.T) {
	for least, want := range map[float64]int{.5: 1, 1.5: 2, 3: 5, 12: 20, 55: 100, 200: 200} {
		if got := roundStep(least); got != want {
			t.Errorf("step of at least %v is %d, want %d", least, got, want)
		}
	}
}
