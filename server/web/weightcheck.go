package web

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// Limits of a weight that can be entered, in kg; the case document's own.
const leastKg, mostKg = 0.25, 15.0

var weightSyntax = regexp.MustCompile(`^([0-9]{1,9}(?:[.,][0-9]{1,6})?)\s*([\p{L}]*)\.?$`)

// kilograms reads a weight typed in kilograms, or with the unit g or kg behind it. A
// weight that no infant has is a problem of the field, with what it may have been.
func (f *form) kilograms(name, label string) (kg float64, ok bool) {
	typed := strings.TrimSpace(f.typed(name))
	if typed == "" {
		return 0, false
	}
	m := weightSyntax.FindStringSubmatch(typed)
	if m == nil {
		f.fail(name, "%s must be a number, like 3.27", label)
		return 0, false
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(m[1], ",", "."), 64)
	if err != nil {
		f.fail(name, "%s must be a number, like 3.27", label)
		return 0, false
	}
	switch strings.ToLower(m[2]) {
	case "", "kg":
	case "g":
		if v/1000 < leastKg {
			f.fail(name, "%s is %s g, which no infant weighs.%s Enter kilograms, like 3.27", label, plainNumber(v), perhaps(v))
			return 0, false
		}
		v /= 1000
	default:
		f.fail(name, "%s must be in kilograms. %s is not a unit that is read here", label, m[2])
		return 0, false
	}
	switch {
	case v > 100:
		f.fail(name, "%s must be in kilograms. %s grams are %s kg", label, plainNumber(v), plainNumber(v/1000))
	case v > mostKg:
		f.fail(name, "%s is %s kg. Infants here weigh %s to %s kg. Check the decimal point.%s", label, plainNumber(v), plainNumber(leastKg), plainNumber(mostKg), perhaps(v/10))
	case v < leastKg:
		f.fail(name, "%s is %s kg. Infants here weigh %s to %s kg. Check the decimal point.%s", label, plainNumber(v), plainNumber(leastKg), plainNumber(mostKg), perhaps(v*1000))
	default:
		return v, true
	}
	return 0, false
}

// perhaps asks whether another weight was meant, when an infant can have it.
func perhaps(kg float64) string {
	if kg < leastKg || kg > mostKg {
		return ""
	}
	return fmt.Sprintf(" Was it %s kg?", plainNumber(math.Round(kg*1000)/1000))
}

// readWeight reads the form of a weight, and says what is unusual about it.
func (f *form) readWeight(k *cases.Case) (w cases.Weight, doubt string) {
	kg, ok := f.kilograms("weight", "Weight")
	if !ok {
		f.fail("weight", "Enter the weight in kilograms, like 3.27")
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

// Limits between two weights, beyond which a person looks again. mostGain is that of
// the projection; the spread is two standard deviations of the difference of two
// weighings of 20 g each (assumptions of this project).
const (
	mostGain       = 45.0 // g a day
	weighingSpread = 56.0 // g
	steadyFrom     = 7    // days of age; before, a newborn may lose a tenth of its birth weight
)

// weightDoubt says what is unusual about a weight beside the one before it and the
// one after it: a fall, or a gain that is more often a slip of unit or scale. "" when
// nothing is.
func weightDoubt(k *cases.Case, w cases.Weight) string {
	last, next := cases.Weight{On: k.Infant.Born, G: k.Infant.BirthWeightG}, cases.Weight{}
	for _, x := range k.Infant.Weights {
		if x.On <= w.On && x.On >= last.On {
			last = x
		}
		if x.On > w.On && (next.On == 0 || x.On < next.On) {
			next = x
		}
	}
	if last.G != 0 {
		if odd := oddStep(k.Infant.Born, last, w); odd != "" {
			word := "more"
			if w.G < last.G {
				word = "less"
			}
			return fmt.Sprintf("That is %s %s than on %s, when it was %s%s", templates.Kg(int(math.Abs(w.G-last.G))), word, shortDay(last.On), templates.Kg(int(last.G)), odd)
		}
	}
	if next.On != 0 {
		if odd := oddStep(k.Infant.Born, w, next); odd != "" {
			return fmt.Sprintf("It does not fit the %s of %s%s", templates.Kg(int(next.G)), shortDay(next.On), odd)
		}
	}
	return ""
}

// oddStep says why the step from one weight to a later one is unusual, "" when it is
// not: the end of a sentence, with its point.
func oddStep(born cases.Day, from, to cases.Weight) string {
	gain, days := to.G-from.G, float64(max(1, to.On-from.On))
	spread := 0.0
	if days < 5 {
		spread = weighingSpread
	}
	loss := weighingSpread
	if from.On-born < steadyFrom {
		loss = max(loss, from.G/10)
	}
	switch {
	case gain < -loss:
		return ". An infant seldom loses that much: weigh again, and check the unit and the scale."
	case gain > mostGain*days+spread:
		return fmt.Sprintf(", %.0f g a day. Over %.0f g a day is more often a slip of the unit or another scale: weigh again.", gain/days, mostGain)
	}
	return ""
}
