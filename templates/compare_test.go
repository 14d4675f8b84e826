package templates

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// written shows marked characters in brackets.
func written(ps []Part) string {
	var b strings.Builder
	for _, p := range ps {
		if p.Mark {
			b.WriteString("[" + p.Text + "]")
		} else {
			b.WriteString(p.Text)
		}
	}
	return b.String()
}

// Characters are marked only when the values are at least 80% alike.
func TestDifferences(t *testing.T) {
	for _, x := range [][4]string{
		{"26-0447182", "26-0447181", "26-044718[2]", "26-044718[1]"},
		{"DRUMMOND, Baby girl B", "DRUMMOND, Baby girl A", "DRUMMOND, Baby girl [B]", "DRUMMOND, Baby girl [A]"},
		{"04:37", "04:12", "[04:37]", "[04:12]"},
		{"Müller, Zoë", "Muller, Zoe", "M[ü]ller, Zo[ë]", "M[u]ller, Zo[e]"},
		{"Girl", "Boy", "[Girl]", "[Boy]"},
		{"", "Boy", "[]", "[Boy]"},
		{"9 Feb 2026", "9 Feb 2026", "9 Feb 2026", "9 Feb 2026"},
	} {
		a, b := Differences(x[0], x[1])
		if written(a) != x[2] || written(b) != x[3] {
			t.Errorf("%q and %q: %s and %s, want %s and %s", x[0], x[1], written(a), written(b), x[2], x[3])
		}
	}
}

// No character is lost, and equal values have no mark.
func TestDifferencesKeepEveryCharacter(t *testing.T) {
	join := func(ps []Part) (s string) {
		for _, p := range ps {
			s += p.Text
		}
		return s
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.RuneFrom([]rune("abcABC 12-é漢")), 0, 130, -1)
		a := text.Draw(t, "a")
		b := rapid.OneOf(text, rapid.Just(a), rapid.Just(a+"x")).Draw(t, "b")
		x, y := Differences(a, b)
		if join(x) != a || join(y) != b {
			t.Fatalf("%q %q became %q %q", a, b, join(x), join(y))
		}
		if a == b && a != "" && len(a) <= mostCompared && written(x) != a {
			t.Fatalf("%q is marked: %s", a, written(x))
		}
	})
}
