package schedule

import "strings"

// A spreadsheet runs a cell that begins with one of these as a formula. Written files
// put an apostrophe before such text, and before text that begins with one itself, so
// that reading takes off exactly what writing put on.
const formulaStarts = "=+-@\t\r'"

// safeCell makes text safe to open in a spreadsheet.
func safeCell(s string) string {
	if s != "" && strings.ContainsRune(formulaStarts, rune(s[0])) {
		return "'" + s
	}
	return s
}

// plainCell undoes safeCell.
func plainCell(s string) string {
	if len(s) > 1 && s[0] == '\'' && strings.ContainsRune(formulaStarts, rune(s[1])) {
		return s[1:]
	}
	return s
}
