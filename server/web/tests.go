package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// skinBefore is how the skin looked before the electrodes were put on.
var skinBefore = []word{{"sound", "Sound, no cream"}, {"not-sound", "Not sound"}}

// skinOptions are the reactions of the skin after a test.
var skinOptions = []word{{"none", "Clear"}, {"redness", "Redness"}, {"blister", "Blister"}, {"burn", "Burn"}}

// testEdit is a form that records a test, or changes test i of the case.
type testEdit struct {
	opened
	f    *form
	i    int      // -1 for a new test
	over []string // sides whose collection ended past midnight, as read from the form
}

func (e *testEdit) correcting() bool { return e.i >= 0 }

// old is the test as recorded; nil for a new one.
func (e *testEdit) old() *cases.SweatTest {
	if e.i < 0 {
		return nil
	}
	return &e.c.SweatTests[e.i]
}

// siteKeys are the sites that may be chosen: those of the program and those
// already on file for this infant.
func (s *server) testSites(e *testEdit) []string {
	keys := siteKeys(s.sites(), "")
	if t := e.old(); t != nil && t.Site != "" && !slices.Contains(keys, t.Site) {
		keys = append(keys, t.Site)
	}
	for i := range e.c.Bookings {
		if k := e.c.Bookings[i].Site; k != "" && !slices.Contains(keys, k) {
			keys = append(keys, k)
		}
	}
	return keys
}

// testForm answers GET /infants/:ref/tests/new. Day, time and site come from
// the booking, when the address names one.
func (s *server) testForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	on := o.today
	if d, err := cases.ParseDay(c.QueryParam("on")); err == nil && d <= o.today {
		on = d
	}
	at, site := "", ""
	for i := range o.c.Bookings {
		if b := &o.c.Bookings[i]; b.On == on && b.State != "cancelled" {
			at, site = string(b.At), b.Site
		}
	}
	f := s.emptyForm("on", date(on).String(), "at", at, "site", site, "analyte", "chloride", "collector", s.siteCollectors()[or(site, s.onlySite())])
	return s.render(c, http.StatusOK, s.testPage(c, &testEdit{opened: o, f: f, i: -1}))
}

// changeTestForm answers GET /infants/:ref/tests/:n/change: a result that came
// later, or a correction.
func (s *server) changeTestForm(c Ctx) error {
	e, err := s.loadTest(c, nil)
	if err != nil {
		return err
	}
	e.f = s.emptyForm(filledTest(e.old())...)
	if r := s.readingOf(e); r != nil && r.Outcome == cases.NotResulted {
		e.f.values.Set("why", "Result reported by the laboratory")
	}
	return s.render(c, http.StatusOK, s.testPage(c, e))
}

// loadTest opens the case and the test that the address names.
func (s *server) loadTest(c Ctx, f *form) (*testEdit, error) {
	o, err := s.load(c)
	if err != nil {
		return nil, err
	}
	i, err := index(c, len(o.c.SweatTests))
	if err != nil {
		return nil, err
	}
	return &testEdit{opened: o, f: f, i: i}, nil
}

// readingOf is the reading of a test already on file.
func (s *server) readingOf(e *testEdit) *cases.TestReading {
	for i := range e.a.Tests {
		if e.a.Tests[i].Index == e.i {
			return &e.a.Tests[i]
		}
	}
	return nil
}

// filledTest is a recorded test as the values of its form.
func filledTest(t *cases.SweatTest) []string {
	v := []string{"on", date(t.On).String(), "at", string(t.At), "site", t.Site, "by", t.By, "collector", t.Collector, "analyte", or(t.Analyte, "chloride"), "stopped", "no"}
	if t.WeightG != 0 {
		v = append(v, "weight", strconv.FormatFloat(t.WeightG/1000, 'f', -1, 64))
	}
	if why, ok := strings.CutPrefix(t.Note, stoppedMark); ok {
		why, _, _ = strings.Cut(why, "\n")
		v = append(v, "stopped", "yes", "stop-why", why)
	}
	for i := range t.Arms {
		a := &t.Arms[i]
		v = append(v, a.Side+"-began", string(a.Began), a.Side+"-ended", string(a.Ended), a.Side+"-minutes", plainNumber(a.Minutes),
			a.Side+"-induced", string(a.Induced), a.Side+"-before", a.SkinBefore, a.Side+"-skin", a.Reaction)
		if x, ok := armAmount(a); ok {
			v = append(v, a.Side+"-amount", plainNumber(x))
		}
		if a.Chloride != nil {
			v = append(v, a.Side+"-chloride", plainNumber(*a.Chloride), a.Side+"-again", plainNumber(*a.Chloride))
		}
		if a.Conductivity != nil {
			v = append(v, a.Side+"-conductivity", plainNumber(*a.Conductivity))
		}
		if a.ReportedOn != 0 {
			v = append(v, "reported", date(a.ReportedOn).String(), "told", a.ReportedTo, "told-at", string(a.ReportedAt))
		}
	}
	return v
}

// testPage sets out the form of a test with what was typed.
func (s *server) testPage(c Ctx, e *testEdit) *templates.RecordTestPage {
	f, n := e.f, len(e.c.SweatTests)+1
	name := shortName(&e.c.Infant)
	p := &templates.RecordTestPage{Base: s.base(c, &e.opened, fmt.Sprintf("Record sweat test %d", n), "schedule"), Head: fmt.Sprintf("Record sweat test %d for %s", n, name),
		Lead: visitWords(&e.a) + ".", Action: action(c), Back: back(c, e.c.Reference), Cautions: testDayCautions, Protocol: limitsOf(s.protocol())}
	p.Identity = f.field(templates.Field{ID: "identity", Label: "I asked the parent for the infant’s full name and birth date, and both match the banner"})
	p.On = f.field(templates.Field{ID: "on", Label: "Day of the test", Hint: "Like 5 Mar 2026 or today", Width: "w14"})
	p.At = f.field(templates.Field{ID: "at", Label: "Time", Optional: true, Width: "w5", InputMode: "numeric"})
	p.Site = s.siteChoice("Test site", "")
	for _, key := range s.testSites(e) {
		if !slices.ContainsFunc(p.Site.Options, func(o templates.Option) bool { return o.Value == key }) {
			p.Site.Options = append(p.Site.Options, templates.Option{Value: key, Text: s.siteName(key)})
		}
	}
	p.Site = f.group(p.Site)
	p.Weight = f.field(templates.Field{ID: "weight", Label: "Weight today", Optional: true, Unit: "kg", Width: "w5", InputMode: "decimal"})
	p.By = f.field(templates.Field{ID: "by", Label: "Collected by", Optional: true, Width: "w20", NoSpell: true})
	p.Collector = f.group(templates.Choice{ID: "collector", Legend: "Collector", Options: []templates.Option{{Value: "tubing", Text: "Tubing, amount in µL"}, {Value: "pad", Text: "Pad, amount in mg"}}})
	p.Analyte = f.group(templates.Choice{ID: "analyte", Legend: "Measured", Options: []templates.Option{{Value: "chloride", Text: "Chloride"}, {Value: "conductivity", Text: "Conductivity only"}}})
	p.Arms = f.armForms(s.protocol())
	p.Told = f.field(templates.Field{ID: "told", Label: "Who was told", Hint: "A name: the clinician who looks at the skin", Optional: true, Width: "w20", NoSpell: true})
	p.Reported = f.field(templates.Field{ID: "reported", Label: "Told on", Hint: "Like today", Optional: true, Width: "w14"})
	p.ToldAt = f.field(templates.Field{ID: "told-at", Label: "Told at", Optional: true, Width: "w5", InputMode: "numeric"})
	p.Stopped = f.group(templates.Choice{ID: "stopped", Legend: "Was the test stopped early?", Options: []templates.Option{{Value: "no", Text: "No"}, {Value: "yes", Text: "Yes"}}})
	p.StopWhy = f.field(templates.Field{ID: "stop-why", Label: "When and why", Hint: "Only if it was stopped early", Optional: true, Width: "w20"})
	p.Earlier, p.Live = s.earlierTests(e), s.liveFacts(e)
	if e.old() == nil {
		p.NotDone = notDonePath(c, e.c.Reference)
	}
	if t := e.old(); t != nil {
		p.Name = "Change a sweat test, " + e.c.Reference
		p.Head = "Change the test of " + shortDay(t.On) + " for " + name
		p.Lead = "The history keeps what was recorded before."
		why := f.field(templates.Field{ID: "why", Label: "Why it is changed", Width: "w20"})
		p.Why = &why
	}
	return p
}

// limitsOf are the values that the reading while typing uses.
func limitsOf(p *cases.Protocol) templates.Limits {
	older := -1
	if p.OlderFromDays != nil {
		older = *p.OlderFromDays
	}
	return templates.Limits{MinUL: p.MinAmountUL, MinMg: p.MinAmountMg, BaseMin: p.AmountBaseMin, ScalesDown: p.AmountScalesDown, MaxMin: p.MaxCollectionMin, BothArms: p.RequireBothArms,
		IntermediateFrom: p.IntermediateFrom, OlderFromDays: older, OlderFrom: p.OlderIntermediateFrom, CFFrom: p.CFFrom, CFStrictlyAbove: p.CFStrictlyAbove, Implausible: p.ImplausibleAbove,
		AgreeLow: p.AgreeWithinLow, AgreeHigh: p.AgreeWithinHigh, AgreeSplit: p.AgreeSplitAt, MostMin: mostMinutes, MostChloride: mostChloride, MostAmount: mostAmount}
}

// liveFacts are what the reading while typing needs beside the limits.
func (s *server) liveFacts(e *testEdit) templates.LiveFacts {
	l := templates.LiveFacts{Born: fmt.Sprint(e.c.Infant.Born), Today: fmt.Sprint(e.today), Shifts: shiftDays(s.Now().Location(), e.today), Kinds: s.siteCollectors()}
	if t := e.old(); t != nil && t.Verified != nil {
		l.Verified = t.Verified.As
	}
	return l
}

// siteCollectors is the collector of each site that works with one alone.
func (s *server) siteCollectors() map[string]string {
	out := map[string]string{}
	for _, x := range s.sites() {
		if k, ok := s.storedSite(x.Key); ok && len(k.Accepts.Collectors) == 1 {
			out[x.Key] = k.Accepts.Collectors[0]
		}
	}
	return out
}

// onlySite is the key of the only test site; "" when there are several.
func (s *server) onlySite() string {
	if list := s.sites(); len(list) == 1 {
		return list[0].Key
	}
	return ""
}

// earlierTests are the other tests on file, the latest first.
func (s *server) earlierTests(e *testEdit) []templates.EarlierTest {
	var out []templates.EarlierTest
	for i := len(e.a.Tests) - 1; i >= 0; i-- {
		r := &e.a.Tests[i]
		if r.Index == e.i {
			continue
		}
		t := templates.EarlierTest{Title: fmt.Sprintf("Test %d", i+1), On: date(r.On), Drop: outcomeDrop(r.Outcome), Word: outcomeWord(r.Outcome)}
		for _, l := range armTable(r.Test, r).Rows {
			t.Facts = append(t.Facts, templates.Fact{Name: l.Side, Text: l.Chloride + ", " + l.Amount})
		}
		out = append(out, t)
	}
	return out
}

// recordTest answers POST /infants/:ref/tests/new.
func (s *server) recordTest(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	return s.takeTest(c, &testEdit{opened: o, f: s.readForm(c), i: -1})
}

// changeTest answers POST /infants/:ref/tests/:n/change.
func (s *server) changeTest(c Ctx) error {
	e, err := s.loadTest(c, s.readForm(c))
	if err != nil {
		return err
	}
	return s.takeTest(c, e)
}

// takeTest reads the form: it shows the form again, then the check page, and
// saves what was checked.
func (s *server) takeTest(c Ctx, e *testEdit) error {
	f := e.f
	if f.typed("do") == "edit" {
		return s.render(c, http.StatusOK, s.testPage(c, e))
	}
	t := s.readTest(e)
	if !f.ok() {
		return s.invalid(c, s.testPage(c, e), f.problems)
	}
	f.keepOld(&t, e.old())
	check := s.checkTest(&e.opened, t, e.i)
	if len(check.faults) > 0 {
		for _, x := range check.faults {
			f.fail(testField(&t)(x.Path), "%s", sentence(x.Reason))
		}
		return s.invalid(c, s.testPage(c, e), f.problems)
	}
	list := s.testWarnings(e, &check)
	p := s.checkPage(c, e, &check, list)
	if f.typed("do") != "save" {
		return s.render(c, http.StatusOK, p)
	}
	reason := ""
	p.GoOn, reason = f.goOn(list, "Why it is saved all the same")
	if check.stop != "" {
		who := f.need("evidence", "Who read the values again", "Enter who read the values again from the laboratory sheet", 120)
		p.Evidence.Value, p.Evidence.Error = f.typed("evidence"), f.errs["evidence"]
		t.Note = addLine(t.Note, "Values read again by "+who)
	}
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	if reason != "" {
		t.Note = addLine(t.Note, "Saved in spite of: "+warningIDs(list)+". "+reason)
	}
	err := s.submit(c, f, nextPath(c, e.c.Reference), func(ctx context.Context) (templates.Notice, error) {
		return s.saveTest(ctx, actorOf(c), e, t)
	})
	return s.refuse(c, f, p, err, sent{"the sweat test", testLabels(), testField(&t)})
}

// saveTest records or changes the test and says what it means now.
func (s *server) saveTest(ctx context.Context, who cases.Actor, e *testEdit, t cases.SweatTest) (templates.Notice, error) {
	var k cases.Case
	var err error
	if e.correcting() {
		k, err = s.Desk.CorrectTest(ctx, who, e.c.ID, e.f.rev(), e.i, t, e.f.typed("why"))
	} else {
		k, err = s.Desk.RecordTest(ctx, who, e.c.ID, e.f.rev(), t)
	}
	if err != nil {
		return templates.Notice{}, err
	}
	a := s.protocol().Assess(&k, e.today)
	word := ""
	for i := range a.Tests {
		if x := a.Tests[i].Test; x.On == t.On && x.At == t.At {
			word = outcomeWord(a.Tests[i].Outcome)
		}
	}
	return templates.Notice{Head: "Test saved", Text: fmt.Sprintf("%s, %s: %s. Next: %s%s.", infantName(&k.Infant), k.Reference, word, a.ActionWord(), dueWords(&a)), LinkText: "Open the infant", Link: "/infants/" + k.Reference}, nil
}

// dueWords says by when the next step is due, "" without a day.
func dueWords(a *cases.Assessment) string {
	if a.Next.Due == 0 {
		return ""
	}
	return ", due " + date(a.Next.Due).Weekday()
}

func addLine(text, line string) string {
	if text == "" {
		return line
	}
	return text + "\n" + line
}
