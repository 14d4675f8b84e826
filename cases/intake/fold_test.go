package intake

import (
	"testing"

	"pgregory.net/rapid"
)

// TestFold: both ways of folding agree, and accents, case and marks fall away.
func TestFold(t *testing.T) {
	for in, want := range map[string]string{"PEÑA": "pena", "O'Brien-Łukasz": "obrienlukasz", "  A b\t": "ab", "Zoë": "zoe", "王": "王", "": ""} {
		if got := fold(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[ -~]{0,20}`).Draw(t, "text")
		if a, b := fold(s), fold(s+"́"); a != b {
			t.Fatalf("%q: %q and %q", s, a, b)
		}
	})
}
