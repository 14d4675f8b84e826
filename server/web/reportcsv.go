package web

import (
	"bytes"
	"encoding/csv"
	"strconv"

	"dunlin/cases/measures"
)

// closureCSV writes published figures as rows of section, group, measure and value,
// without names or case numbers; what is hidden is written as hidden. It tells how
// many rows it wrote below the heading.
func closureCSV(p measures.PublishedInterval) (body []byte, rows int) {
	var buf bytes.Buffer
	t := figureTable{csv.NewWriter(&buf), 0}
	_ = t.w.Write([]string{"section", "group", "measure", "value"})
	t.row("cohort", "", "interval", p.Interval())
	t.row("cohort", "", "words", p.Words())
	t.row("cohort", "", "as_of", p.AsOf.String())
	t.row("cohort", "", "counts_hidden_below", strconv.Itoa(p.Below))
	t.row("cohort", "", "cases", p.Cases.String())
	t.row("cohort", "", "not_begun", p.NotStarted.String())
	t.row("cohort", "", "refused", p.Refused.String())
	t.group("all", &p.All)
	for i := range p.Groups {
		t.group("group", &p.Groups[i])
	}
	for i := range p.Classes {
		t.group("class", &p.Classes[i])
	}
	for i, text := range p.Says {
		t.row("says", "", strconv.Itoa(i+1), text)
	}
	for i, d := range intervalTerms {
		t.row("definition", "", strconv.Itoa(i+1), d.value+": "+d.text)
	}
	t.w.Flush()
	return buf.Bytes(), t.rows
}

// figureTable writes rows and counts them.
type figureTable struct {
	w    *csv.Writer
	rows int
}

func (t *figureTable) row(cells ...string) {
	_ = t.w.Write(cells) // into memory
	t.rows++
}

func (t *figureTable) group(section string, g *measures.PublishedGroup) {
	row := func(measure, value string) { t.row(section, g.Name, measure, value) }
	row("cases", g.Cases.String())
	row("done", g.Done.String())
	row("waiting", g.Waiting.String())
	row("left", g.Left.String())
	if g.Few {
		return
	}
	for _, q := range []struct {
		name string
		of   measures.PublishedQuantile
	}{{"quarter", g.Quarter}, {"median", g.Median}, {"three_quarters", g.ThreeQuarters}, {"ninth_tenth", g.Ninth}} {
		row(q.name+"_days", hiddenOr(q.of.Hidden, measures.Days(q.of.Day)))
		row(q.name+"_days.lower", hiddenOr(q.of.Hidden || q.of.LimitsHidden, measures.Days(q.of.Lower)))
		row(q.name+"_days.upper", hiddenOr(q.of.Hidden || q.of.LimitsHidden, measures.Days(q.of.Upper)))
	}
	for _, s := range g.Shares {
		at := "share_by_day_" + strconv.Itoa(s.Day)
		if s.Hidden || !s.Known {
			row(at, hiddenOr(s.Hidden, "not known yet"))
			continue
		}
		row(at, share(s.Share.Share))
		if s.Limits != nil {
			row(at+".lower", share(s.Limits.Lower))
			row(at+".upper", share(s.Limits.Upper))
		}
	}
	for _, r := range g.Reasons {
		row("closed_as."+r.As, r.N.String())
	}
	for _, x := range g.Curve {
		row("waiting_share_after_day_"+strconv.Itoa(x.Day), share(x.Waiting))
	}
}

func hiddenOr(hidden bool, value string) string {
	if hidden {
		return "hidden"
	}
	return value
}

func share(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }
