package web

import (
	"context"
	"net/http"

	"dunlin/cases"
	"dunlin/templates"
)

// contactForm shows GET /infants/{ref}/contacts/new.
func (s *server) contactForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	log := logForm(s.clock(s.Now()))
	if o.a.PresumptiveCF && o.a.Next.Step == cases.StepReferAtOnce {
		log.With = log.With.Choose("specialist")
	} else if o.a.Next.Step == cases.StepTellPrimary {
		log.With = log.With.Choose("primary-care")
	}
	return s.render(c, http.StatusOK, s.contactPage(c, &o, log, c.QueryParam("back")))
}

func (s *server) contactPage(c Ctx, o *opened, log templates.LogForm, back string) *templates.LogPage {
	if back != "overdue" {
		back = ""
	}
	return &templates.LogPage{Base: s.page(c, &o.c, "Log a contact"), Reference: o.c.Reference, Log: log,
		Flags: flagWords(&o.c, o.today), Phones: phonesOf(&o.c), Back: back, Go: back == "overdue"}
}

var contactLabels = []labelled{{"with", "Who"}, {"by", "How"}, {"outcome", "What happened"}, {"person", "Spoke to or wrote to"}, {"used", "Number or address used"},
	{"on", "Day"}, {"at", "Time"}, {"note", "Note"}, {"next_try", "Next try"}}

// readContact reads the form of a contact.
func (f *form) readContact() cases.Contact {
	k := cases.Contact{
		With: f.choice("with", "Select who was contacted", valuesOf(contactWith)...),
		By:   f.choice("by", "Select how", valuesOf(contactBy)...), Outcome: f.choice("outcome", "Select what happened", outcomeValues()...),
		Person: f.text("person", "Spoke to or wrote to", 128), Used: f.text("used", "Number or address used", 200),
		On: f.needDay("on", "Day"), At: f.time("at", "Time"), Note: f.text("note", "Note", 1000), NextTry: f.day("next_try", "Next try"),
	}
	k.Reached = reachedBy(k.Outcome)
	if k.On > f.today {
		f.fail("on", "Day must be today or in the past")
	}
	if k.NextTry != 0 && k.NextTry < f.today {
		f.fail("next_try", "Next try must be today or later")
	}
	return k
}

// filled shows the form again as it was sent.
func (f *form) filled(l templates.LogForm) templates.LogForm {
	l.With, l.By, l.Outcome = f.group(l.With), f.group(l.By), f.group(l.Outcome)
	l.Person, l.Used, l.On, l.At = f.field(l.Person), f.field(l.Used), f.field(l.On), f.field(l.At)
	l.Note, l.NextTry = f.field(l.Note), f.field(l.NextTry)
	return l
}

// logContact answers POST /infants/{ref}/contacts.
func (s *server) logContact(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	k := f.readContact()
	again := func() error {
		return s.invalid(c, s.contactPage(c, &o, f.filled(logForm("")), f.typed("back")), f.problems)
	}
	if !f.ok() {
		return again()
	}
	to := "/infants/" + o.c.Reference
	if f.typed("back") == "overdue" {
		to = "/overdue"
		if f.typed("go") == "next" {
			to += s.rowAfter(c, o.c.Reference)
		}
	}
	err = s.submit(c, f, to, func(ctx context.Context) (templates.Notice, error) {
		now, err := s.Desk.RecordContact(ctx, actorOf(c), o.c.ID, f.rev(), k)
		if err != nil {
			return templates.Notice{}, err
		}
		text := "for " + infantName(&now.Infant) + ", " + now.Reference + "."
		if k.NextTry != 0 {
			text += " Next try " + date(k.NextTry).Weekday() + "."
		}
		return templates.Notice{Head: "Contact saved", Text: text}, nil
	})
	if f.take(err, map[string]string{"on": "on", "at": "at", "next_try": "next_try"}) {
		return again()
	}
	return s.conflict(c, err, f, "the contact", "/infants/"+o.c.Reference+"/contacts", "/infants/"+o.c.Reference, contactLabels)
}

// rowAfter is the anchor of the row after an infant on the overdue list, so
// that a round of calls goes on there; "" at the end.
func (s *server) rowAfter(c Ctx, ref string) string {
	list, err := s.Book.Today(c.Request().Context())
	if err != nil {
		return ""
	}
	for i := range list.Items[:max(0, len(list.Items)-1)] {
		if list.Items[i].Case.Reference != ref {
			continue
		}
		page := ""
		if (i+1)/pageRows > 0 {
			page = "?page=" + plainNumber(float64((i+1)/pageRows+1))
		}
		return page + "#row-" + list.Items[i+1].Case.Reference
	}
	return ""
}
