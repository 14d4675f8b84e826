package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// toPrint opens an infant whose repeat letter is due, and has it made.
func (s *site) toPrint() (*client, cases.Letter) {
	s.t.Helper()
	s.open(docMail)
	wren := s.as("wren")
	wren.get("/letters").form("/letters/make").send()
	list := s.lettersIn("to-print")
	if len(list) != 1 {
		s.t.Fatalf("letters %+v", list)
	}
	return wren, list[0]
}

func (s *site) letter(id string) (l cases.Letter) {
	s.t.Helper()
	err := s.db.View(s.t.Context(), func(r cases.Reader) (err error) {
		l, err = r.Letter(id)
		return err
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return l
}

func TestWordsOfOneLetterAreChangedAndPutBack(t *testing.T) {
	s := newSite(t)
	wren, l := s.toPrint()
	at := "/letters/" + l.ID
	made := wren.get(at + "/pdf").body
	wren.get("/letters?letter="+l.ID).wants(200, "Change the words")
	f := wren.get(at+"/edit").wants(200, "As it was made", "What was made is kept").form(at + "/edit")
	words := f.values.Get("words")
	if !strings.Contains(words, "## Your baby needs the sweat test again\n\nAbout Tobias Oyelaran, born January 21, 2026") {
		t.Fatalf("words to change: %s", words)
	}
	f.send().wants(422, "Enter why")
	f.set("why", "the family asked for a time in the evening")
	f.send().wants(422, "The words are as they were")
	for changed, want := range map[string]string{
		words + "\n\nCall {phone}": "hold a { or }",
		"":                         "no words",
		strings.ReplaceAll(words, "555-0142", "555-9999"):         "must say which number to call: 555-0142",
		strings.ReplaceAll(words, "Tobias", "Isaac"):              "must say whom it is about: Tobias Oyelaran",
		words + "\n\nThe chloride was low.":                       `names no result, variant or condition. Take out "chloride"`,
		words + "\n\nשלום":                                        "cannot be set",
		words + "\n\nbell \a":                                     "has a character that cannot be kept",
		strings.Repeat(words+"\n\n", 12):                          "Words must be at most 20000 characters",
		words + "\n\n" + strings.Repeat("Call us soon.\n\n", 900): "shorten its text",
	} {
		q := f.set("words", changed).send()
		q.wants(422, want)
		if kept := q.form(at + "/edit").values.Get("words"); changed != "" && !strings.Contains(changed, "\a") && kept != changed {
			t.Errorf("%s: what was typed is lost: %.80q", want, kept)
		}
	}
	// A caution left out must be seen and confirmed, for these very words.
	short := strings.Replace(words, "Some babies lose too much salt when they are hot, have a fever, or throw up. ", "", 1) + "\n\nWe can see you at six in the evening."
	q := f.set("words", short).send().wants(422, "The letter does not say any more", "Some babies lose too much salt", "tick that it goes out with these words")
	tick := q.find("#confirm-0")
	if tick == nil {
		t.Fatal("nothing to tick")
	}
	sum := ""
	for _, a := range tick.Attr {
		if a.Key == "value" {
			sum = a.Val
		}
	}
	q.form(at+"/edit").set("words", short+" Or later.").set("confirm", sum).send().wants(422, "tick that it goes out with these words")
	stale := wren.get(at+"/edit").form(at+"/edit").set("words", words+"\n\nSee you.").set("why", "again")
	q.form(at+"/edit").set("confirm", sum).send().wants(200, "Words changed", "Words changed by Wren Castellano on 5 Mar 2026: the family asked", "We can see you at six in the evening.", "As it was made (PDF)")
	stale.send().wants(409, "Somebody changed the words")
	now := s.letter(l.ID)
	if now.Edited == nil || string(now.Original) != string(l.Data) || now.Edited.By != "Wren Castellano" {
		t.Errorf("letter %+v", now)
	}
	if wren.get(at+"/pdf").body == made || wren.get(at+"/pdf?as=made").body != made {
		t.Error("the PDF must be of the changed words, and that of the words as made the same bytes as before")
	}
	p := wren.get("/infants/" + s.reference(l.Case))
	p.wants(200, "Words changed by Wren Castellano", "Words of a letter changed: Repeat test needed, number "+l.Number)
	wren.get(at+"/edit").wants(200, "Some babies lose too much salt").form(at+"/restore").send().wants(200, "Words put back")
	if now = s.letter(l.ID); now.Edited != nil || string(now.Data) != string(l.Data) || wren.get(at+"/pdf").body != made {
		t.Errorf("not put back: %+v", now.Edited)
	}
	if n := len(now.History); n != 3 {
		t.Errorf("%d steps", n)
	}
	// What is printed or mailed keeps its words; a nurse changes none.
	wren.get("/letters").form("/letters").set("letter", l.ID).set("do", "print").send()
	wren.get(at+"/edit").wants(409, "Only a letter that waits to be printed can be changed")
	s.as("dagny").get(at + "/edit").wants(403)
}

// reference is the reference of a case.
func (s *site) reference(id cases.ID) (ref string) {
	s.t.Helper()
	err := s.db.View(s.t.Context(), func(r cases.Reader) error {
		c, err := r.Case(id)
		ref = c.Reference
		return err
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return ref
}

// docResult is a carrier with a test below the band, whose letters wait for a release.
var docResult = doc(docMail, `"minutes":30,"amount_ul":8}`, `"minutes":30,"amount_ul":24,"chloride":17}`, `"minutes":30,"amount_ul":11}`, `"minutes":30,"amount_ul":20,"chloride":19}`)

func TestAResultIsReleasedByALicensedPerson(t *testing.T) {
	s := newSite(t)
	k := s.open(docResult)
	at := "/infants/" + k.Reference
	wren := s.as("wren")
	p := wren.get(at).wants(200, "Waits for release", "Read and release", "Result within normal limits", "Carrier information")
	var link string
	for _, l := range p.links() {
		if strings.Contains(l, "kind=carrier") {
			link = l
		}
	}
	p = wren.get(link).wants(200, "Release: Carrier information", "This letter says a result", "What it says", "CF unlikely", "Carrier", "(who releases it)")
	action := strings.ReplaceAll(link, "&amp;", "&")
	p.form(action).send().wants(422, "Enter who releases the letter", "licensed as", "Tick that the person named has read the letter")
	p.form(action).set("by", "Dr. Sanna Lindqvist").set("licence", "pediatric pulmonologist").set("read", "yes").send().wants(200, "Letter released", "The next run makes it")
	if r := s.read(k.Reference).Releases; len(r) != 1 || r[0].By != "Dr. Sanna Lindqvist" || r[0].Licence != "pediatric pulmonologist" || r[0].Kind != "carrier" {
		t.Fatalf("releases %+v", r)
	}
	wren.get(link).wants(409, "waits for a release")
	wren.get("/letters?state=due").wants(200, "Carrier information", "Drafted", "Dr. Sanna Lindqvist, pediatric pulmonologist")
	wren.get("/letters").form("/letters/make").send().wants(200, "Released by Dr. Sanna Lindqvist, pediatric pulmonologist")
	var id string
	for _, l := range s.lettersIn("to-print") {
		if l.Kind == "carrier" {
			id = l.ID
		}
	}
	// Changed words of a result need the licensed person again.
	f := wren.get("/letters/"+id+"/edit").wants(200, "Licensed as").form("/letters/" + id + "/edit")
	f.set("words", f.values.Get("words")+"\n\nCall us any day.").set("why", "asked").send().wants(422, "Enter who read the changed words")
	f.set("read-by", "Dr. Sanna Lindqvist").set("licence", "pediatric pulmonologist").send().wants(200, "Read and released by Dr. Sanna Lindqvist")
	s.as("dagny").get(link).wants(403)
}
