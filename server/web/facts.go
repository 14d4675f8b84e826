package web

import (
	"context"
	"net/http"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// factForm is a small form that records one kind of fact about an infant.
type factForm struct {
	path   string      // behind /infants/:ref
	right  cases.Right // who may record it
	name   string      // name of the page
	button string
	what   string // "the hold", in an edit conflict
	saved  string // heading of the notice: "Hold placed"
	labels []labelled
	// set fills head, lead and parts of the page; its error says why the fact
	// cannot be recorded now.
	set func(s *server, e *factEdit, p *templates.FactPage) error
	// start gives the values of an empty form; nil for none.
	start func(e *factEdit) []string
	// read reads the form and gives what saves it; problems go to e.f.
	read func(s *server, e *factEdit) func(ctx context.Context, who cases.Actor) (cases.Case, error)
}

// factEdit is such a form about one infant; n is the number in its address.
type factEdit struct {
	opened
	f    *form
	n    int
	more bool   // the form gets fields for one guardian more
	said string // what the notice says besides, once it was saved
}

// add puts fields and choices on the page with what was typed.
func (e *factEdit) add(p *templates.FactPage, parts ...any) {
	for _, x := range parts {
		switch v := x.(type) {
		case templates.Field:
			v = e.f.field(v)
			p.Parts = append(p.Parts, templates.FactPart{Field: &v})
		case radios:
			c := e.f.group(templates.Choice(v))
			p.Parts = append(p.Parts, templates.FactPart{Radios: &c})
		case templates.Choice:
			v = e.f.group(v)
			p.Parts = append(p.Parts, templates.FactPart{Select: &v})
		}
	}
}

// radios is a choice shown as radio buttons.
type radios templates.Choice

// factRoutes are the addresses of all fact forms.
func (s *server) factRoutes() []route {
	var out []route
	for i := range factForms {
		k := &factForms[i]
		out = append(out,
			get("/infants/:ref"+k.path, seeCases, func(c Ctx) error { return s.factForm(c, k) }),
			post("/infants/:ref"+k.path, seeCases, func(c Ctx) error { return s.recordFact(c, k) }))
	}
	return out
}

func (s *server) loadFact(c Ctx, k *factForm, f *form) (*factEdit, *templates.FactPage, error) {
	if !actorOf(c).May(k.right) {
		return nil, nil, cases.Errorf(cases.Forbidden, "Your role does not let you do this. Ask a coordinator.")
	}
	o, err := s.load(c)
	if err != nil {
		return nil, nil, err
	}
	e := &factEdit{opened: o, f: f}
	if c.Param("n") != "" {
		if e.n, err = index(c, len(o.c.Holds)); err != nil {
			return nil, nil, err
		}
	}
	return e, &templates.FactPage{Base: s.base(c, &e.opened, k.name, "infants"), Action: action(c), Back: "/infants/" + o.c.Reference, Button: k.button}, nil
}

// factForm shows the form.
func (s *server) factForm(c Ctx, k *factForm) error {
	e, p, err := s.loadFact(c, k, s.emptyForm())
	if err != nil {
		return err
	}
	if k.start != nil {
		e.f = s.emptyForm(k.start(e)...)
	}
	if err := k.set(s, e, p); err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

// recordFact reads the form and saves it.
func (s *server) recordFact(c Ctx, k *factForm) error {
	e, p, err := s.loadFact(c, k, s.readForm(c))
	if err != nil {
		return err
	}
	do := k.read(s, e)
	if err := k.set(s, e, p); err != nil {
		return err
	}
	if !e.f.ok() {
		return s.invalid(c, p, e.f.problems)
	}
	err = s.submit(c, e.f, "/infants/"+e.c.Reference, func(ctx context.Context) (templates.Notice, error) {
		x, err := do(ctx, actorOf(c))
		if err != nil {
			return templates.Notice{}, err
		}
		a := s.protocol().Assess(&x, e.today)
		return templates.Notice{Head: k.saved, Text: infantName(&x.Infant) + ", " + x.Reference + ". " + e.said + "Next: " + a.ActionWord() + dueWords(&a) + "."}, nil
	})
	return s.refuse(c, e.f, p, err, sent{k.what, k.labels, func(path string) string { return factField(lastPart(path)) }})
}

// factField gives the field of a form for the last part of a path.
func factField(last string) string {
	switch last {
	case "look_again":
		return "look-again"
	case "not_after":
		return "not-after"
	case "max_km":
		return "max-km"
	case "by_whom":
		return "by-whom"
	case "explained_by":
		return "explained-by"
	case "ended_why":
		return "why"
	case "reference":
		return "other"
	case "born_at":
		return "born-at"
	case "birth_order":
		return "order"
	case "twins", "from", "until", "reason", "reported", "scope", "on", "to", "by", "kind", "text", "born", "sex", "plurality", "records", "accession":
		return last
	}
	return ""
}

// factLinks are the fact forms that a person may use for a case now.
func (s *server) factLinks(c Ctx, o *opened) []templates.Link {
	at, who := "/infants/"+o.c.Reference, actorOf(c)
	var out []templates.Link
	add := func(on bool, r cases.Right, path, text string) {
		if on && who.May(r) {
			out = append(out, templates.Link{Href: at + path, Text: text})
		}
	}
	d, h := o.c.Declined, o.c.Handover
	for i := range o.c.Holds {
		if x := &o.c.Holds[i]; x.Until == 0 || x.Until > o.today {
			add(true, cases.PlaceHolds, "/holds/"+itoa(i)+"/end", "End the hold: "+cases.HoldWord(x.Reason))
		}
	}
	open := !o.a.Closed
	add(open, cases.PlaceHolds, "/holds/new", "Place a hold")
	add(true, cases.EnterReports, "/genotype", "CFTR report")
	add(open || o.a.ClosedAs == "crms-cfspid", cases.BookTests, "/visits", "How the family can come")
	add(true, cases.EditIdentity, "/identity", "Correct birth date, sex or numbers")
	add(true, cases.EditIdentity, "/family", "Family and address")
	add(true, cases.EditIdentity, "/primary-care", "Primary care")
	add(open, cases.LogContacts, "/consents/new", "Consent to text, e-mail or voicemail")
	add(open && len(agreedTo(&o.c, o.today)) > 0, cases.LogContacts, "/consents/withdraw", "Consent taken back")
	add(open && o.a.Repeat != nil && o.a.Repeat.Because == string(cases.Intermediate), cases.VerifyTests, "/repeat-order", "Order of a repeat")
	add(open && (d == nil || d.WithdrawnOn != 0), cases.EditIdentity, "/decline", "The family declined")
	add(open && d != nil && d.WithdrawnOn == 0, cases.EditIdentity, "/decline/withdraw", "The family changed its mind")
	add(open && h == nil, cases.EditIdentity, "/handover", "Hand over")
	add(open && h != nil && h.AcceptedOn == 0, cases.EditIdentity, "/handover/accept", "Hand-over accepted")
	add(true, cases.SetFlags, "/flags/new", "Contact flag")
	add(true, cases.SeeCases, "/notes/new", "Note")
	keepLinks(o, add)
	return out
}

// openHold is the index of the hold that leads on a day: the oldest open one, or
// -1.
func openHold(k *cases.Case, on cases.Day) int {
	lead := -1
	for i := range k.Holds {
		h := &k.Holds[i]
		if h.From <= on && (h.Until == 0 || on < h.Until) && (lead < 0 || h.From < k.Holds[lead].From) {
			lead = i
		}
	}
	return lead
}

// noteFacts are the notes of a case, the latest first.
func noteFacts(k *cases.Case) []templates.Fact {
	var out []templates.Fact
	for i := len(k.Notes) - 1; i >= 0; i-- {
		n := &k.Notes[i]
		out = append(out, templates.Fact{Name: shortDay(n.On), Text: n.Text, Note: strings.Trim(n.By+". "+n.Struck, ". ")})
	}
	return out
}
