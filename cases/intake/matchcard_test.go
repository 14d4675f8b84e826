package intake_test

import (
	"strings"
	"testing"

	"dunlin/cases/intake"
)

// TestCardOfTheTwin: a card number written on the wrong infant's result does not carry
// it there. Where anything tells the infants apart, a person decides.
func TestCardOfTheTwin(t *testing.T) {
	for name, pairs := range map[string][]string{
		"birth time":  {"|20260301041500-0600|F", "|20260301043100-0600|F"},
		"given name":  {"TESTFAMILY^BABYGIRL^", "TESTFAMILY^ODALYS^"},
		"sex":         {"|20260301041500-0600|F", "|20260301041500-0600|M"},
		"birth order": {"|||||||||||||N|", "|||||||||||||Y|2"},
	} {
		b := newBench(t, intake.Settings{})
		b.receive("screen", d01(t, "^BABYGIRL^", "^ADA^"))
		if _, same := b.receive("agrees", sweat(t, normal, "TESTFAMILY^BABYGIRL^", "TESTFAMILY^ADA^")), b.of("AB-2026-0001"); len(same.SweatTests) != 1 {
			t.Fatal("nothing is tested: the result that agrees does not go on the case")
		}
		it := b.receive(name, sweat(t, normal, append([]string{"SW260323", "SW270323", "D08-0001", "X"}, pairs...)...)).Items[0]
		if it.Outcome != "review" || !strings.Contains(strings.Join(it.Reasons, " "), "AB-2026-0001") {
			t.Errorf("%s: %s, %v", name, it.Outcome, it.Reasons)
		}
		eq(t, name, len(b.of("AB-2026-0001").SweatTests), 1)
	}
}
