package web

import (
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// labWord is the laboratory's own word on a test, as the page shows it beside the
// program's reading; nil when the result came by hand.
func labWord(l *cases.LabReading) *templates.LabWord {
	if l == nil {
		return nil
	}
	w := &templates.LabWord{Says: l.Reads, Comment: l.Comment, Differs: l.Differs}
	var parts []string
	who := or(l.Name, "Laboratory not named")
	if l.Reported != 0 {
		who += ", reported " + shortDay(l.Reported)
	}
	parts = append(parts, who)
	if l.Range != "" {
		parts = append(parts, "its range "+l.Range)
	}
	if l.Flag != "" {
		parts = append(parts, "its flag "+l.Flag)
	}
	w.Details = strings.Join(parts, "; ")
	return w
}
