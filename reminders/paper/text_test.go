package paper

import (
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestWrapLosesNothing(t *testing.T) {
	for _, text := range []string{"", "one", "one two three four five six seven", strings.Repeat("ÅÉ", 60), "a " + strings.Repeat("x", 90) + " b", "broken \xff bytes"} {
		lines := Wrap(text, Style{Size: 12}, 100)
		if got := strings.ReplaceAll(strings.Join(lines, ""), " ", ""); got != strings.ReplaceAll(text, " ", "") {
			t.Errorf("%q became %q", text, lines)
		}
		for _, line := range lines {
			if Width(line, Style{Size: 12}) > 100 {
				t.Errorf("%q is wider than the line", line)
			}
		}
	}
	if got := Wrap("WW", Style{Size: 12}, 1); len(got) != 2 {
		t.Errorf("a column narrower than a letter: %q", got)
	}
}

// slowWrap says what Wrap does, word by word.
func slowWrap(text string, style Style, width float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Split(text, " ") {
		if joined := line + " " + word; line != "" && Width(joined, style) <= width {
			line = joined
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		for line = word; Width(line, style) > width && utf8.RuneCountInString(line) > 1; {
			cut := len(line)
			for cut > 0 && Width(line[:cut], style) > width {
				_, n := utf8.DecodeLastRuneInString(line[:cut])
				cut -= n
			}
			_, first := utf8.DecodeRuneInString(line)
			cut = max(cut, first)
			lines, line = append(lines, line[:cut]), line[cut:]
		}
	}
	return append(lines, line)
}

func TestWrapBreaksWhereItIsDescribed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.RuneFrom([]rune("aWi  -éЖẾ王\U0001F426")), 0, 80, -1).Draw(t, "text")
		width := rapid.Float64Range(1, 200).Draw(t, "width")
		if got, want := Wrap(text, Style{Size: 12}, width), slowWrap(text, Style{Size: 12}, width); !slices.Equal(got, want) {
			t.Fatalf("%q in %.1f: %q, want %q", text, width, got, want)
		}
	})
}

// FuzzTidy: tidying twice changes nothing more, and what passes Check afterwards can be
// set sign by sign.
func FuzzTidy(f *testing.F) {
	for _, s := range []string{"Zoe\u0308", "\u200fAda", "Ế", "عائشة", "\xff", "a\u00adb", "e\u200b\u0301", "ŉ ǅ ﬁ \u2126 \u212b"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		tidy := Tidy(text)
		if again := Tidy(tidy); again != tidy {
			t.Errorf("%q became %q, then %q", text, tidy, again)
		}
		if Check(tidy) != nil {
			return
		}
		for _, r := range tidy {
			if !faceOf(Style{}).has(r) || !faceOf(Style{Bold: true}).has(r) {
				t.Errorf("%q passed with %U", text, r)
			}
		}
	})
}
