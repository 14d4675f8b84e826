package figures

import (
	"fmt"
	"strconv"
	"strings"

	"dunlin/templates"
)

// Changes lists the figures that differ between a kept report and one of now, of the
// same kind. Where small numbers are hidden, a row whose counts changed by few is not
// set side by side: the difference would be such a number; and rows without counts of
// their own, which rest on the same cases, are left out.
func Changes(then, now *templates.YearReport) []templates.YearChange {
	was := map[string][]string{}
	for _, s := range then.Sections {
		for _, t := range s.Tables {
			for _, r := range t.Rows {
				was[rowKey(&s, &t, r)] = r
			}
		}
	}
	below := max(then.Below, now.Below)
	var out []templates.YearChange
	for _, s := range now.Sections {
		for _, t := range s.Tables {
			for _, r := range t.Rows {
				if old, ok := was[rowKey(&s, &t, r)]; ok && len(old) == len(r) {
					out = append(out, rowChanges(&s, &t, old, r, below)...)
				}
			}
		}
	}
	return out
}

func rowKey(s *templates.YearSection, t *templates.YearTable, row []string) string {
	return s.ID + "\x00" + t.Name + "\x00" + row[0]
}

func rowChanges(s *templates.YearSection, t *templates.YearTable, old, now []string, below int) []templates.YearChange {
	where := s.Name
	if t.Name != "" {
		where += ": " + t.Name
	}
	few, counted := false, false
	for i := 1; i < len(now) && i < len(t.Columns) && below > 1; i++ {
		if !t.Columns[i].Count {
			continue
		}
		a, b := counts(old[i]), counts(now[i])
		counted = counted || len(a) > 0 || len(b) > 0
		few = few || near(a, b, below)
	}
	if below > 1 && !counted {
		return nil
	}
	var out []templates.YearChange
	for i := 1; i < len(now) && i < len(t.Columns); i++ {
		if old[i] == now[i] {
			continue
		}
		c := templates.YearChange{Where: where, What: now[0] + ": " + lowerFirst(t.Columns[i].Head), Then: old[i], Now: now[i]}
		if few {
			c.Now = fmt.Sprintf("changed by fewer than %d", below)
		}
		out = append(out, c)
	}
	return out
}

// near tells whether counts, or what remains of their totals, differ by a small number.
func near(a, b []int, below int) bool {
	small := func(x, y int) bool {
		d := max(x-y, y-x)
		return x >= 0 && y >= 0 && d != 0 && d < below
	}
	for k := range min(len(a), len(b)) {
		if small(a[k], b[k]) {
			return true
		}
	}
	whole := func(x []int) bool { return len(x) == 2 && x[0] >= 0 && x[1] >= 0 }
	return whole(a) && whole(b) && small(a[1]-a[0], b[1]-b[0])
}

// counts are the whole numbers of a cell that holds a count, or a count of a total; -1
// for one that is hidden. None for any other cell.
func counts(text string) []int {
	var out []int
	shown := false
	for _, part := range strings.Split(text, " of ") {
		n, err := strconv.Atoi(strings.ReplaceAll(part, ",", ""))
		switch {
		case err == nil:
			shown = true
		case part == hiddenWord:
			n = -1
		default:
			return nil
		}
		out = append(out, n)
	}
	if !shown {
		return nil
	}
	return out
}
