package web

import (
	"net/url"
	"strings"
	"testing"

	"dunlin/cases"
)

func TestKilograms(t *testing.T) {
	for typed, want := range map[string]float64{"3.27": 3.27, "3,27": 3.27, "3.27 kg": 3.27, "3270 g": 3.27, "3270g": 3.27, "250 g": .25, "15": 15, "15 KG": 15, "0.25": .25} {
		f := &form{values: url.Values{"weight": {typed}}, errs: map[string]string{}}
		if kg, ok := f.kilograms("weight", "Weight"); !ok || kg != want || !f.ok() {
			t.Errorf("%q: %g %v %v", typed, kg, ok, f.problems)
		}
	}
	for typed, says := range map[string]string{
		"3.1 g": "3.1 g, which no infant weighs. Was it 3.1 kg?", "31 g": "31 g, which no infant weighs. Enter", "249 g": "249 g, which", "31": "Was it 3.1 kg?", "15001 g": "Weight is 15.001 kg", "3100": "3100 grams are 3.1 kg",
		"0.031": "Check the decimal point.", "-3": "must be a number", "3.1.2": "must be a number", "1e3": "must be a number", "3 oz": "oz is not a unit",
	} {
		f := &form{values: url.Values{"weight": {typed}}, errs: map[string]string{}}
		if kg, ok := f.kilograms("weight", "Weight"); ok || kg != 0 || len(f.problems) != 1 || !strings.Contains(f.problems[0].Text, says) {
			t.Errorf("%q: %g %v %v, want %q", typed, kg, ok, f.problems, says)
		}
	}
}

func TestWeightDoubt(t *testing.T) {
	born := cases.MakeDay(2026, 3, 1)
	k := &cases.Case{Infant: cases.Infant{Born: born, BirthWeightG: 3000, Weights: []cases.Weight{{On: born + 10, G: 3000}, {On: born + 30, G: 3500}}}}
	for _, c := range []struct {
		day  cases.Day
		g    float64
		says string
	}{
		{2, 2750, ""}, {2, 2700, ""}, {2, 2690, "less than on 1 Mar 2026"}, // a newborn may lose a tenth
		{3, 3190, ""}, {3, 3200, "more than on 1 Mar 2026"}, // 45 g a day and the spread of two weighings
		{17, 3315, ""}, {17, 3316, "45 g a day. Over 45 g a day"}, {17, 2945, ""}, {17, 2943, "0.06 kg less than on 11 Mar 2026, when it was 3.00 kg. An infant seldom loses that much"},
		{40, 3950, ""}, {40, 4000, "50 g a day"}, {40, 3440, "less than on 31 Mar 2026"},
		{28, 3100, "It does not fit the 3.50 kg of 31 Mar 2026"}, // an older weight entered later
	} {
		got := strings.ReplaceAll(weightDoubt(k, cases.Weight{On: born + c.day, G: c.g}), "\u00a0", " ")
		if (got == "") != (c.says == "") || !strings.Contains(got, c.says) {
			t.Errorf("%g g on day %d: %q, want %q", c.g, c.day, got, c.says)
		}
	}
	if got := weightDoubt(&cases.Case{Infant: cases.Infant{Born: born}}, cases.Weight{On: born + 9, G: 900}); got != "" {
		t.Errorf("a first weight: %q", got)
	}
}
