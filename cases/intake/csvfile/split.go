package csvfile

import (
	"strings"
)

// row is one row of a list. Line is its first line in the file, counted from 1.
type row struct {
	line  int
	cells []string
	open  bool // a quotation mark was not closed; only the first line was taken
}

// text gives the row as it can be shown.
func (r row) text() string { return strings.Join(r.cells, " | ") }

func (r row) blank() bool {
	for _, c := range r.cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}

// maxCell bounds a quoted cell in bytes: what is longer is a quotation mark that
// was never closed.
const maxCell = 32 << 10

// split reads rows. Cells may be quoted, with doubled quotes inside and line ends
// in them; a quotation mark in the middle of an unquoted cell is an ordinary
// character.
func split(text string, comma byte) []row {
	var rows []row
	for at, line := 0, 1; at < len(text) && len(rows) < 2*maxRows; {
		r, next, lines := readRow(text[at:], comma)
		if r.open {
			end := lineEnd(text[at:])
			r, _, _ = readRow(strings.ReplaceAll(text[at:at+end], `"`, ""), comma)
			r.open = true
			next, lines = end+ending(text[at+end:]), 1
		}
		r.line = line
		rows = append(rows, r)
		at += next
		line += lines
	}
	return rows
}

// readRow reads one row and says how many bytes and lines it took.
func readRow(s string, comma byte) (r row, used, lines int) {
	lines = 1
	for i := 0; ; {
		var cell string
		if i < len(s) && s[i] == '"' {
			var ok bool
			start := i
			cell, i, ok = quoted(s, i)
			for i < len(s) && s[i] == ' ' {
				i++
			}
			if !ok || i < len(s) && s[i] != comma && s[i] != '\n' && s[i] != '\r' {
				r.open = true
				return r, len(s), lines
			}
			lines += newlines(s[start:i])
		}
		j := i
		for j < len(s) && s[j] != comma && s[j] != '\n' && s[j] != '\r' {
			j++
		}
		r.cells = append(r.cells, cell+s[i:j])
		if j >= len(s) {
			return r, len(s), lines
		}
		if s[j] != comma {
			return r, j + ending(s[j:]), lines
		}
		i = j + 1
	}
}

// quoted reads a quoted cell that begins at i and gives the place after it.
func quoted(s string, i int) (cell string, next int, ok bool) {
	var b strings.Builder
	for j := i + 1; j < len(s) && j-i < maxCell; j++ {
		if s[j] != '"' {
			b.WriteByte(s[j])
			continue
		}
		if j+1 < len(s) && s[j+1] == '"' {
			b.WriteByte('"')
			j++
			continue
		}
		return b.String(), j + 1, true
	}
	return "", len(s), false
}

// newlines counts line ends; CR LF is one.
func newlines(s string) int {
	return strings.Count(s, "\n") + strings.Count(s, "\r") - strings.Count(s, "\r\n")
}

func lineEnd(s string) int {
	if i := strings.IndexAny(s, "\r\n"); i >= 0 {
		return i
	}
	return len(s)
}

func ending(s string) int {
	switch {
	case strings.HasPrefix(s, "\r\n"):
		return 2
	case s != "":
		return 1
	}
	return 0
}

// delimiter counts the candidates in the heading line outside quotes and takes the
// most frequent; a comma when there is none.
func delimiter(heading string) byte {
	best, most := byte(','), 0
	for _, c := range []byte{',', ';', '\t', '|'} {
		n, in := 0, false
		for i := range len(heading) {
			switch {
			case heading[i] == '"':
				in = !in
			case heading[i] == c && !in:
				n++
			}
		}
		if n > most {
			best, most = c, n
		}
	}
	return best
}
