package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/reminders/letters"
)

// docUnreached is a family tried three times since 20 February: the plan's letters are due.
var docUnreached = doc(docNew, `"referral":{"on":"2026-03-04","route":"screen"}`, `"referral":{"on":"2026-02-18","route":"screen"},
"contacts":[{"on":"2026-02-18","with":"primary-care","by":"phone","reached":true},{"on":"2026-02-19","with":"family","by":"phone","reached":false,"outcome":"no answer"},{"on":"2026-02-20","with":"family","by":"phone","reached":false,"outcome":"no answer"}],
"family":{"guardians":[{"given":"Nell","family":"Sorrel-White","relation":"mother","phones":[{"number":"555-0188"}],"letters":true,"address":{"lines":["7 Dune Walk"],"city":"Heron Point","region":"EX","postal":"00014"}}],"language":"en"},
"primary_care":{"name":"Dr. Averill","practice":"Sandpiper","address":{"lines":["1 Harbor Road"],"city":"Alder Bay"}},
"letters":[{"kind":"first-notice","occasion":"2026-02-18","made_on":"2026-02-21","state":"mailed","mailed_on":"2026-02-21"}]`, `"2026-02-18","gestation"`, `"2026-02-10","gestation"`)

func TestAPrintRunIsMailedWithCertifiedLettersApart(t *testing.T) {
	s := newSite(t)
	s.open(docUnreached)
	s.open(docMail)
	wren := s.as("wren")
	p := wren.get("/letters").form("/letters/make").send()
	f := p.form("/letters")
	all := s.lettersIn("to-print")
	certified, ordinary := "", ""
	var ids []string
	for _, l := range all {
		ids = append(ids, l.ID)
		if l.Kind == cases.LetterNoContact {
			certified = l.ID
		} else if l.Kind == cases.LetterRepeatNeeded {
			ordinary = l.ID
		}
	}
	if certified == "" || ordinary == "" {
		t.Fatalf("letters %+v", all)
	}
	wren.get("/letters?to=primary-care").wants(200, "Primary care, English", "Referral, to primary care")
	if body := wren.get("/letters?kind=no-contact").text("table"); strings.Contains(body, "Repeat test needed") || !strings.Contains(body, "We could not reach you") {
		t.Errorf("narrowed list: %s", body)
	}
	f.set("letter", ids...).set("do", "print").send().wants(200, "Print run made", "Did they all print?")
	at := "/letters/runs/2026-03-05-a"
	p = wren.get(at).wants(200, "By ordinary mail", "By certified mail, with return receipt", "Whether a certified letter is right")
	f = p.form(at)
	f.set("letter").send().wants(422, "Choose the letters that came out of the printer")
	f.set("letter", ids...).set("day", "+2d").set("tracking-"+certified, "!").send().wants(422, "Day of mailing must be today or in the past", "8 to 40 digits and letters")
	f.set("day", "4 mar").send().wants(422, "8 to 40 digits")
	f.set("tracking-"+certified, "7026 0000 1111 2222 3333").send().wants(422, "between the day the letter was made")
	// One did not print: it stays printed.
	f.set("day", "today").set("letter", certified).send().wants(200, "Marked as mailed", "1 letter, mailed on 5 Mar 2026", "print it again")
	if l := s.letter(certified); l.State != "mailed" || l.Tracking != "70260000111122223333" {
		t.Errorf("certified letter %+v", l)
	}
	if s.letter(ordinary).State != "printed" {
		t.Error("the letter that did not print was marked")
	}
	// Sent again, it is the same form: nothing happens twice.
	f.send().wants(200, "Saved before.")
	p = wren.get("/letters?state=mailed&letter="+certified).wants(200, "tracking number 70260000111122223333", "Receipt")
	p.form("/letters/"+certified+"/tracking").set("tracking", "").send().wants(422, "Enter the tracking number")
	p.form("/letters/"+certified+"/became").send().wants(422, "Choose what became of the letter")
	wren.get("/letters?state=mailed&letter="+certified).form("/letters/"+certified+"/became").set("became", "unclaimed").set("note", "kept 15 days").send().wants(200, "Not collected")
	if l := s.letter(certified); l.State != "unclaimed" {
		t.Errorf("state %s", l.State)
	}
	wren.get("/letters?state=unclaimed").wants(200, "Not collected", "kept 15 days")
	wren.get("/letters/runs/2026-03-09-a").wants(404, "There is no print run")
}

// A death after printing takes the letter out of the stack and off the PDF.
func TestALetterHeldAfterPrintingIsTakenOut(t *testing.T) {
	s := newSite(t)
	wren, l := s.toPrint()
	wren.get("/letters").form("/letters").set("letter", l.ID).set("do", "print").send()
	ref := s.reference(l.Case)
	f := wren.get("/infants/" + ref + "/flags/new").form("/infants/" + ref + "/flags/new")
	f.set("kind", "custody").set("note", "the court said so").send().wants(200, "Flag set")
	p := wren.get("/letters/runs/2026-03-05-a").wants(200, "Take these out of the stack", l.Number, "No letter of this run waits to be mailed")
	if strings.Contains(p.body, "Mark mailed") {
		t.Error("a held letter may be marked as mailed")
	}
	wren.get("/letters/runs/2026-03-05-a/pdf").wants(404, "to be printed any more")
	wren.get("/letters?state=held").form("/letters").set("letter", l.ID).set("do", "release").set("why", "they asked").send().wants(409, "must not go out")
}

func TestReturnedMailIsTakenInByScanning(t *testing.T) {
	s := newSite(t)
	wren, l := s.toPrint()
	ref := s.reference(l.Case)
	const at = "/letters/returned"
	scan := func(text string) *page {
		t.Helper()
		return wren.get(at).form(at).set("number", text).send()
	}
	code := letters.CodeOf(l.Number)
	scan("").wants(422, "Scan or type the number")
	scan("12").wants(422, "eight signs")
	scan("אבגדהוזח").wants(422, "digits and letters only")
	wrong := l.Number + "0"
	if wrong == code {
		wrong = l.Number + "1"
	}
	scan(wrong).wants(422, "The last sign does not fit")
	scan("ZZZZZZZZ").wants(422, "No letter of this program has the number ZZZZZZZZ", "put the envelope aside")
	if v := scan("<script>").form(at).values.Get("number"); v != "<script>" {
		t.Errorf("what was typed is lost: %q", v)
	}
	scan(code).wants(422, "was not marked as mailed: it stands as to print")
	wren.get("/letters").form("/letters").set("letter", l.ID).set("do", "print").send()
	p := wren.get("/letters/runs/2026-03-05-a")
	p.form("/letters/runs/2026-03-05-a").send()
	p = scan(strings.ToLower(code[:4])+" "+code[4:]).wants(200, "Letter "+l.Number, "Repeat test needed, to: family", ref)
	if body := p.text("main"); strings.Contains(body, "OYELARAN") || strings.Contains(body, "Tobias") {
		t.Error("the page names the infant, which it need not")
	}
	f := p.form(at)
	f.send().wants(422, "Choose what the envelope says")
	p = f.set("back-why", "moved, no new address").set("note", "yellow sticker").send()
	p.wants(200, "Came back:", "letter "+l.Number, "Find a new address: mail came back", "Came back today", "Owed: Find a new address")
	if p.path != at {
		t.Errorf("at %s; the next letter is scanned on the same page", p.path)
	}
	k := s.read(ref)
	last := k.Contacts[len(k.Contacts)-1]
	if !k.Family.Guardians[0].Address.Bad || last.Outcome != "came back" || !strings.Contains(last.Note, "moved, no new address. yellow sticker") {
		t.Errorf("recorded %+v, %+v", k.Family.Guardians[0].Address, last)
	}
	scan(code).wants(422, "was marked as come back on 5 Mar 2026 already")
	// The one next step: a new address, which is not bad.
	wren.get("/infants/"+ref).wants(200, "Mail came back from here")
	f = wren.get("/infants/"+ref+"/family").wants(200, "Mail came back from the address on record").form("/infants/" + ref + "/family")
	f.set("g0-lines", "22 Tern Court").set("source", "the clinic").send().wants(200, "Family saved")
	if a := s.read(ref).Family.Guardians[0].Address; a.Bad || a.Lines[0] != "22 Tern Court" {
		t.Errorf("address %+v", a)
	}
	s.as("dagny").get(at).wants(403)
}

func TestAnsweredAndItsSteps(t *testing.T) {
	s := newSite(t)
	wren, l := s.toPrint()
	wren.get("/letters").form("/letters").set("letter", l.ID).set("do", "print").send()
	f := wren.get("/letters?state=printed").form("/letters").set("letter", l.ID).set("do", "mailed")
	f.set("day", "never").send().wants(422, "Day of mailing must be a real date")
	f.set("day", "").send().wants(200, "Marked as mailed", "mailed today")
	wren.get("/letters?state=mailed").form("/letters/"+l.ID+"/became").set("note", "the father called").send().wants(200, "Answered", l.Number)
	wren.get("/letters?state=answered&letter="+l.ID).wants(200, "What became of it", "the father called", "Daily job", "Wren Castellano")
	wren.get("/infants/"+s.reference(l.Case)).wants(200, "4 steps", "the father called", "Number "+l.Number)
}
