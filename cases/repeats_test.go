package cases_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

const repeatBase = `{"document":"dunlin-case/1","infant":{"born":"2026-03-01","gestation":"39w0d","weights":[{"on":"2026-03-12","g":3300}]},"referral":{"on":"2026-03-06","route":"screen"},
"contacts":[{"on":"2026-03-06","with":"primary-care","by":"phone","reached":true},{"on":"2026-03-06","with":"family","by":"phone","reached":true}],
"genotype":{"reported":"2026-03-06","scope":"panel","variants":[{"name":"F508del"}]},"sweat_tests":[TESTS]}`

func sweatOn(on, left, right string) string {
	return `{"on":"` + on + `","collector":"tubing","arms":[{"side":"left","minutes":30,` + left + `},{"side":"right","minutes":30,` + right + `}]}`
}

// Windows: protocol.md section 10, rows 20 to 22 (after QNS 7 days and never on the
// same day; after intermediate 28 days within 14 to 60); the limit of 2 is row 21.
func TestRepeatPlan(t *testing.T) {
	p := cases.DefaultProtocol()
	const short, ok = `"amount_ul":9`, `"amount_ul":20,"chloride":`
	elastase := cases.ActOrderGenotype | cases.ActConsiderElastase | cases.ActTellSupervisor
	for _, c := range []struct {
		name, tests        string
		because            string
		from, due, last    string
		attempt, fruitless int
		consider           cases.Actions
	}{
		{"QNS", sweatOn("2026-03-16", short, short), "qns", "2026-03-17", "2026-03-23", "", 2, 1, 0},
		{"two QNS", sweatOn("2026-03-16", short, short) + "," + sweatOn("2026-03-24", short, short), "qns", "2026-03-25", "2026-03-31", "", 3, 2, elastase},
		{"QNS and arms that disagree", sweatOn("2026-03-16", short, short) + "," + sweatOn("2026-03-24", ok+"12", ok+"45"), "arms-disagree", "2026-03-25", "2026-03-31", "", 3, 2, elastase},
		{"not plausible", sweatOn("2026-03-16", ok+"170", ok+"172"), "unverified", "2026-03-17", "2026-03-23", "", 2, 1, cases.ActVerifyValue},
		{"intermediate", sweatOn("2026-03-16", ok+"35", ok+"38"), "intermediate", "2026-03-30", "2026-04-13", "2026-05-15", 2, 0, cases.ActOrderGenotype},
		{"intermediate, then QNS", sweatOn("2026-03-16", ok+"35", ok+"38") + "," + sweatOn("2026-04-13", short, short), "qns", "2026-04-14", "2026-04-20", "", 3, 0, cases.ActOrderGenotype},
		{"does not fit", sweatOn("2026-03-16", ok+"66", ok+"70") + "," + sweatOn("2026-03-24", ok+"12", ok+"14"), "does-not-fit", "2026-03-25", "2026-03-31", "", 3, 0, cases.ActOrderGenotype | cases.ActConfirmIdentity},
	} {
		k, err := cases.ParseCase([]byte(strings.ReplaceAll(repeatBase, "TESTS", c.tests)), cases.MakeDay(2026, 6, 1), p)
		if err != nil {
			t.Fatal(c.name, err)
		}
		a := p.Assess(&k, k.SweatTests[len(k.SweatTests)-1].On+1)
		got, open := p.RepeatPlan(&a)
		if !open || got.Because != c.because || got.From.String() != c.from || got.Due.String() != c.due || got.Last.String() != c.last || got.Attempt != c.attempt ||
			got.Fruitless != c.fruitless || got.PastLimit() != (c.fruitless >= 2) || got.Consider != c.consider {
			t.Errorf("%s: %+v, considers %v", c.name, got, got.Consider)
		}
	}
	// Two intermediate tests on different days end the repeats (case-document.md).
	k, err := cases.ParseCase([]byte(strings.ReplaceAll(repeatBase, "TESTS", sweatOn("2026-03-16", ok+"35", ok+"38")+","+sweatOn("2026-04-13", ok+"41", ok+"44"))), cases.MakeDay(2026, 6, 1), p)
	if err != nil {
		t.Fatal(err)
	}
	a := p.Assess(&k, cases.MakeDay(2026, 4, 14))
	if r, open := p.RepeatPlan(&a); open {
		t.Errorf("a third test is planned: %+v", r)
	}
	// A shorter interval than the window's start moves the start.
	p.IntermediateRepeatDays = 7
	k.SweatTests = k.SweatTests[:1]
	a = p.Assess(&k, cases.MakeDay(2026, 3, 17))
	if r, _ := p.RepeatPlan(&a); r.From != cases.MakeDay(2026, 3, 23) || r.Due != r.From || r.Last != cases.MakeDay(2026, 5, 15) {
		t.Errorf("with 7 days: %+v", r)
	}
}

// The series of protocol.md section 10, row 23: 6, 12, then every 12 months to age 8.
func TestRetestSeries(t *testing.T) {
	p := cases.DefaultProtocol()
	k, err := cases.ParseCase([]byte(strings.ReplaceAll(repeatBase, "TESTS", sweatOn("2026-03-16", `"amount_ul":20,"chloride":35`, `"amount_ul":20,"chloride":38`)+","+
		sweatOn("2026-08-20", `"amount_ul":20,"chloride":41`, `"amount_ul":20,"chloride":44`))), cases.MakeDay(2026, 9, 1), p)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"2026-09-01 2026-08-20", "2027-03-01 ", "2028-03-01 ", "2029-03-01 ", "2030-03-01 ", "2031-03-01 ", "2032-03-01 ", "2033-03-01 ", "2034-03-01 "}
	series := p.RetestSeries(&k, cases.MakeDay(2026, 9, 1))
	if len(series) != len(want) {
		t.Fatalf("%d days", len(series))
	}
	for i, d := range series {
		tested := ""
		if d.Tested != 0 {
			tested = d.Tested.String()
		}
		if got := d.On.String() + " " + tested; got != want[i] {
			t.Errorf("%d months: %s, want %s", d.Months, got, want[i])
		}
	}
	for after, next := range map[string]string{"2026-03-20": "2026-09-01", "2026-08-20": "2027-03-01", "2026-09-01": "2027-03-01", "2027-03-01": "2028-03-01", "2034-03-01": ""} {
		d, _ := cases.ParseDay(after)
		got := p.NextRetest(&k, d)
		if text := map[bool]string{true: "", false: got.String()}[got == 0]; text != next {
			t.Errorf("after %s: %s, want %s", after, text, next)
		}
	}
}
