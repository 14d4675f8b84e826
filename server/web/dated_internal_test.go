package web

import "testing"

// TestDated: days of the program read as on every page; what was sent stays as it came.
func TestDated(t *testing.T) {
	for in, want := range map[string]string{
		"":                                       "",
		"birth date 2026-11-18 here, 2026-11-11": "birth date 18 Nov 2026 here, 11 Nov 2026",
		`The date "2026-02-18" is not one.`:      `The date "2026-02-18" is not one.`,
		`before 2026-13-45 and 2026-02-30`:       `before 2026-13-45 and 2026-02-30`,
		`a "2026-01-01" b 2026-01-02 "c`:         `a "2026-01-01" b 2 Jan 2026 "c`,
		"card 12026-11-18":                       "card 12026-11-18",
	} {
		if got := dated(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
