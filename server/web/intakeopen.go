package web

import (
	"fmt"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

var sexes = []word{{"female", "Girl"}, {"male", "Boy"}, {"other", "Other"}, {"unknown", "Not known"}}

var routes = func() (out []word) {
	for _, r := range cases.Routes {
		out = append(out, word{r, cases.RouteWord(r)})
	}
	return out
}()

// filledItem is what was read, as the values of the form that opens a case.
func (s *server) filledItem(v *itemView) []string {
	r, today := &v.rec.Referral, s.today()
	route, accession := "screen", r.Accession.Number
	if isSweat(v) { // its number is the sweat test's
		route, accession = "clinical", ""
	}
	out := []string{"family", r.Infant.Family, "given", r.Infant.Given, "sex", or(r.Infant.Sex, "unknown"), "route", route,
		"born-at", string(r.Infant.Born.Clock), "accession", accession, "mother", joinName(r.Mother.Family, r.Mother.Given), "gestation", r.Infant.Gestation.String()}
	add := func(name string, d cases.Day) {
		if d != 0 {
			out = append(out, name, date(d).String())
		}
	}
	if d := r.Infant.Born.Day; d <= today {
		add("born", d)
	}
	for _, d := range []cases.Day{v.rec.Mail, r.Sent.Day} {
		if d != 0 && d <= today {
			add("referred", d)
			break
		}
	}
	if w := r.Infant.BirthWeight; w > 0 {
		out = append(out, "birth-weight", plainNumber(w))
	}
	if n := r.Infant.Plurality; n > 0 {
		out = append(out, "plurality", fmt.Sprint(n))
	}
	if n := r.Infant.Order; n > 0 {
		out = append(out, "order", fmt.Sprint(n))
	}
	for _, p := range append([]intake.Person{r.Mother}, r.Guardians...) {
		if len(p.Phones) > 0 {
			out = append(out, "phone", p.Phones[0].Number)
			break
		}
	}
	verdict := intake.Decide(&intake.Item{Kind: v.rec.Kind, Referral: v.rec.Referral, Problems: v.rec.Problems}, intake.Settings{})
	for i, name := range verdict.Genes.Names {
		if i < alleleFields {
			out = append(out, fmt.Sprintf("variant-%d", i+1), name)
		}
	}
	return append(out, filledSweat(r)...)
}

// alleleFields is how many variants the form that opens a case takes, one for
// each allele or variant of a complex allele.
const alleleFields = 3

func joinName(family, given string) string {
	return strings.Trim(family+", "+given, ", ")
}

// openFields are the fields of a case that is opened by hand.
func (s *server) openFields(f *form) []templates.Field {
	list := []templates.Field{
		{ID: "family", Label: "Family name", NoSpell: true, Width: "w20"}, {ID: "given", Label: "Given name", Optional: true, NoSpell: true, Width: "w20"},
		{ID: "born", Label: "Birth date", Hint: "Like 20 Feb 2026", Width: "w14"}, {ID: "born-at", Label: "Time of birth", Optional: true, Width: "w5"},
		{ID: "gestation", Label: "Gestation", Hint: "Weeks and days, like 39w2d", Optional: true, Width: "w5"},
		{ID: "birth-weight", Label: "Birth weight", Unit: "g", Optional: true, Width: "w5", InputMode: "numeric"},
		{ID: "plurality", Label: "Infants of this birth", Hint: "2 for twins", Optional: true, Width: "w4", InputMode: "numeric"},
		{ID: "order", Label: "Birth order", Optional: true, Width: "w4", InputMode: "numeric"},
		{ID: "referred", Label: "Day of referral", Hint: "The day the message reached the program", Width: "w14"},
		{ID: "accession", Label: "Specimen number", Optional: true, NoSpell: true, Width: "w14"},
		{ID: "mother", Label: "Mother’s name", Optional: true, NoSpell: true, Width: "w20"}, {ID: "phone", Label: "Phone of the family", Optional: true, InputMode: "tel", Width: "w14"},
	}
	for i := 1; i <= alleleFields; i++ {
		list = append(list, templates.Field{ID: fmt.Sprintf("variant-%d", i), Label: fmt.Sprintf("CFTR variant %d", i), Optional: true, NoSpell: true, Width: "w14"})
	}
	list[len(list)-alleleFields].Hint = "As the laboratory wrote it. A homozygous variant is entered twice"
	for i := range list {
		list[i] = f.field(list[i])
	}
	return list
}

// readOpening reads the fields of a case that is opened by hand and gives the
// change of what intake had read.
func (f *form) readOpening(today cases.Day) func(*cases.Case) {
	family := f.need("family", "Family name", "Enter the family name, or BABY when there is none yet", 128)
	given := f.text("given", "Given name", 128)
	born, at := f.needDay("born", "Birth date"), f.time("born-at", "Time of birth")
	referred := f.needDay("referred", "Day of referral")
	sex := f.pick("sex", "Select the sex, or not known", valuesOf(sexes)...)
	route := f.pick("route", "Select how the infant was referred", valuesOf(routes)...)
	accession := f.text("accession", "Specimen number", 64)
	mother, phone := f.text("mother", "Mother’s name", 128), f.text("phone", "Phone of the family", 32)
	if born > today {
		f.fail("born", "Birth date must be today or in the past")
	}
	if referred > today {
		f.fail("referred", "Day of referral must be today or in the past")
	}
	var gest cases.Gestation
	if t := f.text("gestation", "Gestation", 10); t != "" {
		var err error
		if gest, err = cases.ParseGestation(t); err != nil {
			f.fail("gestation", "Gestation must be weeks and days, like 39w2d")
		}
	}
	weight := f.count("birth-weight", "Birth weight", leastWeightG, mostWeightG, "Birth weight is in grams, from 250 to 15,000")
	plural := f.count("plurality", "Infants of this birth", 1, 12, "Infants of this birth must be from 1 to 12")
	order := f.count("order", "Birth order", 1, 12, "Birth order must be from 1 to 12")
	var variants []cases.Variant
	for i := 1; i <= alleleFields; i++ {
		if name := f.text(fmt.Sprintf("variant-%d", i), fmt.Sprintf("CFTR variant %d", i), 80); name != "" {
			variants = append(variants, cases.Variant{Name: name, Phase: "unknown"})
		}
	}
	return func(c *cases.Case) {
		if g := c.Genotype; g != nil {
			g.Variants = variants
		} else if len(variants) > 0 {
			c.Genotype = &cases.Genotype{Reported: max(referred, born), Scope: "panel", Variants: variants}
		}
		in := &c.Infant
		in.Family, in.Given, in.Born, in.BornAt, in.Sex, in.Gestation = family, given, born, at, sex, gest
		in.BirthWeightG, in.Plurality, in.BirthOrder = weight, int(plural), int(order)
		c.Referral.On, c.Referral.Route = referred, route
		if accession != "" {
			if c.Referral.Screen == nil {
				c.Referral.Screen = &cases.Screen{}
			}
			c.Referral.Screen.Accession = accession
		}
		if mother == "" && phone == "" {
			return
		}
		if c.Family == nil {
			c.Family = &cases.Family{}
		}
		if mother != "" {
			c.Family.Mother = mother
		}
		if phone != "" && len(c.Family.Guardians) == 0 {
			last, first, _ := strings.Cut(mother, ",")
			c.Family.Guardians = []cases.Guardian{{Family: strings.TrimSpace(last), Given: strings.TrimSpace(first), Relation: "mother", Phones: []cases.Phone{{Number: phone}}}}
		}
	}
}

// count reads a number between two limits; 0 when empty.
func (f *form) count(name, label string, least, most float64, problem string) float64 {
	v, ok := f.number(name, label)
	if ok && (v < least || v > most) {
		f.fail(name, "%s. It is %s", problem, plainNumber(v))
	}
	return v
}

// openingField gives the field of the form for a path of the case document.
func openingField(path string) string {
	switch path {
	case "infant.born":
		return "born"
	case "infant.gestation":
		return "gestation"
	case "infant.birth_weight_g":
		return "birth-weight"
	case "infant.plurality":
		return "plurality"
	case "infant.birth_order":
		return "order"
	case "referral.on":
		return "referred"
	case "reference":
		return "case"
	case "reason":
		return "reason"
	}
	return sweatField(path)
}
