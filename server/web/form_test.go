package web

import (
	"net/url"
	"strings"
	"testing"

	"dunlin/cases"
)

// Dates as people type them, on Thursday 5 March 2026.
func TestParseDay(t *testing.T) {
	today, _ := cases.ParseDay("2026-03-05")
	for _, c := range []struct{ typed, want string }{
		{"5 Mar 2026", "2026-03-05"}, {"5 march", "2026-03-05"}, {"Fri 6 Mar 2026", "2026-03-06"}, {"Thursday 5 March 2026", "2026-03-05"}, {"March 5, 2026", "2026-03-05"},
		{"5\u00a0Mar\u00a02026", "2026-03-05"}, {" 5th  March 2026 ", "2026-03-05"}, {"5mar", "2026-03-05"}, {"sept 1 2025", "2025-09-01"},
		{"today", "2026-03-05"}, {"TOMORROW", "2026-03-06"}, {"yesterday", "2026-03-04"}, {"+2d", "2026-03-07"}, {"-1w", "2026-02-26"}, {"+ 3 days", "2026-03-08"},
		{"2026-03-05", "2026-03-05"}, {"2026-3-5", "2026-03-05"}, {"25/03/2026", "2026-03-25"}, {"03/25/2026", "2026-03-25"}, {"4/4/2026", "2026-04-04"},
		{"29 Feb 2024", "2024-02-29"}, {"28 dec", "2025-12-28"}, {"20 aug", "2026-08-20"}, {"29 feb", "!like 5 Mar 2026"},
		{"03/05/2026", "!can mean 3 May or March 5. Type the month in letters"}, {"5.3.2026", "!can mean"}, {"5/3/26", "!year of four figures"},
		{"29 Feb 2025", "!real date"}, {"31 Apr 2026", "!real date"}, {"2026-02-30", "!real date"}, {"40 Mar 2026", "!real date"}, {"13/13/2026", "!real date"},
		{"", "!real date"}, {"soon", "!real date"}, {"about 5 Mar 2026", "!real date"}, {"5 ma 2026", "!real date"}, {"0/5/2026", "!real date"}, {"5 Mar 1200", "!real date"},
	} {
		d, problem := parseDay(c.typed, today)
		if want, bad := strings.CutPrefix(c.want, "!"); bad {
			if d != 0 || !strings.Contains(problem, want) {
				t.Errorf("%q: %s %q, want %q", c.typed, d, problem, want)
			}
			continue
		}
		if problem != "" || d.String() != c.want {
			t.Errorf("%q: %s %q, want %s", c.typed, d, problem, c.want)
		}
	}
}

func FuzzParseDay(f *testing.F) {
	for _, s := range []string{"5 Mar 2026", "+2d", "03/05/2026", "2026-03-05", "today", "Fri 6 %d", "\xff"} {
		f.Add(s)
	}
	today, _ := cases.ParseDay("2026-03-05")
	f.Fuzz(func(t *testing.T, s string) {
		d, problem := parseDay(s, today)
		if (d == 0) == (problem == "") {
			t.Errorf("%q: %d, %q", s, d, problem)
		}
		if d != 0 && problem == "" {
			if _, err := cases.ParseDay(d.String()); err != nil {
				t.Errorf("%q gave %d, which is no day: %v", s, d, err)
			}
		}
	})
}

func newForm(pairs ...string) *form {
	v := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		v.Add(pairs[i], pairs[i+1])
	}
	today, _ := cases.ParseDay("2026-03-05")
	return &form{values: v, today: today, errs: map[string]string{}}
}

//asvs:2.2.1 1.3.3
func TestForm(t *testing.T) {
	for _, c := range []struct {
		name, typed string
		read        func(*form) any
		want        any
		problem     string
	}{
		{"text", "  two words ", func(f *form) any { return f.text("x", "Note", 20) }, "two words", ""},
		{"text too long", "abcdef", func(f *form) any { return f.text("x", "Note", 5) }, "", "Note must be at most 5 characters. It is 6"},
		{"text with zero byte", "a\x00b", func(f *form) any { return f.text("x", "Note", 20) }, "", "Note has a character that cannot be kept"},
		{"line break in one line", "a\r\nb", func(f *form) any { return f.text("x", "Note", 20) }, "", "cannot be kept"},
		{"lines", "a\r\nb", func(f *form) any { return f.lines("x", "Note", 20) }, "a\nb", ""},
		{"broken encoding", "a\xffb", func(f *form) any { return f.text("x", "Note", 20) }, "", "characters that cannot be read"},
		{"needed", " ", func(f *form) any { return f.need("x", "Note", "Enter the note", 20) }, "", "Enter the note"},
		{"number", "3,27", func(f *form) any { v, _ := f.number("x", "Weight"); return v }, 3.27, ""},
		{"number with unit", "24 µL", func(f *form) any { v, _ := f.number("x", "Volume"); return v }, 0.0, "Volume must be a number"},
		{"number with sign", "-3", func(f *form) any { v, _ := f.number("x", "Volume"); return v }, 0.0, "Volume must be a number"},
		{"huge number", "1e99", func(f *form) any { v, _ := f.number("x", "Volume"); return v }, 0.0, "Volume must be a number"},
		{"choice", "phone", func(f *form) any { return f.choice("x", "Select how", "phone", "fax") }, "phone", ""},
		{"choice not offered", "pigeon", func(f *form) any { return f.choice("x", "Select how", "phone", "fax") }, "", "Select how"},
		{"time", "9.40", func(f *form) any { return string(f.time("x", "Time")) }, "09:40", ""},
		{"time without colon", "0940", func(f *form) any { return string(f.time("x", "Time")) }, "09:40", ""},
		{"no time", "24:10", func(f *form) any { return string(f.time("x", "Time")) }, "", "24-hour clock"},
		{"needed day", "", func(f *form) any { return int(f.needDay("x", "Collection date")) }, 0, "Enter the collection date"},
		{"revision", "x", func(f *form) any { f.values.Set("rev", "-1"); return int(f.rev()) }, 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newForm("x", c.typed)
			if got := c.read(f); got != c.want {
				t.Errorf("read %v, want %v", got, c.want)
			}
			got := ""
			if len(f.problems) > 0 {
				got = f.problems[0].Text
			}
			if c.problem == "" && got != "" || !strings.Contains(got, c.problem) {
				t.Errorf("problem %q, want %q", got, c.problem)
			}
		})
	}
}

//asvs:1.2.2
func TestSafeNext(t *testing.T) {
	for next, want := range map[string]string{"/overdue?why=x": "/overdue?why=x", "//evil.example": "", "https://evil.example": "", `/\evil.example`: "", "overdue": "", "": "", "/sign-out": "", "/a\r\nb": "", "javascript:x": ""} {
		if got := safeNext(next); got != want {
			t.Errorf("%q: %q, want %q", next, got, want)
		}
	}
}

func TestPathWords(t *testing.T) {
	for path, want := range map[string]string{"sweat_tests[0].arms[1].minutes": "sweat tests 1, arms 2, minutes", "infant.given": "infant, given"} {
		if got := pathWords(path); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	for raw, want := range map[string]string{``: "None", `null`: "None", `"2026-03-05"`: "5 Mar 2026", `{"on":"2026-03-05","by":"phone","reached":true}`: "on: 5 Mar 2026; by: phone; reached: yes", `[1,2.50]`: "1; 2.50", `{}`: "None", `{"a`: "None"} {
		if got := valueWords([]byte(raw)); got != want {
			t.Errorf("%s: %q, want %q", raw, got, want)
		}
	}
}
