package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// closedLong is a record of an infant born in 2014 whose case was closed as a carrier.
func (s *site) closedLong(born string) cases.Case {
	s.t.Helper()
	d, err := cases.ParseDay(born)
	if err != nil {
		s.t.Fatal(err)
	}
	c := cases.Case{Infant: cases.Infant{Family: "Quillfeather", Given: "Zephyrine", Born: d}, Referral: cases.Referral{On: d + 3, Route: "screen"},
		Closures: []cases.Closure{{On: d + 40, As: "other-diagnosis", By: "A", AgreedBy: "B", AgreedOn: d + 40, Reason: "r"}}}
	s.update(func(w cases.Writer) (err error) { c, err = w.PutCase(c, cases.Event{Kind: "opened"}); return err })
	return c
}

func TestErasingNeedsTwoPeople(t *testing.T) {
	s := newSite(t)
	old, held, young := s.closedLong("2014-01-05"), s.closedLong("2014-02-05"), s.closedLong("2024-01-05")
	wren, ines := s.as("wren"), s.as("ines")
	s.as("dagny").get("/settings/keeping").wants(403)
	p := wren.get("/settings/keeping").wants(200, "No record's time is over", "Nothing yet")
	p = p.form("/settings/keeping").set("no-cf", "10").send().wants(422, "Enter the rule or law")
	p = p.form("/settings/keeping").set("source", "Alder Bay rule 7").set("no-cf", "ten").send().wants(422, "must be whole years")
	p = p.form("/settings/keeping").set("no-cf", "10").send().wants(200, "Times saved", old.Reference, held.Reference, "10 years after closing")
	if strings.Contains(p.body, young.Reference) {
		t.Error("a record is listed before its time")
	}
	wren.get("/infants/"+held.Reference+"/legal-hold").form("/infants/"+held.Reference+"/legal-hold").set("reason", "A claim").send().wants(200)
	p = wren.get("/settings/keeping").wants(200, "Legal hold")
	at := "/settings/keeping/propose"
	p = p.form(at).set("reason", "too old").send().wants(422, "Select the records to be erased")
	p = p.form(at).set("reference", old.Reference).set("reason", "about Zephyrine").send().wants(422, "must name nobody", "zephyrine")
	p.form(at).set("reference", old.Reference).set("reason", "kept long enough").send().wants(200, "Proposed.", "Waits for a second person")
	decide := "/settings/keeping/decide"
	p = wren.get("/settings/keeping").wants(200, "Take the proposal back")
	if strings.Contains(p.body, "Erase them now") {
		t.Error("who proposed is offered to confirm")
	}
	p.form(decide).set("decision", "erase").set("own", "me again").send().wants(409, "Another person must confirm")
	s.read(old.Reference)
	p = ines.get("/settings/keeping").wants(200, "Erase them now", "Wren Castellano", "kept long enough")
	p = p.form(decide).set("decision", "erase").send().wants(422, "Enter why they are erased, in your own words")
	p.form(decide).set("own", "the time is over").send().wants(200, "Erased:", "1 record", "confirmed by Ines Okafor-Lund", "kept long enough / the time is over")
	wren.get("/infants/" + old.Reference).wants(404)
	wren.get("/infants/" + held.Reference).wants(200)
	if _, err := s.find(old.Reference); cases.KindOf(err) != cases.NotFound {
		t.Error(err)
	}
	problems, err := s.db.Check(t.Context())
	if err != nil || len(problems) > 0 {
		t.Errorf("%v %v", problems, err)
	}
}

func TestErasingOnAnOrder(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at := "/settings/keeping/propose"
	wren := s.as("wren")
	wren.get("/settings/keeping").form(at).set("order", "AB-1999-0001").set("reason", "order").send().wants(422, "no infant with the reference")
	wren.get("/settings/keeping").form(at).set("order", strings.ToLower(k.Reference)).set("reason", "court order 12").send().wants(200, "Proposed.")
	p := s.as("ines").get("/settings/keeping").form("/settings/keeping/decide").set("decision", "drop").send().wants(200, "Taken back")
	p.form(at).set("order", k.Reference).set("reason", "court order 12").send().wants(200, "Proposed.")
	wren.get("/settings/keeping").form("/settings/keeping/decide").set("decision", "erase").set("own", "seen the order").send().wants(200, "Erased:", "order or request that the program must follow")
	wren.get("/infants/" + k.Reference).wants(404)
}
