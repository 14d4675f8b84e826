package web

import (
	"context"
	"net/http"

	"dunlin/templates"
)

// nameForm shows GET /infants/{ref}/name.
func (s *server) nameForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.emptyForm("family", o.c.Infant.Family, "given", o.c.Infant.Given)
	return s.render(c, http.StatusOK, s.namePage(c, &o, f))
}

func (s *server) namePage(c Ctx, o *opened, f *form) *templates.NamePage {
	return &templates.NamePage{Base: s.page(c, &o.c, "Change the name"), Reference: o.c.Reference, Former: o.c.Infant.FormerNames,
		Family: f.field(templates.Field{ID: "family", Label: "Family name", Width: "w20", NoSpell: true}),
		Given:  f.field(templates.Field{ID: "given", Label: "Given name", Hint: "A temporary name as the hospital uses it is fine", Optional: true, Width: "w20", NoSpell: true}),
		Why:    f.field(templates.Field{ID: "why", Label: "Why is it changed?", Optional: true, Width: "w20"})}
}

// changeName answers POST /infants/{ref}/name.
func (s *server) changeName(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	family := f.need("family", "Family name", "Enter the family name", 128)
	given, why := f.text("given", "Given name", 128), f.text("why", "Why", 300)
	if f.ok() && family == o.c.Infant.Family && given == o.c.Infant.Given {
		f.fail("family", "The name is the one on file already")
	}
	if !f.ok() {
		return s.invalid(c, s.namePage(c, &o, f), f.problems)
	}
	to := "/infants/" + o.c.Reference
	err = s.submit(c, f, to, func(ctx context.Context) (templates.Notice, error) {
		now, err := s.Desk.Rename(ctx, actorOf(c), o.c.ID, f.rev(), given, family, why)
		return templates.Notice{Head: "Name saved.", Text: infantName(&now.Infant) + ", " + now.Reference + ". The old name still finds the infant."}, err
	})
	if f.take(err, map[string]string{"family": "family", "given": "given"}) {
		return s.invalid(c, s.namePage(c, &o, f), f.problems)
	}
	return s.conflict(c, err, f, "the name", to+"/name", to, []labelled{{"family", "Family name"}, {"given", "Given name"}, {"why", "Why"}})
}
