package csvfile

import (
	"fmt"
	"regexp"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// result reads the interpretation, the IRT and the variants.
func (rd *rowReader) result() {
	r := rd.r
	code, text := strings.ToUpper(rd.word("code")), rd.word("result")
	if strings.HasPrefix(strings.ToUpper(text), "LA") && strings.Contains(text, "-") && code == "" {
		first, rest, _ := strings.Cut(text, " ")
		code, text = strings.ToUpper(first), rest
	}
	if code != "" || text != "" {
		a := intake.Answer{Code: code, Text: text, Status: "F", At: rd.at("result")}
		if text == "" {
			a.At = rd.at("code")
		}
		r.Interpretation = []intake.Answer{a}
	}
	if v := rd.cell("irt"); v != "" {
		m := rd.measure(v, "ng/mL")
		m.At = rd.at("irt")
		if m.Doubt != "" {
			rd.problem("irt", intake.Check, "The IRT "+m.Doubt+". It is kept as text; enter the number after asking the laboratory.")
		}
		r.IRT = append(r.IRT, m)
	}
	for _, col := range []string{"variant1", "variant2", "variants"} {
		if v := rd.word(col); v != "" {
			r.Variants = append(r.Variants, intake.VariantText{Text: v, Code: "list", Sub: col, At: rd.at(col)})
		}
	}
	if c := rd.word("comment"); c != "" {
		r.Comments = append(r.Comments, c)
		r.Mention(c, true, rd.at("comment"))
	}
	if q := rd.word("quality"); q != "" {
		r.Quality = append(r.Quality, intake.Answer{Text: q, At: rd.at("quality")})
	}
}

var placeForm = regexp.MustCompile(`^(.+?),\s*([^,]+),\s*([A-Za-z]{2})\s+(\d{5}(?:-\d{4})?)$`)

// people reads the mother, the guardian, the address and primary care.
func (rd *rowReader) people() {
	r := rd.r
	m := &r.Mother
	m.Family, m.Given = rd.word("mother_last"), rd.word("mother_first")
	if m.Family == "" && m.Given == "" {
		m.Family, m.Given = splitName(rd.word("mother"))
	}
	if m.Family != "" || m.Given != "" {
		m.Relation = "MTH"
	}
	m.Born = rd.date("mother_dob").Day
	home := intake.Person{Language: intake.LanguageTag(rd.cell("language"), rd.cell("language")), Email: rd.word("email")}
	for _, col := range []string{"phone", "phone2"} {
		if v := rd.number(col); v != "" {
			home.Phones = append(home.Phones, cases.Phone{Number: v})
		}
	}
	home.Address = rd.address()
	if g := rd.word("guardian"); g != "" {
		family, given := splitName(g)
		home.Family, home.Given, home.Relation = family, given, "GRD"
		r.Guardians = append(r.Guardians, home)
	}
	r.Home = &home
	care := cases.PrimaryCare{Name: rd.word("care"), Practice: rd.word("practice"), Phone: rd.number("care_phone")}
	if care != (cases.PrimaryCare{}) {
		r.Infant.Care = &care
	}
}

func (rd *rowReader) address() *cases.Address {
	line := rd.word("address")
	a := &cases.Address{City: rd.word("city"), Region: rd.word("state"), County: rd.word("county"), Postal: rd.number("zip")}
	if g := placeForm.FindStringSubmatch(line); g != nil && a.City == "" && a.Postal == "" {
		line, a.City, a.Region, a.Postal = g[1], g[2], g[3], g[4]
	}
	for part := range strings.SplitSeq(line, ",") {
		if part = strings.TrimSpace(part); part != "" {
			a.Lines = append(a.Lines, part)
		}
	}
	if len(a.Lines) == 0 && a.City == "" && a.Postal == "" {
		return nil
	}
	return a
}

// order compares the dates of the row; what lies in the wrong order is noted.
func (rd *rowReader) order() {
	r := rd.r
	named := []struct {
		m         intake.Moment
		name, col string
	}{{r.Infant.Born, "birth", "dob"}, {r.Collected, "collection", "collected"}, {r.Received, "receipt", "received"},
		{r.Reported, "report", "reported"}, {r.Referred, "referral", "referred"}}
	for i, a := range named {
		for _, b := range named[i+1:] {
			if a.m.Day != 0 && b.m.Day != 0 && b.m.Day < a.m.Day {
				rd.problem(b.col, intake.Check, fmt.Sprintf("The %s (%s) lies before the %s (%s).", b.name, b.m.Day, a.name, a.m.Day))
			}
		}
	}
}
