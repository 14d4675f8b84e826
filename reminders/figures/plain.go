package figures

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"dunlin/templates"
)

// WriteText prints a report as text and tables for a terminal.
func WriteText(w io.Writer, r *templates.YearReport) error {
	var b strings.Builder
	line := func(text string) { b.WriteString(strings.ReplaceAll(text, "\u00a0", " ") + "\n") }
	if m := r.Mark(); m != "" {
		line(m + "\n")
	}
	line(r.Title + ", " + r.Program + "\n" + r.Lead + "\n")
	for _, t := range append(append([]string(nil), r.Says...), r.Cautions...) {
		line("- " + t)
	}
	for _, s := range r.Sections {
		line("\n" + s.Name)
		for _, t := range s.Tables {
			if t.Name != "" {
				line("\n" + t.Name)
			}
			rows := tabwriter.NewWriter(&b, 0, 4, 2, ' ', 0)
			head := make([]string, len(t.Columns))
			for i, c := range t.Columns {
				head[i] = c.Head
			}
			for _, row := range append([][]string{head}, t.Rows...) {
				fmt.Fprintln(rows, "  "+strings.ReplaceAll(strings.Join(row, "\t"), "\u00a0", " "))
			}
			rows.Flush()
		}
		for _, n := range s.Notes {
			line(n)
		}
	}
	if len(r.Terms) > 0 {
		line("\nWhat is counted")
	}
	for _, t := range r.Terms {
		line(t.Name + ": " + t.Text)
	}
	line("\nHow these figures are made")
	for _, t := range r.How {
		line("- " + t)
	}
	_, err := io.WriteString(w, b.String())
	return err
}
