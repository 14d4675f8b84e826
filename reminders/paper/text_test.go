package paper

import (
	"strings"
	"testing"
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
