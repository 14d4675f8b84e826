package web

import (
	"math"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/templates"
)

// The names of the fields of both arms, by side.
var sides = []string{"left", "right"}

// armFields are the entries of an arm between the two looks at the skin.
var armFields = []struct{ key, label, hint, unit, mode string }{
	{"induced", "Induction began", "", "", "numeric"},
	{"began", "Collection began", "", "", "numeric"},
	{"ended", "Collection ended", "", "", "numeric"},
	{"minutes", "Minutes collected", "Leave empty when both times are filled in", "min", "decimal"},
	{"amount", "Amount of sweat", "Enter 0 when there was none", "", "decimal"},
	{"chloride", "Chloride", "Leave empty if the arm is QNS or not resulted yet", "mmol/L", "decimal"},
	{"again", "Chloride again", "Read it from the laboratory sheet a second time", "mmol/L", "decimal"},
	{"conductivity", "Conductivity", "Only for a test that measured conductivity alone", "mmol/L", "decimal"},
}

// The limits of what a case can hold: minutes, mmol/L, µL or mg, and grams.
const (
	mostMinutes  = 120
	mostChloride = 400
	mostAmount   = 1000
	leastWeightG = 250
	mostWeightG  = 15000
)

// testReader reads the form of a sweat test.
type testReader struct {
	*form
	test  cases.SweatTest
	zone  *time.Location
	notes []string // what no field of the case can hold
	over  []string // sides whose collection passed midnight, or the hour that came twice
}

// readTest reads a sweat test from its form. Every problem names its field; the
// test can be used only when the form is ok.
func (s *server) readTest(e *testEdit) cases.SweatTest {
	f, cs := e.f, &e.c
	r := &testReader{form: f, zone: s.Now().Location()}
	if !f.ticked("identity", "yes") {
		f.fail("identity", "Tick that you asked for the full name and birth date, and that both match")
	}
	t := &r.test
	t.On = f.needDay("on", "Day of the test")
	switch {
	case t.On == 0:
	case t.On > f.today:
		f.fail("on", "Day of the test must be today or in the past")
	case t.On < cs.Infant.Born:
		f.fail("on", "Day of the test must be on or after %s, the birth date", shortDay(cs.Infant.Born))
	}
	t.At = r.real("at", "Time")
	t.Site = f.pick("site", "Select the test site", s.testSites(e)...)
	t.WeightG = f.weightG()
	t.By = f.text("by", "Collected by", 80)
	t.Collector = f.choice("collector", "Select the collector. The unit of the amount follows from it", "tubing", "pad")
	t.Analyte = f.choice("analyte", "Select what was measured", "chloride", "conductivity")
	for _, side := range sides {
		if a, any := r.readArm(side, e.correcting()); any {
			t.Arms = append(t.Arms, a)
		}
	}
	if len(t.Arms) == 0 {
		f.fail("left-amount", "Enter at least one arm: minutes and amount of sweat")
	}
	r.readTold(e.correcting())
	if f.choice("stopped", "Select yes if the test was stopped early", "no", "yes") == "yes" {
		if why := f.need("stop-why", "When and why", "Enter when and why the test was stopped", 300); why != "" {
			r.notes = append([]string{stoppedMark + why}, r.notes...)
		}
	}
	t.Note = strings.Join(r.notes, "\n")
	if e.correcting() {
		f.need("why", "Why it is changed", "Enter why the record is changed", 300)
	}
	e.over = r.over
	return r.test
}

// weightG reads the weight of the day, typed in kg, as grams; 0 when it is empty or
// cannot be used.
func (f *form) weightG() float64 {
	kg, ok := f.kilograms("weight", "Weight")
	if !ok {
		return 0
	}
	return math.Round(kg * 1000)
}

// readTold reads who was told of a blister or burn, and when. A test that is changed
// may lack the name: older records have none.
func (r *testReader) readTold(correcting bool) {
	f, t := r.form, &r.test
	to := f.text("told", "Who was told", 200)
	on := f.day("reported", "Told on")
	at := f.time("told-at", "Told at")
	if to == "" && on == 0 && at == "" {
		return
	}
	hurt := false
	for i := range t.Arms {
		if a := &t.Arms[i]; a.Hurt() {
			a.ReportedOn, a.ReportedAt, a.ReportedTo, hurt = on, at, to, true
		}
	}
	switch {
	case !hurt:
		f.fail("reported", "Who was told, and when, is only for a blister or burn. Remove it, or select the skin reaction")
	case on == 0:
		f.fail("reported", "Enter the day on which %s was told", or(to, "a clinician"))
	case on > f.today:
		f.fail("reported", "Told on must be today or in the past")
	case t.On != 0 && on < t.On:
		f.fail("reported", "Told on must be on or after the day of the test")
	case to == "" && !correcting:
		f.fail("told", "Enter who was told of the blister or burn")
	}
}

// armForms are the entries of both arms as typed.
func (f *form) armForms(p *cases.Protocol) []templates.ArmForm {
	out := make([]templates.ArmForm, 0, 2)
	for _, side := range sides {
		arm := templates.ArmForm{Side: side, Head: sideWord(side) + " arm",
			Before: f.group(templates.Choice{ID: side + "-before", Legend: "Skin before", Hint: "Sound skin without cream; never over a rash, a cut or a burn", Options: optionsOf(skinBefore)}),
			After:  f.group(templates.Choice{ID: side + "-skin", Legend: "Skin after", Options: optionsOf(skinOptions)})}
		for _, l := range armFields {
			fd := templates.ArmField{Field: f.field(templates.Field{ID: side + "-" + l.key, Label: l.label, Hint: l.hint, Unit: l.unit, InputMode: l.mode}), Screening: l.key == "conductivity"}
			switch l.key {
			case "ended":
				fd.Hint = plainNumber(p.MaxCollectionMin) + " minutes at most"
			case "amount":
				fd.ByCollector = true
				if k := f.typed("collector"); k == "tubing" || k == "pad" {
					fd.Unit = amountUnit(k)
				}
			}
			arm.Fields = append(arm.Fields, fd)
		}
		out = append(out, arm)
	}
	return out
}

// notDonePath is the address of the form for an infant who came and was not tested.
func notDonePath(c Ctx, ref string) string {
	at := "/infants/" + ref + "/tests/not-done"
	if q := c.Request().URL.RawQuery; q != "" {
		at += "?" + q
	}
	return at
}
