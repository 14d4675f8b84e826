package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// twinGap is how long after its twin an infant is offered a time, in minutes.
const twinGap = 40

// bookForm answers GET /infants/:ref/book.
func (s *server) bookForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	if err := booking.MayBook(&o.c, &o.a); err != nil {
		return err
	}
	f := s.emptyForm("on", s.offerDay(&o), "site", s.offerSite(&o), "sibling", "yes")
	if twin, at := bookedSibling(&o); twin != nil {
		f.values.Set("on", date(twin.On).String())
		f.values.Set("site", twin.Site)
		f.values.Set("at", at)
	}
	return s.showBooking(c, &o, f, -1)
}

// offerDay is the first working day from tomorrow on which the infant is
// expected to be ready; "" when nobody can say.
func (s *server) offerDay(o *opened) string {
	r := &o.a.Readiness
	day := max(r.Earliest, o.today+1)
	if r.WaitingFor.Has(cases.WaitWeight) {
		if r.Weight.Estimate == nil || r.Weight.Estimate.Late == 0 {
			return ""
		}
		day = max(day, r.Weight.Estimate.Late)
	}
	if r.WaitingFor.Has(cases.WaitHold) {
		return ""
	}
	for cal := s.protocol().Calendar(); !cal.Working(day); {
		day++
	}
	return date(day).String()
}

// offerSite is the site of the latest booking, or the only one.
func (s *server) offerSite(o *opened) string {
	if n := len(o.c.Bookings); n > 0 {
		return o.c.Bookings[n-1].Site
	}
	if list := s.sites(); len(list) == 1 {
		return list[0].Key
	}
	return ""
}

// bookedSibling is the booking ahead of an infant of the same birth, and a later
// time on that day.
func bookedSibling(o *opened) (*cases.Booking, string) {
	for i := range o.siblings {
		k := &o.siblings[i]
		if j := placesOf(k, o.today).ahead; j >= 0 && sameBirth(&o.c, k) {
			return &k.Bookings[j], laterBy(k.Bookings[j].At, twinGap)
		}
	}
	return nil, ""
}

// sameBirth tells twins from older siblings: born at most a day apart.
func sameBirth(a, b *cases.Case) bool {
	d := a.Infant.Born - b.Infant.Born
	return d >= -1 && d <= 1
}

// laterBy is a time some minutes later, "" past midnight or without a time.
func laterBy(at cases.Clock, minutes int) string {
	if at == "" {
		return ""
	}
	m := minuteOf(at) + minutes
	if m >= 24*60 {
		return ""
	}
	return fmt.Sprintf("%02d:%02d", m/60, m%60)
}

// unbookedTwin is an infant of the same birth that needs a booking too.
func (s *server) unbookedTwin(o *opened) *cases.Case {
	for i := range o.siblings {
		k := &o.siblings[i]
		x := scheduled{c: *k, a: s.protocol().Assess(k, o.today), own: placesOf(k, o.today)}
		if sameBirth(&o.c, k) && groupOf(&x, o.today) != "" {
			return k
		}
	}
	return nil
}

// showBooking answers with the booking form as nobody has sent it yet.
func (s *server) showBooking(c Ctx, o *opened, f *form, moving int) error {
	p, err := s.bookPage(c, o, f, moving)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

// bookPage sets out the booking form, with places of sessions where the program has
// them; moving is the index of the booking that moves, or -1.
func (s *server) bookPage(c Ctx, o *opened, f *form, moving int) (*templates.BookPage, error) {
	p := s.handPage(c, o, f, moving)
	return p, s.addPlaces(c, p, o, f, moving)
}

// handPage sets out the form on which day, time and site are typed.
func (s *server) handPage(c Ctx, o *opened, f *form, moving int) *templates.BookPage {
	name := shortName(&o.c.Infant)
	p := &templates.BookPage{Base: s.base(c, o, "Book a sweat test", "schedule"), Head: "Book a sweat test for " + name, Button: "Book",
		Action: action(c), Back: back(c, o.c.Reference), State: readyTag(&o.a), Mets: s.readyMets(o), Estimate: s.estimateText(&o.a), Cautions: testDayCautions}
	p.Lead = visitWords(&o.a) + "."
	if r := o.a.Repeat; r != nil {
		p.Lead = fmt.Sprintf("%s, due %s.", visitWords(&o.a), date(r.Due).Weekday())
	} else if k := o.a.Clocks.FirstTest; k.Running {
		p.Lead = fmt.Sprintf("First test, due by %s.", date(k.Due).Weekday())
	}
	p.On = f.field(templates.Field{ID: "on", Label: "Day", Hint: "Like 12 Mar 2026, tomorrow or +2d", Width: "w14"})
	p.At = f.field(templates.Field{ID: "at", Label: "Time", Hint: "24-hour clock, like 09:40", Width: "w5", InputMode: "numeric"})
	p.Site = f.group(s.siteChoice("Test site", f.typed("site")))
	for i := range o.c.Bookings {
		b := &o.c.Bookings[i]
		p.Scheduled = append(p.Scheduled, s.bookingWords(b)+": "+b.State)
	}
	if moving >= 0 {
		p.Name = "Move a booking, " + o.c.Reference
		p.Head, p.Button, p.Moving = "Move the booking of "+name, "Move", s.bookingWords(&o.c.Bookings[moving])
		why := f.field(templates.Field{ID: "why", Label: "Why it moves", Width: "w20"})
		p.Why = &why
		return p
	}
	if twin, _ := bookedSibling(o); twin != nil {
		p.Sibling = &templates.SiblingBooking{Booked: s.bookingWords(twin)}
		for i := range o.siblings {
			if k := &o.siblings[i]; placesOf(k, o.today).ahead >= 0 {
				p.Sibling.Name, p.Sibling.Reference = infantName(&k.Infant), k.Reference
			}
		}
	} else if k := s.unbookedTwin(o); k != nil {
		a := s.protocol().Assess(k, o.today)
		sib := infantName(&k.Infant)
		p.Sibling = &templates.SiblingBooking{Name: sib, Reference: k.Reference, Note: readyTag(&a).Text + ".", Tick: f.typed("sibling") == "yes", Rev: uint64(k.Rev),
			At: f.field(templates.Field{ID: "sibling-at", Label: "Time for " + sib, Hint: fmt.Sprintf("Another time; %d minutes later when left empty", twinGap), Width: "w5", InputMode: "numeric"})}
	}
	return p
}

// readyMets are the conditions of a test with what each is today.
func (s *server) readyMets(o *opened) []templates.Met {
	p, r := s.protocol(), &o.a.Readiness
	age := int(o.today - o.c.Infant.Born)
	mets := []templates.Met{{Met: !r.WaitingFor.Has(cases.WaitAge), Name: "Age", Value: templates.Days(age),
		Note: fmt.Sprintf("%s or more, from %s", templates.Days(p.MinAgeDays), shortDay(r.AgeFrom))}}
	weight, note := s.weightWords(&o.a)
	least := templates.Kg(int(p.MinWeightG)) + " or more; "
	if p.WeightStrictlyAbove {
		least = "over " + templates.Kg(int(p.MinWeightG)) + "; "
	}
	mets = append(mets, templates.Met{Met: !r.WaitingFor.Has(cases.WaitWeight), Name: "Weight", Value: weight, Note: least + note})
	gest := templates.Met{Met: !r.WaitingFor.Has(cases.WaitGestation), Name: "Corrected gestational age", Value: "Not known", Note: "Gestation is not known. It does not block a test; ask"}
	if o.c.Infant.Gestation != 0 {
		gest.Value = gestationWords(o.c.Infant.Gestation + cases.Gestation(max(0, age)))
		gest.Note = fmt.Sprintf("%s or more, from %s", gestationWords(p.MinCorrectedGestation), shortDay(r.GestationFrom))
	}
	mets = append(mets, gest)
	hold := templates.Met{Met: !r.WaitingFor.Has(cases.WaitHold), Name: "Holds", Value: "None"}
	if !hold.Met {
		hold.Value = "Open"
		for i := range o.c.Holds {
			if h := &o.c.Holds[i]; h.From <= o.today && (h.Until == 0 || o.today < h.Until) {
				hold.Note = sentence(cases.HoldWord(h.Reason)) + " since " + shortDay(h.From)
			}
		}
	}
	return append(mets, hold)
}

// bookingWords is a booking in words: day, time, site.
func (s *server) bookingWords(b *cases.Booking) string {
	out := date(b.On).Weekday()
	if b.At != "" {
		out += ", " + string(b.At)
	}
	if b.Site != "" {
		out += ", " + s.siteName(b.Site)
	}
	return out
}

// book answers POST /infants/:ref/book.
func (s *server) book(c Ctx) error { return s.bookOrMove(c, false) }

// moveForm answers GET /infants/:ref/bookings/:n/move.
func (s *server) moveForm(c Ctx) error {
	o, i, err := s.loadBooking(c, true)
	if err != nil {
		return err
	}
	b := &o.c.Bookings[i]
	if err := stillBooked(b); err != nil {
		return err
	}
	return s.showBooking(c, &o, s.emptyForm("site", b.Site), i)
}

// move answers POST /infants/:ref/bookings/:n/move: one booking cancelled, one
// booked.
func (s *server) move(c Ctx) error { return s.bookOrMove(c, true) }

func (s *server) bookOrMove(c Ctx, moves bool) error {
	o, i, err := s.loadBooking(c, moves)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	b := f.readBooking(s, &o, i)
	why := ""
	if moves {
		why = f.need("why", "Why it moves", "Enter why the booking moves", 300)
	}
	if bySession, err := s.bookedBySession(c, b.Site); err != nil {
		return err
	} else if bySession {
		f.fail("site", "%s has sessions. Select one of its places", s.siteName(b.Site))
	}
	list := s.bookWarnings(&o, b)
	goOn, reason := f.goOn(list, "Why it is booked all the same")
	if reason != "" {
		reason = "Booked in spite of: " + warningIDs(list) + ". " + reason
	}
	ask := booking.Ask{Case: o.c.ID, Rev: f.rev(), Site: b.Site, On: b.On, At: b.At, ByHand: true, Override: f.readOverride(), Reason: strings.TrimSpace(why + " " + reason)}
	asks := append([]booking.Ask{ask}, f.readSibling(s, &o, &b, i, reason)...)
	f.needVersion()
	p, err := s.bookPage(c, &o, f, i)
	if err != nil {
		return err
	}
	p.GoOn, p.Over = goOn, f.overPart("")
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	err = s.submit(c, f, back(c, o.c.Reference), func(ctx context.Context) (templates.Notice, error) {
		return s.savePlace(ctx, actorOf(c), &o, i, asks)
	})
	return s.refuseHand(c, f, p, err)
}

// refuseHand answers what the domain would not book by hand: an infant that is not
// ready with the fields of the override, anything else at its field.
func (s *server) refuseHand(c Ctx, f *form, p *templates.BookPage, err error) error {
	var e *cases.Error
	if errors.As(err, &e) {
		switch {
		case e.Field == booking.NeedsOverride:
			p.Over = f.overPart(e.Text)
			return s.invalid(c, p, append(f.problems, templates.Problem{Field: "override-by", Text: e.Text}))
		case e.Field == "override.by" || e.Field == "override.reason":
			f.fail(strings.ReplaceAll(e.Field, ".", "-"), "%s", faultText(e))
			p.Over = f.overPart("Readiness or the site speaks against this day. A named person may decide to book all the same.")
			return s.invalid(c, p, f.problems)
		case e.Kind == cases.Invalid && len(e.Faults) == 0:
			id := bookingField("." + e.Field)
			f.fail(id, "%s", e.Text)
			return s.invalid(c, p, f.problems)
		}
	}
	return s.refuse(c, f, p, err, sent{"the booking", []labelled{{"on", "Day"}, {"at", "Time"}, {"site", "Test site"}, {"why", "Why it moves"}, {"go-on-why", "Why it is booked all the same"}, {"override-by", "Who decided"}, {"override-reason", "Why"}}, bookingField})
}

// overPart asks who decided to book although something speaks against the day: once the
// domain has asked, or when the answer was typed.
func (f *form) overPart(refused string) *templates.OverridePart {
	if _, asked := f.values["override-by"]; !asked && refused == "" {
		return nil
	}
	return &templates.OverridePart{Refused: or(refused, "Readiness or the site speaks against this day."),
		By:     f.field(templates.Field{ID: "override-by", Label: "Who decided", Hint: "Name and role", Width: "w20", NoSpell: true}),
		Reason: f.field(templates.Field{ID: "override-reason", Label: "Why it is booked all the same", Width: "w20"})}
}

// readBooking reads day, time and site of a booking; moving is the index of the
// booking that is given up, or -1.
func (f *form) readBooking(s *server, o *opened, moving int) cases.Booking {
	b := cases.Booking{On: f.needDay("on", "Day"), At: f.time("at", "Time")}
	b.Site = f.pick("site", "Select the test site", siteKeys(s.sites(), "")...)
	if b.At == "" && f.errs["at"] == "" {
		f.fail("at", "Enter the time")
	}
	if b.On != 0 && b.On < o.today {
		f.fail("on", "Day must be today or later")
	}
	if b.On > o.today+366 {
		f.fail("on", "Day must be within a year. Check the year")
	}
	for i := range o.c.Bookings {
		x := &o.c.Bookings[i]
		if i != moving && x.State == "booked" && x.On >= o.today && !testedSince(&o.c, x.On) {
			f.fail("on", "%s is booked already: %s. Move that booking instead", shortName(&o.c.Infant), s.bookingWords(x))
		}
	}
	if moving >= 0 {
		if x := &o.c.Bookings[moving]; x.On == b.On && x.At == b.At && x.Site == b.Site {
			f.fail("at", "Choose another day, time or site: this is the booking that moves")
		}
	}
	for i := range o.siblings {
		k := &o.siblings[i]
		for j := range k.Bookings {
			if x := &k.Bookings[j]; sameBirth(&o.c, k) && x.State == "booked" && x.On == b.On && x.At == b.At && b.At != "" {
				f.fail("at", "%s has that time. Twins need different times, so that samples cannot be swapped", infantName(&k.Infant))
			}
		}
	}
	return b
}

// readSibling reads the wish to book the other infant of the birth too, as a second ask.
func (f *form) readSibling(s *server, o *opened, b *cases.Booking, moving int, reason string) []booking.Ask {
	if moving >= 0 || f.typed("sibling") != "yes" {
		return nil
	}
	k := s.unbookedTwin(o)
	if k == nil {
		return nil
	}
	rev, err := strconv.ParseUint(f.typed("sibling-rev"), 10, 63)
	if err != nil || rev == 0 {
		f.fail("sibling-at", "The page was sent without the version of the other infant. Open it again")
	}
	at := f.time("sibling-at", "Time for "+infantName(&k.Infant))
	if at == "" {
		at = cases.Clock(laterBy(b.At, twinGap))
	}
	if at == b.At && at != "" {
		f.fail("sibling-at", "Time for %s must be another time. Twins need different times, so that samples cannot be swapped", infantName(&k.Infant))
	}
	if why := s.notReadyOn(k, b.On); why != "" && b.On != 0 {
		f.fail("sibling-at", "%s is not ready on that day: %s. Book that infant alone, on another day", infantName(&k.Infant), why)
	}
	return []booking.Ask{{Case: k.ID, Rev: cases.Rev(rev), Site: b.Site, On: b.On, At: at, ByHand: true, Reason: reason}}
}

// bookWarnings are what speaks against a booking and may be accepted by whoever books;
// an infant that is not ready needs a named person's word (refuseHand).
func (s *server) bookWarnings(o *opened, b cases.Booking) []templates.Warning {
	if b.On == 0 {
		return nil
	}
	var list []templates.Warning
	day := date(b.On).Weekday()
	if o.a.Clocks.FamilyReached.MetOn == 0 {
		list = append(list, templates.Warning{ID: "family-not-reached", Text: "No talk with the family is recorded.", Tick: "Book it all the same; the contact will be logged"})
	}
	if !s.protocol().Calendar().Working(b.On) {
		list = append(list, templates.Warning{ID: "no-working-day", Text: day + " is not a working day.", Tick: "Book it all the same"})
	}
	return list
}

// bookingField gives the field of the form that a path of the case stands for.
func bookingField(path string) string {
	switch {
	case strings.HasSuffix(path, ".at"):
		return "at"
	case strings.HasSuffix(path, ".site"):
		return "site"
	case strings.HasSuffix(path, ".reason"):
		return "why"
	}
	return "on"
}
