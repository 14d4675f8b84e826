package web_test

import (
	"strings"
	"testing"
)

// An invented sweat result: the left side is whole, the right side has no amount.
var sweatORU = strings.Join([]string{
	`MSH|^~\&|LIS|Marlow Creek Lab|DUNLIN|ALDER BAY|20260304161500||ORU^R01^ORU_R01|SW1|P|2.5.1`,
	`PID|1||77^^^MARLOW^MR||SORREL-WHITE^IDA^^^^^L||20260218|F|||1 Reed Street^^Alder Bay^EX^00001^USA^H|||||||||||||N|`,
	`NK1|1|SORREL-WHITE^MAEVE^^^^^L|MTH^Mother^HL70063||^PRN^PH^^1^555^5550166`,
	`OBR|1|S1|SW26030401|86964003^Cystic fibrosis sweat test^SCT|||20260304133000|20260304140000|||||||||||||||20260304160000|||F`,
	`OBX|1|NM|2077-6^Chloride [Moles/volume] in Sweat^LN||41|mmol/L|<30|A|||F|||20260304133000`,
	`SPM|1|S1^SW26030401||122569007^Sweat specimen^SCT||||LLFA^Left Lower Forearm^HL70163|||P|42^uL|||||20260304133000^20260304140000|20260304141500`,
	`OBR|2|S2|SW26030402|86964003^Cystic fibrosis sweat test^SCT|||20260304133000|20260304140000|||||||||||||||20260304160000|||F`,
	`OBX|1|NM|2077-6^Chloride [Moles/volume] in Sweat^LN||44|mmol/L|<30|A|||F|||20260304133000`,
	`SPM|1|S2^SW26030402||122569007^Sweat specimen^SCT||||RLFA^Right Lower Forearm^HL70163|||P||||||20260304133000^20260304140000|20260304141500`, ""}, "\r")

// docIda is the infant of the sweat result.
var docIda = doc(docNew, `"birth_weight_g":3400}`, `"birth_weight_g":3400},"family":{"mother":"Sorrel-White, Maeve","guardians":[{"family":"Sorrel-White","given":"Maeve","relation":"mother","phones":[{"number":"555-5550166"}]}]}`)

func TestASweatResultIsCorrectedAndAdded(t *testing.T) {
	s := newSite(t)
	k := s.open(docIda)
	wren := s.as("wren")
	wren.uploads("r.hl7", sweatORU)
	items := s.waiting()
	if len(items) != 1 {
		t.Fatalf("%d items wait", len(items))
	}
	path := "/intake/" + items[0].ID
	p := wren.get(path).wants(200, "The sweat test to add", "Left Lower Forearm; 42 uL", "41 mmol/L", "Nothing is converted or averaged", "AB-2026-0001")
	f := p.form(path)
	for name, want := range map[string]string{"side-1": "left", "minutes-1": "30", "amount-1": "42", "chloride-1": "41", "side-2": "right", "amount-2": "", "chloride-2": "44", "sweat-day": "4 Mar 2026"} {
		if got := f.values.Get(name); got != want {
			t.Errorf("%s is filled with %q, want %q", name, got, want)
		}
	}
	f.set("as", "other").set("case", "AB-2026-0999").send().wants(422, "There is no case AB-2026-0999")
	f = p.form(path).set("as", "other").set("case", k.Reference)
	f.send().wants(422, "how much sweat was collected on the right side")
	f.set("chloride-2", "forty").set("amount-2", "29").send().wants(422, "Site 2: chloride must be a number")
	f.set("chloride-2", "44.5").send().wants(200, "Added to AB-2026-0001")
	c := s.read(k.Reference)
	if len(c.SweatTests) != 1 || len(c.SweatTests[0].Arms) != 2 {
		t.Fatalf("tests %+v", c.SweatTests)
	}
	for _, a := range c.SweatTests[0].Arms {
		want := map[string][2]float64{"left": {42, 41}, "right": {29, 44.5}}[a.Side]
		if a.AmountUL == nil || a.Chloride == nil || [2]float64{*a.AmountUL, *a.Chloride} != want {
			t.Errorf("%s arm %+v, want %v", a.Side, a, want)
		}
	}
	wren.get("/infants/"+k.Reference).wants(200, "Intermediate", "Laboratory reads:", "Messages", "Upload, Marlow Creek Lab", "Same infant")
	if p := s.as("dagny").get("/infants/" + k.Reference); strings.Contains(p.body, path) {
		t.Error("the nurse is led to an item that she may not open")
	}
	p = wren.get(path).wants(200, "Added to AB-2026-0001 by a person.", "Does this not belong to AB-2026-0001?")
	p.form(path+"/undo").send().wants(422, "Enter why it does not belong there")
	p.form(path+"/undo").set("undo-reason", "The laboratory named the wrong infant").send().wants(200, "Taken off AB-2026-0001", "Why a person must look", "The laboratory named the wrong infant", "Save decision")
	if c := s.read(k.Reference); len(c.SweatTests) != 0 {
		t.Errorf("the test is still on the case: %+v", c.SweatTests)
	}
	wren.get("/infants/"+k.Reference).wants(200, "No test yet", "The laboratory named the wrong infant")
}
