package fhir

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"dunlin/cases"
)

// texts are words as people and messages bring them, with what FHIR does not take.
var texts = []string{"", " ", "Wren", "  Ada \t", "O'Neil-\u00c5s", "line one\nline two", "nul\x00and\x1bescape", "\xff\xfe", "<b>&", "=1+1", "\U0001F476", "\u200f\u05d0"}

// sources draws a case with whatever the document can hold, as of a day.
var sources = rapid.Custom(func(t *rapid.T) Source {
	g := drawer{t: t}
	g.born = cases.MakeDay(2026, 1, 1) + cases.Day(g.upTo(300))
	g.on = g.born + cases.Day(g.upTo(400))
	s := Source{Today: g.on, Made: noon(g.on)}
	s.Case = cases.Case{Document: cases.DocumentName, Reference: g.one("AB-2026-0042", "", "odd reference/1"), Owner: g.text(), Infant: g.infant(), Referral: g.referral()}
	g.laboratory(&s.Case)
	g.people(&s.Case)
	g.course(&s.Case)
	for range g.upTo(3) {
		m := cases.Outgoing{ID: g.text(), Kind: g.one("booking", "sitter"), ToWhom: g.one("family", "primary-care"), By: g.one("email", "text"),
			State: g.one("queued", "sent", "bounced", "uncertain", "failed"), Note: g.text()}
		m.History = []cases.LetterStep{{At: noon(g.day()), State: m.State}}
		s.Messages = append(s.Messages, m)
	}
	if g.yes() {
		s.Changes = []cases.Entry{{Fields: []cases.FieldChange{{Path: "sweat_tests[0].arms[0].chloride", Old: json.RawMessage("41"), New: json.RawMessage("14")}}}}
	}
	return s
})

// drawer draws the parts of a case.
type drawer struct {
	t        *rapid.T
	born, on cases.Day
}

func (g drawer) upTo(n int) int            { return rapid.IntRange(0, n).Draw(g.t, "n") }
func (g drawer) yes() bool                 { return rapid.Bool().Draw(g.t, "yes") }
func (g drawer) one(from ...string) string { return rapid.SampledFrom(from).Draw(g.t, "one") }
func (g drawer) text() string              { return g.one(texts...) }
func (g drawer) day() cases.Day            { return g.born + cases.Day(g.upTo(int(g.on-g.born))) }
func (g drawer) clock() cases.Clock {
	return cases.Clock(g.one("", "09:30", "02:30", "23:59", "24:61", "x"))
}
func (g drawer) some(f func() float64) *float64 {
	if !g.yes() {
		return nil
	}
	v := f()
	return &v
}
func (g drawer) amount() float64 { return float64(g.upTo(4000)) / 10 }

func (g drawer) infant() cases.Infant {
	in := cases.Infant{Given: g.text(), Family: g.text(), FormerNames: []string{g.text()}, Sex: g.one("", "female", "male", "other", "unknown"), Born: g.born, BornAt: g.clock(),
		Plurality: g.upTo(3), BirthOrder: g.upTo(3), Gestation: cases.Gestation(g.upTo(300)), BirthWeightG: g.amount()}
	for range g.upTo(3) {
		in.Weights = append(in.Weights, cases.Weight{On: g.day(), G: g.amount(), By: g.one(cardNumber, "", " ", "Wren")})
		in.Records = append(in.Records, cases.RecordNo{Number: g.text(), Authority: g.one("", cardNumber, motherNumber, motherNumber+", Bay Hospital", "1.2.840.1", "1.02.3")})
	}
	if g.yes() {
		in.Died = g.day()
	}
	return in
}

func (g drawer) referral() cases.Referral {
	r := cases.Referral{On: g.day(), Route: g.one("screen", "clinical", "sibling", "prenatal", "meconium-ileus")}
	if g.yes() {
		r.Screen = &cases.Screen{Accession: g.text(), CardSerial: g.text(), Laboratory: g.text(), IRTNgML: g.some(g.amount), IRTText: g.text(),
			Result: g.one("Out of range", "in range ", "odd", ""), Comment: g.text(), Transfused: g.yes()}
		if g.yes() {
			r.Screen.Collected, r.Screen.Reported = g.day(), g.on
		}
	}
	return r
}

func (g drawer) laboratory(c *cases.Case) {
	if g.yes() {
		c.Genotype = &cases.Genotype{Scope: g.one("panel", "sequencing", "none")}
		if g.yes() {
			c.Genotype.Reported = g.day()
		}
		for range g.upTo(2) {
			c.Genotype.Variants = append(c.Genotype.Variants, cases.Variant{Name: g.one("F508del", "R117H;5T", "c.1234A>G", "", " "), Phase: g.one("", "cis", "trans", "unknown"),
				Allele: g.upTo(2), Class: g.one("", "varying"), ClassSource: g.text()})
		}
	}
	for range g.upTo(3) {
		x := cases.SweatTest{On: g.day(), At: g.clock(), Site: g.one("", "alder-bay", "heron-point"), Collector: g.one("tubing", "pad"), Analyte: g.one("", "chloride", "conductivity"), WeightG: g.amount()}
		for _, side := range []string{"left", "right"}[:1+g.upTo(1)] {
			a := cases.Arm{Side: side, Place: g.one("", "forearm", "upper-leg"), Minutes: float64(1 + g.upTo(60)), Chloride: g.some(g.amount), Conductivity: g.some(g.amount),
				Reaction: g.one("", "none", "blister"), Began: g.clock(), Ended: g.clock(), Accession: g.text()}
			if x.Collector == "pad" {
				a.AmountMg = g.some(g.amount)
			} else {
				a.AmountUL = g.some(g.amount)
			}
			x.Arms = append(x.Arms, a)
		}
		if g.yes() {
			x.Verified = &cases.Verified{On: x.On, By: g.text(), As: g.one("stands", "void")}
		}
		if g.yes() {
			x.Laboratory = &cases.LabReading{Name: g.text(), Reads: g.text()}
		}
		c.SweatTests = append(c.SweatTests, x)
	}
}

func (g drawer) people(c *cases.Case) {
	if g.yes() {
		c.PrimaryCare = &cases.PrimaryCare{Name: g.text(), Practice: g.text(), Phone: g.text(), Fax: g.text(), Email: g.text(), Address: g.address()}
	}
	if !g.yes() {
		return
	}
	f := &cases.Family{Mother: g.text(), Language: g.one("", "en", "es-MX", "zh Hant", "not sent"), Interpreter: g.yes()}
	if g.yes() {
		f.MotherBorn = cases.MakeDay(1996, 2, 29)
	}
	for range g.upTo(2) {
		f.Guardians = append(f.Guardians, cases.Guardian{Given: g.text(), Family: g.text(), Relation: g.one("mother", "Mother ", "foster parent", "", "father"),
			Phones: []cases.Phone{{Number: g.text(), Kind: g.one("", "home", "mobile", "x")}}, Address: g.address(), Email: g.text(), Letters: g.yes()})
	}
	c.Family = f
}

func (g drawer) address() *cases.Address {
	if !g.yes() {
		return nil
	}
	return &cases.Address{Lines: []string{g.text(), g.text()}, City: g.text(), Region: g.text(), Postal: g.text(), Country: g.text(), County: g.text(), Bad: g.yes()}
}

func (g drawer) course(c *cases.Case) {
	for range g.upTo(3) {
		c.Bookings = append(c.Bookings, cases.Booking{On: g.day() + 5, At: g.clock(), Site: g.one("", " ", "alder-bay", "heron-point"), State: g.one("booked", "kept", "missed", "cancelled"),
			Reason: g.text(), Minutes: g.upTo(1) * 45, UID: g.one("", "uid-1")})
	}
	for range g.upTo(1) {
		k := cases.Closure{On: max(g.day(), c.Referral.On), As: g.one(cases.Determinations...), By: g.text(), AgreedBy: "I. Heron", Clinician: g.text(), Reason: g.one("reviewed", ""), Code: g.one("", "E84.9", "Q33.9", " ")}
		c.Closures = append(c.Closures, k)
	}
	if g.yes() {
		c.RepeatOrdered = &cases.RepeatOrdered{On: g.day(), By: g.text()}
	}
	for range g.upTo(3) {
		c.Letters = append(c.Letters, cases.LetterMade{Kind: g.one("first-notice", "doctor-result", "odd"), Occasion: g.text(),
			State: g.one("to-print", "printed", "mailed", "came-back", "answered", "signed-for", "refused", "unclaimed", "held"), MailedOn: g.day(), Number: g.text()})
	}
	if g.yes() {
		c.Holds = []cases.Hold{{Reason: "oxygen", From: g.day()}}
	}
}

// TestAnyCase: whatever a case holds, its bundle is one that R4 allows, and the same
// case gives the same bytes.
func TestAnyCase(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := sources.Draw(r, "case")
		o := options(t, cases.DefaultProtocol())
		data := written(t, s, o)
		for _, f := range checkBundle(data) {
			r.Fatalf("%s\n%s", f, data)
		}
		if !bytes.Equal(data, written(t, s, o)) {
			r.Fatal("the same case gives other bytes")
		}
	})
}

// TestOutsideValidator hands golden, random, and wrong bundles to a validator that is
// not ours (.ci/fhir). DUNLIN_FHIR_CHECK names its program.
func TestOutsideValidator(t *testing.T) {
	program := os.Getenv("DUNLIN_FHIR_CHECK")
	if program == "" {
		if os.Getenv("DUNLIN_CI") != "" {
			t.Fatal("DUNLIN_FHIR_CHECK does not name the validator; .ci/run builds it")
		}
		t.Skip("DUNLIN_FHIR_CHECK does not name the validator: cd .ci/fhir && go build -o FILE .")
	}
	files, err := filepath.Glob("testdata/golden/*.json")
	if err != nil || len(files) < 26 {
		t.Fatalf("%d golden bundles, %v", len(files), err)
	}
	random := filepath.Join(t.TempDir(), "random.json")
	var b bytes.Buffer
	for seed := range 400 {
		b.Write(written(t, sources.Example(seed), options(t, cases.DefaultProtocol())))
	}
	for _, w := range workedCases(t) {
		b.Write(written(t, w.s, options(t, w.p)))
	}
	for _, d := range demoSources(t) {
		b.Write(written(t, d, options(t, cases.DefaultProtocol())))
	}
	if err := os.WriteFile(random, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	start := time.Now()
	out, err := exec.Command(program, append(files, random, "testdata/reference/f01-case-export-bundle.json")...).CombinedOutput()
	if err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	t.Logf("%s in %v", bytes.TrimSpace(out), time.Since(start))
	out, err = exec.Command(program, "testdata/reference/f02-invalid-on-purpose.json").CombinedOutput()
	if err == nil || !strings.Contains(string(out), "Appointment.status") {
		t.Errorf("the bundle that is wrong on purpose is accepted, or for another reason: %v\n%s", err, out)
	}
}
