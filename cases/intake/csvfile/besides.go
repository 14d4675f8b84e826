package csvfile

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// besides looks at what a row says in columns that are not read otherwise: the test
// that a row is about, a second column of the same meaning, and columns that are not
// known. Nothing that may be about cystic fibrosis is left out without a word.
func (rd *rowReader) besides() {
	r := rd.r
	if t := rd.cell("test"); t != "" && !aboutScreen(t) {
		rd.problem("test", intake.Fault, "The row is about another test than the cystic fibrosis screen. Set it aside if it is not for this program.")
	}
	for _, col := range slices.Sorted(maps.Keys(rd.cols.again)) {
		for _, i := range rd.cols.again[col] {
			if i >= len(rd.row.cells) {
				break
			}
			rd.second(col, i)
		}
	}
	for _, i := range rd.cols.odd {
		if i >= len(rd.row.cells) {
			break // the columns are in order
		}
		v := rd.plain(i)
		if v == "" {
			continue
		}
		at := intake.Problem{Row: rd.row.line, Column: strings.TrimSpace(rd.cols.names[i])}
		if name := strings.ReplaceAll(at.Column, "_", " "); intake.SpeaksOfCF(name) || intake.SpeaksOfCF(strings.ToUpper(name)) {
			r.Unknown = append(r.Unknown, intake.Unknown{Code: at.Column, Text: v, Outside: true, At: at})
			continue
		}
		r.Mention(v, false, at)
	}
}

// aboutScreen reports that the test named in a row may be the cystic fibrosis screen.
func aboutScreen(test string) bool {
	up := strings.ToUpper(test)
	return intake.SpeaksOfCF(up) || strings.Contains(up, "NEWBORN") || strings.Contains(up, "NBS") || strings.Contains(up, "SCREEN")
}

func (rd *rowReader) plain(i int) string {
	if i >= len(rd.row.cells) {
		return ""
	}
	return strings.Join(strings.Fields(rd.row.cells[i]), " ")
}

// second reads a further column of the same meaning: telephone numbers and comments
// are added, and a value that differs in another column goes to a person.
func (rd *rowReader) second(col string, i int) {
	v, first := rd.plain(i), rd.cell(col)
	if v == "" || strings.EqualFold(v, first) {
		return
	}
	p := intake.Problem{Severity: intake.Check, Row: rd.row.line, Column: strings.TrimSpace(rd.cols.names[i]), Value: intake.Shorten(v)}
	switch col {
	case "phone", "phone2":
		if rd.r.Home != nil {
			rd.r.Home.Phones = append(rd.r.Home.Phones, cases.Phone{Number: v})
		}
		return
	case "comment":
		rd.r.Comments = append(rd.r.Comments, v)
		rd.r.Mention(v, true, p)
		return
	case "result", "code", "dob", "last", "first", "name", "card", "irt", "variant1", "variant2", "variants", "quality", "died":
		p.Severity = intake.Fault
	}
	p.Text = fmt.Sprintf("Two columns mean the same, and they differ: %q and %q. Ask the sender which is right.", intake.Shorten(first), p.Value)
	rd.it.Problems = append(rd.it.Problems, p)
}
