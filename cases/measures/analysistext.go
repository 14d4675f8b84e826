package measures

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"
)

// mostRows is how many rows of a curve the text shows; JSON has all.
const mostRows = 40

// WriteText prints the analysis as tables for a terminal, with a sentence for each
// group that says what its figures say.
func (a Analysis) WriteText(w io.Writer) error {
	var b strings.Builder
	if len(a.Groups) == 0 || len(a.Groups) == 1 && a.Groups[0].N == 0 {
		b.WriteString("The file holds no case, so there is nothing to measure.\n")
	} else {
		for i := range a.Groups {
			a.Groups[i].write(&b)
		}
		a.writeComparison(&b)
		b.WriteString("Waiting is the Kaplan-Meier share; cases still open count as waiting until they were last seen. SE is Greenwood's,\n" +
			"limits are 95 % (" + a.ConfType + "). The median is the time at which the curve falls to one half, the middle of the\n" +
			"stretch where it is exactly that; its limits are read from the band in the same way (Brookmeyer and Crowley).\n" +
			"Closed by reason is Aalen-Johansen with its standard error in brackets. A dash stands for what is not defined.\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (a *Analyzed) write(b *strings.Builder) {
	fmt.Fprintf(b, "%s: %s\n\n", a.title(), a.Words())
	rows := chosen(len(a.Curve))
	if len(rows) < len(a.Curve) {
		fmt.Fprintf(b, "%d of %d times are shown; --json has all.\n", len(rows), len(a.Curve))
	}
	t := tabwriter.NewWriter(b, 0, 4, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(t, "time\tat risk\tclosed\tstill open\twaiting\tSE\t95 % from\tto\t")
	for _, f := range a.Incidence {
		fmt.Fprintf(t, "closed, reason %d\t", f.Reason)
	}
	fmt.Fprintln(t)
	for _, i := range rows {
		s := &a.Curve[i]
		fmt.Fprintf(t, "%s\t%d\t%d\t%d\t%s\t%s\t%s\t%s\t", short(s.Time), s.NRisk, s.NEvent, s.NCensor,
			fixed(s.Surv), fixed(s.SE), fixed(s.Low), fixed(s.High))
		for _, f := range a.Incidence {
			at, _ := f.By(float64(s.Time))
			fmt.Fprintf(t, "%s (%s)\t", fixed(at.Value), fixed(at.SE))
		}
		fmt.Fprintln(t)
	}
	t.Flush()
	b.WriteString("\n")
}

func (a *Analyzed) title() string {
	if a.Name == "" {
		return "(blank)"
	}
	return a.Name
}

// Words says in plain words what the figures of the group say.
func (a *Analyzed) Words() string {
	if a.N == 0 {
		return "no case, so there is nothing to measure."
	}
	s := fmt.Sprintf("%d of %d closed, %d still open. ", a.Events, a.N, a.N-a.Events)
	switch {
	case a.Events == 0:
		s += "None has closed, so no median can be given."
	case !a.Median.Defined():
		s += "Fewer than half have closed by the end of what was seen: the median is not reached."
	default:
		s += fmt.Sprintf("Half are closed by time %s (95 %% limits %s to %s).", short(a.Median), reached(a.MedianLow), reached(a.MedianHigh))
	}
	s += fmt.Sprintf(" Mean wait within the first %s: %s (SE %s)", short(a.RMean.Tau), fixed(a.RMean.Value), fixed(a.RMean.SE))
	last := a.Curve[len(a.Curve)-1]
	if a.RMean.Tau > last.Time && last.Surv > 0 {
		s += fmt.Sprintf(", the curve carried on level after time %s, when the last case was seen", short(last.Time))
	}
	return s + "."
}

func (a Analysis) writeComparison(b *strings.Builder) {
	if len(a.Groups) < 2 {
		return
	}
	if a.LogRank == nil {
		b.WriteString("Log-rank test: not defined, no closure could tell the groups apart.\n\n")
		return
	}
	t := tabwriter.NewWriter(b, 0, 4, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "group\tcases\tclosed\texpected if alike\t")
	for i := range a.Groups {
		g := &a.Groups[i]
		fmt.Fprintf(t, "%s\t%d\t%d\t%.2f\t\n", g.title(), g.N, g.Events, a.LogRank.Expected[i])
	}
	t.Flush()
	fmt.Fprintf(b, "Log-rank test: chi-square %.4f on %d df, p = %.4g.\n", a.LogRank.ChiSquare, a.LogRank.DF, a.LogRank.P)
	for _, g := range a.Gray {
		fmt.Fprintf(b, "Gray's test of the share closed for reason %d: chi-square %.4f on %d df, p = %.4g.\n", g.Reason, g.ChiSquare, g.DF, g.P)
	}
	b.WriteString("\n")
}

// chosen picks rows evenly, the first and the last among them.
func chosen(n int) []int {
	rows := make([]int, 0, min(n, mostRows))
	for i := range min(n, mostRows) {
		if n > mostRows {
			i = i * (n - 1) / (mostRows - 1)
		}
		rows = append(rows, i)
	}
	return rows
}

func short(n Number) string {
	if !n.Defined() {
		return "-"
	}
	return strconv.FormatFloat(float64(n), 'g', 8, 64)
}

func fixed(n Number) string {
	if !n.Defined() {
		return "-"
	}
	return fmt.Sprintf("%.4f", float64(n))
}

func reached(n Number) string {
	if !n.Defined() {
		return "not reached"
	}
	return short(n)
}
