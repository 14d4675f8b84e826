package web

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// mostRaw is how much of a message is shown at once.
const mostRaw = 64 << 10

var messageNumber = regexp.MustCompile(`^message (\d+)`)

// rawText is the message as it arrived, with line ends shown as lines; of a
// batch, the message of the item.
func rawText(v *itemView) (text, note string) {
	if len(v.doc.Raw) == 0 {
		return "", "The message is not kept here."
	}
	text = intake.NewDecoder("", v.doc.Raw).Text(v.doc.Raw)
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	if m := messageNumber.FindStringSubmatch(v.item.Position); m != nil {
		n, _ := strconv.Atoi(m[1])
		if part, of := messagePart(text, n); of > 1 && part != "" {
			text, note = part, fmt.Sprintf("Message %d of %d in %s.", n, of, v.doc.Name)
		}
	}
	if len(text) > mostRaw {
		text = strings.ToValidUTF8(text[:mostRaw], "")
		note += " Only the beginning is shown; all of it is kept."
	}
	return text, strings.TrimSpace(note)
}

// messagePart is the nth message of a batch, and how many there are.
func messagePart(text string, n int) (part string, of int) {
	lines := strings.Split(text, "\n")
	var b strings.Builder
	for _, l := range lines {
		if strings.HasPrefix(l, "MSH|") || len(l) > 3 && strings.HasPrefix(l, "MSH") {
			of++
		}
		if of == n && !strings.HasPrefix(l, "BTS") && !strings.HasPrefix(l, "FTS") {
			b.WriteString(l + "\n")
		}
	}
	return b.String(), of
}

// readFacts sets out what was read from an item.
func readFacts(r *intake.Referral) []templates.Fact {
	var out []templates.Fact
	add := func(name, text string) {
		if text = strings.TrimSpace(text); text != "" {
			out = append(out, templates.Fact{Name: name, Text: text})
		}
	}
	add("Infant", joinName(strings.ToUpper(r.Infant.Family), r.Infant.Given))
	add("Born", momentWords(r.Infant.Born))
	add("Sex", sexWord(r.Infant.Sex))
	if r.Infant.Plurality > 1 || r.Infant.Order > 0 {
		add("Birth order", fmt.Sprintf("%d of %d", r.Infant.Order, r.Infant.Plurality))
	}
	if r.Infant.Gestation != 0 {
		add("Gestation", gestationWords(r.Infant.Gestation))
	}
	if r.Infant.BirthWeight > 0 {
		add("Birth weight", plainNumber(r.Infant.BirthWeight)+" g")
	}
	for _, id := range r.Infant.Records {
		add("Record number", strings.TrimSpace(id.Number+" "+id.Authority))
	}
	add("Specimen number", r.Accession.Number)
	add("Card", r.Card)
	add("Mother", joinName(strings.ToUpper(r.Mother.Family), r.Mother.Given))
	for _, p := range r.Mother.Phones {
		add("Phone", p.Number)
	}
	add("Birth place", r.Infant.Facility)
	add("Collected", momentWords(r.Collected))
	add("Reported", momentWords(r.Reported))
	for _, a := range r.Interpretation {
		add("CF interpretation", strings.TrimSpace(a.Text+" "+a.Code))
	}
	for _, m := range r.IRT {
		add("IRT", strings.TrimSpace(m.Comparator+m.Text+" "+m.Unit))
	}
	for _, x := range r.Variants {
		add("CFTR variants", x.Text)
	}
	for _, t := range r.Comments {
		add("Comment", t)
	}
	for _, x := range r.Sites {
		add("Sweat test", strings.TrimSpace(x.Place+" "+x.Amount+" "+x.Chloride.Text+" "+x.Chloride.Unit))
	}
	add("Sender", strings.TrimSpace(r.Sender+" "+r.Program))
	add("Message number", r.ControlID)
	if r.Test() {
		add("Kind", "Test message")
	}
	return out
}

func momentWords(m intake.Moment) string {
	switch {
	case m.Day != 0 && m.Bad == "":
		text := shortDay(m.Day)
		if m.Clock != "" {
			text += ", " + string(m.Clock)
		}
		return text
	case m.Text != "":
		return m.Text + " (cannot be used)"
	}
	return ""
}

// compareWith sets an item beside a case on file, field by field.
func compareWith(r *intake.Referral, k *cases.Case) *templates.Compare {
	out := &templates.Compare{Reference: k.Reference, Name: infantName(&k.Infant)}
	add := func(name, now, old string) {
		if now == "" && old == "" {
			return
		}
		row := templates.CompareRow{Name: name, New: or(now, "Not sent"), Old: or(old, "Not known"), Same: strings.EqualFold(now, old)}
		if row.Same {
			out.Agree++
		}
		out.Rows = append(out.Rows, row)
	}
	c := &k.Infant
	add("Infant’s name", joinName(strings.ToUpper(r.Infant.Family), r.Infant.Given), joinName(strings.ToUpper(c.Family), c.Given))
	add("Birth date", dayText(r.Infant.Born.Day), dayText(c.Born))
	add("Time of birth", string(r.Infant.Born.Clock), string(c.BornAt))
	add("Sex", sexWord(r.Infant.Sex), sexWord(c.Sex))
	add("Birth order", orderText(r.Infant.Order, r.Infant.Plurality), orderText(c.BirthOrder, c.Plurality))
	add("Birth weight", gramText(r.Infant.BirthWeight), gramText(c.BirthWeightG))
	mother := ""
	if k.Family != nil {
		mother = k.Family.Mother
	}
	add("Mother", joinName(r.Mother.Family, r.Mother.Given), mother)
	if x := k.Referral.Screen; x != nil {
		add("Specimen number", r.Accession.Number, x.Accession)
	}
	out.Of = len(out.Rows)
	return out
}

func dayText(d cases.Day) string {
	if d == 0 {
		return ""
	}
	return shortDay(d)
}

func orderText(order, of int) string {
	if order == 0 && of == 0 {
		return ""
	}
	return fmt.Sprintf("%d of %d", order, of)
}

func gramText(g float64) string {
	if g == 0 {
		return ""
	}
	return plainNumber(g) + " g"
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
	}
	return ""
}
