package fhir

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"dunlin/cases"
)

// sweatTests adds each sweat test: a specimen and an observation for each arm, and the
// report with the program's reading.
func (b *builder) sweatTests() {
	for i := range b.a.Tests {
		b.sweatTest(&b.a.Tests[i])
	}
}

func (b *builder) sweatTest(r *cases.TestReading) {
	t := r.Test
	key := strings.TrimSuffix(t.On.String()+"/"+string(t.At), "/")
	order, lab := b.orderOf(t.On), b.laboratoryOf(t)
	report := &DiagnosticReport{BasedOn: list(order), Status: b.reportState(r), Category: reportKind(), Code: b.concept("sweat-test", "Sweat test"),
		Subject: b.patient, EffectiveDateTime: b.at(t.On, t.At), Performer: list(lab), Conclusion: b.reading(r)}
	for j := range r.Arms.N {
		arm := &t.Arms[j]
		specimen := b.add("sweat", key+"/"+arm.Side, b.sweatOf(r, j, order))
		value := b.valueOf(r, j)
		value.BasedOn, value.Performer, value.Specimen = list(order), list(lab), specimen
		report.Specimen = append(report.Specimen, *specimen)
		report.Result = append(report.Result, *b.add("chloride", key+"/"+arm.Side, value))
	}
	if t.WeightG > 0 {
		report.Result = append(report.Result, *b.add("test-weight", key, &Observation{Status: "final", Code: b.concept("test-weight", "Weight at the test"),
			Subject: b.patient, EffectiveDateTime: b.at(t.On, t.At), ValueQuantity: quantity(t.WeightG, "g")}))
	}
	b.add("report", "sweat/"+key, report)
}

// laboratoryOf is the laboratory that signed the result; nil when none did.
func (b *builder) laboratoryOf(t *cases.SweatTest) *Reference {
	if t.Laboratory == nil {
		return nil
	}
	return b.organization(t.Laboratory.Name)
}

// sweatOf is the sweat of one arm. An arm below the needed amount is unsatisfactory.
func (b *builder) sweatOf(r *cases.TestReading, j int, order *Reference) *Specimen {
	t, a := r.Test, &r.Test.Arms[j]
	s := &Specimen{Status: "available", Type: b.concept("sweat", "Sweat"), Subject: b.patient, Request: list(order)}
	if a.Accession != "" {
		s.AccessionIdentifier = &Identifier{Value: a.Accession}
	}
	if !r.Arms.A[j].Usable && !t.IsConductivity() {
		s.Status, s.Note = "unsatisfactory", notes(notEnough(a))
	}
	if a.Hurt() {
		s.Note = append(s.Note, notes("Skin after the test: "+a.Reaction+".")...)
	}
	c := &Collection{Duration: quantity(a.Minutes, "min"), BodySite: words(bodySite(a)), Method: words(collectors[t.Collector])}
	began, ok := b.time(t.On, a.Began)
	if ended, both := b.time(t.On, a.Ended); ok && both && !ended.Before(began) {
		c.CollectedPeriod = &Period{b.moment(began), b.moment(ended)}
	} else if ok {
		c.CollectedDateTime = b.moment(began)
	} else {
		c.CollectedDateTime = b.at(t.On, t.At)
	}
	switch {
	case a.AmountUL != nil:
		c.Quantity = quantity(*a.AmountUL, "uL")
	case a.AmountMg != nil:
		c.Quantity = quantity(*a.AmountMg, "mg")
	}
	s.Collection = c
	return s
}

var collectors = map[string]string{"tubing": "Microbore tubing", "pad": "Gauze or filter paper"}

// notEnough says why the sweat of an arm cannot be used.
func notEnough(a *cases.Arm) string {
	if a.AmountUL == nil && a.AmountMg == nil {
		return "No amount is recorded, so it is not known to be enough."
	}
	return "Quantity not sufficient (QNS)"
}

func bodySite(a *cases.Arm) string {
	side, place := "Left", "forearm"
	if a.Side == "right" {
		side = "Right"
	}
	if a.Place == "upper-leg" {
		place = "upper leg"
	}
	return side + " " + place
}

// valueOf is the value of one arm. One below the needed amount was not analyzed as far
// as anybody may use it: the observation is cancelled and carries no number.
func (b *builder) valueOf(r *cases.TestReading, j int) *Observation {
	t, a := r.Test, &r.Test.Arms[j]
	o := &Observation{Status: "final", Category: laboratoryKind(), Code: b.concept("chloride", "Sweat chloride"), Subject: b.patient, EffectiveDateTime: b.at(t.On, t.At)}
	value := a.Chloride
	if t.IsConductivity() {
		o.Code, value = words("Sweat conductivity, a screening test"), a.Conductivity
	} else {
		o.ReferenceRange = []ReferenceRange{{b.bands()}}
	}
	switch {
	case !t.IsConductivity() && !r.Arms.A[j].Usable:
		o.Status, o.ReferenceRange = "cancelled", nil
		o.DataAbsentReason = own(sysAbsent, "not-performed", "Not Performed")
		o.DataAbsentReason.Text = notEnough(a)
		if value != nil {
			o.Note = notes("A value was recorded for this arm. It is kept by the program and not used, because the amount is not enough.")
		}
	case value == nil:
		o.Status, o.DataAbsentReason = "registered", own(sysAbsent, "temp-unknown", "Temporarily Unknown")
		o.DataAbsentReason.Text = "No result yet"
	default:
		o.ValueQuantity = quantity(*value, "mmol/L")
		switch {
		case r.Outcome == cases.Unverified:
			o.Status, o.Note = "preliminary", notes("Above the plausible limit; nobody has checked it yet.")
		case b.corrected(r.Index, j):
			o.Status = "corrected"
		}
	}
	if r.Outcome == cases.VoidTest {
		o.Status = "entered-in-error"
		o.Note = notes(void(t))
	}
	return o
}

func void(t *cases.SweatTest) string {
	return "The test is void by the word of " + t.Verified.By + " on " + cases.Say(t.Verified.On) + "; it is kept and not counted."
}

// bands are the program's bands in words, mmol/L.
func (b *builder) bands() string {
	p := b.o.Protocol
	n := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	to, from := "below "+n(p.CFFrom), "from "+n(p.CFFrom)
	if p.CFStrictlyAbove {
		to, from = "up to "+n(p.CFFrom), "above "+n(p.CFFrom)
	}
	text := fmt.Sprintf("By the program's protocol, mmol/L: below %s CF unlikely, from %s to %s intermediate, %s in the CF range", n(p.IntermediateFrom), n(p.IntermediateFrom), to, from)
	if p.OlderFromDays != nil {
		text += fmt.Sprintf("; from %d days of age intermediate begins at %s", *p.OlderFromDays, n(p.OlderIntermediateFrom))
	}
	return text
}

// reportState is the status of a test's report (R4 value set DiagnosticReportStatus).
func (b *builder) reportState(r *cases.TestReading) string {
	switch r.Outcome {
	case cases.VoidTest:
		return "entered-in-error"
	case cases.Unverified, cases.ArmsDisagree:
		return "preliminary"
	case cases.NotResulted:
		for i := range r.Arms.N {
			if r.Test.Arms[i].Chloride != nil {
				return "partial"
			}
		}
		return "registered"
	}
	for j := range r.Arms.N {
		if b.corrected(r.Index, j) {
			return "corrected"
		}
	}
	return "final"
}

// reading says how the program's protocol reads the test, and what the laboratory says.
func (b *builder) reading(r *cases.TestReading) string {
	text := "Read by the program's protocol: " + r.Outcome.Word()
	if r.Deciding != nil {
		text += ", by " + strconv.FormatFloat(*r.Deciding, 'f', -1, 64) + " mmol/L"
	}
	parts := []string{text, "This is not a diagnosis; a named clinician decides"}
	if r.Outcome == cases.VoidTest {
		parts = []string{void(r.Test)}
	}
	if l := r.Test.Laboratory; l != nil && clean(l.Reads) != "" {
		parts = append(parts, "The laboratory says: "+l.Reads)
	}
	if v := r.Test.Verified; v != nil && v.As == "stands" && v.On <= b.Today {
		parts = append(parts, v.By+" said on "+cases.Say(v.On)+" that the values stand")
	}
	return sentences(parts...)
}

var armValue = regexp.MustCompile(`^sweat_tests\[(\d+)\]\.arms\[(\d+)\]\.(chloride|conductivity|amount_ul|amount_mg)$`)

// corrected tells whether a value of an arm took the place of another one.
func (b *builder) corrected(test, arm int) bool {
	for i := range b.Changes {
		for _, f := range b.Changes[i].Fields {
			m := armValue.FindStringSubmatch(f.Path)
			if m == nil || m[1] != strconv.Itoa(test) || m[2] != strconv.Itoa(arm) {
				continue
			}
			if given(f.Old) && given(f.New) {
				return true
			}
		}
	}
	return false
}

func given(v []byte) bool { return len(v) > 0 && string(v) != "null" }
