package intake

import (
	"strings"
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

// TestIsPlain compares the eight bytes at a time with the bytes one by one.
func TestIsPlain(t *testing.T) {
	for c := range 256 {
		for at := range 19 {
			b := []byte(strings.Repeat("a~ Z", 5))[:19]
			b[at] = byte(c)
			want := c >= ' ' && c < 0x7F || c == '\r' || c == '\n' || c == '\t'
			if got := IsPlain(b); got != want {
				t.Fatalf("byte %#x at %d: %v", c, at, got)
			}
		}
	}
}

// TestSaysOut: sentences as laboratories write them (common practice), said of this
// infant or not.
func TestSaysOut(t *testing.T) {
	for s, want := range map[string]bool{
		"Result out of range": true, "The IRT is OUT-OF-RANGE": true, "abnormal": true, "Presumptive for CF": true,
		"Screen positive": true, "Screening: positive": true, "Positive screen": true, "positive for cystic fibrosis": true, "CF: positive": true,
		"Cystic fibrosis positive": true, "Referred to the CF center": true, "Please refer for sweat chloride testing": true,
		"Sweat test is strongly recommended": true, "A sweat chloride test at the center is indicated": true,
		"The result is not normal": true, "not in range": true, "CF screen not within normal limits": true, "not negative": true, "Resultado fuera de rango": true,
		"No result is not normal": true, // said twice over: a person looks
		"In range":                false, "If out of range, refer for testing": false, "Results are abnormal when above 60": false,
		"Infants with abnormal results": false, "does not refer to CF": false, "not abnormal": false, "No presumptive result": false,
		"False positive screens occur": false, "abnormal is defined as above the cut-off": false, "sweat test not needed": true,
		"negative": false, "": false, "positive": false, "Repeat card": false,
	} {
		if got := SaysOut(s); got != want {
			t.Errorf("%q: %v", s, got)
		}
	}
}
