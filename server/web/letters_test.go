package web_test

import (
	"context"
	"strings"
	"testing"

	"dunlin/cases"
)

// docMail is an infant whose family has an address: a repeat letter is due.
var docMail = doc(docQNS, `"letters":true}`, `"letters":true,"address":{"lines":["14 Curlew Lane"],"city":"Alder Bay","region":"EX","postal":"00001"}}`)

// lettersIn are the letters of a state.
func (s *site) lettersIn(state string) (out []cases.Letter) {
	s.t.Helper()
	err := s.db.View(context.Background(), func(r cases.Reader) error {
		for l, err := range r.Letters(state) {
			if err != nil {
				return err
			}
			out = append(out, l)
		}
		return nil
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return out
}

func TestLettersFromMadeToCameBack(t *testing.T) {
	s := newSite(t)
	k := s.open(docMail)
	s.open(doc(docQNS, "Tobias", "Isaac"))
	wren := s.as("wren")
	p := wren.get("/letters").wants(200, "No letter waits to be printed", "Due and not made", "OYELARAN, Isaac")
	p = p.form("/letters/make").send().wants(200, "Letters made", "1 letter made, 1 set aside", "Preview: OYELARAN, Tobias", "14 Curlew Lane", "Reading grade")
	l := s.lettersIn("to-print")
	if len(l) != 1 || l[0].Case != k.ID {
		t.Fatalf("letters %+v", l)
	}
	pdf := wren.get("/letters/" + l[0].ID + "/pdf")
	if pdf.head.Get("Content-Type") != "application/pdf" || !strings.HasPrefix(pdf.body, "%PDF-") {
		t.Errorf("letter as PDF: %d %s", pdf.status, pdf.head.Get("Content-Type"))
	}
	p = p.form("/letters").set("letter", l[0].ID).set("do", "print").send().wants(200, "Print run made", "Did they all print?")
	run := wren.get("/letters/runs/2026-03-05-a/pdf")
	if run.head.Get("Content-Type") != "application/pdf" || !strings.HasPrefix(run.body, "%PDF-") {
		t.Errorf("print run: %d %s", run.status, run.head.Get("Content-Type"))
	}
	p.form("/letters").set("letter", l[0].ID).set("do", "mailed").send().wants(200, "Marked as mailed")
	p = wren.get("/letters?state=mailed").wants(200, "Mailed 5 Mar 2026")
	p = p.form("/letters/"+l[0].ID+"/came-back").set("back-why", "not at this address").send()
	p.wants(200, "Came back", "Find a new address")
	if x := s.lettersIn("came-back"); len(x) != 1 || !strings.Contains(x[0].Note, "not at this address") {
		t.Errorf("letters that came back %+v", x)
	}
	if c := s.read(k.Reference); c.Letters[0].State != "came-back" || c.Letters[0].MailedOn == 0 {
		t.Errorf("letter in the case %+v", c.Letters)
	}
}

func TestHeldLettersAreNotPrinted(t *testing.T) {
	s := newSite(t)
	s.open(docMail)
	wren := s.as("wren")
	wren.get("/letters").form("/letters/make").send()
	id := s.lettersIn("to-print")[0].ID
	stale := wren.get("/letters").form("/letters").set("letter", id).set("do", "print")
	wren.get("/letters").form("/letters").set("letter", id).set("do", "hold").send().wants(422, "Enter why").form("/letters").set("why", "ask the mother first").set("do", "hold").send().wants(200, "Held: ask the mother first. (Wren Castellano)")
	stale.send().wants(200, "No print run was made", "it is held")
	wren.get("/letters?state=held").form("/letters").set("letter", id).set("do", "mailed").send().wants(422, "Take it out, or enter when it had left")
	wren.get("/letters?state=held").form("/letters").set("letter", id).set("why", "she agrees").set("do", "release").send().wants(200, "Back to print")
	wren.get("/letters").form("/letters").set("do", "print").set("letter").send().wants(422, "Choose at least one letter")
}

func TestTheNurseReadsLettersAndPrintsNone(t *testing.T) {
	s := newSite(t)
	s.open(docMail)
	s.as("wren").get("/letters").form("/letters/make").send()
	p := s.as("dagny").get("/letters").wants(200, "Repeat test needed", "Preview")
	for _, act := range []string{`value="print"`, `action="/letters/make"`, `name="letter"`} {
		if strings.Contains(p.body, act) {
			t.Errorf("the nurse is offered %s", act)
		}
	}
	p.c.get("/letters/runs/2026-03-05-a").wants(403)
}
