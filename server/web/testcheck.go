package web

import (
	"fmt"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// stoppedMark begins the note of a test that was stopped early.
const stoppedMark = "Stopped early: "

// checked is a test as it would be read if it were saved.
type checked struct {
	test    cases.SweatTest
	reading cases.TestReading
	after   cases.Assessment // of the case with the test
	stop    string           // why it needs a second look; "" for none
	faults  []cases.Fault    // what the case document refuses
}

// checkTest reads a test on a copy of the case: nothing is saved. i is the index
// of the test that it replaces, or -1.
func (s *server) checkTest(o *opened, t cases.SweatTest, i int) checked {
	c := o.c.Clone()
	if i < 0 {
		i = len(c.SweatTests)
		c.SweatTests = append(c.SweatTests, t)
		for j := range c.Bookings {
			if b := &c.Bookings[j]; b.On == t.On && b.State == "booked" {
				b.State = "kept"
			}
		}
	} else {
		c.SweatTests[i] = t
	}
	if t.WeightG != 0 {
		c.Infant.Weights = append(c.Infant.Weights, cases.Weight{On: t.On, G: t.WeightG})
	}
	k := checked{test: t}
	at := fmt.Sprintf("sweat_tests[%d]", i)
	for _, x := range append(c.Faults(o.today, s.protocol()), c.FutureFaults(o.today)...) {
		if strings.HasPrefix(x.Path, at) || strings.HasPrefix(x.Path, "infant.weights") {
			k.faults = append(k.faults, x)
		}
	}
	c.Prepare()
	k.after = s.protocol().Assess(&c, o.today)
	for j := range k.after.Tests {
		if k.after.Tests[j].Index == i {
			k.reading = k.after.Tests[j]
		}
	}
	k.stop = stopSentence(&k.test, &k.reading, s.protocol())
	return k
}

// testWarnings are what is unusual about a test and may be accepted with a
// reason. A test that is changed was accepted before.
func (s *server) testWarnings(e *testEdit, k *checked) []templates.Warning {
	if e.correcting() {
		return nil
	}
	p, r, tick := s.protocol(), &k.reading, "Save it all the same"
	var list []templates.Warning
	add := func(on bool, id, format string, args ...any) {
		if on {
			list = append(list, templates.Warning{ID: id, Text: fmt.Sprintf(format, args...), Tick: tick})
		}
	}
	name := shortName(&e.c.Infant)
	add(r.Flags.Has(cases.FlagBeforeReady), "before-ready", "%s was %s old on that day. The earliest date for a test was %s.", name, templates.Days(int(k.test.On-e.c.Infant.Born)), date(k.after.Readiness.Earliest).Weekday())
	add(r.Flags.Has(cases.FlagDuringHold), "during-hold", "A hold was open on that day.")
	for i := range k.test.Arms {
		a := &k.test.Arms[i]
		add(a.Minutes > p.MaxCollectionMin, "long-"+a.Side, "%s arm: collection must be %s minutes or less. It is %s.", sideWord(a.Side), plainNumber(p.MaxCollectionMin), plainNumber(a.Minutes))
	}
	for i := range k.test.Arms {
		a := &k.test.Arms[i]
		add(a.SkinBefore == "not-sound", "skin-"+a.Side, "%s arm: the skin was not sound before. Fluid from it spoils the sample, and no collection belongs over a burn or a rash.", sideWord(a.Side))
	}
	for _, side := range e.over {
		add(true, "past-midnight-"+side, "%s arm: collection ended at %s, past midnight or after the clocks were set back.", sideWord(side), e.f.typed(side+"-ended"))
	}
	add(r.Flags.Has(cases.FlagOneArm), "one-arm", "Only one arm is entered. The protocol asks for both.")
	for i := range e.c.SweatTests {
		add(e.c.SweatTests[i].On == k.test.On, "same-day", "A test of the same day is on file already.")
	}
	if w := k.test.WeightG; w != 0 {
		doubt := weightDoubt(&e.c, cases.Weight{On: k.test.On, G: w})
		add(doubt != "", "weight", "Weight: %s", doubt)
	}
	return list
}

// checkPage shows what the test says, before it is saved.
func (s *server) checkPage(c Ctx, e *testEdit, k *checked, list []templates.Warning) *templates.CheckTestPage {
	f, t, r, p := e.f, &k.test, &k.reading, s.protocol()
	head := fmt.Sprintf("Check sweat test %d for %s", len(e.c.SweatTests)+1, shortName(&e.c.Infant))
	if e.correcting() {
		head = "Check the changed test of " + shortDay(t.On) + " for " + shortName(&e.c.Infant)
	}
	page := &templates.CheckTestPage{Base: s.base(c, &e.opened, "Check a sweat test", "schedule"), Head: head, Lead: "Nothing is saved yet. Compare it with the laboratory sheet.",
		Action: action(c), Button: "Save test", Drop: outcomeDrop(r.Outcome), Word: outcomeWord(r.Outcome), Arms: armTable(t, r), Lines: armSentences(t, r),
		Limits: limitsText(p, t.Collector), Next: k.after.ActionWord() + dueWords(&k.after), Because: k.after.Explain(&e.c)}
	page.Rev = uint64(f.rev())
	if e.correcting() {
		page.Button = "Save the change"
	}
	if r.Deciding != nil {
		page.Deciding = "Chloride " + mmol(*r.Deciding) + "."
		if r.Arms.N == 2 && r.Arms.A[0].Usable && r.Arms.A[1].Usable {
			page.Deciding = "Chloride " + mmol(*r.Deciding) + ", the higher of two good arms."
		}
	}
	if k.stop != "" {
		page.Stop, page.StopText = true, k.stop
		page.Head = "Stop and check: " + within(outcomeWord(r.Outcome))
		ev := f.field(templates.Field{ID: "evidence", Label: "Who read the values again from the laboratory sheet?", Width: "w20", NoSpell: true})
		page.Evidence = &ev
	}
	page.GoOn = f.goOnPart(list, "Why it is saved all the same")
	page.Cautions = s.testCautions(e, k)
	page.Entered = s.enteredFacts(t)
	for name, values := range f.values {
		switch name {
		case "csrf", "once", "rev", "do", "confirm", "go-on-why", "evidence":
			continue
		}
		for _, v := range values {
			page.Kept = append(page.Kept, templates.Hidden{Name: name, Value: v})
		}
	}
	sortHidden(page.Kept)
	return page
}

// testCautions are the cautions that go with a reading.
func (s *server) testCautions(e *testEdit, k *checked) []templates.Notice {
	var out []templates.Notice
	if late := latestTime(&k.test); k.test.On == s.today() && late != "" && minuteOf(late) > minuteOf(cases.Clock(s.clock(s.Now())))+clocksApart {
		out = append(out, templates.Notice{Kind: "warn", Head: "A time that has not come", Text: string(late) + " today has not come yet. Check the day and the times."})
	}
	for _, text := range testFlagSentences(k.reading.Flags, s.protocol()) {
		out = append(out, templates.Notice{Kind: "warn", Text: text})
	}
	switch {
	case k.reading.Outcome == cases.ConsistentCF:
		out = append(out, templates.Notice{Kind: "late", Head: "Tell the CF center today", Text: "A value in the CF range needs a clinician today. " + cautionSaltLoss})
	case k.after.PresumptiveCF:
		out = append(out, templates.Notice{Kind: "late", Head: "Two CF-causing variants", Text: cautionTwoVariants})
	case k.reading.Outcome == cases.Unlikely:
		out = append(out, templates.Notice{Kind: "warn", Text: "A sweat chloride in the lowest class makes CF unlikely, not impossible. Symptoms still count."})
	case k.reading.Outcome == cases.Intermediate:
		out = append(out, templates.Notice{Kind: "warn", Text: cautionUnderSixty})
	case k.reading.Outcome == cases.QNS:
		out = append(out, templates.Notice{Kind: "warn", Text: "QNS gives no result and never closes a case. Book the repeat now, not on the same site on the same day."})
	case k.reading.Outcome == cases.ScreeningOnly:
		out = append(out, templates.Notice{Kind: "warn", Text: "Conductivity closes no case. Book a test with chloride."})
	}
	if k.after.Actions.Has(cases.ActReportReaction) {
		out = append(out, templates.Notice{Kind: "late", Head: "Report the skin reaction", Text: cautionReaction})
	}
	if e.a.Closed {
		out = append(out, templates.Notice{Kind: "warn", Text: "The case is closed. Saving this test opens it again."})
	}
	return append(out, templates.Notice{Text: cautionNotDiagnosis})
}

// enteredFacts are the entries of part 1 and 3, to be compared.
func (s *server) enteredFacts(t *cases.SweatTest) []templates.Fact {
	out := []templates.Fact{{Name: "Day", On: date(t.On)}}
	if t.At != "" {
		out = append(out, templates.Fact{Name: "Time", Text: string(t.At)})
	}
	out = append(out, templates.Fact{Name: "Site", Text: s.siteName(t.Site)}, templates.Fact{Name: "Collector", Text: sentence(collectorWord(t.Collector))})
	weight := templates.Fact{Name: "Weight", Text: "Not entered"}
	if t.WeightG != 0 {
		weight.Text = templates.Kg(int(t.WeightG))
	}
	out = append(out, weight, templates.Fact{Name: "Collected by", Text: or(t.By, "You")})
	for i := range t.Arms {
		if text := armTimes(&t.Arms[i]); text != "" {
			out = append(out, templates.Fact{Name: sideWord(t.Arms[i].Side) + " arm", Text: text})
		}
	}
	for i := range t.Arms {
		if a := &t.Arms[i]; a.ReportedOn != 0 {
			out = append(out, templates.Fact{Name: "Told of the skin", Text: strings.TrimSpace(or(a.ReportedTo, "A clinician") + ", " + shortDay(a.ReportedOn) + " " + string(a.ReportedAt))})
			break
		}
	}
	if t.Note != "" {
		out = append(out, templates.Fact{Name: "Note", Text: t.Note})
	}
	return out
}

// armTimes are the times of an arm and how its skin looked before, in words.
func armTimes(a *cases.Arm) string {
	var parts []string
	add := func(on bool, text string) {
		if on {
			parts = append(parts, text)
		}
	}
	add(a.SkinBefore == "sound", "Skin sound before")
	add(a.SkinBefore == "not-sound", "Skin not sound before")
	add(a.Induced != "", "induction "+string(a.Induced))
	add(a.Began != "", "collection "+strings.TrimSuffix(string(a.Began)+" to "+string(a.Ended), " to "))
	return sentence(strings.Join(parts, "; "))
}

// keepOld keeps, of a test that is changed, what its form does not show.
func (f *form) keepOld(t, old *cases.SweatTest) {
	if old == nil {
		return
	}
	t.Verified = old.Verified
	_, rest, _ := strings.Cut(old.Note, "\n")
	if !strings.HasPrefix(old.Note, stoppedMark) {
		rest = old.Note
	}
	if rest != "" {
		t.Note = addLine(t.Note, rest)
	}
	for i := range t.Arms {
		for j := range old.Arms {
			if old.Arms[j].Side == t.Arms[i].Side {
				t.Arms[i].Place = old.Arms[j].Place
			}
		}
	}
}

// testField gives the field of the form for a path of the case document, of a
// test with these arms.
func testField(t *cases.SweatTest) func(path string) string {
	return func(path string) string {
		side := ""
		for i := range t.Arms {
			if strings.Contains(path, fmt.Sprintf(".arms[%d]", i)) {
				side = t.Arms[i].Side + "-"
			}
		}
		switch last := lastPart(path); last {
		case "minutes", "chloride", "began", "ended", "conductivity", "induced":
			return side + last
		case "amount_ul", "amount_mg":
			return side + "amount"
		case "reported_on":
			return "reported"
		case "reported_to":
			return "told"
		case "at", "site", "collector", "analyte":
			return last
		case "g", "weight_g":
			return "weight"
		case "reason":
			return "why"
		}
		return "on"
	}
}

// testLabels are the fields of the form with their labels, for a conflict.
func testLabels() []labelled {
	out := []labelled{{"on", "Day of the test"}, {"at", "Time"}, {"site", "Test site"}, {"weight", "Weight, kg"}, {"collector", "Collector"}}
	for _, side := range sides {
		for _, l := range armFields {
			out = append(out, labelled{side + "-" + l.key, sideWord(side) + " arm: " + strings.ToLower(l.label[:1]) + l.label[1:]})
		}
		out = append(out, labelled{side + "-before", sideWord(side) + " arm: skin before"}, labelled{side + "-skin", sideWord(side) + " arm: skin after"})
	}
	return append(out, labelled{"told", "Who was told"}, labelled{"reported", "Told on"}, labelled{"told-at", "Told at"}, labelled{"why", "Why it is changed"})
}

// clocksApart is by how many minutes the clock of a clinic may be ahead of the server's.
const clocksApart = 10

// latestTime is the latest time of the clock that a test holds, "" for none.
func latestTime(t *cases.SweatTest) cases.Clock {
	late := t.At
	for i := range t.Arms {
		a := &t.Arms[i]
		late = max(late, a.Induced, a.Began, a.Ended)
	}
	return late
}
