package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// The names of the fields of both arms, by side.
var sides = []string{"left", "right"}

// armFields are the lines of the table of both arms.
var armFields = []struct{ key, label, hint, unit, mode string }{
	{"began", "Collection began", "", "", "numeric"},
	{"ended", "Collection ended", "", "", "numeric"},
	{"minutes", "Minutes collected", "Leave empty when both times are filled in", "min", "decimal"},
	{"amount", "Amount of sweat", "µL for tubing, mg for a pad", "", "decimal"},
	{"chloride", "Chloride", "Leave empty if the arm is QNS or not resulted yet", "mmol/L", "decimal"},
	{"again", "Chloride again", "Read it from the laboratory sheet a second time", "mmol/L", "decimal"},
	{"conductivity", "Conductivity", "Only for a test that measured conductivity alone", "mmol/L", "decimal"},
}

// mostMinutes and mostChloride are the limits of what a case can hold.
const (
	mostMinutes  = 120
	mostChloride = 400
	leastWeightG = 250
	mostWeightG  = 15000
)

// readTest reads a sweat test from its form. Every problem names its field; the
// test can be used only when the form is ok.
func (f *form) readTest(cs *cases.Case, siteKeys []string, correcting bool) cases.SweatTest {
	var t cases.SweatTest
	if !f.ticked("identity", "yes") {
		f.fail("identity", "Tick that you asked for the full name and birth date, and that both match")
	}
	t.On = f.needDay("on", "Day of the test")
	switch {
	case t.On == 0:
	case t.On > f.today:
		f.fail("on", "Day of the test must be today or in the past")
	case t.On < cs.Infant.Born:
		f.fail("on", "Day of the test must be on or after %s, the birth date", shortDay(cs.Infant.Born))
	}
	t.At = f.time("at", "Time")
	t.Site = f.pick("site", "Select the test site", siteKeys...)
	t.WeightG = f.weightG(cs)
	t.By = f.text("by", "Collected by", 80)
	t.Collector = f.choice("collector", "Select the collector. The unit of the amount follows from it", "tubing", "pad")
	t.Analyte = f.choice("analyte", "Select what was measured", "chloride", "conductivity")
	for _, side := range sides {
		if a, any := f.readArm(side, &t); any {
			t.Arms = append(t.Arms, a)
		}
	}
	if len(t.Arms) == 0 {
		f.fail("left-amount", "Enter at least one arm: minutes and amount of sweat")
	}
	f.readReported(&t)
	var notes []string
	switch f.choice("stopped", "Select yes if the test was stopped early", "no", "yes") {
	case "yes":
		if why := f.need("stop-why", "When and why", "Enter when and why the test was stopped", 300); why != "" {
			notes = append(notes, "Stopped early: "+why)
		}
	}
	t.Note = strings.Join(notes, " ")
	if correcting {
		f.need("why", "Why it is changed", "Enter why the record is changed", 300)
	}
	return t
}

// weightG reads the weight of the day, typed in kg, as grams; 0 when empty. A
// number that only makes sense in grams is pointed out.
func (f *form) weightG(cs *cases.Case) float64 {
	kg, ok := f.number("weight", "Weight")
	if !ok {
		return 0
	}
	g := math.Round(kg * 1000)
	switch {
	case kg >= leastWeightG && kg <= mostWeightG:
		f.fail("weight", "Weight is in kg. %s g would be %s kg", plainNumber(kg), strconv.FormatFloat(kg/1000, 'f', 2, 64))
	case g < leastWeightG || g > mostWeightG:
		f.fail("weight", "Weight is %s kg. It must be between 0.25 and 15 kg. Check the decimal point", plainNumber(kg))
	}
	return g
}

// readArm reads one arm; any is false when nothing was entered for it.
func (f *form) readArm(side string, t *cases.SweatTest) (a cases.Arm, any bool) {
	for _, l := range armFields {
		any = any || strings.TrimSpace(f.typed(side+"-"+l.key)) != ""
	}
	if !any {
		return a, false
	}
	who := sideWord(side) + " arm: "
	a.Side = side
	a.Began = f.time(side+"-began", who+"collection began")
	a.Ended = f.time(side+"-ended", who+"collection ended")
	a.Minutes = f.minutes(side, who, a.Began, a.Ended)
	f.amount(side, who, t.Collector, &a)
	f.chlorideTwice(side, who, &a)
	f.conductivity(side, who, t.Analyte, &a)
	a.Reaction = f.choice(side+"-skin", "Select how the "+side+" arm looked after the test", "none", "redness", "blister", "burn")
	return a, true
}

// minutes are typed, or follow from both times; where all are given they must agree.
func (f *form) minutes(side, who string, began, ended cases.Clock) float64 {
	name := side + "-minutes"
	typed, ok := f.number(name, who+"minutes collected")
	span := 0
	if began != "" && ended != "" {
		span = minuteOf(ended) - minuteOf(began)
		if span <= 0 {
			f.fail(side+"-ended", "%scollection ended must be after %s, when it began", who, began)
			return 0
		}
	}
	switch {
	case f.errs[name] != "":
		return 0
	case ok && span > 0 && math.Abs(typed-float64(span)) >= 1:
		f.fail(name, "%s%s minutes do not fit %s to %s, which are %d", who, plainNumber(typed), began, ended, span)
	case !ok && span == 0:
		f.fail(name, "%senter the minutes collected, or both times", who)
		return 0
	case !ok:
		typed = float64(span)
	}
	if typed < 1 || typed > mostMinutes {
		f.fail(name, "%scollection must be between 1 and %d minutes. It is %s", who, mostMinutes, plainNumber(typed))
	}
	return typed
}

func minuteOf(c cases.Clock) int {
	h, _ := strconv.Atoi(string(c[:2]))
	m, _ := strconv.Atoi(string(c[3:]))
	return h*60 + m
}

// amount reads the amount of sweat in the collector's unit. A unit may be typed
// behind the number; the other collector's unit is refused.
func (f *form) amount(side, who, collector string, a *cases.Arm) {
	name := side + "-amount"
	text := strings.TrimSpace(f.typed(name))
	if text == "" {
		f.fail(name, "%senter the amount of sweat. Enter 0 when there was none", who)
		return
	}
	number, unit := splitUnit(text)
	if unit != "" && collector != "" && unit != amountUnit(collector) {
		f.fail(name, "%s%s is in %s, but the collector is %s, which is read in %s", who, text, unit, collectorWord(collector), amountUnit(collector))
		return
	}
	if !numberSyntax.MatchString(number) {
		f.fail(name, "%samount must be a number, like 24", who)
		return
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(number, ",", "."), 64)
	if err != nil || v > 1000 {
		f.fail(name, "%samount must be between 0 and 1,000 %s. Check the sheet", who, amountUnit(collector))
		return
	}
	if collector == "pad" {
		a.AmountMg = &v
	} else {
		a.AmountUL = &v
	}
}

// splitUnit takes a unit off the end of an amount.
func splitUnit(text string) (number, unit string) {
	low := strings.ToLower(text)
	for _, u := range []struct{ end, unit string }{{"µl", "µL"}, {"μl", "µL"}, {"ul", "µL"}, {"mg", "mg"}} {
		if strings.HasSuffix(low, u.end) {
			return strings.TrimSpace(text[:len(text)-len(u.end)]), u.unit
		}
	}
	return text, ""
}

func collectorWord(c string) string {
	if c == "pad" {
		return "a pad"
	}
	return "tubing"
}

// chlorideTwice reads chloride, which is entered twice because it decides care.
func (f *form) chlorideTwice(side, who string, a *cases.Arm) {
	name, again := side+"-chloride", side+"-again"
	v, ok := f.number(name, who+"chloride")
	w, twice := f.number(again, who+"chloride again")
	switch {
	case f.errs[name] != "" || f.errs[again] != "":
	case !ok && !twice:
	case ok != twice:
		f.fail(again, "%senter chloride a second time, read again from the laboratory sheet", who)
	case v != w:
		f.fail(again, "%sthe two chloride entries must match. They are %s and %s", who, plainNumber(v), plainNumber(w))
	case v > mostChloride:
		f.fail(name, "%schloride must be between 0 and %d mmol/L. It is %s. Check the laboratory sheet", who, mostChloride, plainNumber(v))
	default:
		a.Chloride = &v
	}
}

// conductivity reads the value of a screening test; it never stands beside
// chloride.
func (f *form) conductivity(side, who, analyte string, a *cases.Arm) {
	name := side + "-conductivity"
	v, ok := f.number(name, who+"conductivity")
	switch {
	case !ok:
	case analyte == "chloride":
		f.fail(name, "%sremove the conductivity, or select Conductivity only", who)
	case v > mostChloride:
		f.fail(name, "%sconductivity must be between 0 and %d mmol/L. Check the sheet", who, mostChloride)
	default:
		a.Conductivity = &v
	}
	if analyte == "conductivity" && a.Chloride != nil {
		f.fail(side+"-chloride", "%sremove the chloride, or select Chloride as what was measured", who)
	}
}

// readReported reads the day on which a blister or burn was reported.
func (f *form) readReported(t *cases.SweatTest) {
	on := f.day("reported", "Reported on")
	if on == 0 {
		return
	}
	hurt := false
	for i := range t.Arms {
		if t.Arms[i].Hurt() {
			t.Arms[i].ReportedOn, hurt = on, true
		}
	}
	switch {
	case !hurt:
		f.fail("reported", "Reported on is only for a blister or burn. Remove it, or select the skin reaction")
	case on > f.today:
		f.fail("reported", "Reported on must be today or in the past")
	case t.On != 0 && on < t.On:
		f.fail("reported", "Reported on must be on or after the day of the test")
	}
}

// armRows are the lines of the table of both arms as typed.
func (f *form) armRows(p *cases.Protocol) []templates.ArmRow {
	rows := make([]templates.ArmRow, 0, len(armFields))
	for _, l := range armFields {
		row := templates.ArmRow{Label: l.label, Hint: l.hint, Unit: l.unit}
		if l.key == "ended" {
			row.Hint = fmt.Sprintf("%s minutes at most", plainNumber(p.MaxCollectionMin))
		}
		for _, side := range sides {
			label := fmt.Sprintf("%s arm: %s", sideWord(side), strings.ToLower(l.label[:1])+l.label[1:])
			if l.unit != "" {
				label += ", " + l.unit
			}
			fd := f.field(templates.Field{ID: side + "-" + l.key, Label: label, Unit: l.unit, InputMode: l.mode})
			if side == "left" {
				row.Left = fd
			} else {
				row.Right = fd
			}
		}
		rows = append(rows, row)
	}
	return rows
}
