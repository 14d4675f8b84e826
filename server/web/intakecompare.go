package web

import (
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// pair is one field as sent and as on file.
type pair struct{ name, sent, onFile, state string }

// stateOf compares two values as text.
func stateOf(sent, onFile string) string {
	switch {
	case sent == "" || onFile == "":
		return "missing"
	case strings.EqualFold(sent, onFile):
		return "same"
	}
	return "differs"
}

// pairs sets what was sent beside a case on file, field by field.
func pairs(r *intake.Referral, k *cases.Case) []pair {
	var out []pair
	add := func(name, sent, onFile string) {
		if sent != "" || onFile != "" {
			out = append(out, pair{name, sent, onFile, stateOf(sent, onFile)})
		}
	}
	c := &k.Infant
	known := func(sex string) string {
		if sex == "unknown" || sex == "" {
			return ""
		}
		return sexWord(sex)
	}
	add(nameField, joinName(strings.ToUpper(r.Infant.Family), r.Infant.Given), joinName(strings.ToUpper(c.Family), c.Given))
	add("Birth date", dayText(r.Infant.Born.Day), dayText(c.Born))
	add("Time of birth", string(r.Infant.Born.Clock), string(c.BornAt))
	add("Sex", known(r.Infant.Sex), known(c.Sex))
	add("Birth order", orderText(r.Infant.Order, r.Infant.Plurality), orderText(c.BirthOrder, c.Plurality))
	add("Birth weight", gramText(r.Infant.BirthWeight), gramText(c.BirthWeightG))
	mother := ""
	if k.Family != nil {
		mother = k.Family.Mother
	}
	add("Mother", joinName(r.Mother.Family, r.Mother.Given), mother)
	if x := k.Referral.Screen; x != nil && !r.SweatTest {
		add("Specimen number", r.Accession.Number, x.Accession)
	}
	return out
}

const nameField = "Infant’s name"

// apartFields are the fields that tell twins, and infants of one name, apart.
var apartFields = []string{"Birth date", "Time of birth", "Sex", "Birth order", "Specimen number"}

// tellsApart lists the fields that differ and tell infants apart: a name counts when
// its twin letters differ.
func (s *server) tellsApart(v *itemView, k *cases.Case) []templates.CompareRow {
	var out []templates.CompareRow
	for _, p := range pairs(&v.rec.Referral, k) {
		letters := p.name == nameField && intake.TwinLetter(v.rec.Referral.Infant.Given) != intake.TwinLetter(k.Infant.Given)
		if p.state == "differs" && (letters || slices.Contains(apartFields, p.name)) {
			now, old := templates.Differences(p.sent, p.onFile)
			out = append(out, templates.CompareRow{Name: p.name, New: now, Differs: true, On: []templates.CompareCell{{Reference: k.Reference, Value: old, State: p.state}}})
		}
	}
	return out
}

// compareAll sets an item beside every infant on file that it may be about.
func (s *server) compareAll(v *itemView) *templates.Compare {
	out := &templates.Compare{Head: "Compare with the infant on file"}
	if len(v.near) > 1 {
		out.Head = "Compare with the infants on file"
	}
	at := map[string]int{}
	for i := range v.near {
		k := &v.near[i]
		on := templates.CompareInfant{Reference: k.Reference, Name: infantName(&k.Infant)}
		if a := s.protocol().Assess(k, s.today()); a.Closed {
			on.State = "closed"
		}
		if i >= v.asked {
			on.Why = "A sibling of an infant above: the message may be about this one."
		}
		list := pairs(&v.rec.Referral, k)
		on.Words = agreeWords(list)
		out.On = append(out.On, on)
		for _, p := range list {
			n, ok := at[p.name]
			if !ok {
				n = len(out.Rows)
				at[p.name] = n
				out.Rows = append(out.Rows, templates.CompareRow{Name: p.name, New: templates.Whole(or(p.sent, "Not sent"), false)})
			}
			row := &out.Rows[n]
			for len(row.On) < i { // an infant before had nothing here
				row.On = append(row.On, missingCell(v.near[len(row.On)].Reference))
			}
			cell := templates.CompareCell{Reference: k.Reference, Value: templates.Whole(or(p.onFile, "Not known"), false), State: p.state}
			if p.state == "differs" {
				now, old := templates.Differences(p.sent, p.onFile)
				row.Differs, cell.Value = true, old
				if len(v.near) == 1 {
					row.New = now
				}
			}
			row.On = append(row.On, cell)
		}
	}
	for i := range out.Rows {
		for len(out.Rows[i].On) < len(v.near) {
			out.Rows[i].On = append(out.Rows[i].On, missingCell(v.near[len(out.Rows[i].On)].Reference))
		}
	}
	if waits(&v.item) {
		out.Warning = compareWarning(v)
	}
	return out
}

func missingCell(ref string) templates.CompareCell {
	return templates.CompareCell{Reference: ref, Value: templates.Whole("Not known", false), State: "missing"}
}

// agreeWords counts the fields of a comparison in words.
func agreeWords(list []pair) string {
	n := map[string]int{}
	for _, p := range list {
		n[p.state]++
	}
	out := fmt.Sprintf("%d of %s agree", n["same"], templates.Count(len(list), "field", "fields"))
	if n["same"] == 1 {
		out += "s"
	}
	if n["differs"] > 0 {
		out += fmt.Sprintf(", %d differ", n["differs"])
		if n["differs"] == 1 {
			out += "s"
		}
	}
	if n["missing"] > 0 {
		out += fmt.Sprintf(", %d stand on one side only", n["missing"])
		if n["missing"] == 1 {
			out = strings.Replace(out, " stand ", " stands ", 1)
		}
	}
	return out + "."
}

// compareWarning says what must not be overlooked before a decision.
func compareWarning(v *itemView) string {
	if twinsPossible(v, v.near) {
		return "Twins are possible. Put this on a case only when the birth place or the laboratory says which infant it is."
	}
	return "This may be " + v.near[0].Reference + ", or another infant. Do not decide by the name alone."
}

// twinsPossible tells whether a message or one of these infants is, or may be, one of
// several.
func twinsPossible(v *itemView, near []cases.Case) bool {
	r := &v.rec.Referral
	if v.item.Kind == intake.KindTwin || r.Infant.Plurality > 1 || r.Infant.Multiple == "Y" || intake.TwinLetter(r.Infant.Given) > 0 {
		return true
	}
	return slices.ContainsFunc(near, func(k cases.Case) bool {
		return k.Infant.Plurality > 1 || len(k.Siblings) > 0 || intake.TwinLetter(k.Infant.Given) > 0
	})
}
