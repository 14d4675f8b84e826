package csvfile

import (
	"regexp"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// rowReader reads the cells of one row.
type rowReader struct {
	it   *intake.Item
	r    *intake.Referral
	row  row
	cols columns
	s    intake.Settings
}

func (rd *rowReader) problem(col string, s intake.Severity, text string) {
	p := intake.Problem{Severity: s, Row: rd.row.line, Text: text}
	if i, ok := rd.cols.at[col]; ok {
		p.Column = strings.TrimSpace(rd.cols.names[i])
		if i < len(rd.row.cells) {
			p.Value = intake.Shorten(rd.row.cells[i])
		}
	}
	rd.it.Problems = append(rd.it.Problems, p)
}

func (rd *rowReader) at(col string) intake.Problem {
	p := intake.Problem{Row: rd.row.line}
	if i, ok := rd.cols.at[col]; ok {
		p.Column = strings.TrimSpace(rd.cols.names[i])
	}
	return p
}

// cell gives the trimmed value of a column. A value that begins like a formula is
// only ever shown as text.
func (rd *rowReader) cell(col string) string {
	i, ok := rd.cols.at[col]
	if !ok || i >= len(rd.row.cells) {
		return ""
	}
	return strings.Join(strings.Fields(rd.row.cells[i]), " ")
}

var (
	scientific = regexp.MustCompile(`^[+-]?\d+([.,]\d+)?[eE][+-]?\d+$`)
	formula    = regexp.MustCompile(`^(=|@|[+-][A-Za-z(])`)
)

// number reads an identifier as text. Scientific notation has lost digits, and a
// formula is no number: both go to a person.
func (rd *rowReader) number(col string) string {
	v := strings.TrimPrefix(rd.cell(col), "'")
	switch {
	case scientific.MatchString(v):
		rd.problem(col, intake.Fault, "The number was changed by a spreadsheet into scientific notation and has lost digits. Ask the sender for the number as text.")
		return ""
	case formula.MatchString(v):
		rd.problem(col, intake.Fault, "The cell begins like a formula and is shown as text only. Ask the sender for the value.")
		return ""
	}
	return v
}

// word reads a name or another short text; a formula is refused in the same way.
func (rd *rowReader) word(col string) string {
	v := rd.cell(col)
	if formula.MatchString(v) {
		rd.problem(col, intake.Fault, "The cell begins like a formula and is shown as text only. Ask the sender for the value.")
		return ""
	}
	return v
}

func (rd *rowReader) read() {
	r := rd.r
	r.Screen, r.ListNoCodes = true, true
	r.Sender = rd.word("laboratory")
	r.Processing = strings.ToUpper(rd.cell("test_message"))
	switch r.Processing {
	case "Y", "YES", "TRUE", "1":
		r.Processing = "T"
	case "N", "NO", "FALSE", "0":
		r.Processing = ""
	}
	r.Card, r.Accession.Number = rd.number("card"), rd.number("accession")
	r.Accession.Authority = r.Sender
	rd.infant()
	rd.people()
	rd.result()
	r.Referred = rd.date("referred")
	r.Sent = r.Referred
	r.Collected, r.Received, r.Reported = rd.date("collected"), rd.date("received"), rd.date("reported")
	rd.order()
	rd.besides()
}

func (rd *rowReader) infant() {
	in := &rd.r.Infant
	in.Family, in.Given = rd.word("last"), rd.word("first")
	if in.Family == "" && in.Given == "" {
		in.Family, in.Given = splitName(rd.word("name"))
	}
	in.Generic = intake.GenericName(in.Given)
	in.Born = rd.date("dob")
	if in.Born.Text == "" {
		rd.problem("dob", intake.Check, "The birth date is missing.")
	}
	rd.birthTime(in)
	switch s := strings.ToLower(rd.cell("sex")); s {
	case "":
	case "f", "female", "girl":
		in.Sex = "female"
	case "m", "male", "boy":
		in.Sex = "male"
	case "o", "other":
		in.Sex = "other"
	case "u", "unknown", "x":
		in.Sex = "unknown"
	default:
		in.Sex = "unknown"
		rd.problem("sex", intake.Note, "The sex cannot be read.")
	}
	rd.plural(in)
	if n := rd.number("mrn"); n != "" {
		in.Records = append(in.Records, intake.Identifier{Number: n, Authority: rd.word("facility")})
	}
	if n := rd.number("mother_mrn"); n != "" {
		in.MotherID = intake.Identifier{Number: n, Authority: rd.word("facility")}
	}
	in.Facility = rd.word("facility")
	rd.weights(in)
	if d := rd.cell("died"); d != "" {
		switch strings.ToLower(d) {
		case "n", "no", "false", "0":
		case "y", "yes", "true", "1":
			in.Deceased = true
		default:
			in.Deceased, in.Died = true, rd.date("died")
		}
	}
}

func (rd *rowReader) birthTime(in *intake.Infant) {
	t := rd.cell("birth_time")
	if t == "" {
		return
	}
	if len(t) == 4 && !strings.Contains(t, ":") {
		t = t[:2] + ":" + t[2:]
	}
	if len(t) == 4 && t[1] == ':' {
		t = "0" + t
	}
	c, err := cases.ParseClock(t[:min(len(t), 5)])
	if err != nil || (len(t) > 5 && t[5] != ':') {
		rd.problem("birth_time", intake.Check, "The time of birth cannot be read.")
		return
	}
	in.Born.Clock = c
}

func (rd *rowReader) plural(in *intake.Infant) {
	if v := rd.cell("plurality"); v != "" {
		switch strings.ToLower(v) {
		case "y", "yes":
			in.Multiple = "Y"
		case "n", "no":
			in.Multiple = "N"
		default:
			if in.Plurality = intake.PluralityWord(v); in.Plurality == 0 {
				rd.problem("plurality", intake.Check, "The number of infants born together cannot be read.")
			}
		}
	}
	letter := intake.TwinLetter(in.Given)
	if v := rd.cell("order"); v != "" {
		n := intake.PluralityWord(v)
		if len(v) == 1 && n == 0 && v[0]|0x20 >= 'a' && v[0]|0x20 <= 'f' {
			n = int(v[0]|0x20-'a') + 1
		}
		if n == 0 {
			rd.problem("order", intake.Check, "The birth order cannot be read.")
		}
		in.Order = n
	}
	switch {
	case in.Order == 0:
		in.Order = letter
	case letter != 0 && letter != in.Order:
		rd.problem("order", intake.Check, "The birth order does not fit the letter in the name.")
	}
	if in.Order > 1 && (in.Plurality == 1 || in.Multiple == "N" || in.Plurality > 1 && in.Order > in.Plurality) {
		rd.problem("order", intake.Check, "The birth order does not fit the number of infants born. It was not taken over.")
		in.Order = 0
	}
}

func (rd *rowReader) weights(in *intake.Infant) {
	for _, w := range [][2]string{{"weight_g", "g"}, {"weight_kg", "kg"}, {"weight", ""}} {
		col, unit := w[0], w[1]
		v := rd.cell(col)
		if v == "" {
			continue
		}
		m := rd.measure(v, unit)
		g, why := intake.Grams(m)
		if why != "" {
			rd.problem(col, intake.Check, "The birth weight "+why)
			if g == 0 {
				in.WeightText = strings.TrimSpace(v + " " + unit)
			}
		}
		in.BirthWeight = g
	}
	if v := rd.cell("gestation"); v != "" {
		g, why := intake.ReadGestation(v, "")
		if why != "" {
			rd.problem("gestation", intake.Check, "The gestation "+why)
		}
		in.Gestation = g
	}
}

// measure reads a number; a comma is a decimal comma only where the sender's
// settings say so.
func (rd *rowReader) measure(v, unit string) intake.Measure {
	m := intake.Measure{Text: v, Unit: unit}
	var num string
	m.Comparator, num = intake.Comparator(v)
	if f := strings.Fields(num); len(f) == 2 {
		num, m.Unit = f[0], f[1]
	}
	if rd.s.CommaDecimals && strings.Count(num, ",") == 1 && !strings.Contains(num, ".") {
		num = strings.Replace(num, ",", ".", 1)
	}
	m.SetNumber(num)
	return m
}

// splitName reads "Last, First" or "First Last".
func splitName(s string) (family, given string) {
	if l, f, ok := strings.Cut(s, ","); ok {
		return strings.TrimSpace(l), strings.TrimSpace(f)
	}
	if i := strings.LastIndexByte(s, ' '); i > 0 {
		return s[i+1:], s[:i]
	}
	return s, ""
}
