package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// Two cases of one infant: compared, proposed by one person, merged by another, and old
// links lead to the one that stays; then taken apart.
func TestMergeByTwoPeopleAndBack(t *testing.T) {
	s := newSite(t)
	k, dup := s.open(docQNS), s.open(docQNS)
	at, old := "/infants/"+k.Reference, "/infants/"+dup.Reference
	wren := s.as("wren")
	wren.get(old).wants(200, "The same infant as another case, or not")
	wren.get(old+"/merge").wants(200, "Reference of the other case")
	wren.get(old+"/merge?with=AB-1999-0001").wants(422, "There is no infant with the reference AB-1999-0001")
	wren.get(old+"/merge?with="+dup.Reference).wants(422, "This is the same case")
	p := wren.get(old+"/merge?with="+strings.ToLower(k.Reference)).wants(200, "One infant, or two?", "Laboratory number", k.Reference+" stays", dup.Reference+" stays", "Two infants")
	p = p.form(old+"/merge").send().wants(422, "Select what they are", "Enter what shows it")
	p.form(old+"/merge").set("answer", "into-other").set("reason", "one birth record, Ms. Lark on the phone").send().wants(200, "Merging proposed", "once a manager agrees")
	if x := s.read(k.Reference); len(x.Merged) > 0 {
		t.Fatal("one person merged")
	}
	s.as("dagny").get(old + "/merge").wants(403)
	wren.get(old+"/agree").wants(200, "Merge "+dup.Reference+" into "+k.Reference, "A manager agrees")
	ines := s.as("ines")
	ines.get("/reports/closure").wants(200, "Closings that wait for you")
	ines.get(old+"/agree").wants(200, "Everything of "+dup.Reference+" goes to "+k.Reference, "one birth record").form(old+"/agree").set("decision", "agree").send().wants(200, "Closing agreed")
	x := s.read(k.Reference)
	if len(x.Merged) != 1 || x.Merged[0].Reference != dup.Reference || x.Merged[0].By != "Wren Castellano" || x.Merged[0].AgreedBy != "Ines Okafor-Lund" || len(x.SweatTests) != 1 {
		t.Fatalf("%+v", x.Merged)
	}
	wren.get(old).wants(200, "Merged:", dup.Reference+" is "+k.Reference+" now", "Follow-up for")
	wren.get(old+"/contacts/new").wants(200, "Follow-up for")
	wren.get(old+"/merge?with="+k.Reference).wants(200, "Follow-up for")
	p = wren.get(at+"/unmerge").wants(200, "Take back the merge with "+dup.Reference, "Agreed by")
	p = p.form(at+"/unmerge").send().wants(422, "Enter what shows")
	p.form(at+"/unmerge").set("reason", "two birth records").send().wants(200, "Merge taken back", dup.Reference+" is open again")
	wren.get(old).wants(200, "Follow-up for")
	if x := s.read(dup.Reference); len(x.SweatTests) != 1 || x.DuplicateOf != nil {
		t.Errorf("%+v", x)
	}
}

func TestTwoInfantsAreKeptApart(t *testing.T) {
	s := newSite(t)
	k, other := s.open(docQNS), s.open(docQNS)
	at := "/infants/" + k.Reference + "/merge"
	wren := s.as("wren")
	wren.get("/reports/faults?kind=duplicate&from=2025-01-01&to=2026-03-05").wants(200, "Compare, and decide")
	p := wren.get(at+"?with="+other.Reference).form(at).set("answer", "two").set("reason", "cousins").send()
	p.wants(200, "Kept apart")
	if p := wren.get("/reports/faults?kind=duplicate&from=2025-01-01&to=2026-03-05"); strings.Contains(p.body, "Compare, and decide") {
		t.Error("a pair kept apart is listed again")
	}
	wren.get(at+"?with="+other.Reference).form(at).set("answer", "into-this").set("reason", "no").send().wants(409, "are two infants", "cousins")
}

func TestTwinsAreMergedOnlyWhenNamed(t *testing.T) {
	s := newSite(t)
	k, other := s.open(docQNS), s.open(docQNS)
	for i, ref := range []string{k.Reference, other.Reference} {
		c := s.read(ref)
		c.Infant.Plurality, c.Infant.BirthOrder = 2, i+1
		s.update(func(w cases.Writer) error { _, err := w.PutCase(c, cases.Event{Kind: "order"}); return err })
	}
	at := "/infants/" + k.Reference + "/merge"
	p := s.as("wren").get(at+"?with="+other.Reference).wants(200, "Twins are possible", "One was born as number 1, the other as number 2")
	p = p.form(at).set("answer", "into-this").set("reason", "one card").send().wants(422, "how it is known that these are not twins")
	p.form(at).set("twins", "The hospital says that one was born").send().wants(200, "Merging proposed")
}

func TestLegalHold(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at := "/infants/" + k.Reference
	wren := s.as("wren")
	p := wren.get(at+"/legal-hold").wants(200, "Keep everything about").form(at+"/legal-hold").send().wants(422, "Enter why nothing")
	p.form(at+"/legal-hold").set("reason", "A claim, the county's lawyer").send().wants(200, "Legal hold placed")
	wren.get(at).wants(200, "End the legal hold")
	p = wren.get(at+"/legal-hold/end").wants(200, "A claim, the county").form(at+"/legal-hold/end").send().wants(422, "Enter why the hold ends")
	p.form(at+"/legal-hold/end").set("why", "Settled").send().wants(200, "Legal hold ended")
	wren.get(at+"/legal-hold/end").wants(409, "No legal hold stands")
}
