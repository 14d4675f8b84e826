package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// itemView is a waiting item with all that its page needs.
type itemView struct {
	item    cases.Item
	doc     cases.Received
	rec     intake.Record
	read    bool // rec holds what was read
	waiting []cases.Item
	related []cases.Case
}

func (s *server) loadItem(c Ctx) (itemView, error) {
	var v itemView
	err := s.view(c, func(r cases.Reader) error {
		var err error
		if v.item, err = r.Item(c.Param("id")); err != nil {
			return err
		}
		if v.doc, err = r.Received(v.item.Document); err != nil && cases.KindOf(err) != cases.NotFound {
			return err
		}
		if v.waiting, err = r.ItemsWaiting(); err != nil {
			return err
		}
		refs := v.item.Related
		if v.item.Reference != "" {
			refs = append(slices.Clone(refs), v.item.Reference)
		}
		for _, ref := range refs {
			k, err := r.ByReference(ref)
			if err != nil {
				if cases.KindOf(err) == cases.NotFound {
					continue
				}
				return err
			}
			v.related = append(v.related, k)
		}
		return nil
	})
	v.read = len(v.item.Read) > 0 && json.Unmarshal(v.item.Read, &v.rec) == nil
	return v, err
}

// itemForm answers GET /intake/:id.
func (s *server) itemForm(c Ctx) error {
	v, err := s.loadItem(c)
	if err != nil {
		return err
	}
	p, err := s.itemPage(c, &v, s.emptyForm(filledItem(&v, s.today())...))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

// filledItem is what was read, as the values of the form that opens a case.
func filledItem(v *itemView, today cases.Day) []string {
	r := &v.rec.Referral
	out := []string{"family", r.Infant.Family, "given", r.Infant.Given, "sex", or(r.Infant.Sex, "unknown"), "route", "screen",
		"born-at", string(r.Infant.Born.Clock), "accession", r.Accession.Number, "mother", joinName(r.Mother.Family, r.Mother.Given), "gestation", r.Infant.Gestation.String()}
	add := func(name string, d cases.Day) {
		if d != 0 {
			out = append(out, name, date(d).String())
		}
	}
	if d := r.Infant.Born.Day; d <= today {
		add("born", d)
	}
	if d := r.Sent.Day; d <= today {
		add("referred", d)
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
	if len(r.Mother.Phones) > 0 {
		out = append(out, "phone", r.Mother.Phones[0].Number)
	}
	verdict := intake.Decide(&intake.Item{Kind: v.rec.Kind, Referral: v.rec.Referral, Problems: v.rec.Problems}, intake.Settings{})
	for i, name := range verdict.Genes.Names {
		if i < alleleFields {
			out = append(out, fmt.Sprintf("variant-%d", i+1), name)
		}
	}
	return out
}

// alleleFields is how many variants the form that opens a case takes, one for
// each allele or variant of a complex allele.
const alleleFields = 3

func joinName(family, given string) string {
	return strings.Trim(family+", "+given, ", ")
}

// itemPage sets out an item: what was read beside the message as it came, and
// what can be decided.
func (s *server) itemPage(c Ctx, v *itemView, f *form) (*templates.IntakeItemPage, error) {
	p := &templates.IntakeItemPage{Base: templates.Base{Name: "Intake, " + v.item.Title, Current: "intake"}, Action: action(c), MayAct: can(c, takeIn) && v.item.Decided == nil && v.item.Outcome == string(intake.Review)}
	err := s.view(c, func(r cases.Reader) error {
		var err error
		rows := itemRows{s: s, r: r}
		if p.Item, err = rows.row(&v.item); err != nil {
			return err
		}
		for i := range v.waiting {
			row, err := rows.row(&v.waiting[i])
			if err != nil {
				return err
			}
			row.Current = row.ID == v.item.ID
			p.Waiting = append(p.Waiting, row)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, x := range v.rec.Problems {
		p.Faults = append(p.Faults, templates.IntakeProblem{Where: or(x.Where(), "the item"), Field: or(x.Value, "not sent"), Text: x.Text})
	}
	if v.read {
		p.Read = readFacts(&v.rec.Referral)
	}
	p.Raw, p.RawNote = rawText(v)
	if d := v.item.Decided; d != nil {
		p.Decided = fmt.Sprintf("Decided on %s by %s: %s. %s", shortDay(cases.DayOf(d.At.In(s.Now().Location()))), d.By, d.As, d.Reason)
	}
	if len(v.related) > 0 && v.read {
		p.Compare = compareWith(&v.rec.Referral, &v.related[0])
		p.Compare.Warning = "This may be " + v.related[0].Reference + ", or a twin. Do not decide by the name alone."
	}
	p.Decision = f.group(templates.Choice{ID: "as", Legend: "What is to be done with it?", Down: true, Options: itemOptions(v)})
	p.Reason = f.field(templates.Field{ID: "reason", Label: "Reason", Hint: "Always when it is set aside: what was found out, and from whom", Kind: "area", Rows: 2})
	p.Open = s.openFields(f)
	p.Sex = f.group(templates.Choice{ID: "sex", Legend: "Sex", Options: optionsOf(sexes)})
	p.Route = f.group(templates.Choice{ID: "route", Legend: "Referred by", Options: optionsOf(routes)})
	return p, nil
}

var sexes = []word{{"female", "Girl"}, {"male", "Boy"}, {"other", "Other"}, {"unknown", "Not known"}}

var routes = []word{{"screen", "Newborn screen"}, {"clinical", "Symptoms"}, {"sibling", "Sibling with CF"}, {"prenatal", "Before birth"}, {"meconium-ileus", "Meconium ileus"}}

// itemOptions are the decisions possible for an item; none is chosen beforehand.
func itemOptions(v *itemView) []templates.Option {
	var out []templates.Option
	for _, k := range v.related {
		if v.item.Reference == k.Reference {
			continue
		}
		out = append(out, templates.Option{Value: "twin " + k.Reference, Text: "Keep apart: a twin or sibling of " + k.Reference, Sub: "Opens a case of its own and links the two"},
			templates.Option{Value: "apart " + k.Reference, Text: "Keep apart: a different infant", Sub: "Opens a case of its own without a link"})
		break
	}
	if len(out) == 0 {
		out = append(out, templates.Option{Value: "open", Text: "Open a case by hand", Sub: "With the values below, corrected where they are wrong"})
	}
	return append(out, templates.Option{Value: "set-aside", Text: "Set aside", Sub: "No case is opened. The message is kept, with your reason"})
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

// decideItem answers POST /intake/:id.
func (s *server) decideItem(c Ctx) error {
	v, err := s.loadItem(c)
	if err != nil {
		return err
	}
	if v.item.Decided != nil || v.item.Outcome != string(intake.Review) {
		return cases.Errorf(cases.Refused, "This item was decided already. Open it to see by whom.")
	}
	f := s.readForm(c)
	var allowed []string
	for _, o := range itemOptions(&v) {
		allowed = append(allowed, o.Value)
	}
	as := f.choice("as", "Select what is to be done with it", allowed...)
	reason := f.lines("reason", "Reason", 500)
	if as == "set-aside" && reason == "" {
		f.fail("reason", "Enter why it is set aside")
	}
	var correct func(*cases.Case)
	if as != "" && as != "set-aside" {
		correct = f.readOpening(s.today())
	}
	p, err := s.itemPage(c, &v, f)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	err = s.submit(c, f, "/intake", func(ctx context.Context) (templates.Notice, error) {
		return s.decide(ctx, actorOf(c), &v, as, reason, correct)
	})
	return s.refuse(c, f, p, err, sent{"the decision", []labelled{{"as", "Decision"}, {"reason", "Reason"}}, openingField})
}

// decide carries the decision out; the form's token is kept in the same transaction.
func (s *server) decide(ctx context.Context, who cases.Actor, v *itemView, as, reason string, correct func(*cases.Case)) (n templates.Notice, err error) {
	verb, ref, _ := strings.Cut(as, " ")
	ch := intake.Choice{As: intake.Apart, Reference: ref, Link: verb == "twin", Reason: reason, Case: correct}
	switch verb {
	case "set-aside":
		ch.As = intake.SetAside
	case "open":
		ch.As = intake.Accept
	}
	item, err := s.Intake.Over(onceStore{s.Store, &s.tally}).Resolve(ctx, who, v.item.ID, ch)
	if err != nil {
		return n, err
	}
	if ch.As == intake.SetAside {
		return templates.Notice{Head: "Set aside", Text: v.item.Title + "."}, nil
	}
	return templates.Notice{Head: "Case opened", Text: v.item.Title + ", " + item.Reference + ".", LinkText: "Open the infant", Link: "/infants/" + item.Reference}, nil
}
