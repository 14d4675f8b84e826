package web

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases"
)

// readArm reads one arm; any is false when nothing was entered for it.
func (r *testReader) readArm(side string, correcting bool) (a cases.Arm, any bool) {
	for _, l := range armFields {
		any = any || strings.TrimSpace(r.typed(side+"-"+l.key)) != ""
	}
	if !any {
		return a, false
	}
	who := sideWord(side) + " arm: "
	a.Side = side
	ask := "Select how the " + side + " arm looked before the electrodes were put on"
	if correcting {
		ask = "" // a laboratory's result does not say
	}
	a.SkinBefore = r.choice(side+"-before", ask, "sound", "not-sound")
	a.Induced = r.real(side+"-induced", who+"induction began")
	a.Began = r.real(side+"-began", who+"collection began")
	a.Ended = r.time(side+"-ended", who+"collection ended")
	a.Minutes = r.minutes(side, who, &a)
	r.induction(side, who, &a)
	r.amount(side, who, &a)
	r.chlorideTwice(side, who, &a)
	r.conductivity(side, who, &a)
	a.Reaction = r.choice(side+"-skin", "Select how the "+side+" arm looked after the test", "none", "redness", "blister", "burn")
	return a, true
}

// minutes are typed, or follow from both times; where all are given they must agree.
func (r *testReader) minutes(side, who string, a *cases.Arm) float64 {
	name := side + "-minutes"
	typed, ok := r.number(name, who+"minutes collected")
	var spans []lasted
	if a.Began != "" && a.Ended != "" && r.errs[side+"-began"]+r.errs[side+"-ended"] == "" {
		if spans = r.spans(side, who, a); spans == nil {
			return 0
		}
	}
	if r.errs[name] != "" {
		return 0
	}
	switch fits := slices.IndexFunc(spans, func(x lasted) bool { return math.Abs(typed-float64(x.minutes)) < 1 }); {
	case len(spans) == 0 && !ok && r.errs[side+"-began"]+r.errs[side+"-ended"] != "":
		return 0
	case len(spans) == 0 && !ok:
		r.fail(name, "%senter the minutes collected, or both times", who)
		return 0
	case len(spans) == 0:
	case ok && fits < 0:
		r.fail(name, "%s%s minutes do not fit %s to %s, which are %s", who, plainNumber(typed), a.Began, a.Ended, lastedWords(spans))
	case ok:
		r.passed(side, a, spans[fits])
	case len(spans) > 1:
		r.fail(name, "%sthe clocks were set back on that day, so %s to %s can mean %s minutes. Enter the minutes collected", who, a.Began, a.Ended, lastedWords(spans))
		return 0
	default:
		typed = float64(spans[0].minutes)
		r.passed(side, a, spans[0])
	}
	if typed < 1 || typed > mostMinutes {
		r.fail(name, "%scollection must be between 1 and %d minutes. It is %s", who, mostMinutes, plainNumber(typed))
	}
	return typed
}

// spans are the lengths that the collection can have had; nil after a problem.
func (r *testReader) spans(side, who string, a *cases.Arm) []lasted {
	list := collected(r.zone, r.test.On, a.Began, a.Ended)
	naive := minuteOf(a.Ended) - minuteOf(a.Began)
	switch {
	case len(list) > 0:
		return list
	case r.test.On != 0 && len(moments(r.zone, r.test.On, a.Ended)) == 0:
		r.fail(side+"-ended", "%scollection ended at %s, which the clocks skipped on %s. Check the time", who, a.Ended, shortDay(r.test.On))
	case naive > 0:
		r.fail(side+"-minutes", "%scollection must be between 1 and %d minutes. It is %d", who, mostMinutes, naive)
	default:
		r.fail(side+"-ended", "%scollection ended must be after %s, when it began", who, a.Began)
	}
	return nil
}

// passed keeps an end that reads earlier than the beginning, past midnight or after
// the clocks were set back, as a note: a case holds times of one day in their order.
func (r *testReader) passed(side string, a *cases.Arm, x lasted) {
	if a.Ended >= a.Began {
		return
	}
	why := "past midnight"
	if !x.midnight {
		why = "after the clocks were set back"
	}
	r.notes = append(r.notes, sideWord(side)+" arm: collection ended at "+string(a.Ended)+", "+why+".")
	r.over = append(r.over, side)
	a.Ended = ""
}

// induction comes before the collection.
func (r *testReader) induction(side, who string, a *cases.Arm) {
	if a.Induced == "" || a.Began == "" || a.Began >= a.Induced {
		return
	}
	r.fail(side+"-induced", "%sinduction must begin before %s, when collection began", who, a.Began)
}

// amount reads the amount of sweat in the collector's unit. A unit may be typed
// behind the number; the other collector's unit is refused, and so is a number whose
// unit nothing tells.
func (r *testReader) amount(side, who string, a *cases.Arm) {
	name, collector := side+"-amount", r.test.Collector
	text := strings.TrimSpace(r.typed(name))
	if text == "" {
		r.fail(name, "%senter the amount of sweat. Enter 0 when there was none", who)
		return
	}
	number, unit := splitUnit(text)
	if unit != "" && collector != "" && unit != amountUnit(collector) {
		r.fail(name, "%s%s is in %s, but the collector is %s, which is read in %s", who, text, unit, collectorWord(collector), amountUnit(collector))
		return
	}
	if !numberSyntax.MatchString(number) {
		r.fail(name, "%samount must be a number, like 24", who)
		return
	}
	if collector == "" {
		if unit == "" {
			r.fail(name, "%s%s has no unit. Select the collector: tubing is read in µL, a pad in mg", who, text)
		}
		return
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(number, ",", "."), 64)
	if err != nil || v > mostAmount {
		r.fail(name, "%samount must be between 0 and 1,000 %s. Check the sheet", who, amountUnit(collector))
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
	for _, u := range []struct{ end, unit string }{{"µl", "µL"}, {"μl", "µL"}, {"ul", "µL"}, {"mg", "mg"}} {
		if strings.HasSuffix(strings.ToLower(text), u.end) {
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
func (r *testReader) chlorideTwice(side, who string, a *cases.Arm) {
	name, again := side+"-chloride", side+"-again"
	v, ok := r.number(name, who+"chloride")
	w, twice := r.number(again, who+"chloride again")
	switch {
	case r.errs[name] != "" || r.errs[again] != "":
	case !ok && !twice:
	case ok != twice:
		r.fail(again, "%senter chloride a second time, read again from the laboratory sheet", who)
	case v != w:
		r.fail(again, "%sthe two chloride entries must match. They are %s and %s", who, plainNumber(v), plainNumber(w))
	case v > mostChloride:
		r.fail(name, "%schloride must be between 0 and %d mmol/L. It is %s. Check the laboratory sheet", who, mostChloride, plainNumber(v))
	default:
		a.Chloride = &v
	}
}

// conductivity reads the value of a screening test; it never stands beside
// chloride.
func (r *testReader) conductivity(side, who string, a *cases.Arm) {
	name := side + "-conductivity"
	v, ok := r.number(name, who+"conductivity")
	switch {
	case !ok:
	case r.test.Analyte == "chloride":
		r.fail(name, "%sremove the conductivity, or select Conductivity only", who)
	case v > mostChloride:
		r.fail(name, "%sconductivity must be between 0 and %d mmol/L. Check the sheet", who, mostChloride)
	default:
		a.Conductivity = &v
	}
	if r.test.Analyte == "conductivity" && a.Chloride != nil {
		r.fail(side+"-chloride", "%sremove the chloride, or select Chloride as what was measured", who)
	}
}
