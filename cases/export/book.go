package export

import (
	"fmt"
	"io"
	"strings"

	"dunlin/cases"
)

// Column describes one column of a table for the data dictionary.
type Column struct {
	Key     string // heading in the file: letters, digits and low lines
	Name    string // the same in words
	Meaning string // one or two sentences
	Unit    string // days, g, µL, mmol/L; "" for none
	Type    string // text, whole number, number, day, yes or no
	Allowed string // the values that occur; "" for any
}

// Table is one sheet. Rows hands each row to add, as many values as there are
// columns; the slice may be used again.
type Table struct {
	Name    string // of the sheet or file: letters, digits and low lines
	Columns []Column
	Rows    func(add func([]Value) error) error
	Apart   bool // explains other tables: its rows are not counted as rows of the export
}

// Pair is a line of the page that says what a file is.
type Pair struct{ Name, Text string }

// Book is what one file holds.
type Book struct {
	Title  string
	About  []Pair
	Tables []Table
}

// The formats of a file.
const (
	XLSX = "xlsx" // one workbook
	ZIP  = "zip"  // one CSV file for each table
	CSV  = "csv"  // one table
)

// FormatWords says what a format is, for people and the audit trail.
func FormatWords(format string) string {
	switch format {
	case XLSX:
		return "workbook (XLSX)"
	case ZIP:
		return "CSV files (ZIP)"
	case CSV:
		return "one CSV file"
	}
	return format
}

// MediaType is the media type of a format, as registered with IANA.
func MediaType(format string) string {
	switch format {
	case XLSX:
		return "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	case ZIP:
		return "application/zip"
	}
	return "text/csv; charset=utf-8; header=present"
}

// Write writes the book in a format and gives the number of rows of its tables,
// those that only explain left out. table names the one that CSV writes; "" is the
// first.
func (b *Book) Write(w io.Writer, format, table string) (rows int, err error) {
	switch format {
	case XLSX:
		return b.writeXLSX(w)
	case ZIP:
		return b.writeZIP(w)
	case CSV:
		for _, t := range b.sheets() {
			if t.Name == table || table == "" {
				return t.writeCSV(w)
			}
		}
		return 0, cases.Errorf(cases.Invalid, "There is no table %q in this export. It has: %s.", table, strings.Join(b.TableNames(), ", "))
	}
	return 0, cases.Errorf(cases.Invalid, "There is no format %q. Choose xlsx, zip or csv.", format)
}

// TableNames lists the tables in order, dictionary and about last.
func (b *Book) TableNames() []string {
	var names []string
	for _, t := range b.sheets() {
		names = append(names, t.Name)
	}
	return names
}

// sheets are the tables with the dictionary and the page that says what it is.
func (b *Book) sheets() []Table {
	out := append([]Table(nil), b.Tables...)
	return append(out, b.dictionary(), b.about())
}

func (b *Book) dictionary() Table {
	t := Table{Name: "dictionary", Apart: true, Columns: []Column{
		{Key: "table", Name: "Table", Meaning: "The sheet or file that has the column.", Type: "text"},
		{Key: "column", Name: "Column", Meaning: "Its heading.", Type: "text"},
		{Key: "name", Name: "Name", Meaning: "The heading in words.", Type: "text"},
		{Key: "meaning", Name: "Meaning", Meaning: "What the column holds.", Type: "text"},
		{Key: "unit", Name: "Unit", Meaning: "The unit of a number.", Type: "text"},
		{Key: "type", Name: "Type", Meaning: "How a value is written.", Type: "text"},
		{Key: "allowed", Name: "Values", Meaning: "The values that occur, where they are listed.", Type: "text"},
	}}
	t.Rows = func(add func([]Value) error) error {
		for _, of := range b.Tables {
			for _, c := range of.Columns {
				if err := add([]Value{Text(of.Name), Text(c.Key), Text(c.Name), Text(c.Meaning), Text(c.Unit), Text(c.Type), Text(c.Allowed)}); err != nil {
					return err
				}
			}
		}
		return nil
	}
	return t
}

func (b *Book) about() Table {
	t := Table{Name: "about", Apart: true, Columns: []Column{{Key: "item", Name: "Item", Type: "text"}, {Key: "text", Name: "Text", Type: "text"}}}
	t.Rows = func(add func([]Value) error) error {
		lines := append([]Pair{{"Title", b.Title}}, b.About...)
		for _, p := range lines {
			if err := add([]Value{Text(p.Name), Text(p.Text)}); err != nil {
				return err
			}
		}
		return nil
	}
	return t
}

// each hands every row of a table on and counts them; a row of the wrong width is a
// fault of the program.
func (t *Table) each(add func([]Value) error) (rows int, err error) {
	err = t.Rows(func(row []Value) error {
		if len(row) != len(t.Columns) {
			return fmt.Errorf("export: a row of %d values in table %s of %d columns", len(row), t.Name, len(t.Columns))
		}
		rows++
		return add(row)
	})
	if t.Apart {
		rows = 0
	}
	return rows, err
}
