package measures

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"
)

// WriteText prints the report as a table for a terminal.
func (r Report) WriteText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Closure times, %s, as of %s\n", r.Window.words(), r.AsOf)
	fmt.Fprintf(&b, "%d cases: %d closed, %d open.\n\n", r.Cases, r.Closed, r.Open)
	if r.Cases == 0 {
		b.WriteString("No case was referred in this window, so there is nothing to measure.\n")
		_, err := io.WriteString(w, b.String())
		return err
	}
	groups := []struct {
		name  string
		class Class
	}{{"All cases", r.All}, {"Could be ready by day 28", r.Ready}, {"Could not be ready by day 28", r.NotReady}}
	for _, g := range groups {
		writeClass(&b, g.name, g.class)
	}
	b.WriteString("Open cases still waiting, by age\n")
	t := tabwriter.NewWriter(&b, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "  age in days\topen\tno first test\tof these, could not be ready by day 28")
	for _, band := range r.Waiting {
		fmt.Fprintf(t, "  %s\t%d\t%d\t%d\n", band.Label(), band.Open, band.Untested, band.NotReady)
	}
	t.Flush()
	fmt.Fprintf(&b, "\nFirst tests with too little sweat (QNS): %s\n\n", r.FirstQNS.Words())
	b.WriteString("Closed as\n")
	t = tabwriter.NewWriter(&b, 0, 4, 2, ' ', 0)
	for _, c := range r.ClosedAs {
		fmt.Fprintf(t, "  %s\t%d\n", c.As, c.N)
	}
	t.Flush()
	b.WriteString("\n")
	for _, n := range r.Notes {
		b.WriteString(n + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// writeClass prints the four measures of one group.
func writeClass(b *strings.Builder, name string, c Class) {
	fmt.Fprintf(b, "%s: %d cases, %d open\n", name, c.Cases, c.Open)
	if c.Cases == 0 {
		b.WriteString("\n")
		return
	}
	t := tabwriter.NewWriter(b, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "  days\tdone\twaiting\tleft\tquarter done (95 %)\tmedian (95 %)\tthree quarters done (95 %)\tdone by day 28 (95 %)")
	for _, m := range []struct {
		name string
		m    Measure
	}{{"birth to first test", c.BirthToTest}, {"referral to first test", c.ReferralToTest},
		{"birth to closure", c.BirthToClosure}, {"referral to closure", c.ReferralToClosure}} {
		fmt.Fprintf(t, "  %s\t%d\t%d\t%d\t%s\t%s\t%s\t%s\n", m.name, m.m.Done, m.m.Waiting, m.m.Left,
			m.m.Quarter.Words(), m.m.Median.Words(), m.m.ThreeQuarters.Words(), m.m.By(Milestones[0]).Words())
	}
	t.Flush()
	b.WriteString("\n")
}

// words names the window of referral dates.
func (w Window) words() string {
	switch {
	case w.From != 0 && w.To != 0:
		return fmt.Sprintf("infants referred %s to %s", w.From, w.To)
	case w.From != 0:
		return fmt.Sprintf("infants referred from %s on", w.From)
	case w.To != 0:
		return fmt.Sprintf("infants referred to %s", w.To)
	}
	return "all infants referred"
}

// Label gives the band as "14 to 27" or "180 and over".
func (b Band) Label() string {
	if b.To == 0 {
		return fmt.Sprintf("%d and over", b.From)
	}
	return fmt.Sprintf("%d to %d", b.From, b.To)
}

// Days gives a number of days with at most one decimal, or "not reached".
func Days(d *float64) string {
	if d == nil {
		return "not reached"
	}
	return strconv.FormatFloat(*d, 'f', -1, 64)
}

// Words gives the day with its limits: "29 (23 to 34)".
func (q Quantile) Words() string {
	if q.Day == nil && q.Lower == nil {
		return Days(nil)
	}
	if q.Lower == nil && q.Upper == nil {
		return Days(q.Day) + " (no limits)"
	}
	return fmt.Sprintf("%s (%s to %s)", Days(q.Day), Days(q.Lower), Days(q.Upper))
}

// MiddleHalf gives the days by which a quarter and three quarters are done.
func (m Measure) MiddleHalf() string {
	return Days(m.Quarter.Day) + " to " + Days(m.ThreeQuarters.Day)
}

// Words gives the share with its limits: "36.1 % (25.0 to 50.4)".
func (s Share) Words() string {
	if !s.Known {
		return "not known yet"
	}
	return percents(&s.Share, s.Limits)
}

// Words gives the count, the rate and its limits: "9 of 60, 15.0 % (8.1 to 26.1)".
func (p Proportion) Words() string {
	if p.Rate == nil {
		return "none tested yet"
	}
	return fmt.Sprintf("%d of %d, %s", p.Count, p.Of, percents(p.Rate, p.Limits))
}

func percents(rate *float64, limits *Interval) string {
	s := fmt.Sprintf("%.1f %%", 100**rate)
	if limits != nil {
		s += fmt.Sprintf(" (%.1f to %.1f)", 100*limits.Lower, 100*limits.Upper)
	}
	return s
}
