package export

import (
	"io"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"dunlin/cases"
)

// What a sheet can hold (ISO/IEC 29500 as spreadsheets have it).
const (
	sheetRows = 1 << 20
	cellChars = 32767
)

// madeAt stands in every workbook as the time it was made, so that an extract says
// no day; the audit trail has the time.
const madeAt = "1980-01-01T00:00:00Z"

// writeXLSX writes all tables as sheets of one workbook. Rows go to a file of the
// system's for the time being when they are many, so that memory stays flat. Every
// text is a text cell: nothing in it is ever calculated.
func (b *Book) writeXLSX(w io.Writer) (rows int, err error) {
	f := excelize.NewFile()
	defer func() {
		if cerr := f.Close(); err == nil {
			err = cerr
		}
	}()
	if err := f.SetDocProps(&excelize.DocProperties{Creator: "Dunlin", LastModifiedBy: "Dunlin", Title: clean(b.Title), Created: madeAt, Modified: madeAt}); err != nil {
		return 0, err
	}
	head, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return 0, err
	}
	form := "yyyy-mm-dd"
	day, err := f.NewStyle(&excelize.Style{CustomNumFmt: &form})
	if err != nil {
		return 0, err
	}
	for i, t := range b.sheets() {
		if i == 0 {
			err = f.SetSheetName("Sheet1", t.Name)
		} else {
			_, err = f.NewSheet(t.Name)
		}
		if err != nil {
			return rows, err
		}
		n, err := t.writeSheet(f, head, day)
		if err != nil {
			return rows, err
		}
		rows += n
	}
	return rows, f.Write(w)
}

func (t *Table) writeSheet(f *excelize.File, head, day int) (rows int, err error) {
	sw, err := f.NewStreamWriter(t.Name)
	if err != nil {
		return 0, err
	}
	for i, c := range t.Columns {
		if err := sw.SetColWidth(i+1, i+1, width(c)); err != nil {
			return 0, err
		}
	}
	if err := sw.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return 0, err
	}
	cells := make([]any, len(t.Columns))
	for i, c := range t.Columns {
		cells[i] = excelize.Cell{StyleID: head, Value: c.Key}
	}
	if err := sw.SetRow("A1", cells); err != nil {
		return 0, err
	}
	at := 1
	rows, err = t.each(func(row []Value) error {
		at++
		if at > sheetRows {
			return cases.Errorf(cases.Refused, "The table %s has more than %d rows, which no sheet can hold. Choose CSV files, or fewer cases.", t.Name, sheetRows-1)
		}
		for i, v := range row {
			cells[i] = v.cell(day)
		}
		name, err := excelize.CoordinatesToCellName(1, at)
		if err != nil {
			return err
		}
		return sw.SetRow(name, cells)
	})
	if err != nil {
		return rows, err
	}
	return rows, sw.Flush()
}

// cell is the value as the workbook's writer takes it.
func (v Value) cell(day int) any {
	switch v.kind {
	case number:
		return v.num
	case date:
		return excelize.Cell{StyleID: day, Value: serial(cases.Day(v.num))}
	case text:
		return shortened(clean(v.text))
	}
	return nil
}

// shortened cuts a text that no cell can hold, and says so in it.
func shortened(s string) string {
	if len(s) <= cellChars {
		return s
	}
	const mark = " [cut: longer than a cell can hold]"
	n := 0 // in units of UTF-16, as a cell counts
	for i, r := range s {
		n++
		if r > 0xFFFF {
			n++
		}
		if n > cellChars-utf8.RuneCountInString(mark) {
			return s[:i] + mark
		}
	}
	return s
}

// width is a column's width in characters.
func width(c Column) float64 {
	switch c.Key {
	case "meaning", "text", "numerator", "denominator", "note", "allowed":
		return 60
	}
	return float64(min(max(len(c.Key)+2, 10), 40))
}
