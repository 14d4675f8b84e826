package cases_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// The days of letters are the program's: each moves what is due, and nonsense is refused.
func TestMailingValuesMoveWhatIsDue(t *testing.T) {
	read := func(text string) *cases.Protocol {
		t.Helper()
		p, err := cases.ParseProtocol([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	c := sought(known, firstMade, doctorMade, ahead, bookingMade)
	for _, x := range []struct{ protocol, on, want string }{
		{`{}`, "2026-03-17", ""},
		{`{"mailing":{"reminder_from_working_days":6}}`, "2026-03-17", "reminder (2026-03-25 09:30) 2026-03-17"},
		{`{"mailing":{"reminder_until_working_days":2}}`, "2026-03-23", "reminder (2026-03-25 09:30) 2026-03-18"},
		{`{"mailing":{"reminder_after_working_days":5}}`, "2026-03-18", ""},
		{`{"mailing":{"reminder_after_working_days":5}}`, "2026-03-19", "reminder (2026-03-25 09:30) 2026-03-19"},
	} {
		a := read(x.protocol).Assess(&c, at(x.on))
		if got := owedIn(&a); got != x.want {
			t.Errorf("%s on %s: %q, want %q", x.protocol, x.on, got, x.want)
		}
	}
	late := sought(known, noVariants, collected("2026-03-24", 12, 14), func(c *cases.Case) {
		c.Closures = []cases.Closure{{On: at("2026-03-24"), As: "not-affected", By: "M. Lark", RestsOn: []cases.Day{at("2026-03-24")}}}
	})
	for text, want := range map[string]bool{`{}`: false, `{"mailing":{"doctor_result_days":40}}`: true} {
		a := read(text).Assess(&late, at("2026-04-30"))
		if got := len(a.DoctorLettersDue) == 1; got != want || !a.Closed {
			t.Errorf("%s: owed to primary care %v, closed %v", text, got, a.Closed)
		}
	}
	if a := read(`{"mailing":{"call_within_days":14}}`).Assess(&c, at("2026-03-17")); a.CallBy != at("2026-03-31") {
		t.Errorf("call by %s", a.CallBy)
	}
	for _, text := range []string{`{"mailing":{"reminder_until_working_days":6}}`, `{"mailing":{"call_within_days":0}}`, `{"mailing":{"doctor_result_days":-1}}`, `{"mailing":{"reminder_from_working_days":31}}`, `{"mailing":{"reminder":1}}`} {
		if _, err := cases.ParseProtocol([]byte(text)); err == nil || !strings.Contains(err.Error(), "protocol") {
			t.Errorf("%s: %v", text, err)
		}
	}
}
