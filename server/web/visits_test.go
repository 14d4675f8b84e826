package web_test

import (
	"testing"

	"dunlin/cases"
)

// What the family said about coming decides what is offered, and can be taken back.
func TestHowTheFamilyCanCome(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)), session(cases.MakeDay(2026, 3, 10)))
	at := "/infants/" + k.Reference
	nurse := s.as("dagny")
	nurse.get(at).wants(200, "How the family can come")
	p := nurse.get(at+"/visits").form(at+"/visits").set("weekdays", "2").set("not-before", "11:00").set("not-after", "10:00").set("max-km", "0").send()
	f := p.wants(422, "Latest start must not be before the earliest, 11:00", "must be 1 to 20,000 km").form(at + "/visits")
	if f.values.Get("weekdays") != "2" || f.values.Get("not-before") != "11:00" {
		t.Errorf("what was typed is lost: %v", f.values)
	}
	f.set("not-before", "10:00").set("not-after", "12:00").set("max-km", "").send().wants(200, "Saved how the family can come", "On Tuesday; from 10:00; start until 12:00")
	p = nurse.get(at+"/book").wants(200, "Tue 10 Mar 2026, 10:10")
	if got := p.form(at + "/place").values.Get("place"); got != "alder-bay 2026-03-10 10:10" {
		t.Errorf("the first offer is %s", got)
	}
	f = nurse.get(at + "/visits").form(at + "/visits")
	if f.values.Get("weekdays") != "2" || f.values.Get("not-after") != "12:00" {
		t.Errorf("the form starts with %v", f.values)
	}
	f.set("weekdays").set("not-before", "").set("not-after", "").send().wants(200, "Saved")
	if v := s.read(k.Reference).Family; v.Visits != nil || len(v.Guardians) != 1 {
		t.Errorf("family %+v", v)
	}
	s.as("ines").get(at + "/visits").wants(403)
}
