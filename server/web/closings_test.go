package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// one variant and a graded test in the lowest class: a carrier by the evidence.
var docCarrier = doc(docQNS, `"amount_ul":8}`, `"amount_ul":24,"chloride":17}`, `"amount_ul":11}`, `"amount_ul":21,"chloride":19}`)

func TestCloseWithWhatTheEvidenceSupports(t *testing.T) {
	s := newSite(t)
	k := s.open(docCarrier)
	path := "/infants/" + k.Reference + "/close"
	wren := s.as("wren")
	p := wren.get(path).wants(200, "What the evidence supports", "Carrier", "Graded sweat test", "14 Feb 2026")
	if strings.Contains(p.body, "checked") {
		t.Error("a determination is chosen beforehand")
	}
	p = p.form(path).send().wants(422, "Select the determination")
	p = p.form(path).set("as", "carrier").send().wants(422, "Enter who decided")
	p.form(path).set("clinician", "Dr. H. Lindqvist").send().wants(200, "Case closed", "Carrier")
	x := s.read(k.Reference).Closures
	if len(x) != 1 || x[0].As != "carrier" || x[0].Clinician != "Dr. H. Lindqvist" || x[0].By != "Wren Castellano" || len(x[0].RestsOn) != 1 {
		t.Errorf("closures %+v", x)
	}
	wren.get(path).wants(409, "The case is closed already")
}

// The page that closes a case names the letters that closing holds.
func TestClosingNamesLettersNotMailed(t *testing.T) {
	s := newSite(t)
	k := s.open(docMail)
	at := "/infants/" + k.Reference + "/close"
	s.as("wren").get(at).wants(200, "Not mailed.", "1 letter has not gone out", "will not be made: Repeat test needed")
	s.as("wren").get("/letters").form("/letters/make").send()
	l := s.lettersIn("to-print")[0]
	s.as("wren").get(at).wants(200, "Not mailed.", "Closing holds them", "1 letter is made and not mailed, and will be held: Repeat test needed ("+l.Number+")")
}

// A later value that nobody has checked is said on the page that closes the case.
func TestClosingNamesAnOpenQuestion(t *testing.T) {
	s := newSite(t)
	k := s.open(docCarrier)
	at := "/infants/" + k.Reference + "/close"
	if p := s.as("wren").get(at).wants(200); strings.Contains(p.body, "Not settled") {
		t.Error("a settled case is called unsettled")
	}
	amount, high := 22.0, 190.0
	c := s.read(k.Reference)
	_, err := cases.NewDesk(s.db, s.protocol).RecordTest(t.Context(), cases.Actor{Name: "D", Role: cases.Nurse}, c.ID, c.Rev, cases.SweatTest{On: cases.DayOf(s.now), Collector: "tubing",
		Arms: []cases.Arm{{Side: "left", Minutes: 30, AmountUL: &amount, Chloride: &high}}})
	if err != nil {
		t.Fatal(err)
	}
	s.as("wren").get(at).wants(200, "Not settled", "not plausible and nobody has checked it", "Settle it before you close")
}

//asvs:2.3.1
func TestAnotherPersonAgreesToWhatTheEvidenceDoesNotDecide(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at := "/infants/" + k.Reference
	nurse := s.as("dagny")
	p := nurse.get(at+"/close").wants(200, "No determination yet", "You may propose").form(at+"/close").set("as", "lost").send()
	p = p.wants(422, "Enter the reason", "Enter the day to look again").form(at+"/close").set("reason", "No one answers").set("look-again", "1 Mar 2026").send()
	p = p.wants(422, "Look again on must be a day ahead").form(at+"/close").set("look-again", "21 Jul 2026").send()
	p.wants(200, "Closing proposed", "Another person must agree")
	if c := s.read(k.Reference); s.protocol.Assess(&c, cases.DayOf(s.now)).Closed {
		t.Fatal("a proposal closed the case")
	}
	s.as("wren").get(at+"/agree").wants(200, "A manager agrees")
	ines := s.as("ines")
	ines.get("/reports/closure").wants(200, "Closings that wait for you", "OYELARAN, Tobias", "Lost to follow-up", "Dagny Achterberg")
	p = ines.get(at+"/agree").wants(200, "Lost to follow-up", "No one answers").form(at+"/agree").send().wants(422, "Select agree or send back")
	p = p.form(at+"/agree").set("decision", "send-back").send().wants(422, "Enter what is missing")
	p.form(at+"/agree").set("decision", "agree").send().wants(200, "Closing agreed")
	x := s.read(k.Reference)
	if a := s.protocol.Assess(&x, cases.DayOf(s.now)); !a.Closed || x.Closures[0].AgreedBy != "Ines Okafor-Lund" {
		t.Errorf("after agreement closed %v, %+v", a.Closed, x.Closures)
	}
	reopen := at + "/reopen"
	p = ines.get(reopen).form(reopen).send().wants(422, "Enter why the case is opened again")
	if strings.Contains(p.body, "OYELARAN") {
		t.Error("the manager sees the name of a closed case")
	}
	p.form(reopen).set("reason", "The family called").send().wants(200, "Case reopened")
	if c := s.read(k.Reference); s.protocol.Assess(&c, cases.DayOf(s.now)).Closed {
		t.Error("the case is still closed after reopening")
	}
}

func TestSendBackAProposal(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at := "/infants/" + k.Reference
	wren := s.as("wren")
	wren.get(at+"/close").form(at+"/close").set("as", "duplicate").set("reason", "Same as another").send().wants(200, "Closing proposed")
	s.as("ines").get(at+"/agree").form(at+"/agree").set("decision", "send-back").set("reason", "Name the other case").send().wants(200, "Sent back")
	wren.get(at+"/close").wants(200, "Close the case of Tobias")
}

func TestADeathAsksOnceMoreAndStopsLetters(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at := "/infants/" + k.Reference
	wren := s.as("wren")
	p := wren.get(at+"/close").form(at+"/close").set("as", "died").send()
	p = p.wants(200, "Record that Tobias died?", "Be sure that this is the right infant")
	if s.read(k.Reference).Infant.Died != 0 {
		t.Fatal("the death is recorded before the stop page")
	}
	p = p.form(at+"/close").set("do", "close").send().wants(422, "Enter the day of death", "Enter who told the program")
	p = p.form(at+"/close").set("died", "3 Mar 2026").set("source", "Primary care, by phone").set("do", "close").send()
	p.wants(200, "Case closed", "Died")
	c := s.read(k.Reference)
	if a := s.protocol.Assess(&c, cases.DayOf(s.now)); !a.Closed || a.ClosedAs != "died" || len(a.LettersDue) != 0 || c.Infant.Died != cases.MakeDay(2026, 3, 3) {
		t.Errorf("after the death: closed %v as %q, died %v", a.Closed, a.ClosedAs, c.Infant.Died)
	}
}

//asvs:8.2.2 8.2.3
func TestTheManagerSeesACaseOnlyWhereAClosureWaits(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at := "/infants/" + k.Reference
	if p := s.as("ines").get(at + "/agree"); p.status == 200 || strings.Contains(p.body, "Oyelaran") || strings.Contains(p.body, "OYELARAN") {
		t.Errorf("the manager sees an infant for whom nothing waits: %d", p.status)
	}
}
