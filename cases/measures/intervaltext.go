package measures

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

// Title names the interval as a heading.
func (p *PublishedInterval) Title() string {
	s := p.Interval()
	return strings.ToUpper(s[:1]) + s[1:]
}

// WriteText prints the report as tables for a terminal.
func (p PublishedInterval) WriteText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s. %s %s cases.\n", p.Title(), p.Words(), p.Cases)
	if p.Below > 0 {
		fmt.Fprintf(&b, "Counts from 1 to %d are hidden, and as many others as they could be worked out from.\n", p.Below-1)
	}
	b.WriteString("\n")
	for _, s := range p.Says {
		b.WriteString(s + "\n")
	}
	b.WriteString("\n")
	rows := append([]PublishedGroup{p.All}, p.Classes...)
	writeGroups(&b, append(rows, p.Groups...), p.Below)
	if len(p.All.Reasons) > 0 && p.All.Cases != (Cell{}) {
		p.writeReasons(&b)
	}
	if len(p.All.Curve) > 0 {
		b.WriteString("\nAll cases, day by day\n")
		t := tabwriter.NewWriter(&b, 0, 4, 2, ' ', 0)
		fmt.Fprintln(t, "  day\twaiting before\tdone\tended otherwise\tleft or still waiting\tnot done after (95 %)")
		for _, x := range p.All.Curve {
			fmt.Fprintf(t, "  %d\t%d\t%d\t%d\t%d\t%s\n", x.Day, x.AtRisk, x.Events, x.Ended, x.Censored, percents(&x.Waiting, x.Limits))
		}
		t.Flush()
	}
	b.WriteString("\n")
	for _, n := range p.Notes() {
		b.WriteString(n + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func writeGroups(b *strings.Builder, rows []PublishedGroup, below int) {
	t := tabwriter.NewWriter(b, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "group\tcases\tdone\twaiting\tleft\tquarter done (95 %)\tmedian (95 %)\tthree quarters done (95 %)\tdone by day 28 (95 %)\tmean days, of the first")
	for i := range rows {
		g := &rows[i]
		if g.Few {
			fmt.Fprintf(t, "%s\tfewer than %d cases\n", g.Name, below)
			continue
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s", g.Name, g.Cases, g.Done, g.Waiting, g.Left)
		if !g.Cases.Hidden && g.Cases.N > 0 {
			fmt.Fprintf(t, "\t%s\t%s\t%s\t%s\t%s", g.Quarter.Words(), g.Median.Words(), g.ThreeQuarters.Words(), g.By(ShareDays[0]).Words(), g.RMean.Words())
		}
		fmt.Fprintln(t)
	}
	t.Flush()
}

// writeReasons prints how many closed by class, and the share by the days of reports.
func (p *PublishedInterval) writeReasons(b *strings.Builder) {
	b.WriteString("\nClosed by class, the classes competing (Aalen-Johansen)\n")
	t := tabwriter.NewWriter(b, 0, 4, 2, ' ', 0)
	fmt.Fprint(t, "  class\tcases")
	for _, day := range ShareDays {
		fmt.Fprintf(t, "\tby day %d", day)
	}
	fmt.Fprintln(t)
	for k, x := range p.All.Reasons {
		fmt.Fprintf(t, "  %s\t%s", x.As, x.N)
		if k < len(p.All.Incidence) {
			for _, day := range ShareDays {
				fmt.Fprintf(t, "\t%s", p.ReasonBy(k, day))
			}
		}
		fmt.Fprintln(t)
	}
	t.Flush()
}

// ReasonBy gives in words the share of all cases closed by a day for the class at a
// place in All.Incidence.
func (p *PublishedInterval) ReasonBy(k, day int) string {
	f, s := p.All.Incidence[k], p.All.By(day)
	if f.Hidden || s.Hidden || p.Below > 0 && !f.hasStep(day, p.All.Curve) {
		return "not shown (small counts)"
	}
	if !s.Known {
		return "not known yet"
	}
	x, l := f.By(float64(day))
	v := float64(x.Value)
	return percents(&v, l)
}

// hasStep tells that a published incidence has a step on the last point of the curve
// up to a day, or that there is none.
func (f *PublishedReason) hasStep(day int, c Curve) bool {
	p, ok := c.at(day)
	if !ok {
		return true
	}
	for _, s := range f.Steps {
		if int(s.Time) == p.Day {
			return true
		}
	}
	return false
}

// Words gives the mean with its standard error and horizon.
func (m RestrictedMean) Words() string {
	if !m.Value.Defined() {
		return "not shown"
	}
	return fmt.Sprintf("%.1f (SE %.1f), %.0f days", float64(m.Value), float64(m.SE), float64(m.Tau))
}

// Notes say how the figures of the interval are made: what its two days are, and the
// methods. They are printed with every report.
func (q Question) Notes() []string {
	var out []string
	for _, m := range []Milestone{q.From, q.To} {
		if i := m.place(); i >= 0 {
			x := milestoneList[i]
			out = append(out, strings.ToUpper(x.Name[:1])+x.Name[1:]+": "+lowerFirst(x.What))
		}
	}
	out = append(out, "Open cases are counted: each waits until the day of the report (Kaplan-Meier), and nobody is dropped for being slow. A cohort is chosen by referral or birth, never by closing.")
	switch q.To {
	case Determination:
		out = append(out, "Cases closed in another way (lost, died or moved, declined or referred in error) will not be determined. The reasons compete (Aalen-Johansen): the curve is the share that is not determined.")
	case Closure:
		out = append(out, "A closing of any kind counts; a proposed one does not. The shares by class of closing compete (Aalen-Johansen) and add up with the share still open to 100 %.")
	default:
		out = append(out, "A case that closed, or whose infant died, without "+q.To.Name()+" counts as waiting until then.")
	}
	return append(out,
		"A case whose second day is dated before the first is not counted; see Data faults.",
		"Limits are 95 % (log-log for shares, Brookmeyer and Crowley for days). The mean is of the days up to the last one observed. \"Not reached\": too few cases have come that far.")
}
