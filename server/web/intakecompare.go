package web

import (
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// pair is one field as sent and as on file, in the words of the page.
type pair struct{ name, sent, onFile, state string }

// compareOne sets what was sent beside one case on file.
func (s *server) compareOne(v *itemView, k *cases.Case) (intake.Comparison, []pair) {
	cmp := s.Intake.CompareWith(&v.rec.Referral, k)
	out := make([]pair, 0, len(cmp.Fields))
	for _, f := range cmp.Fields {
		if f.Sent == "" && f.OnFile == "" {
			continue
		}
		out = append(out, pair{f.Field, fieldText(f.Field, f.Sent), fieldText(f.Field, f.OnFile), f.State})
	}
	return cmp, out
}

// fieldText is a value of a comparison as the pages write it.
func fieldText(field, v string) string {
	switch {
	case v == "":
		return ""
	case field == "Sex":
		return sexWord(v)
	case strings.HasSuffix(field, "irth date"):
		if d, err := cases.ParseDay(v); err == nil {
			return shortDay(d)
		}
	}
	return shown(v)
}

// apartFields are the fields that tell twins, and infants of one name, apart; numbers
// of the screen do not for a sweat result, which has its own.
var apartFields = []string{"Birth date", "Time of birth", "Sex", "Birth order", "Record number"}

// tellsApart lists the fields that differ and tell infants apart: a given name counts
// when its twin letters differ, or when neither is a place-holder.
func (s *server) tellsApart(v *itemView, k *cases.Case) []templates.CompareRow {
	var out []templates.CompareRow
	given, has := v.rec.Referral.Infant.Given, k.Infant.Given
	_, list := s.compareOne(v, k)
	for _, p := range list {
		apart := slices.Contains(apartFields, p.name)
		switch p.name {
		case "Given name":
			apart = intake.TwinLetter(given) != intake.TwinLetter(has) || !intake.GenericName(given) && !intake.GenericName(has)
			if intake.TwinLetter(given) > 0 && intake.TwinLetter(has) > 0 && intake.TwinLetter(given) != intake.TwinLetter(has) {
				p.state = intake.StateDiffers
			}
		case "Card number", "Laboratory number":
			apart = !isSweat(v)
		}
		if p.state == intake.StateDiffers && apart {
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
		cmp, list := s.compareOne(v, k)
		on.Words, on.Weights = sentence(cmp.Level)+": "+agreeWords(list), weightFacts(&cmp)
		on.Why = strings.TrimSpace(on.Why + " " + endSentence(sentence(shown(cmp.Why))))
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
			if p.state == intake.StateDiffers {
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

// weightFacts says how the weights of the fields add up.
func weightFacts(c *intake.Comparison) []templates.Fact {
	var out []templates.Fact
	for _, f := range c.Fields {
		if f.Weight != 0 {
			out = append(out, templates.Fact{Name: f.Field, Text: fmt.Sprintf("%+.1f", f.Weight)})
		}
	}
	if len(out) == 0 {
		return nil
	}
	return append(out, templates.Fact{Name: "Together", Text: fmt.Sprintf("%+.1f", c.Weight), Note: "Above 0 speaks for the same infant, below 0 against it. The numbers order; they decide nothing about twins."})
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
