package web_test

import (
	"strings"
	"testing"
)

func TestLogContact(t *testing.T) {
	s := newSite(t)
	k := s.open(docNew)
	c := s.as("wren")
	at := "/infants/" + k.Reference + "/contacts"
	form := c.get(at+"/new?back=overdue").wants(200, "Log a contact", "no health detail").form(at)
	form.send().wants(422, "There is a problem", "Select what happened")

	form.set("outcome", "no answer").set("on", "03/04/2026").set("at", "25:00").set("next_try", "2 Mar 2026").set("note", "rang \x00 twice")
	p := form.send().wants(422, "03/04/2026 can mean 3 April or March 4. Type the month in letters", "Time must be a time of the 24-hour clock", "Next try must be today or later", "Note has a character")
	if !strings.HasPrefix(p.title(), "Error: ") {
		t.Errorf("title %q", p.title())
	}
	again := p.form(at)
	if again.values.Get("on") != "03/04/2026" || again.values.Get("outcome") != "no answer" {
		t.Errorf("what was typed is lost: %v", again.values)
	}
	form.set("on", "+1d").set("at", "").set("next_try", "").set("note", "").send().wants(422, "Day must be today or in the past")

	again.set("on", "yesterday").set("at", "9:40").set("next_try", "+2d").set("note", "<b>rang</b>")
	p = again.send().wants(200, "Contact saved", "SORREL-WHITE, Ida", "Next try Sat 7 Mar 2026")
	if p.path != "/overdue" {
		t.Errorf("led to %s", p.path)
	}
	got := s.read(k.Reference).Contacts
	if len(got) != 1 || got[0].On.String() != "2026-03-04" || got[0].At != "09:40" || got[0].Reached || got[0].Staff != "Wren Castellano" || got[0].NextTry.String() != "2026-03-07" {
		t.Errorf("recorded %+v", got)
	}
	c.get("/overdue").wants(200, "4 Mar 2026, phone, primary care", "No answer")
	c.get("/infants/"+k.Reference).wants(200, "<b>rang</b>", "Contact added", "Wren Castellano, coordinator")
	if p := c.get("/overdue"); strings.Contains(p.text("main"), "Contact saved") {
		t.Error("the notice is shown twice")
	}
}

// A form sent twice is saved once, and the second answer leads to the same page.
func TestSentTwice(t *testing.T) {
	s := newSite(t)
	k := s.open(docNew)
	at := "/infants/" + k.Reference + "/contacts"
	form := s.as("wren").get(at+"/new").form(at).set("outcome", "no answer")
	form.send().wants(200, "Contact saved")
	form.send().wants(200, "Saved before")
	if n := len(s.read(k.Reference).Contacts); n != 1 {
		t.Errorf("%d contacts", n)
	}
}

// Two people edit one case: the second sees both versions, and may apply hers.
func TestEditConflict(t *testing.T) {
	s := newSite(t)
	k := s.open(docNew)
	at := "/infants/" + k.Reference + "/contacts"
	hers := s.as("wren").get(at+"/new").form(at).set("outcome", "left message, no health detail").set("note", "on Tuesday")
	s.now = s.now.Add(60e9)
	s.as("dagny").get("/infants/"+k.Reference+"/weights/new").form("/infants/"+k.Reference+"/weights").set("weight", "3.61").send().wants(200, "Weight saved", "3.61 kg")
	p := hers.send().wants(409, "Somebody changed this case first", "Dagny Achterberg, nurse, on 5 Mar 2026 at 08:42", "Weight added", "What you typed for the contact", "left message, no health detail", "on Tuesday")
	if n := len(s.read(k.Reference).Contacts); n != 0 {
		t.Fatalf("%d contacts recorded", n)
	}
	if p.find("#use-new") == nil || p.find("#apply-mine") == nil {
		t.Fatal("no way on")
	}
	p.form(at).send().wants(200, "Contact saved")
	now := s.read(k.Reference)
	if len(now.Contacts) != 1 || now.Contacts[0].Note != "on Tuesday" || len(now.Infant.Weights) != 1 {
		t.Errorf("%+v", now)
	}
}

// "Save and go to next infant" leads to the row after this one.
func TestNextInfant(t *testing.T) {
	s := newSite(t)
	two, qns := s.open(docTwoVariants), s.open(docQNS)
	c := s.as("wren")
	at := "/infants/" + two.Reference + "/contacts"
	form := c.get(at+"/new?back=overdue").form(at).set("go", "next").set("outcome", "no answer")
	c.http.CheckRedirect = nil
	res, err := c.http.PostForm(c.url+at, form.values)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if got := res.Request.URL.String(); !strings.HasSuffix(got, "/overdue#row-"+qns.Reference) {
		t.Errorf("led to %s", got)
	}
}

func TestWeights(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at := "/infants/" + k.Reference + "/weights"
	c := s.as("dagny")
	form := c.get(at+"/new").wants(200, "3.02 kg", "At birth").form(at)
	for _, x := range []struct{ typed, want string }{
		{"", "Enter the weight in kilograms"}, {"3270", "3270 grams are 3.27 kg"}, {"36.4", "Weight is 36.4 kg. Infants here weigh 0.25 to 15 kg. Check the decimal point"},
		{"three", "Weight must be a number"}, {"0.1", "Weight is 0.1 kg"},
		{"3.1 g", "Weight is 3.1 g, which no infant weighs. Was it 3.1 kg?"}, {"31", "Weight is 31 kg. Infants here weigh 0.25 to 15 kg. Check the decimal point. Was it 3.1 kg?"},
		{"31 kg", "Was it 3.1 kg?"}, {"0.0031", "Was it 3.1 kg?"}, {"7 lb", "Weight must be in kilograms. lb is not a unit that is read here"}, {"20000 g", "Weight is 20 kg"},
		{"4.1", "That is 1.08 kg more than on 14 Feb 2026, when it was 3.02 kg, 57 g a day. Over 45 g a day is more often a slip of the unit or another scale"},
	} {
		form.set("weight", x.typed).send().wants(422, x.want)
	}
	if p := form.set("weight", "31 kg").send(); !strings.Contains(p.body, `value="31 kg"`) {
		t.Error("what was typed is lost")
	}
	form.set("weight", "3.1").set("on", "1 Jan 2026").send().wants(422, "on or after 21 Jan 2026, the birth date")
	p := form.set("weight", "2.4").set("on", "today").send().wants(422, "That is 0.62 kg less than on 14 Feb 2026", "tick that it is right")
	p.form(at).set("sure", "yes").send().wants(200, "Weight saved", "2.40 kg")
	if w := s.read(k.Reference).Infant.Weights; len(w) != 2 || w[1].G != 2400 || w[1].By != "Dagny Achterberg" {
		t.Errorf("%+v", w)
	}
}

// The old name still finds the infant.
func TestRename(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docNew, "Ida", "Baby girl"))
	at := "/infants/" + k.Reference + "/name"
	c := s.as("wren")
	form := c.get(at).form(at)
	form.set("family", "").send().wants(422, "Enter the family name")
	form.set("family", "O’Neil-Żak").set("given", "Zoë").send().wants(200, "Name saved", "O’NEIL-ŻAK, Zoë")
	for _, q := range []string{"Sorrel", "sorrel-white", "o'neil", k.Reference, "18 Feb 2026"} {
		p := c.get("/overdue").form("/infants/find").set("q", q).send()
		if p.path != "/infants/"+k.Reference {
			t.Errorf("%q led to %s: %s", q, p.path, p.text("main"))
		}
	}
	c.get("/overdue").form("/infants/find").set("q", "nobody").send().wants(200, "No infant was found", "for “nobody”")
}

func TestInfantPage(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	c := s.as("wren")
	p := c.get("/infants/"+k.Reference).wants(200, "Follow-up for Tobias", "QNS, repeat due", "Book a repeat test", "12 days late", "Can Tobias be tested?", "Ready now", "43 days", "3.02 kg",
		"One variant", "F508del", "96.4 ng/mL", "8 µL", "11 µL", "QNS, not enough sweat", "Talked, understood", "555-0187", "No voicemail", "Case opened",
		"This is not a diagnosis", "a named clinician decides", "medical care today")
	if got := p.text("#next-step"); !strings.HasPrefix(got, "Book a repeat test") {
		t.Errorf("next step %q", got)
	}
	if p.title() != "OYELARAN, Tobias, "+k.Reference+" - Dunlin" {
		t.Errorf("title %q", p.title())
	}
	two := s.open(docTwoVariants)
	c.get("/infants/"+two.Reference).wants(200, "Two CF-causing variants: call now", "care does not wait for the sweat test", "Log contact")
	for _, with := range []string{"specialist", "primary-care", "family"} {
		at := "/infants/" + two.Reference + "/contacts"
		p = c.get(at+"/new").form(at).set("with", with).set("outcome", "talked, understood").send()
	}
	p.wants(200, "CF center, primary care and family are told")
	if strings.Contains(p.text("main"), "call now") {
		t.Error("told to call after everybody was reached")
	}
	if strings.Contains(c.get("/infants/"+k.Reference).body, "Record a test") {
		t.Error("a coordinator is offered a page she may not open")
	}
}

func TestSettings(t *testing.T) {
	s := newSite(t)
	s.open(docQNS)
	c := s.as("wren")
	c.get("/me").form("/me").set("rows", "short").set("keys", "off").set("colors", "dark").send().wants(200, "Settings saved")
	p := c.get("/overdue")
	for _, want := range []string{`data-keys="off"`, `class="work cards compact"`, `media="screen"`} {
		if !strings.Contains(p.body, want) {
			t.Errorf("no %s", want)
		}
	}
	c.get("/me").form("/me").set("rows", "tall").send().wants(422, "Select full or short rows")
}
