package intake_test

import (
	"strings"
	"testing"

	"dunlin/cases/intake"
	"dunlin/cases/intake/hl7"
)

// TestTooLong: a value longer than anything meant goes to a person with its place,
// whatever the answer of the screen.
func TestTooLong(t *testing.T) {
	long := strings.Repeat("F508del ", 1000)
	s := newStand(t)
	for name, raw := range map[string]string{
		"variant":        panel(160, obx("ST", cVar, long), interp(aOut)),
		"unknown result": panel(160, obx("ST", "CF^cystic fibrosis^L", long), interp(aIn)),
		"name":           strings.Replace(panel(160, interp(aOut)), babies[160%len(babies)].family, strings.TrimSpace(long), 1),
		"answer":         panel(160, obx("CWE", cInterp, "LA18592-8^"+long+"^LN")),
	} {
		got := s.try(t, intake.Settings{}, raw)
		if got.outcomes() != "review" || !strings.Contains(got.text(), "too long to be read") {
			t.Errorf("%s: %s\n%s", name, got.outcomes(), got.text())
		}
	}
}

// TestLongSentences: what a comment says at the end of a long sentence counts, and a
// negation far off in a text without an end denies nothing.
func TestLongSentences(t *testing.T) {
	s := newStand(t)
	words := strings.Repeat("as it was measured ", 8)
	for _, said := range []string{words + "it is out of range", strings.Repeat("no word ", 50_000) + strings.Repeat("the result stands here ", 100) + "it is out of range"} {
		got := s.try(t, intake.Settings{}, panel(161, interp(aIn), obx("TX", cComment, said)))
		if got.outcomes() != "review" || !strings.Contains(got.text(), "says something else") {
			t.Errorf("%d bytes: %s\n%s", len(said), got.outcomes(), got.text())
		}
	}
}

// BenchmarkLongComment: ten times the comment takes ten times as long.
func BenchmarkLongComment(b *testing.B) {
	for name, n := range map[string]int{"50 kB": 50_000, "500 kB": 500_000} {
		raw := []byte(panel(162, interp(aIn), obx("TX", cComment, strings.Repeat("sweat referred it was out of all range ", n/39))))
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(n))
			for b.Loop() {
				r := (hl7.Format{}).Read(raw, intake.Settings{})
				intake.Decide(&r.Items[0], intake.Settings{})
			}
		})
	}
}

// TestTooMany: more infants, people or sites than any message has go to a person, and
// take no longer for it.
func TestTooMany(t *testing.T) {
	s := newStand(t)
	many := func(n int, f func(i int) string) (out []string) {
		for i := range n {
			out = append(out, f(i))
		}
		return out
	}
	sweat := []string{oru(170), pid(170), obr(170, "86964003^Cystic fibrosis sweat test^SCT")}
	for said, raw := range map[string]string{
		"infants, more than 500":                  message(append([]string{oru(170)}, many(600, pid)...)...),
		"more than 100 people of the family":      message(flat([]string{oru(170), pid(170)}, many(200, nk1), []string{orc(170), obr(170, cCF), interp(aOut)})...),
		"There are more than 100 sites of sweat.": message(append(sweat, many(200, func(int) string { return measured("NM", "2077-6^Chloride^LN", "70", "mmol/L", "", "") })...)...),
	} {
		got := s.try(t, intake.Settings{}, raw)
		if got.outcomes() != "review" || !strings.Contains(got.text(), said) {
			t.Errorf("%s: %s\n%.800s", said, got.outcomes(), got.text())
		}
	}
}
