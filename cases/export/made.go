package export

import (
	"fmt"
	"strconv"

	"dunlin/cases"
)

// FullMark stands on files whose small counts are not hidden.
const FullMark = "Full figures, for the program only. Not for release."

// Made says of a file who made it from what.
type Made struct {
	Program string    // name of the follow-up program
	Filter  string    // which cases, in one sentence
	AsOf    cases.Day // the day the figures stand on
	By      string    // who asked for it
	Full    bool      // small counts are not hidden
	Below   int       // else the least count that is shown; 0 and 1 hide nothing
}

// about are the lines that say so.
func (m Made) about(more ...Pair) []Pair {
	out := []Pair{{"Program", m.Program}, {"Cases", m.Filter}, {"Data as of", cases.Say(m.AsOf)}, {"Made by", m.By}}
	switch {
	case m.Full:
		out = append(out, Pair{"Small numbers", FullMark})
	case m.Below > 1:
		out = append(out, Pair{"Small numbers", fmt.Sprintf("Counts from 1 to %d are hidden, and as many others as they could be worked out from; the word is “%s”. "+
			"That holds within a table: figures of other windows or groups can still be set against these.", m.Below-1, hiddenWord)})
	}
	out = append(out, more...)
	return append(out, Pair{"Empty cells", "Not known, or not defined for so few cases."},
		Pair{"Not a diagnosis", "Figures say what was recorded. They say nothing of why, and of no single infant."})
}

// EventKind is the kind of every entry of the audit trail about a file that left.
const EventKind = "exported"

// Log is what the audit trail keeps of a file before it goes out.
type Log struct {
	What   string // "Closure times", "Line list of cases, with names"
	Format string
	Filter string // in words
	Rows   int
	Hidden string // what was hidden or left out, in words
	Sum    string // SHA-256 of the file in hex, so that a file found later can be told
	Reason string // as typed, where one was asked for
}

// Event is the entry of the audit trail.
func (l Log) Event() cases.Event {
	rows := strconv.Itoa(l.Rows) + " rows"
	if l.Rows == 1 {
		rows = "1 row"
	}
	t := fmt.Sprintf("%s as %s, %s.", l.What, FormatWords(l.Format), rows)
	for _, s := range []string{l.Hidden, l.Filter} {
		t = sentence(t, s)
	}
	if l.Sum != "" {
		t = sentence(t, "SHA-256 "+l.Sum)
	}
	return cases.Event{Kind: EventKind, Text: clean(t), Reason: l.Reason}
}

// sentence adds a sentence to a text.
func sentence(t, s string) string {
	if s == "" {
		return t
	}
	if s[len(s)-1] != '.' {
		s += "."
	}
	return t + " " + s
}
