package web

import (
	"context"
	"errors"
	"net/http"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// lead sends a reader of a case that was merged to the one that has everything of it.
func (s *server) lead(c Ctx, err error) bool {
	var m *movedTo
	if !errors.As(err, &m) || c.Request().Method != http.MethodGet {
		return false
	}
	to := "/infants/" + m.into
	return s.saved(c, to, templates.Notice{Kind: "info", Head: "Merged:", Text: m.from + " is " + m.into + " now. Everything of it is here."}) == nil
}

// otherCase reads another case by its reference.
func (s *server) otherCase(c Ctx, ref string) (*cases.Case, error) {
	var k cases.Case
	err := s.view(c, func(r cases.Reader) (err error) {
		k, err = r.ByReference(ref)
		return err
	})
	return &k, err
}

// mergeForm answers GET /infants/:ref/merge.
func (s *server) mergeForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.emptyForm()
	ref := strings.ToUpper(strings.TrimSpace(c.QueryParam("with")))
	p, err := s.mergePage(c, &o, f, ref)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	return s.render(c, http.StatusOK, p)
}

// mergePage sets two cases side by side; without the other one it asks for it.
func (s *server) mergePage(c Ctx, o *opened, f *form, ref string) (*templates.MergePage, error) {
	at := "/infants/" + o.c.Reference
	p := &templates.MergePage{Base: s.base(c, o, "One infant or two", "infants"), Head: "One infant, or two?", Action: at + "/merge", Back: at,
		Lead: "Compare before you decide. Merging brings tests, bookings, contacts, letters and messages into one case."}
	if ref != "" {
		other, err := s.otherCase(c, ref)
		switch {
		case err != nil && cases.KindOf(err) != cases.NotFound:
			return nil, err
		case err != nil:
			f.fail("with", "There is no infant with the reference %s", ref)
		case other.ID == o.c.ID:
			f.fail("with", "This is the same case. Enter the reference of the other one")
		case other.MergedInto() != "":
			f.fail("with", "%s was merged into %s. Enter that one", ref, other.MergedInto())
		default:
			s.fillMerge(p, o, other, f)
			return p, nil
		}
		f.values.Set("with", ref)
	}
	p.Other = f.field(templates.Field{ID: "with", Label: "Reference of the other case", Hint: caseNumberHint, Width: "w14", NoSpell: true})
	return p, nil
}

func (s *server) fillMerge(p *templates.MergePage, o *opened, other *cases.Case, f *form) {
	a, b := o.c.Reference, other.Reference
	p.Sides, p.OtherRev = s.sideBySide(&o.c, other), uint64(other.Rev)
	if why := cases.TwinsPossible(&o.c, other); why != "" {
		p.Warn = why + ". Merge only when the birth record shows that this is one infant."
	}
	p.Answer = f.group(templates.Choice{ID: "answer", Legend: "What are they?", Down: true, Options: []templates.Option{
		{Value: "two", Text: "Two infants", Sub: "They are kept apart for good and not listed as a pair again."},
		{Value: "into-other", Text: "One infant: " + b + " stays", Sub: a + " is merged into it, once another person agrees."},
		{Value: "into-this", Text: "One infant: " + a + " stays", Sub: b + " is merged into it, once another person agrees."}}})
	p.Reason = f.field(templates.Field{ID: "reason", Label: "What shows it", Hint: "Such as the birth record or the laboratory's word, and who gave it", Kind: "area", Rows: 2})
	p.Twins = f.field(templates.Field{ID: "twins", Label: "How it is known that they are not twins", Hint: "Only where twins are possible and you merge", Optional: true, Width: "w20"})
}

// mergeOrNot answers POST /infants/:ref/merge.
func (s *server) mergeOrNot(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	ref := f.text("other", "The other case", 40)
	answer := f.choice("answer", "Select what they are", "two", "into-other", "into-this")
	reason, twins := f.lines("reason", "What shows it", 500), f.text("twins", "How it is known", 300)
	if reason == "" {
		f.fail("reason", "Enter what shows it")
	}
	if ref == "" {
		return cases.Errorf(cases.Invalid, "The form does not name the other case. Open it again.")
	}
	p, err := s.mergePage(c, &o, f, ref)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	err = s.submit(c, f, "/infants/"+o.c.Reference, func(ctx context.Context) (templates.Notice, error) {
		who := actorOf(c)
		switch answer {
		case "two":
			_, err := s.Desk.KeepApart(ctx, who, o.c.ID, f.rev(), ref, reason)
			s.alike.forget()
			return templates.Notice{Head: "Kept apart.", Text: o.c.Reference + " and " + ref + " are two infants."}, err
		case "into-other":
			_, err := s.Desk.ProposeMerge(ctx, who, o.c.ID, f.rev(), ref, reason, twins)
			return proposedMerge(o.c.Reference, ref), err
		}
		other, err := s.otherCase(c, ref)
		if err != nil {
			return templates.Notice{}, err
		}
		_, err = s.Desk.ProposeMerge(ctx, who, other.ID, cases.Rev(formNumber(f, "other-rev")), o.c.Reference, reason, twins)
		return proposedMerge(ref, o.c.Reference), err
	})
	return s.refuse(c, f, p, err, sent{"the decision", []labelled{{"answer", "What they are"}, {"reason", "What shows it"}, {"twins", "How it is known that they are not twins"}},
		func(path string) string { return factField(lastPart(path)) }})
}

func proposedMerge(from, into string) templates.Notice {
	return templates.Notice{Head: "Merging proposed.", Text: from + " will be merged into " + into + " once a manager agrees. Until then both stay as they are."}
}

// formNumber reads a hidden whole number; 0 when it is none.
func formNumber(f *form, name string) uint64 {
	g := form{values: map[string][]string{"rev": {f.typed(name)}}}
	return uint64(g.rev())
}

// agreeEffect says what agreeing to a closing does.
func agreeEffect(k *cases.Case) string {
	if d := k.DuplicateOf; d != nil {
		return "Everything of " + k.Reference + " goes to " + d.Reference + ", and old links lead there. It can be taken back."
	}
	return "The case closes today."
}

// sideBySide sets two cases beside each other, with what differs marked.
func (s *server) sideBySide(a, b *cases.Case) *templates.Sides {
	out := &templates.Sides{A: templates.Side{Reference: a.Reference, Name: infantName(&a.Infant), Href: "/infants/" + a.Reference},
		B: templates.Side{Reference: b.Reference, Name: infantName(&b.Infant), Href: "/infants/" + b.Reference}}
	for _, f := range []struct {
		name string
		of   func(*cases.Case) string
	}{
		{"Family name", func(k *cases.Case) string { return k.Infant.Family }}, {"Given name", func(k *cases.Case) string { return k.Infant.Given }},
		{"Born", func(k *cases.Case) string {
			return strings.Trim(shortDay(k.Infant.Born)+" "+string(k.Infant.BornAt), " ")
		}},
		{"Sex", func(k *cases.Case) string { return sexWord(k.Infant.Sex) }}, {"Twin", func(k *cases.Case) string { return twinWords(&k.Infant) }},
		{"Gestation", func(k *cases.Case) string { return gestationWords(k.Infant.Gestation) }},
		{"Birth weight", func(k *cases.Case) string {
			if k.Infant.BirthWeightG == 0 {
				return ""
			}
			return plainNumber(k.Infant.BirthWeightG) + " g"
		}},
		{"Birth place", func(k *cases.Case) string { return k.Infant.Facility }},
		{"Record numbers", recordWords}, {"Laboratory number", func(k *cases.Case) string {
			if k.Referral.Screen == nil {
				return ""
			}
			return strings.TrimSpace(k.Referral.Screen.Accession + " " + k.Referral.Screen.Laboratory)
		}},
		{"Mother", func(k *cases.Case) string {
			if k.Family == nil {
				return ""
			}
			return k.Family.Mother
		}},
		{"Telephone", phoneWords}, {"Referred", func(k *cases.Case) string { return shortDay(k.Referral.On) }},
		{"Siblings on record", func(k *cases.Case) string { return strings.Join(k.Siblings, ", ") }},
		{"Recorded", func(k *cases.Case) string {
			return templates.Count(len(k.SweatTests), "sweat test", "sweat tests") + ", " + templates.Count(len(k.Bookings), "booking", "bookings") + ", " +
				templates.Count(len(k.Contacts), "contact", "contacts") + ", " + templates.Count(len(k.Letters), "letter", "letters")
		}},
		{"State", func(k *cases.Case) string {
			as := s.protocol().Assess(k, s.today())
			return caseTag(&as).Text
		}},
	} {
		x, y := f.of(a), f.of(b)
		l := templates.SideLine{Name: f.name, A: templates.Whole(or(x, "Not known"), false), B: templates.Whole(or(y, "Not known"), false)}
		if x != y && x != "" && y != "" && f.name != "Recorded" && f.name != "State" {
			l.Differs = true
			l.A, l.B = templates.Differences(x, y)
		}
		out.Lines = append(out.Lines, l)
	}
	return out
}

func recordWords(k *cases.Case) string {
	var out []string
	for _, r := range k.Infant.Records {
		out = append(out, strings.TrimSpace(r.Number+" "+r.Authority))
	}
	return strings.Join(out, ", ")
}

func phoneWords(k *cases.Case) string {
	if k.Family == nil {
		return ""
	}
	var out []string
	for _, g := range k.Family.Guardians {
		for _, p := range g.Phones {
			out = append(out, p.Number)
		}
	}
	return strings.Join(out, ", ")
}
