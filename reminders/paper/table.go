package paper

// Table is set in columns. Its head stands again on top of each further sheet; a row
// is never parted.
type Table struct {
	Columns []Column
	Style   Style   // of the cells; the head is bold
	Grid    float64 // width of the lines around the cells; 0: none
	Pad     float64 // between the lines and the text
	// RowHeight is the least height of a row, for cells to be written in by hand.
	RowHeight float64
	Rows      [][]string
}

// Column is one column of a table.
type Column struct {
	Head  string
	Width float64 // in points; 0: an equal share of what the others leave
}

// Table sets a table below what was set before. It has no head row when no column has
// a head.
func (f *Flow) Table(t Table) {
	widths := t.widths(f.Width())
	headed, head := false, make([]string, len(t.Columns))
	for i, c := range t.Columns {
		head[i] = c.Head
		headed = headed || c.Head != ""
	}
	bold := Style{t.Style.Size, true}
	if headed {
		high := t.height(head, bold, widths, 0)
		if len(t.Rows) > 0 {
			high += t.height(t.Rows[0], t.Style, widths, t.RowHeight)
		}
		f.Need(high)
		f.row(&t, head, bold, widths, 0)
	}
	for _, cells := range t.Rows {
		if f.Y > f.Top && f.Y+t.height(cells, t.Style, widths, t.RowHeight) > f.Bottom {
			f.Turn()
			if headed {
				f.row(&t, head, bold, widths, 0)
			}
		}
		f.row(&t, cells, t.Style, widths, t.RowHeight)
	}
}

func (t *Table) widths(all float64) []float64 {
	out, open := make([]float64, len(t.Columns)), 0
	for i, c := range t.Columns {
		out[i] = c.Width
		all -= c.Width
		if c.Width == 0 {
			open++
		}
	}
	for i := range out {
		if out[i] == 0 {
			out[i] = max(all, 0) / float64(open)
		}
	}
	return out
}

func (t *Table) height(cells []string, style Style, widths []float64, least float64) float64 {
	lines := 1
	for i, text := range cells {
		lines = max(lines, len(Wrap(Printable(text), style, widths[i]-2*t.Pad)))
	}
	return max(float64(lines)*style.Pitch()+2*t.Pad, least)
}

func (f *Flow) row(t *Table, cells []string, style Style, widths []float64, least float64) {
	high := t.height(cells, style, widths, least)
	x, s := f.Left, f.Sheet()
	for i, width := range widths {
		if t.Grid > 0 {
			s.Outline(x, f.Y, width, high, t.Grid)
		}
		if i < len(cells) {
			for n, line := range Wrap(Printable(cells[i]), style, width-2*t.Pad) {
				if line != "" {
					s.Put(x+t.Pad, f.Y+t.Pad+style.rise()+float64(n)*style.Pitch(), style, line)
				}
			}
		}
		x += width
	}
	f.Y += high
}
