package main

import (
	"errors"
	"strings"

	"dunlin/cases"
)

// people turns an error into what a person at a terminal needs: the texts meant for
// people where there are any, every fault on a line of its own.
func people(err error) string {
	var e *cases.Error
	if errors.As(err, &e) && e.Text != "" {
		var b strings.Builder
		b.WriteString(e.Text)
		for _, f := range e.Faults {
			b.WriteString("\n  " + f.String())
		}
		if rest := err.Error(); !strings.Contains(rest, e.Text) {
			b.WriteString("\n" + rest)
		}
		return b.String()
	}
	return err.Error()
}
