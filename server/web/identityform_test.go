package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// A birth date is corrected: what waits is held, what left is named, the due dates move,
// the old date and number still find the infant, and the trail keeps both.
func TestIdentityIsCorrected(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docMail, `"sex":"male"`, `"records":[{"authority":"Reed Hospital","number":"0012345"}],"sex":"male"`))
	at := "/infants/" + k.Reference + "/identity"
	wren := s.as("wren")
	wren.get("/letters").form("/letters/make").send()
	waits := s.lettersIn("to-print")
	if len(waits) != 1 {
		t.Fatalf("%d letters wait", len(waits))
	}
	was := s.read(k.Reference)
	f := wren.get(at).wants(200, "Check with the birth hospital", "Specimen number").form(at)
	if f.values.Get("records") != "0012345, Reed Hospital" || f.values.Get("accession") != "26-0431957" || f.values.Get("sex") != "male" {
		t.Fatalf("starts with %v", f.values)
	}
	f.send().wants(422, "Enter the reason for the correction")
	f.set("reason", "Typed from the wrong card").send().wants(409, "Nothing differs from what is on record")
	f.set("born", "20 Feb 2026").send().wants(422, "is after the sweat test of 2026-02-14")
	p := f.set("born", "19 Jan 2026").set("plurality", "2").set("order", "3").set("records", "0099, Reed Hospital").send().wants(422, "cannot be number 3 of 2")
	if p.form(at).values.Get("born") != "19 Jan 2026" || p.form(at).values.Get("reason") != "Typed from the wrong card" {
		t.Error("what was typed is lost")
	}
	if now := s.read(k.Reference); now.Rev != was.Rev {
		t.Fatal("a refused correction was written")
	}
	f = p.form(at).set("order", "1")
	f.send().wants(200, "Identity corrected", "1 letter is held", waits[0].Number, "Before: birth date 21 Jan 2026; record number 0012345, Reed Hospital", "Typed from the wrong card")
	f.send().wants(200, "Saved before")
	now := s.read(k.Reference)
	in := now.Infant
	if in.Born.String() != "2026-01-19" || in.Plurality != 2 || in.BirthOrder != 1 || in.Records[0].Number != "0099" || len(in.Former) != 1 || in.Former[0].By != "Wren Castellano" {
		t.Errorf("recorded %+v", in)
	}
	proto := cases.DefaultProtocol()
	before, after := proto.Assess(&was, cases.MakeDay(2026, 3, 5)), proto.Assess(&now, cases.MakeDay(2026, 3, 5))
	if before.Readiness.AgeFrom-after.Readiness.AgeFrom != 2 {
		t.Errorf("the first day by age moved from %s to %s", before.Readiness.AgeFrom, after.Readiness.AgeFrom)
	}
	held := s.lettersIn("held")
	if len(held) != 1 || held[0].ID != waits[0].ID || !strings.Contains(held[0].Note, "identity was corrected") {
		t.Errorf("held %+v", held)
	}
	for _, q := range []string{"21 Jan 2026", "19 Jan 2026", "0012345", "0099"} {
		if p := wren.get("/overdue").form("/infants/find").set("q", q).send(); p.path != "/infants/"+k.Reference {
			t.Errorf("%q led to %s", q, p.path)
		}
	}
	for _, want := range []string{"Identity corrected: birth date, number born together, birth order, record numbers", "Typed from the wrong card", "2026-01-21", "2026-01-19", "0012345"} {
		if !strings.Contains(s.trail(k.ID), want) {
			t.Errorf("the trail does not keep %q", want)
		}
	}
	// It is owed again, and the new one says the new date.
	wren.get("/letters").form("/letters/make").send()
	again := s.lettersIn("to-print")
	if len(again) != 1 || again[0].Number == waits[0].Number || !strings.Contains(string(again[0].Data), "19 January 2026") && !strings.Contains(string(again[0].Data), "January 19, 2026") {
		t.Errorf("made again: %+v", again)
	}
	s.as("dagny").get(at).wants(403)
}

// Letters that have left are named before and after; a correction that a letter does not
// speak of touches none.
func TestLettersOutWithOldFacts(t *testing.T) {
	s := newSite(t)
	k := s.open(docMail)
	at := "/infants/" + k.Reference + "/identity"
	wren := s.as("wren")
	wren.get("/letters").form("/letters/make").send()
	l := s.lettersIn("to-print")[0]
	wren.get(at).form(at).set("sex", "female").set("reason", "the mother").send().wants(200, "Identity corrected")
	if n := len(s.lettersIn("to-print")); n != 1 {
		t.Fatalf("a letter that does not speak of the sex was touched: %d wait", n)
	}
	wren.get("/letters").form("/letters").set("letter", l.ID).set("do", "print").send()
	wren.get("/letters?state=printed").form("/letters").set("letter", l.ID).set("do", "mailed").send().wants(200, "Marked as mailed")
	f := wren.get(at).wants(200, "Already out", l.Number, "A correction does not reach it").form(at)
	f.set("born", "20 Jan 2026").set("reason", "the hospital").send().wants(200, "Already out with what was corrected", l.Number, "Out with it: "+l.Number)
	if x := s.lettersIn("mailed"); len(x) != 1 {
		t.Errorf("a letter that left was changed: %+v", x)
	}
}

// Another infant's specimen number is refused; what somebody else changed meanwhile is
// shown with what was typed.
func TestIdentityConflicts(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docQNS, `"sex":"male"`, `"records":[{"number":"7,8","authority":"Reed, west wing"}],"sex":"male"`))
	other := s.open(doc(docQNS, "Tobias", "Isaac", "26-0431957", "26-0430001"))
	at := "/infants/" + k.Reference + "/identity"
	wren := s.as("wren")
	f := wren.get(at).form(at).set("accession", "26-0430001").set("reason", "the card")
	wren.get(at).form(at).set("reason", "none").send().wants(409, "Nothing differs")
	f.send().wants(422, other.Reference+" has this specimen number")
	f.set("accession", "26-0439999").set("plurality", "1.5").send().wants(422, "whole number from 1 to 12")
	f.set("plurality", "").set("records", ", Reed Hospital").send().wants(422, "must begin with the number")
	f.set("records", "")
	s.as("dagny").get("/infants/"+k.Reference+"/weights/new").form("/infants/"+k.Reference+"/weights").set("weight", "3.31").send().wants(200, "Weight saved")
	p := f.send().wants(409, "Somebody changed this case first", "26-0439999", "the card")
	p.form(at).send().wants(200, "Identity corrected")
	for _, n := range []string{"26-0431957", "26-0439999"} {
		if p := wren.get("/overdue").form("/infants/find").set("q", n).send(); p.path != "/infants/"+k.Reference {
			t.Errorf("%q led to %s", n, p.path)
		}
	}
}
