package schedule

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"

	"dunlin/cases"
)

// tableReader reads a CSV file with headings row by row and collects its faults.
type tableReader struct {
	csv    *csv.Reader
	column map[string]int
	row    []string
	n      int           // row of the file, the headings being 1
	faults []cases.Fault // the first mostFaults
	more   int           // faults beyond them
}

const mostFaults = 100 // are named; the rows are all read and the rest is counted

func openTable(r io.Reader, need ...string) (*tableReader, []cases.Fault) {
	body := bufio.NewReader(r)
	if mark, _ := body.Peek(3); string(mark) == "\ufeff" {
		_, _ = body.Discard(3) // was just there
	}
	t := &tableReader{csv: csv.NewReader(body), column: map[string]int{}, n: 1}
	t.csv.FieldsPerRecord, t.csv.Comma = -1, parter(body)
	head, err := t.csv.Read()
	if err != nil {
		return nil, []cases.Fault{{Path: "row 1", Reason: "The file has no headings. The first row must be: " + strings.Join(need, ",")}}
	}
	for i, h := range head {
		h = strings.ToLower(strings.TrimSpace(h))
		if _, twice := t.column[h]; twice && h != "" {
			t.bad(h, "this heading comes twice")
		}
		t.column[h] = i
	}
	for _, h := range need {
		if _, ok := t.column[h]; !ok {
			t.bad(h, "this heading is missing")
		}
	}
	if len(t.faults) > 0 {
		return nil, t.found()
	}
	return t, nil
}

// parter is what parts the columns, as the headings show: a comma, or a semicolon or a
// tab where the headings hold no comma (spreadsheets of some countries write these).
func parter(r *bufio.Reader) rune {
	start, _ := r.Peek(4096) // fewer where the file is shorter
	head, _, _ := strings.Cut(string(start), "\n")
	for _, c := range ",;\t" {
		if strings.ContainsRune(head, c) {
			return c
		}
	}
	return ','
}

// next goes to the next row that has anything in it.
func (t *tableReader) next() bool {
	for {
		row, err := t.csv.Read()
		if err == io.EOF {
			return false
		}
		t.n++
		if err != nil {
			var pe *csv.ParseError
			if !errors.As(err, &pe) {
				t.bad("", "the file cannot be read on: %v", err)
				return false
			}
			t.bad("", "cannot be read: %v", pe.Err)
			continue
		}
		for _, c := range row {
			if strings.TrimSpace(c) != "" {
				t.row = row
				return true
			}
		}
	}
}

// found gives the faults, the last of which says how many are not named.
func (t *tableReader) found() []cases.Fault {
	if t.more == 0 {
		return t.faults
	}
	return append(t.faults, cases.Fault{Path: "further rows", Reason: fmt.Sprintf("and %d more", t.more)})
}

// count is how many faults there are, named or not.
func (t *tableReader) count() int { return len(t.faults) + t.more }

// cell is the text of a column in this row, "" when the row is shorter.
func (t *tableReader) cell(column string) string {
	i, ok := t.column[column]
	if !ok || i >= len(t.row) {
		return ""
	}
	return plainCell(strings.TrimSpace(t.row[i]))
}

func (t *tableReader) bad(column, format string, args ...any) {
	if len(t.faults) >= mostFaults {
		t.more++
		return
	}
	path := fmt.Sprintf("row %d", t.n)
	if column != "" {
		path += ", " + column
	}
	t.faults = append(t.faults, cases.Fault{Path: path, Reason: fmt.Sprintf(format, args...)})
}
