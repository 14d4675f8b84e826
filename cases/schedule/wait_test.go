package schedule

import (
	"fmt"
	"strings"
	"testing"

	"dunlin/cases"
)

// waitCase makes a case out of a piece of a document about an infant born 1 Mar 2026
// and referred on 8 Mar 2026.
func waitCase(t testing.TB, infant, more, on string) (Wait, bool) {
	t.Helper()
	doc := fmt.Sprintf(`{"document":"dunlin-case/1","reference":"AB-2026-0042","infant":{"born":"2026-03-01",%s},"referral":{"on":"2026-03-08","route":"screen"}%s}`, infant, more)
	p := cases.DefaultProtocol()
	c, err := cases.ParseCase([]byte(doc), day(t, on), p)
	if err != nil {
		t.Fatalf("%v in %s", err, doc)
	}
	a := p.Assess(&c, day(t, on))
	return WaitOf(&c, &a, p)
}

const (
	bornAtTerm = `"gestation":"39w2d","birth_weight_g":3200,"weights":[{"on":"2026-03-11","g":3290}]`
	light      = `"gestation":"39w2d","birth_weight_g":1900,"weights":[{"on":"2026-03-09","g":1800},{"on":"2026-03-16","g":1905}]`
)

func sweat(on string, left, right string) string {
	return `,"sweat_tests":[{"on":"` + on + `","collector":"tubing","arms":[{"side":"left","minutes":30,` + left + `},{"side":"right","minutes":30,` + right + `}]}]`
}

// Days of the protocol: 14 days old on 15 Mar, day 28 on 29 Mar. Growth of the light
// infant: 15 g a day, 95 g short, so seven days after 16 Mar (numbers.md 4.5).
func TestWaitOf(t *testing.T) {
	for _, c := range []struct {
		name, infant, more, on string
		kind                   Kind
		from, due              string
		urgency                float64
		blocked, fromWhy       string
		estimate               bool
	}{
		{name: "by age", infant: bornAtTerm, on: "2026-03-10", from: "2026-03-15", due: "2026-03-29", urgency: 1, fromWhy: "14 days old"},
		{name: "today", infant: bornAtTerm, on: "2026-03-20", from: "2026-03-20", due: "2026-03-29", urgency: 1},
		{name: "late", infant: bornAtTerm, on: "2026-04-09", from: "2026-04-09", due: "2026-03-29", urgency: 1},
		{name: "corrected age", infant: `"gestation":"30w0d","birth_weight_g":1400,"weights":[{"on":"2026-03-20","g":2100}]`, on: "2026-03-21", from: "2026-04-12", due: "2026-04-19", urgency: 1, fromWhy: "corrected age 36w0d"},
		{name: "one variant", infant: bornAtTerm, more: `,"genotype":{"reported":"2026-03-07","scope":"panel","variants":[{"name":"F508del"}]}`, on: "2026-03-10", from: "2026-03-15", due: "2026-03-29", urgency: 1.5},
		{name: "two variants", infant: bornAtTerm, more: `,"genotype":{"reported":"2026-03-07","scope":"panel","variants":[{"name":"F508del"},{"name":"F508del"}]}`, on: "2026-03-10", from: "2026-03-15", due: "2026-03-29", urgency: 3},
		{name: "projected", infant: light, on: "2026-03-17", from: "2026-03-23", due: "2026-03-29", urgency: 1, fromWhy: "2000 g are expected between 20 Mar 2026 and 28 Mar 2026", estimate: true},
		{name: "projected, past", infant: light, on: "2026-03-26", from: "2026-03-26", due: "2026-03-29", urgency: 1, estimate: true},
		{name: "not gaining", infant: `"gestation":"39w2d","birth_weight_g":1900,"weights":[{"on":"2026-03-09","g":1800},{"on":"2026-03-16","g":1805}]`, on: "2026-03-17", from: "2026-03-17", due: "2026-03-29", urgency: 1, blocked: "not rising; weigh again by Mon 23 Mar 2026"},
		{name: "far", infant: `"gestation":"30w0d","birth_weight_g":800`, on: "2026-03-10", from: "2026-04-12", due: "2026-04-19", urgency: 1, blocked: "too far ahead"},
		{name: "no weight", infant: `"gestation":"39w2d"`, on: "2026-03-10", from: "2026-03-15", due: "2026-03-29", urgency: 1, blocked: "no weight is recorded"},
		{name: "hold ends", infant: bornAtTerm, more: `,"holds":[{"reason":"oxygen","from":"2026-03-09","until":"2026-03-24"}]`, on: "2026-03-20", from: "2026-03-24", due: "2026-03-29", urgency: 1, fromWhy: "on hold until then: oxygen"},
		{name: "hold open", infant: bornAtTerm, more: `,"holds":[{"reason":"skin","from":"2026-03-09","look_again":"2026-03-22"}]`, on: "2026-03-20", from: "2026-03-20", due: "2026-03-29", urgency: 1, blocked: "on hold: skin; ask again on Sun 22 Mar 2026"},
		{name: "QNS", infant: bornAtTerm, more: sweat("2026-03-18", `"amount_ul":4`, `"amount_ul":6`), on: "2026-03-18", kind: RepeatTest, from: "2026-03-19", due: "2026-03-25", urgency: 2, fromWhy: "the test before was on 18 Mar 2026"},
		{name: "intermediate", infant: bornAtTerm, more: sweat("2026-03-18", `"amount_ul":20,"chloride":41`, `"amount_ul":21,"chloride":43`), on: "2026-03-20", kind: RepeatTest, from: "2026-04-01", due: "2026-04-15", urgency: 2},
		{name: "missed", infant: bornAtTerm, more: `,"bookings":[{"on":"2026-03-18","at":"09:30","state":"missed","changed":"2026-03-18"}]`, on: "2026-03-20", from: "2026-03-20", due: "2026-03-29", urgency: 1},
		{name: "booked before the QNS", infant: bornAtTerm, more: `,"bookings":[{"on":"2026-03-18","at":"09:30","state":"kept","changed":"2026-03-18"}]` + sweat("2026-03-18", `"amount_ul":4`, `"amount_ul":6`), on: "2026-03-20", kind: RepeatTest, from: "2026-03-20", due: "2026-03-25", urgency: 2},
	} {
		w, ok := waitCase(t, c.infant, c.more, c.on)
		if !ok {
			t.Errorf("%s: waits for nothing", c.name)
			continue
		}
		if w.Kind != c.kind || w.From != day(t, c.from) || w.Deadline != day(t, c.due) || w.Urgency != c.urgency || w.Estimate != c.estimate {
			t.Errorf("%s: %s from %s (%s), due %s, urgency %g, estimate %v", c.name, w.Kind.Word(), w.From, w.FromWhy, w.Deadline, w.Urgency, w.Estimate)
		}
		if (c.blocked == "") != (w.Blocked == "") || !strings.Contains(w.Blocked, c.blocked) || !strings.Contains(w.FromWhy, c.fromWhy) {
			t.Errorf("%s: blocked %q, first day because %q", c.name, w.Blocked, w.FromWhy)
		}
		if w.Estimate && w.Readiness.Ready {
			t.Errorf("%s: ready by an estimate", c.name)
		}
	}
}

func TestWaitsForNothing(t *testing.T) {
	for name, more := range map[string]string{
		"booked ahead":       `,"bookings":[{"on":"2026-03-25","at":"09:30","state":"booked"}]`,
		"booked, nothing in": `,"bookings":[{"on":"2026-03-19","at":"09:30","state":"booked"}]`,
		"kept, nothing in":   `,"bookings":[{"on":"2026-03-19","at":"09:30","state":"kept","changed":"2026-03-19"}]`,
		"tested":             sweat("2026-03-18", `"amount_ul":20,"chloride":11`, `"amount_ul":21,"chloride":13`),
		"value awaited":      sweat("2026-03-18", `"amount_ul":20`, `"amount_ul":21`),
		"declined":           `,"declined":{"on":"2026-03-15"}`,
		"moved":              `,"handover":{"on":"2026-03-12","accepted_on":"2026-03-14"}`,
	} {
		if w, ok := waitCase(t, bornAtTerm, more, "2026-03-20"); ok {
			t.Errorf("%s: waits for a %s from %s", name, w.Kind.Word(), w.From)
		}
	}
	if _, ok := waitCase(t, bornAtTerm+`,"died":"2026-03-15"`, "", "2026-03-20"); ok {
		t.Error("an infant that died waits for a place")
	}
}

// A re-test of an infant closed as CRMS/CFSPID is planned from eight weeks before the
// day to look again, and not for a day before it.
func TestRetest(t *testing.T) {
	more := `,"genotype":{"reported":"2026-03-07","scope":"sequencing","variants":[{"name":"F508del"},{"name":"D1152H"}]}` +
		sweat("2026-03-18", `"amount_ul":20,"chloride":21`, `"amount_ul":21,"chloride":23`) +
		`,"closures":[{"on":"2026-03-20","as":"crms-cfspid","by":"a","agreed_by":"b","look_again":"2026-09-01"}]`
	if _, ok := waitCase(t, bornAtTerm, more, "2026-07-06"); ok {
		t.Error("waits nine weeks before its day")
	}
	for _, c := range []struct{ on, from, why string }{
		{"2026-07-07", "2026-09-01", "the day to look again"}, {"2026-08-31", "2026-09-01", "the day to look again"},
		{"2026-09-01", "2026-09-01", ""}, {"2026-10-05", "2026-10-05", ""},
	} {
		w, ok := waitCase(t, bornAtTerm, more, c.on)
		if !ok || w.Kind != Retest || w.From != day(t, c.from) || w.FromWhy != c.why || w.Deadline != day(t, "2026-09-29") || w.Repeat != nil {
			t.Errorf("%s: %v: %+v", c.on, ok, w)
		}
	}
	for name, x := range map[string]string{"booked": `,"bookings":[{"on":"2026-09-02","at":"09:30","state":"booked"}]`, "moved": `,"handover":{"on":"2026-08-02","accepted_on":"2026-08-14"}`} {
		if w, ok := waitCase(t, bornAtTerm, more+x, "2026-09-01"); ok {
			t.Errorf("%s: waits from %s", name, w.From)
		}
	}
	if _, ok := waitCase(t, bornAtTerm+`,"died":"2026-08-15"`, more, "2026-09-01"); ok {
		t.Error("an infant that died waits for a re-test")
	}
}

func TestWaitOfFamily(t *testing.T) {
	w, _ := waitCase(t, bornAtTerm, `,"family":{"language":"es","interpreter":true,"visits":{"max_km":60,"weekdays":[2,4],"not_before":"10:00"},
		"guardians":[{"address":{"postal":"11111"}},{"letters":true,"address":{"postal":"22222"}},{"address":{"postal":"33333"}}]}`, "2026-03-20")
	if w.Postal != "22222" || w.Language != "es" || w.Limits.MaxKm != 60 || len(w.Limits.Weekdays) != 2 || w.Limits.NotBefore != "10:00" {
		t.Errorf("%+v", w)
	}
	w, _ = waitCase(t, bornAtTerm, `,"family":{"language":"es","guardians":[{"address":{"postal":"11111","bad":true}},{"address":{"postal":"44444"}}]}`, "2026-03-20")
	if w.Postal != "44444" || w.Language != "" {
		t.Errorf("without an interpreter, first address wrong: %+v", w)
	}
}

func TestTwins(t *testing.T) {
	twin := func(ref, other string, born, from, due cases.Day) Wait {
		return Wait{Reference: ref, Siblings: []string{other}, Born: born, From: from, Deadline: due}
	}
	d := springDay
	for _, c := range []struct {
		name string
		a, b Wait
		want int
	}{
		{"twins", twin("b", "a", d, d, d+9), twin("a", "b", d+1, d+3, d+9), 1},
		{"older sibling", twin("b", "a", d, d, d+9), twin("a", "b", d+2, d+3, d+9), 2},
		{"named on one side", twin("b", "", d, d, d+9), twin("a", "b", d, d, d+9), 2},
		{"ready after the other is due", twin("b", "a", d, d, d+9), twin("a", "b", d, d+10, d+20), 2},
		{"both late", twin("b", "a", d, d+12, d+9), twin("a", "b", d, d+12, d+10), 1},
	} {
		got := Twins([]Wait{c.a, c.b})
		if len(got) != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
		if c.want == 1 && (got[0][0] != 1 || got[0][1] != 0) {
			t.Errorf("%s: not in the order of the references: %v", c.name, got)
		}
	}
	blocked := twin("a", "b", d, d, d+9)
	blocked.Blocked = "on hold"
	if got := Twins([]Wait{twin("b", "a", d, d, d+9), blocked}); len(got) != 2 {
		t.Errorf("a blocked twin holds the other back: %v", got)
	}
}
