package web

import (
	"context"
	"fmt"
	"math"
	"net/http"

	"dunlin/cases"
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
	p := &templates.WeightPage{Base: s.page(c, &o.c, "Add a weight"), Reference: o.c.Reference, Doubt: doubt, DoubtError: f.errs["sure"], Ticked: f.ticked("sure", "yes"),
		Weight: f.field(templates.Field{ID: "weight", Label: "Weight", Unit: "kg", Hint: "In kilograms, like 3.27", Width: "w5", InputMode: "decimal"}),
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

// Limits of a weight that can be entered, in kg; the case document's own.
const leastKg, mostKg = 0.25, 15.0

// readWeight reads the form of a weight, and says what is unusual about it.
func (f *form) readWeight(k *cases.Case) (w cases.Weight, doubt string) {
	kg, ok := f.number("weight", "Weight")
	switch {
	case !ok:
		f.fail("weight", "Enter the weight in kilograms, like 3.27")
	case kg > 100:
		f.fail("weight", "Weight must be in kilograms. %s grams are %s kg", plainNumber(kg), plainNumber(kg/1000))
	case kg < leastKg || kg > mostKg:
		f.fail("weight", "Weight is %s kg. Infants here weigh %s to %s kg. Check the decimal point", plainNumber(kg), plainNumber(leastKg), plainNumber(mostKg))
	}
	w = cases.Weight{On: f.needDay("on", "Weighed on"), G: math.Round(kg * 1000), By: f.text("by", "Weighed by", 128)}
	switch {
	case w.On == 0:
	case w.On > f.today:
		f.fail("on", "Weighed on must be today or in the past")
	case w.On < k.Infant.Born:
		f.fail("on", "Weighed on must be on or after %s, the birth date", shortDay(k.Infant.Born))
	}
	if f.ok() {
		doubt = weightDoubt(k, w)
	}
	return w, doubt
}

// weightDoubt says what is unusual about a weight beside the one before it: a
// loss of over a tenth, or a gain of over 100 g a day (project choices, wide
// enough to stop slips of the decimal point and little else).
func weightDoubt(k *cases.Case, w cases.Weight) string {
	last := cases.Weight{On: k.Infant.Born, G: k.Infant.BirthWeightG}
	for _, x := range k.Infant.Weights {
		if x.On <= w.On && x.On >= last.On {
			last = x
		}
	}
	if last.G == 0 {
		return ""
	}
	gain := w.G - last.G
	switch {
	case gain < -last.G/10:
		return fmt.Sprintf("That is %s less than on %s, when it was %s.", templates.Kg(int(-gain)), shortDay(last.On), templates.Kg(int(last.G)))
	case gain > 100*float64(max(1, w.On-last.On))+200:
		return fmt.Sprintf("That is %s more than on %s, when it was %s.", templates.Kg(int(gain)), shortDay(last.On), templates.Kg(int(last.G)))
	}
	return ""
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
	to := "/infants/" + o.c.Reference
	err = s.submit(c, f, to, func(ctx context.Context) (templates.Notice, error) {
		now, err := s.Desk.RecordWeight(ctx, actorOf(c), o.c.ID, f.rev(), w)
		if err != nil {
			return templates.Notice{}, err
		}
		a := s.Protocol.Assess(&now, o.today)
		return templates.Notice{Head: "Weight saved.", Text: templates.Kg(int(w.G)) + " for " + infantName(&now.Infant) + ". " + readyTag(&a).Text + "."}, nil
	})
	if f.take(err, map[string]string{"g": "weight", "on": "on"}) {
		return s.invalid(c, s.weightPage(c, &o, f, doubt), f.problems)
	}
	return s.conflict(c, err, f, "the weight", to+"/weights", to, []labelled{{"weight", "Weight, kg"}, {"on", "Weighed on"}, {"by", "Weighed by"}})
}
