package web_test

import "testing"

// A diagnosis code is chosen by the person who closes the case, fits the determination,
// and is shown where the closing is; without a choice there is none.
func TestClosingWithADiagnosisCode(t *testing.T) {
	s := newSite(t)
	k := s.open(docCarrier)
	path := "/infants/" + k.Reference + "/close"
	f := s.as("wren").get(path).wants(200, "Diagnosis code (optional)", "Carrier: Z14.1, Cystic fibrosis carrier").form(path)
	if f.values.Get("diagnosis") != "" {
		t.Errorf("a code is chosen beforehand: %v", f.values)
	}
	f.set("as", "carrier").set("clinician", "Dr. H. Lindqvist")
	p := f.set("diagnosis", "E84.9").send().wants(422, "Diagnosis code does not belong to Carrier")
	f = p.form(path)
	if f.values.Get("diagnosis") != "E84.9" {
		t.Errorf("what was chosen is not kept: %v", f.values)
	}
	f.set("diagnosis", "Z14.1").send().wants(200, "Case closed")
	if x := s.read(k.Reference).Closures; len(x) != 1 || x[0].Code != "Z14.1" {
		t.Errorf("closures %+v", x)
	}
	s.as("wren").get("/infants/"+k.Reference+"/reopen").wants(200, "Diagnosis code", "Z14.1")
}
