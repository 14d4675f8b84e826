package intake

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// The levels of a comparison, in words. Between them are KindTwin and KindSame: a
// person decides.
const (
	LevelCertain = "the same infant"
	LevelTwin    = "a twin or sibling of one birth"
	LevelClash   = "another infant with the same number"
	LevelApart   = "another infant"
)

// The states of one field of a comparison.
const (
	StateSame    = "same"
	StateDiffers = "differs" // also names that are alike but not written the same
	StateMissing = "missing" // one of them does not say
)

// Comparison is what was sent beside a case on file. Weight is the sum of the
// fields' weights (log2 of a likelihood ratio); it orders and never decides alone.
type Comparison struct {
	Weight float64
	Level  string // LevelCertain, LevelTwin, LevelClash, LevelApart, KindTwin or KindSame
	Why    string // what agrees and what differs, in words
	Fields []FieldPair
}

// FieldPair is one field of both, as text. Weight is 0 for fields that are compared by
// rule alone, and for a fact that says nothing new.
type FieldPair struct {
	Field, Sent, OnFile string
	State               string // StateSame, StateDiffers or StateMissing
	Weight              float64
}

// fieldWords name the fields.
var fieldWords = [fieldCount]string{"Birth date", "Time of birth", "Sex", "Surname", "Given name", "Birth order", "Number born together",
	"Birth weight", "Birth place", "Postal code", "Mother's given name", "Mother's surname", "Mother's birth date", "Phone",
	"Card number", "Laboratory number", "Record number", "Mother's record number"}

// stateWords say the states; isAlike is a difference to the eye.
var stateWords = [...]string{isMissing: StateMissing, isSame: StateSame, isAlike: StateDiffers, isDifferent: StateDiffers}

// levelWords say the levels other than doubtful.
var levelWords = [...]string{apart: LevelApart, clash: LevelClash, twin: LevelTwin, doubtful: KindSame, certain: LevelCertain}

// CompareWith compares what was sent with one case, field by field, for people. It
// knows only this case: that another one fits as well is seen at intake.
func (in *Intake) CompareWith(r *Referral, c *cases.Case) Comparison {
	m := &in.protocol().Matching
	sent, file := factsSent(r), factsOf(c)
	e := compare(&sent, &file, c, m, nil)
	lv, kind := e.judge(m)
	out := Comparison{Weight: e.weight, Level: levelWords[lv], Why: e.why(r, c)}
	if lv == doubtful {
		out.Level = kind
	}
	for f := range fieldCount {
		a, b := f.texts(r, c)
		out.Fields = append(out.Fields, FieldPair{Field: fieldWords[f], Sent: a, OnFile: b, State: stateWords[e.states[f]], Weight: e.weights[f]})
	}
	return out
}

// texts gives both values of a field as people read them.
func (f field) texts(r *Referral, c *cases.Case) (sent, onFile string) {
	in, on := &r.Infant, &c.Infant
	screen := c.Referral.Screen
	if screen == nil {
		screen = &cases.Screen{}
	}
	mg, mf := c.Mother()
	switch f {
	case fBorn:
		if sent = in.Born.Day.String(); in.Born.Day == 0 {
			sent = in.Born.Text
		}
		return sent, on.Born.String()
	case fTime:
		return string(in.Born.Clock), string(on.BornAt)
	case fSex:
		return sexText(in.Sex, in.Given), sexText(on.Sex, on.Given)
	case fSurname:
		return in.Family, listed(append([]string{on.Family}, on.FormerNames...))
	case fGiven:
		return in.Given, on.Given
	case fOrder:
		return orderText(in.Order, in.Given), orderText(on.BirthOrder, on.Given)
	case fPlurality:
		if sent = count(in.Plurality); sent == "" {
			sent = map[string]string{"Y": "more than one", "N": "not a multiple birth"}[in.Multiple]
		}
		return sent, count(on.Plurality)
	case fBirthWeight:
		return grams(in.BirthWeight), grams(on.BirthWeightG)
	case fFacility:
		return in.Facility, on.Facility
	case fPostal, fPhone:
		return f.reach(r, c)
	case fMotherGiven:
		return r.Mother.Given, mg
	case fMotherName:
		return r.Mother.Family, mf
	case fMotherBorn:
		on := cases.Day(0)
		if c.Family != nil {
			on = c.Family.MotherBorn
		}
		return r.Mother.Born.String(), on.String()
	case fCard:
		return listed([]string{r.Card, r.FirstCard}), screen.CardSerial
	case fAccession:
		return r.Accession.Number, screen.Accession
	case fRecord, fMotherRecord:
		return f.records(r, c)
	}
	return "", ""
}

// reach lists telephone numbers or postal codes.
func (f field) reach(r *Referral, c *cases.Case) (sent, onFile string) {
	people := append([]Person{r.Mother}, r.Guardians...)
	if r.Home != nil {
		people = append(people, *r.Home)
	}
	list := func(phones []cases.Phone, a *cases.Address) (out []string) {
		if f == fPostal && a != nil {
			return []string{a.Postal}
		}
		for _, p := range phones {
			if f == fPhone {
				out = append(out, p.Number)
			}
		}
		return out
	}
	var here, there []string
	for i := range people {
		here = append(here, list(people[i].Phones, people[i].Address)...)
	}
	for _, g := range guardians(c) {
		there = append(there, list(g.Phones, g.Address)...)
	}
	return listed(here), listed(there)
}

// records lists the infant's or the mother's record numbers with who gave them.
func (f field) records(r *Referral, c *cases.Case) (sent, onFile string) {
	name := func(number, authority string) string {
		if number == "" || authority == "" {
			return number
		}
		return number + " (" + authority + ")"
	}
	var here, there []string
	if f == fMotherRecord {
		here = append(here, name(r.Infant.MotherID.Number, r.Infant.MotherID.Authority))
	} else {
		for _, id := range r.Infant.Records {
			here = append(here, name(id.Number, id.Authority))
		}
	}
	for _, n := range c.Infant.Records {
		mothers := strings.HasPrefix(n.Authority, motherRecord)
		if n.Authority == cardRecord || mothers != (f == fMotherRecord) {
			continue
		}
		there = append(there, name(n.Number, strings.TrimPrefix(strings.TrimPrefix(n.Authority, motherRecord), ", ")))
	}
	return listed(here), listed(there)
}

// listed joins the texts that are there, each once.
func listed(list []string) string {
	var out []string
	for _, s := range list {
		out = appendOnce(out, s)
	}
	return strings.Join(out, ", ")
}

func appendOnce(list []string, s string) []string {
	for _, have := range list {
		if fold(have) == fold(s) {
			return list
		}
	}
	if strings.TrimSpace(s) == "" {
		return list
	}
	return append(list, s)
}

// sexText says the sex, or what a place-holder name says of it.
func sexText(sex, given string) string {
	if hint := cases.SplitNewborn(given).Sex; (sex == "" || sex == "unknown") && hint != "" {
		return hint + " by the name"
	}
	return sex
}

// orderText says the birth order, or what a place-holder name says of it.
func orderText(order int, given string) string {
	if hint := cases.SplitNewborn(given); order == 0 && hint.Placeholder && hint.Order != 0 {
		return count(hint.Order) + " by the name"
	}
	return count(order)
}

func count(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprint(n)
}

func grams(g float64) string {
	if g == 0 {
		return ""
	}
	return fmt.Sprintf("%.0f g", g)
}

// why says what agrees and what differs. Dates, sex and numbers of the birth stand with
// both values; names and record numbers are only named here, for reasons are printed and
// the page shows both.
func (e *evidence) why(r *Referral, c *cases.Case) string {
	var agree, differ, named []string
	for f := range fieldCount {
		word := strings.ToLower(fieldWords[f])
		switch e.states[f] {
		case isSame:
			if f != fPlurality && f != fPostal {
				agree = append(agree, word)
			}
		case isAlike, isDifferent:
			switch f {
			case fPostal, fFacility, fPhone, fCard, fAccession: // these change for one infant
			case fSurname, fGiven, fMotherGiven, fMotherName, fMotherBorn, fRecord, fMotherRecord:
				named = append(named, word)
			default:
				a, b := f.texts(r, c)
				differ = append(differ, fmt.Sprintf("%s %s here, %s on file", word, Shorten(a), Shorten(b)))
			}
		}
	}
	if len(named) > 0 {
		differ = append(differ, "another "+sentenceList(named))
	}
	out := "nothing that both say agrees"
	if len(agree) > 0 {
		out = "the same " + sentenceList(agree)
	}
	if len(differ) > 0 {
		out += "; but " + strings.Join(differ, "; ")
	}
	return out
}

// sentenceList writes a list in words: a, b and c.
func sentenceList(list []string) string {
	if k := len(list) - 1; k > 0 {
		return strings.Join(list[:k], ", ") + " and " + list[k]
	}
	return strings.Join(list, "")
}
