package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// trail is everything the trail says of a case.
func (s *site) trail(id cases.ID) string {
	s.t.Helper()
	var all strings.Builder
	err := s.db.View(s.t.Context(), func(r cases.Reader) error {
		list, err := r.History(id)
		if err != nil {
			return err
		}
		for _, x := range list {
			all.WriteString(x.Event.Text + " " + x.Event.Reason + " " + x.Actor.Name)
			for _, c := range x.Fields {
				all.Write(c.Old)
				all.Write(c.New)
			}
		}
		return nil
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return all.String()
}

// A guardian is added, chosen with a reason, and removed; a bad address gives way to a new
// one, and the trail keeps the old.
func TestGuardiansComeAndGo(t *testing.T) {
	s := newSite(t)
	k := s.open(withName(t, "Ada", "Wren", "Oyelaran", []string{"14 Curlew Lane"}, func(c *cases.Case) {
		c.Family.Guardians[0].Letters, c.Family.PickOne, c.Family.Guardians[0].Address.Bad = false, true, true
	}))
	at := "/infants/" + k.Reference
	wren := s.as("wren")
	f := wren.get(at+"/family").wants(200, "Mail came back from the address on record", "Who gets letters").form(at + "/family")
	p := f.set("more", "yes").send().wants(422, "Enter the guardian whom you add", "Guardian 2")
	if n := len(s.read(k.Reference).Family.Guardians); n != 1 {
		t.Fatalf("%d guardians were saved by adding fields", n)
	}
	f = p.form(at + "/family")
	f.set("g1-phones", "555-0177").set("g0-lines", "3 Sandpiper Court").set("g0-postal", "9<21>").send().
		wants(422, "Enter the name of this guardian", "letters, digits, blanks and hyphens only", "3 Sandpiper Court")
	f = f.set("g1-family", "Tern").set("g1-given", "Nell").set("g1-relation", "grandmother").set("g0-postal", "99210-4410").set("g0-county", "Tern Valley")
	f.set("letters", "0").send().wants(422, "Enter why letters go to this guardian", "TERN, Nell (grandmother)")
	f.set("source", "The mother on the phone").send().wants(200, "Family saved")
	fam := s.read(k.Reference).Family
	if len(fam.Guardians) != 2 || !fam.Guardians[0].Letters || fam.Guardians[1].Letters || fam.PickOne || fam.Guardians[0].Address.Bad || fam.Guardians[0].Address.Postal != "99210-4410" || fam.Guardians[0].Address.County != "Tern Valley" {
		t.Fatalf("family %+v", fam)
	}
	for _, want := range []string{"14 Curlew Lane", "The mother on the phone", "Wren Castellano"} {
		if all := s.trail(k.ID); !strings.Contains(all, want) {
			t.Errorf("the trail does not keep %q: %s", want, all)
		}
	}
	f = wren.get(at + "/family").form(at + "/family")
	f.set("g0-off", "yes").send().wants(422, "Enter why the guardian is removed", "Letters cannot go to a guardian who is removed")
	f.set("letters", "1").set("source", "Court order").send().wants(200, "Family saved")
	if fam = s.read(k.Reference).Family; len(fam.Guardians) != 1 || fam.Guardians[0].Family != "Tern" || !fam.Guardians[0].Letters || fam.PickOne {
		t.Errorf("family %+v", fam)
	}
}

// The form of the doctor does not ask for a county, and does not lose one that was sent.
func TestADoctorsCountyIsKept(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docQNS, `"flags"`, `"primary_care":{"name":"Dr. Averill","address":{"lines":["2 Curlew Street"],"city":"Alder Bay","county":"Tern Valley","postal":"00012"}},"flags"`))
	at := "/infants/" + k.Reference + "/primary-care"
	s.as("wren").get(at).form(at).set("fax", "555-0199").send().wants(200, "Primary care saved")
	if pc := s.read(k.Reference).PrimaryCare; pc.Fax != "555-0199" || pc.Address.County != "Tern Valley" {
		t.Errorf("%+v %+v", pc, pc.Address)
	}
}
