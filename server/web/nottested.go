package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// notDoneReasons are why an infant who came was not tested, with the hold that each
// implies (protocol.md, section 1: reasons to wait or ask first).
var notDoneReasons = []struct{ value, text, hold string }{
	{"weight", "Too light", ""},
	{"unwell", "Unwell: acute illness", "acute-illness"},
	{"dehydration", "Dehydrated", "dehydration"},
	{"oedema", "Swollen (edema)", "oedema"},
	{"steroids", "Takes steroids", "steroids"},
	{"oxygen", "On oxygen", "oxygen"},
	{"skin", "No sound skin at a site", "skin"},
	{"implanted-device", "Implanted device: to be asked first", "implanted-device"},
	{"seizures", "Seizures: to be asked first", "seizures"},
	{"identity", "Name and birth date did not match", ""},
	{"equipment", "Equipment or supplies of the site", ""},
	{"site", "The site could not test for another reason", ""},
	{"parent", "The parent did not want the test today", ""},
	{"other", "Another reason", ""},
}

// talks are what was said with the family that came.
var talks = []word{{"talked, understood", "Talked, understood"}, {"talked, call back", "Talked, call back"}, {"none", "No talk"}}

// notDoneForm answers GET /infants/:ref/tests/not-done.
func (s *server) notDoneForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	on := o.today
	if d, err := cases.ParseDay(c.QueryParam("on")); err == nil && d <= o.today {
		on = d
	}
	return s.render(c, http.StatusOK, s.notDonePage(c, &o, s.emptyForm("on", date(on).String()), nil))
}

func (s *server) notDonePage(c Ctx, o *opened, f *form, list []templates.Warning) *templates.NotDonePage {
	p := &templates.NotDonePage{Base: s.base(c, o, "Not tested", "schedule"), Head: shortName(&o.c.Infant) + " came and was not tested", Lead: visitWords(&o.a) + ". Everything found on the visit is saved in one go.",
		Action: action(c), Back: back(c, o.c.Reference), Cautions: []string{cautionSaltLoss, cautionNotDiagnosis},
		MissedHint: "The family did not come? Mark the booking as missed on the schedule. The family declines testing altogether? A coordinator records that as a fact of the case."}
	p.On = f.field(templates.Field{ID: "on", Label: "Day of the visit", Hint: "Like 5 Mar 2026 or today", Width: "w14"})
	why := templates.Choice{ID: "why", Legend: "Why was no test made?", Down: true}
	for _, r := range notDoneReasons {
		opt := templates.Option{Value: r.value, Text: r.text}
		if r.hold != "" {
			opt.Sub = "Puts the infant on hold"
		}
		why.Options = append(why.Options, opt)
	}
	p.Why = f.group(why)
	p.Words = f.field(templates.Field{ID: "words", Label: "In words", Optional: true, Kind: "area", Rows: 2})
	p.Weight = f.field(templates.Field{ID: "weight", Label: "Weight", Hint: "In kilograms, like 3.27. Leave empty when the infant was not weighed", Unit: "kg", Width: "w5", InputMode: "decimal"})
	p.Until = f.field(templates.Field{ID: "until", Label: "First day without the reason", Hint: "For a hold, where it is known", Optional: true, Width: "w14"})
	p.Look = f.field(templates.Field{ID: "look-again", Label: "Ask again on", Hint: "For a hold. Left empty: 3 working days later", Optional: true, Width: "w14"})
	p.Talk = f.group(templates.Choice{ID: "talk", Legend: "Was it talked over with the family?", Down: true, Options: optionsOf(talks)})
	p.Person = f.field(templates.Field{ID: "person", Label: "Who came with the infant", Optional: true, Width: "w20", NoSpell: true})
	if on, problem := parseDay(f.typed("on"), o.today); problem == "" {
		for i := range o.c.Bookings {
			if b := &o.c.Bookings[i]; b.On == on && (b.State == "booked" || b.State == "kept") {
				p.Booking = s.bookingWords(b)
			}
		}
	}
	p.GoOn = f.goOnPart(list, "Why it is right all the same")
	return p
}

// readNotDone reads the form, and says what is unusual about the weight.
func (f *form) readNotDone(o *opened) (x cases.NotTested, list []templates.Warning) {
	x.On = f.needDay("on", "Day of the visit")
	switch {
	case x.On > o.today:
		f.fail("on", "Day of the visit must be today or in the past")
	case x.On != 0 && x.On < o.c.Infant.Born:
		f.fail("on", "Day of the visit must be on or after %s, the birth date", shortDay(o.c.Infant.Born))
	}
	var values []string
	for _, r := range notDoneReasons {
		values = append(values, r.value)
	}
	why := f.choice("why", "Select why no test was made", values...)
	for _, r := range notDoneReasons {
		if r.value == why {
			x.Reason, x.Hold = r.text, r.hold
		}
	}
	words := f.lines("words", "In words", 500)
	if why == "other" && words == "" {
		f.fail("words", "Enter the reason in words")
	}
	if words != "" {
		x.Reason += ": " + strings.Join(strings.Fields(words), " ")
	}
	x.WeightG = f.weightG()
	if why == "weight" && x.WeightG == 0 {
		f.fail("weight", "Enter the weight that was found, in kg")
	}
	if x.WeightG != 0 && x.On != 0 {
		if doubt := weightDoubt(&o.c, cases.Weight{On: x.On, G: x.WeightG}); doubt != "" {
			list = append(list, templates.Warning{ID: "weight", Text: "Weight: " + doubt, Tick: "The weight is right"})
		}
	}
	f.readNotDoneHold(&x)
	talk, person := f.choice("talk", "Select whether it was talked over with the family", valuesOf(talks)...), f.text("person", "Who came with the infant", 120)
	if talk != "" && talk != "none" {
		x.Contact = &cases.Contact{By: "in-person", Reached: true, Outcome: talk, Person: person, Note: "Came, not tested: " + x.Reason}
	} else if person != "" {
		x.Note = "Came, not tested. With the infant: " + person
	}
	return x, list
}

// readNotDoneHold reads the days of the hold; they belong to a reason that is one.
func (f *form) readNotDoneHold(x *cases.NotTested) {
	x.Until, x.Look = f.day("until", "First day without the reason"), f.day("look-again", "Ask again on")
	switch {
	case x.Hold == "" && x.Until != 0:
		f.fail("until", "First day without the reason is only for a reason that puts the infant on hold. Remove it, or select another reason")
	case x.Hold == "" && x.Look != 0:
		f.fail("look-again", "Ask again on is only for a reason that puts the infant on hold. Remove it, or select another reason")
	case x.Until != 0 && x.Until < x.On:
		f.fail("until", "First day without the reason must be on or after the day of the visit")
	case x.Look != 0 && x.Look < x.On:
		f.fail("look-again", "Ask again on must be on or after the day of the visit")
	}
}

// notDone answers POST /infants/:ref/tests/not-done.
func (s *server) notDone(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	x, list := f.readNotDone(&o)
	if f.ok() && len(list) > 0 {
		_, why := f.goOn(list, "Why it is right all the same")
		x.Note = strings.TrimSpace(x.Note + " " + fmt.Sprintf("Weight saved all the same: %s", why))
	}
	p := s.notDonePage(c, &o, f, list)
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	err = s.submit(c, f, nextPath(c, o.c.Reference), func(ctx context.Context) (templates.Notice, error) {
		k, err := s.Desk.NotTested(ctx, actorOf(c), o.c.ID, f.rev(), x)
		if err != nil {
			return templates.Notice{}, err
		}
		a := s.protocol().Assess(&k, o.today)
		return templates.Notice{Head: "Visit saved", Text: fmt.Sprintf("%s, %s: came, not tested. Next: %s%s.", infantName(&k.Infant), k.Reference, a.ActionWord(), dueWords(&a))}, nil
	})
	return s.refuse(c, f, p, err, sent{"the visit", []labelled{{"on", "Day of the visit"}, {"why", "Why no test was made"}, {"words", "In words"}, {"weight", "Weight, kg"},
		{"until", "First day without the reason"}, {"look-again", "Ask again on"}, {"talk", "Talked over"}, {"person", "Who came"}, {"go-on-why", "Why it is right all the same"}}, notDoneField})
}

// notDoneField gives the field of the form for a path of the case document.
func notDoneField(path string) string {
	switch last := lastPart(path); last {
	case "g":
		return "weight"
	case "look_again":
		return "look-again"
	case "until", "on":
		return last
	}
	return "why-0"
}
