package web

import (
	"context"
	"net/http"

	"dunlin/templates"
)

// weightForm shows GET /infants/{ref}/weights/new.
func (s *server) weightForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, s.weightPage(c, &o, s.emptyForm("on", "today"), ""))
}

func (s *server) weightPage(c Ctx, o *opened, f *form, doubt string) *templates.WeightPage {
	p := &templates.WeightPage{Base: s.page(c, &o.c, "Add a weight"), Reference: o.c.Reference, Action: weightsAt(c, o.c.Reference), Back: back(c, o.c.Reference), Doubt: doubt, DoubtError: f.errs["sure"], Ticked: f.ticked("sure", "yes"),
		Weight: f.field(templates.Field{ID: "weight", Label: "Weight", Unit: "kg", Hint: "In kilograms, like 3.27; or with its unit, like 3270 g", Width: "w5", InputMode: "decimal"}),
		On:     f.field(templates.Field{ID: "on", Label: "Weighed on", Hint: "Like 5 Mar 2026, today or yesterday", Width: "w14"}),
		By:     f.field(templates.Field{ID: "by", Label: "Weighed by", Hint: "A person or a place", Optional: true, Width: "w14", NoSpell: true})}
	weights := o.c.Infant.Weights
	for _, i := range newestFirst(len(weights), func(i int) string { return weights[i].On.String() }) {
		p.Earlier = append(p.Earlier, templates.Fact{Name: date(weights[i].On).String(), Text: templates.Kg(int(weights[i].G + 0.5)), Note: weights[i].By})
	}
	if g := o.c.Infant.BirthWeightG; g > 0 {
		p.Earlier = append(p.Earlier, templates.Fact{Name: date(o.c.Infant.Born).String(), Text: templates.Kg(int(g + 0.5)), Note: "At birth"})
	}
	return p
}

// weightsAt is where the form of a weight is sent.
func weightsAt(c Ctx, ref string) string {
	at := "/infants/" + ref + "/weights"
	if c.QueryParam("from") == "schedule" {
		at += "?from=schedule"
	}
	return at
}

// addWeight answers POST /infants/{ref}/weights.
func (s *server) addWeight(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	w, doubt := f.readWeight(&o.c)
	if doubt != "" && !f.ticked("sure", "yes") {
		f.fail("sure", "Check the weight, then tick that it is right")
	}
	if !f.ok() {
		return s.invalid(c, s.weightPage(c, &o, f, doubt), f.problems)
	}
	to := back(c, o.c.Reference)
	err = s.submit(c, f, to, func(ctx context.Context) (templates.Notice, error) {
		now, err := s.Desk.RecordWeight(ctx, actorOf(c), o.c.ID, f.rev(), w)
		if err != nil {
			return templates.Notice{}, err
		}
		a := s.Protocol.Assess(&now, o.today)
		n := templates.Notice{Head: "Weight saved.", Text: templates.Kg(int(w.G)) + " for " + infantName(&now.Infant) + ". " + readyTag(&a).Text + "."}
		if to == "/schedule" {
			n.LinkText, n.Link = "Open the infant", "/infants/"+now.Reference
		}
		return n, nil
	})
	if f.take(err, map[string]string{"g": "weight", "on": "on"}) {
		return s.invalid(c, s.weightPage(c, &o, f, doubt), f.problems)
	}
	return s.conflict(c, err, f, "the weight", weightsAt(c, o.c.Reference), "/infants/"+o.c.Reference, []labelled{{"weight", "Weight, kg"}, {"on", "Weighed on"}, {"by", "Weighed by"}})
}
