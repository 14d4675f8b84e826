package templates

import (
	"fmt"
	"strings"
	"testing"
)

// The strip's geometry is that of the design: view box 184 wide, 3.125 units a
// day for 56 days, day 0 at x = 4.
func TestStripX(t *testing.T) {
	for _, c := range []struct {
		scale Scale
		day   int
		want  float64
	}{
		{DefaultScale, 0, 4}, {DefaultScale, 14, 47.75}, {DefaultScale, 28, 91.5}, {DefaultScale, 56, 179},
		{DefaultScale, 90, 179}, {DefaultScale, -3, 4}, {Scale{}, 28, 91.5},
		{Scale{10, 30, 70}, 35, 91.5},
	} {
		if got := (Strip{Scale: c.scale}).X(c.day); got != c.want {
			t.Errorf("%v: X(%d) = %v, want %v", c.scale, c.day, got, c.want)
		}
	}
}

func TestStripSVG(t *testing.T) {
	for _, c := range []struct {
		name       string
		s          Strip
		want, lack []string
	}{
		{"too young", Strip{Age: 9}, []string{`Age 9 days; 19 until day 28"`, `<rect x="4" y="15.5" width="28.1"`, `M27.1 0h10l-5 8z`}, []string{"hatch", "<use"}},
		{"day 28", Strip{Age: 28}, []string{`day 28 is today`}, []string{"hatch"}},
		{"day 29", Strip{Age: 29}, []string{`1 past day 28`, `<rect x="91.5" y="13.5" width="3.1" height="9" fill="url(#hatch)"/>`}, nil},
		{"past the end", Strip{Age: 80}, []string{`Age 80 days; 52 past day 28`, `width="87.5" height="9"`, `M174 0h10`}, nil},
		{"before birth", Strip{Age: -2}, []string{`M-1 0h10`}, []string{"hatch"}},
		{"tests", Strip{Age: 43, Tests: []Mark{{24, DropQNS, "QNS"}, {40, "nonsense", "Arms disagree"}}}, []string{`sweat test on day 24: QNS; sweat test on day 40: Arms disagree`, `#drop-qns" x="71"`, `#drop-none`}, nil},
		{"booked", Strip{Age: 20, Booked: 24}, []string{`booked for day 24`, `#g-book" x="72"`}, nil},
		{"escaped", Strip{Age: 1, Label: `"><script>`}, []string{`aria-label="&#34;&gt;&lt;script&gt;"`}, []string{"<script>"}},
	} {
		t.Run(c.name, func(t *testing.T) { has(t, string(c.s.SVG()), c.want, c.lack) })
	}
}

func TestStripAxis(t *testing.T) {
	has(t, string(StripAxis(Scale{})), []string{`x="47.8" y="11" font-size="11" text-anchor="middle">14<`, `>28<`, `>42<`, `text-anchor="end">56<`}, nil)
	has(t, string(StripAxis(Scale{10, 30, 70})), []string{`>10<`, `>30<`, `>50<`, `>70<`}, []string{">28<"})
}

// The time line is 872 wide, 13.2 units a day, day 0 at x = 104.
func TestTimeline(t *testing.T) {
	line := Timeline{Born: DateOf("2026-01-21"), Age: 43, Desc: "a <b>"}
	for day, want := range map[int]float64{0: 104, 14: 288.8, 28: 473.6, 56: 843.2, 99: 843.2, -1: 104} {
		if got := line.X(day); fmt.Sprintf("%.1f", got) != fmt.Sprintf("%.1f", want) {
			t.Errorf("X(%d) = %v, want %v", day, got, want)
		}
	}
	line.Events = []Event{{24, LaneTests, "QNS", DropQNS, false}, {25, LaneTests, "hidden, too near", DropNone, false}, {47, LaneTests, "Booked", "", true}, {70, LaneLetters, "after the end", "", false}}
	has(t, string(line.SVG()),
		[]string{`<desc id="tl-d">a &lt;b&gt;</desc>`, `15 days past`, `Today, day 43`, `>18 Feb<`, `#drop-qns`, `#g-book`, `>QNS<`},
		[]string{"after the end", "hidden, too near"})
	line.Age = 20
	has(t, string(line.SVG()), []string{`text-anchor="start">First test by day 28`, `text-anchor="end"> Today, day 20`}, []string{"days past", "hatch-soft"})
}

func TestDates(t *testing.T) {
	d := DateOf("2026-03-05")
	for _, c := range []struct{ got, want string }{
		{d.String(), "5 Mar 2026"}, {d.Weekday(), "Thu 5 Mar 2026"}, {d.Long(), "Thursday 5 March 2026"}, {d.Short(), "5 Mar"}, {d.ISO(), "2026-03-05"},
		{d.AddDays(-5).String(), "28 Feb 2026"}, {Date{}.String(), ""}, {DateOf("5.3.2026").ISO(), ""},
		{Age(1), "1\u00a0day"}, {Age(90), "90\u00a0days"}, {Age(91), "13\u00a0weeks"}, {Thousands(1234567), "1,234,567"}, {Thousands(-1000), "-1,000"},
		{Kg(2310), "2.31\u00a0kg"}, {Kg(1995), "2.00\u00a0kg"}, {Kg(14999), "15.00\u00a0kg"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func has(t *testing.T, got string, want, lack []string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(got, w) {
			t.Errorf("no %q in %s", w, got)
		}
	}
	for _, w := range lack {
		if strings.Contains(got, w) {
			t.Errorf("%q in %s", w, got)
		}
	}
}
