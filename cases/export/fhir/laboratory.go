package fhir

import (
	"strings"
	"time"

	"dunlin/cases"
)

func minutes(n int) time.Duration { return time.Duration(n) * time.Minute }

// laboratoryKind is the category of laboratory observations.
func laboratoryKind() []CodeableConcept {
	return []CodeableConcept{*own(sysCategory, "laboratory", "Laboratory")}
}

// reportKind is the category of laboratory reports.
func reportKind() []CodeableConcept { return []CodeableConcept{*own(sysReport, "LAB", "Laboratory")} }

// infantFacts adds gestation and weights.
func (b *builder) infantFacts() {
	in := &b.Case.Infant
	born := in.Born.String()
	add := func(key string, code *CodeableConcept, on string, q *Quantity, remark string) {
		b.add(key, on, &Observation{Status: "final", Code: code, Subject: b.patient, EffectiveDateTime: on, ValueQuantity: q, Note: notes(remark)})
	}
	if in.BirthWeightG > 0 {
		add("birth-weight", b.concept("birth-weight", "Birth weight"), born, quantity(in.BirthWeightG, "g"), "")
	}
	if g := int(in.Gestation); g > 0 {
		q := quantity(float64(g), "d")
		if g%7 == 0 {
			q = quantity(float64(g/7), "wk")
		}
		add("gestation", b.concept("gestation", "Gestation at birth"), born, q, "Gestation "+in.Gestation.String()+".")
	}
	for _, w := range in.Weights {
		if s := b.Case.Referral.Screen; w.By == cardNumber && s != nil && w.On == s.Collected {
			add("weight", b.concept("test-weight", "Weight when the card was taken"), w.On.String(), quantity(w.G, "g"), "From the newborn screen card.")
			continue
		}
		remark := ""
		if clean(w.By) != "" {
			remark = "Entered by or taken from: " + clean(w.By) + "."
		}
		add("weight", words("Body weight"), w.On.String(), quantity(w.G, "g"), remark)
	}
}

// screen adds the newborn screen: the card, its results, and the report.
func (b *builder) screen() {
	s := b.Case.Referral.Screen
	if s == nil {
		return
	}
	lab := b.organization(s.Laboratory)
	on := s.Collected.String()
	card := &Specimen{Type: b.concept("blood-spot", "Blood spot card"), Subject: b.patient, Collection: &Collection{CollectedDateTime: on}}
	if s.CardSerial != "" {
		card.Identifier = []Identifier{{Type: words("Newborn screening card serial number"), Value: s.CardSerial}}
	}
	if s.Accession != "" {
		card.AccessionIdentifier = &Identifier{Value: s.Accession, Assigner: lab}
	}
	spot := b.add("specimen", "screen", card)
	var results []*Reference
	add := func(key, text string, fill func(o *Observation)) {
		o := &Observation{Status: "final", Category: laboratoryKind(), Code: b.concept(key, text), Subject: b.patient,
			EffectiveDateTime: on, Performer: list(lab), Specimen: spot}
		fill(o)
		results = append(results, b.add("screen", key, o))
	}
	switch {
	case s.IRTNgML != nil:
		add("irt", "IRT", func(o *Observation) { o.ValueQuantity, o.Note = quantity(*s.IRTNgML, "ng/mL"), notes(s.IRTText) })
	case clean(s.IRTText) != "":
		add("irt", "IRT", func(o *Observation) { o.ValueString = s.IRTText })
	}
	if clean(s.Result) != "" {
		add("interpretation", "Interpretation of the newborn screen", func(o *Observation) { o.ValueCodeableConcept = b.answer(s.Result) })
	}
	if clean(s.Comment) != "" {
		add("comment", "Comment on the newborn screen", func(o *Observation) { o.ValueString = s.Comment })
	}
	if s.Transfused {
		add("factor", "Infant factor", func(o *Observation) { o.ValueCodeableConcept = b.concept("answer:transfusion", "Transfused") })
	}
	r := &DiagnosticReport{Status: "final", Category: reportKind(), Code: b.concept("screen-panel", "Newborn screen for cystic fibrosis"),
		Subject: b.patient, EffectiveDateTime: on, Performer: list(lab), Specimen: list(spot), Result: list(results...)}
	if s.Accession != "" {
		r.Identifier = []Identifier{{Value: s.Accession, Assigner: lab}}
	}
	if s.Reported != 0 {
		r.Conclusion = "Reported on " + cases.Say(s.Reported) + "."
	}
	b.add("report", "screen", r)
}

// answer is the interpretation as sent; the code of the answer list goes with it where
// the words are exactly those of the list.
func (b *builder) answer(text string) *CodeableConcept {
	return b.concept("answer:"+strings.ToLower(clean(text)), text)
}

// genotype adds the report of variants: one observation for each variant and allele,
// named as the laboratory wrote it.
func (b *builder) genotype() {
	g := b.Case.Genotype
	if g == nil || g.Scope == "none" {
		return
	}
	method := map[string]string{"panel": "Panel of variants", "sequencing": "Sequencing, with deletions and duplications"}[g.Scope]
	add := func(on cases.Day, value *CodeableConcept, remark ...string) *Reference {
		return b.add("variant", value.Text, &Observation{Status: "final", Category: laboratoryKind(), Code: b.concept("variant", "CFTR variant"), Subject: b.patient,
			EffectiveDateTime: on.String(), ValueCodeableConcept: value, Method: words(method), Note: notes(remark...)})
	}
	var results []*Reference
	for i := range g.Variants {
		v := &g.Variants[i]
		on := v.Reported
		if on == 0 {
			on = g.Reported
		}
		value := words(v.Name)
		if h := cases.VariantHGVS(v.Name); h != "" {
			value.Coding = []Coding{{sysHGVS, h, ""}}
		}
		if clean(v.Name) == "" {
			value = words("Variant without a name")
		}
		results = append(results, add(on, value, phase(v), class(v)))
	}
	if len(g.Variants) == 0 && g.Reported != 0 {
		results = append(results, add(g.Reported, words("No variant reported"), "Holds for the variants that were looked for."))
	}
	if len(results) == 0 {
		return
	}
	b.add("report", "genotype", &DiagnosticReport{Status: "final", Category: reportKind(), Code: b.concept("variant", "CFTR variants"), Subject: b.patient,
		EffectiveDateTime: g.Reported.String(), Result: list(results...), Conclusion: "The day is that of the report."})
}

// phase says on which chromosome a variant lies, where that is known.
func phase(v *cases.Variant) string {
	switch {
	case v.Phase == "cis" && v.Allele > 0:
		return "In cis on allele " + string(rune('0'+v.Allele)) + "."
	case v.Phase == "cis":
		return "In cis with the others named in cis."
	case v.Phase == "trans":
		return "In trans."
	}
	return ""
}

// class says which class a person entered in place of the table's.
func class(v *cases.Variant) string {
	if v.Class == "" {
		return ""
	}
	return sentences("Class entered by the program: "+v.Class, v.ClassSource)
}
