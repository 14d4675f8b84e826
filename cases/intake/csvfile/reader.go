package csvfile

import (
	"bytes"
	"fmt"
	"strings"

	"dunlin/cases/intake"
)

// Limits of one list.
const (
	maxRows  = 50_000
	headTake = 10 // the heading is looked for in this many rows
)

// Format reads line lists for intake.
type Format struct{}

// Name is the name shown beside a document.
func (Format) Name() string { return "line list" }

// Sniff reports whether some row near the top is a heading with known columns.
func (Format) Sniff(raw []byte) bool {
	text, _ := decode(raw[:min(len(raw), 64<<10)], "")
	_, _, _, ok := heading(text)
	return ok
}

// decode strips the byte order mark and chooses the character set, the given one when
// it fits; mark says that the spelling of names should be checked.
func decode(raw []byte, charset string) (text string, mark bool) {
	if conv, was := intake.FromUTF16(raw); was || bytes.HasPrefix(raw, []byte("\xEF\xBB\xBF")) {
		raw, charset = bytes.TrimPrefix(conv, []byte("\xEF\xBB\xBF")), "" // the mark says it
	}
	text, mark = intake.DecodeAll(charset, raw)
	return strings.TrimPrefix(text, "\uFEFF"), mark
}

// heading finds the heading row: its delimiter, its columns, and the rows after it.
func heading(text string) (comma byte, cols columns, skip int, ok bool) {
	rest := text
	for n := range headTake {
		if rest == "" {
			break
		}
		end := lineEnd(rest)
		line := rest[:end]
		if strings.TrimSpace(line) != "" {
			comma = delimiter(line)
			r, _, _ := readRow(line, comma)
			if cols = headings(r.cells); !r.open && cols.enough() {
				return comma, cols, n, true
			}
		}
		rest = rest[end+ending(rest[end:]):]
	}
	return 0, columns{}, 0, false
}

// Read gives one item for each row that is not blank.
func (Format) Read(raw []byte, s intake.Settings) intake.Reading {
	text, mark := decode(raw, s.Charset)
	comma, cols, skip, ok := heading(text)
	if !ok {
		return fault(text, "No heading row with known columns was found. Ask the sender for the list with its headings.")
	}
	var out intake.Reading
	if mark {
		why := "The list is not UTF-8 and was read as Windows-1252. Check the spelling of names."
		if s.Charset != "" {
			why = "The list does not fit its character set, " + intake.Shorten(s.Charset) + ". Check the spelling of names."
		}
		out.Warnings = append(out.Warnings, intake.Problem{Severity: intake.Check, Text: why})
	}
	for _, r := range split(text, comma) {
		if r.line <= skip+1 {
			continue
		}
		if r.blank() {
			out.Blank++
			continue
		}
		if len(out.Items) >= maxRows {
			out.Warnings = append(out.Warnings, intake.Problem{Severity: intake.Fault, Row: r.line,
				Text: fmt.Sprintf("The list has more than %d rows; those from row %d on were not read. Split the list and send the rest again.", maxRows, r.line)})
			out.Items = append(out.Items, intake.Item{Label: fmt.Sprintf("row %d and after", r.line), Kind: intake.Unreadable,
				Problems: []intake.Problem{{Severity: intake.Fault, Row: r.line, Text: "The list is too long; these rows were not read."}}})
			break
		}
		out.Items = append(out.Items, readItem(r, cols, s, mark))
	}
	if len(out.Items) == 0 {
		blank := out.Blank
		out = fault(text, "The list has a heading and no rows.")
		out.Blank = blank
	}
	return out
}

func fault(text, why string) intake.Reading {
	return intake.Reading{Items: []intake.Item{{Label: "file", Kind: intake.Unreadable, Text: text,
		Problems: []intake.Problem{{Severity: intake.Fault, Text: why}}}}}
}

// readItem reads one row; a ragged one is shown and not read.
func readItem(r row, cols columns, s intake.Settings, mark bool) intake.Item {
	it := intake.Item{Label: fmt.Sprintf("row %d", r.line), Text: r.text()}
	rd := &rowReader{it: &it, r: &it.Referral, row: r, cols: cols, s: s}
	cells := r.cells
	for len(cells) > len(cols.names) && strings.TrimSpace(cells[len(cells)-1]) == "" {
		cells = cells[:len(cells)-1]
	}
	switch {
	case r.open:
		it.Kind = intake.Unreadable
		rd.problem("", intake.Fault, "A quotation mark in this row is not closed, so the row cannot be divided. Correct it and send the row again.")
	case len(cells) != len(cols.names):
		it.Kind = intake.Unreadable
		rd.problem("", intake.Fault, fmt.Sprintf("The row has %d values where the heading has %d columns, so values may stand under the wrong heading. Correct it and send the row again.", len(cells), len(cols.names)))
	}
	rd.read()
	if mark {
		it.Referral.CheckSpelling = true
		rd.problem("", intake.Check, "The list is not UTF-8 and was read as Windows-1252. Check the spelling of names.")
	}
	return it
}
