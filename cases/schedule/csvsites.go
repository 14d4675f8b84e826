package schedule

import (
	"bytes"
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"dunlin/cases"
)

var siteColumns = []string{"key", "name", "address", "phone", "postal", "lat", "lon", "languages", "collectors",
	"min_age_days", "max_age_days", "min_weight_g", "weekdays", "open_holidays", "closed", "retired", "email", "note"}

// SitesCSV writes sites as a table. Several values in a cell are parted by ";", closed
// days are written 2026-12-24..2026-12-31 reason. Text that a spreadsheet would run
// as a formula begins with an apostrophe.
func SitesCSV(sites []Site) []byte {
	return writeTable(siteColumns, len(sites), func(i int) []string {
		s := &sites[i]
		days := make([]string, len(s.Weekdays))
		for k, w := range s.Weekdays {
			days[k] = strconv.Itoa(w)
		}
		return []string{safeCell(s.Key), safeCell(s.Name), safeCell(s.Address), safeCell(s.Phone), safeCell(s.Postal), degrees(s.Lat), degrees(s.Lon),
			safeCell(strings.Join(s.Languages, ";")), safeCell(strings.Join(s.Accepts.Collectors, ";")), count(s.Accepts.MinAgeDays), count(s.Accepts.MaxAgeDays),
			grams(s.Accepts.MinWeightG), strings.Join(days, ";"), yes(s.OpenHolidays), safeCell(writeClosed(s.Closed)), yes(s.Retired), safeCell(s.Email), safeCell(s.Note)}
	})
}

// ReadSites reads the table that SitesCSV writes; key and name are needed, every
// other column may be missing. Rows at fault are named and left out.
func ReadSites(r io.Reader) ([]Site, []cases.Fault) {
	t, faults := openTable(r, "key", "name")
	if t == nil {
		return nil, faults
	}
	var out []Site
	seen := map[string]bool{}
	for t.next() {
		before := t.count()
		s := Site{Key: t.cell("key"), Name: t.cell("name"), Address: t.cell("address"), Phone: t.cell("phone"), Postal: t.cell("postal"),
			Lat: t.degrees("lat"), Lon: t.degrees("lon"), Languages: t.list("languages"),
			Accepts: Accepts{MinAgeDays: t.whole("min_age_days"), MaxAgeDays: t.whole("max_age_days"), MinWeightG: t.grams("min_weight_g"), Collectors: t.list("collectors")},
			Closed:  t.closed("closed"), OpenHolidays: t.yes("open_holidays"), Retired: t.yes("retired"),
			Email: t.cell("email"), Note: t.cell("note")}
		for _, w := range t.list("weekdays") {
			n, err := strconv.Atoi(w)
			if err != nil {
				t.bad("weekdays", "must be numbers 0 (Sunday) to 6 (Saturday) parted by ;, not %q", w)
				break
			}
			s.Weekdays = append(s.Weekdays, n)
		}
		if seen[s.Key] {
			t.bad("key", "%s comes twice", s.Key)
		}
		if t.count() == before {
			for _, f := range s.Faults() {
				t.bad(f.Path, "%s", f.Reason)
			}
		}
		if t.count() == before {
			seen[s.Key] = true
			out = append(out, s)
		}
	}
	return out, t.found()
}

func writeTable(head []string, n int, row func(int) []string) []byte {
	var buf bytes.Buffer
	w := csv.NewWriter(&buf)
	_ = w.Write(head) // a buffer never fails
	for i := range n {
		_ = w.Write(row(i))
	}
	w.Flush()
	return buf.Bytes()
}

func degrees(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', -1, 64)
}

func grams(g float64) string {
	if g == 0 {
		return ""
	}
	return strconv.FormatFloat(g, 'f', -1, 64)
}

func count(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

// writeClosed parts stretches by ";"; in a reason it is written as a comma.
func writeClosed(ks []Closed) string {
	parts := make([]string, len(ks))
	for i, k := range ks {
		parts[i] = k.From.String()
		if k.To > k.From {
			parts[i] += ".." + k.To.String()
		}
		if reason := strings.Join(strings.Fields(strings.ReplaceAll(k.Reason, ";", ",")), " "); reason != "" {
			parts[i] += " " + reason
		}
	}
	return strings.Join(parts, "; ")
}

func (t *tableReader) closed(column string) []Closed {
	var out []Closed
	for _, part := range t.list(column) {
		stretch, reason, _ := strings.Cut(part, " ")
		first, last, two := strings.Cut(stretch, "..")
		from, err := cases.ParseDay(first)
		to := from
		if err == nil && two {
			to, err = cases.ParseDay(last)
		}
		if err != nil {
			t.bad(column, "%v; write 2026-12-24..2026-12-31 reason, parted by ;", err)
			return nil
		}
		out = append(out, Closed{From: from, To: to, Reason: strings.TrimSpace(reason)})
	}
	return out
}

// list parts a cell by ";" and leaves empty parts out.
func (t *tableReader) list(column string) []string {
	var out []string
	for part := range strings.SplitSeq(t.cell(column), ";") {
		if part = strings.TrimSpace(part); part != "" {
			out = append(out, part)
		}
	}
	return out
}

func (t *tableReader) degrees(column string) *float64 {
	c := t.cell(column)
	if c == "" {
		return nil
	}
	v, err := strconv.ParseFloat(c, 64)
	if err != nil {
		t.bad(column, "must be degrees like -93.26, not %q", c)
		return nil
	}
	return &v
}

func (t *tableReader) grams(column string) float64 {
	c := t.cell(column)
	if c == "" {
		return 0
	}
	v, err := strconv.ParseFloat(c, 64)
	if err != nil {
		t.bad(column, "must be grams like 2500, not %q", c)
	}
	return v
}

// whole reads a whole number; an empty cell is 0.
func (t *tableReader) whole(column string) int {
	c := t.cell(column)
	if c == "" {
		return 0
	}
	n, err := strconv.Atoi(c)
	if err != nil {
		t.bad(column, "must be a whole number, not %q", c)
	}
	return n
}

func (t *tableReader) yes(column string) bool {
	switch c := strings.ToLower(t.cell(column)); c {
	case "", "no", "false", "0":
		return false
	case "yes", "true", "1":
		return true
	default:
		t.bad(column, "must be yes or no, not %q", c)
		return false
	}
}
