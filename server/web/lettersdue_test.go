package web_test

import (
	"encoding/json"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/reminders/letters"
)

// withName gives the infant of docMail a name, its mother another, and an address.
func withName(t *testing.T, given, family, guardian string, lines []string, change func(*cases.Case)) string {
	t.Helper()
	c, err := cases.ParseCase([]byte(docMail), cases.MakeDay(2026, 3, 5), cases.DefaultProtocol())
	if err != nil {
		t.Fatal(err)
	}
	c.Infant.Given, c.Infant.Family = given, family
	g := &c.Family.Guardians[0]
	g.Family, g.Address.Lines = guardian, lines
	if change != nil {
		change(&c)
	}
	text, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// Whatever stands in names and addresses: the page names the reason and the one next
// step, or shows the letter; it is never broken by what it shows.
func TestDueLettersWithHardNames(t *testing.T) {
	plain := []string{"14 Curlew Lane"}
	for name, x := range map[string]struct {
		given, family, guardian string
		lines                   []string
		change                  func(*cases.Case)
		says                    []string
	}{
		"apostrophe and hyphen": {given: "Siân-Mae", family: "O'Dowd-Ní Bhriain", says: []string{"Drafted", "O'DOWD-NÍ BHRIAIN, Siân-Mae", "About Siân-Mae O'Dowd-Ní Bhriain"}},
		"two surnames":          {given: "Lucía", family: "García Núñez", says: []string{"Drafted", "Lucía García Núñez"}},
		"sixty letters":         {given: "Ada", family: strings.Repeat("Wolkenstein ", 5), says: []string{"Drafted", "Ada Wolkenstein"}},
		"Vietnamese":            {given: "Thị Hồng Ánh", family: "Nguyễn", says: []string{"Drafted", "Thị Hồng Ánh Nguyễn"}},
		"HTML":                  {given: "<b>Ada</b>", family: "<script>alert(1)</script>", says: []string{"Drafted", "<b>Ada</b>"}},
		"template syntax":       {given: "{{.CSRF}}", family: "{phone}", says: []string{"{{.CSRF}} {phone}"}},
		"right to left marks":   {given: "\u202eAda\u202c", family: "Wren", says: []string{"Ada", "Wren"}},
		"a script not set":      {given: "Ada", family: "שפירא", says: []string{"Cannot be made", "written in a script that cannot be set yet", "Print it from the browser"}},
		"emoji":                 {given: "Ada 🐦", family: "Wren", says: []string{"Cannot be made", "print this one from the browser", "Print it from the browser"}},
		"a lost character":      {given: "Ad\ufffda", family: "Wren", says: []string{"Cannot be made", "type it again", "Correct the name"}},
		"no name":               {says: []string{"Cannot be made", "The infant has no name on record", "Enter the name"}},
		"seven lines":           {given: "Ada", family: "Wren", lines: []string{"c/o Heron", "Building 4", "Stair C", "Floor 2", "Apt. 9", "14 Curlew Lane", "Rear"}, says: []string{"Cannot be made", "too long for the window", "Correct the address"}},
		"a long line":           {given: "Ada", family: "Wren", lines: []string{strings.Repeat("Willowmere Crescent ", 6)}, says: []string{"Cannot be made", "too long for the window", "Correct the address"}},
		"no town":               {given: "Ada", family: "Wren", change: func(c *cases.Case) { *c.Family.Guardians[0].Address = cases.Address{Lines: plain} }, says: []string{"Cannot be made", "The address has no town", "Complete the address"}},
		"no address":            {given: "Ada", family: "Wren", change: func(c *cases.Case) { c.Family.Guardians[0].Address = nil }, says: []string{"Cannot be made", "No address is on record", "Enter the address"}},
		"mail came back":        {given: "Ada", family: "Wren", change: func(c *cases.Case) { c.Family.Guardians[0].Address.Bad = true }, says: []string{"mail came back from the address on record", "Enter the new address"}},
		"two guardians": {given: "Ada", family: "Wren", change: func(c *cases.Case) {
			c.Family.Guardians[0].Letters = false
			c.Family.Guardians = append(c.Family.Guardians, cases.Guardian{Given: "Bo", Address: &cases.Address{Lines: []string{"1 Reed Street"}, City: "Saltmarsh"}})
		}, says: []string{"Cannot be made", "more than one guardian", "Enter or choose who gets letters"}},
		"nobody on record":        {given: "Ada", family: "Wren", change: func(c *cases.Case) { c.Family.Guardians = nil }, says: []string{"no parent or guardian is on record", "Enter or choose who gets letters"}},
		"a language without text": {given: "Ada", family: "Wren", change: func(c *cases.Case) { c.Family.Language = "so" }, says: []string{"Drafted", "the language on record is so. Call the family with an interpreter"}},
		"a test message":          {given: "Ada", family: "Wren", change: func(c *cases.Case) { c.TestMessage = true }, says: []string{"Cannot be made", "opened by a test message"}},
	} {
		t.Run(name, func(t *testing.T) {
			s := newSite(t)
			lines := x.lines
			if lines == nil {
				lines = plain
			}
			s.open(withName(t, x.given, x.family, or(x.guardian, "Oyelaran"), lines, x.change))
			wren := s.as("wren")
			p := wren.get("/letters?state=due&kind=repeat-needed")
			for _, want := range x.says {
				if all := strings.ToLower(p.text("main")); !strings.Contains(all, strings.ToLower(want)) {
					t.Errorf("no %q in %s", want, p.text("main"))
				}
			}
			if p.find("script") == nil || strings.Contains(p.text("main"), "%!") {
				t.Error("the page is broken")
			}
			// Each next step opens.
			for _, l := range p.links() {
				if strings.HasPrefix(l, "/infants/") || strings.HasPrefix(l, "/letters/page") {
					wren.get(strings.ReplaceAll(l, "&amp;", "&")).wants(200)
				}
			}
		})
	}
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// A letter in a script that cannot be set is read and printed as a page.
func TestALetterIsPrintedFromTheBrowser(t *testing.T) {
	s := newSite(t)
	s.open(withName(t, "Ada", "שפירא", "Oyelaran", []string{"14 Curlew Lane"}, nil))
	wren := s.as("wren")
	p := wren.get("/letters?state=due&kind=repeat-needed")
	for _, l := range p.links() {
		if strings.HasPrefix(l, "/letters/page") {
			s.printsFromBrowser(t, wren, l)
			wren.get("/letters/page?letter=AB-2026-0001/first-notice/x").wants(404, "no such letter due")
			return
		}
	}
	t.Error("no way to print from the browser")
}

// printsFromBrowser makes the due letter at l for the browser: once, with its number on
// the page, and mails it.
func (s *site) printsFromBrowser(t *testing.T, wren *client, l string) {
	t.Helper()
	f := wren.get(l).wants(200, "Ada שפירא", "not made yet", "14 Curlew Lane").form("/letters/page")
	f.send().wants(200, "It stands under Printed", "Code for returned mail", "Ada שפירא")
	f.send().wants(200, "Nothing was made twice")
	made := s.lettersIn("printed")
	if len(made) != 1 || !made[0].Browser || made[0].History[len(made[0].History)-1].Note != "Printed from the browser by Wren Castellano." {
		t.Fatalf("made %+v", made)
	}
	at := "/letters/" + made[0].ID
	wren.get(at+"/page").wants(200, letters.CodeOf(made[0].Number), "Mark it mailed")
	wren.get(at+"/pdf").wants(200, letters.CodeOf(made[0].Number)) // leads to the page
	if p := wren.get("/letters?state=due&kind=repeat-needed").text("main"); strings.Contains(p, "Print it from the browser") {
		t.Errorf("still due: %s", p)
	}
	wren.get("/letters?state=due").form("/letters/make").send().wants(200)
	for _, x := range s.lettersIn("to-print") {
		if x.Kind == made[0].Kind {
			t.Errorf("made again: %+v", x)
		}
	}
	wren.get("/letters?state=printed").form("/letters").set("letter", made[0].ID).set("do", "mailed").send().wants(200, "Marked as mailed")
	wren.get("/infants/"+s.reference(made[0].Case)).wants(200, "Printed from the browser by Wren Castellano", "Mailed")
}

// The doctor and the family are entered where the letters need them.
func TestDoctorAndFamilyForms(t *testing.T) {
	s := newSite(t)
	k := s.open(docNew)
	at := "/infants/" + k.Reference
	wren := s.as("wren")
	f := wren.get(at + "/primary-care").form(at + "/primary-care")
	f.send().wants(422, "Enter the doctor, or the practice")
	f.set("doctor", "Dr. Fenn").set("email", "fenn at practice").set("city", "Alder Bay").send().wants(422, "E-mail must be one address", "Enter the street or box")
	f.set("email", "desk@practice.example").set("lines", "2 Harbor Road").set("confirmed", "yes").send().wants(200, "Primary care saved", "desk@practice.example")
	if pc := s.read(k.Reference).PrimaryCare; pc.Email != "desk@practice.example" || pc.Confirmed == 0 || pc.Address.Lines[0] != "2 Harbor Road" {
		t.Errorf("doctor %+v", pc)
	}
	f = wren.get(at + "/family").form(at + "/family")
	f.set("g0-family", "Sorrel-White").set("g0-lines", strings.Repeat("a line\n", 8)).set("g0-city", "Heron Point").set("g0-email", "x\r\nBcc: y@z.example").set("g0-phones", "ring her\n555-0190, Mobile, evenings").set("language", "very long").
		send().wants(422, "at most 7 lines", "cannot be kept", "must begin with the number", "Language must be a tag")
	f.set("g0-lines", "c/o Tern\n7 Dune Walk").set("g0-email", "nell@x.example").set("g0-phones", "555-0190, Mobile, evenings").set("language", "es").set("interpreter", "yes").send().wants(200, "Family saved", "Interpreter needed")
	g := s.read(k.Reference).Family.Guardians[0]
	if len(g.Address.Lines) != 2 || g.Phones[0] != (cases.Phone{Number: "555-0190", Kind: "mobile", Best: "evenings"}) || g.Email != "nell@x.example" {
		t.Errorf("guardian %+v", g)
	}
	s.as("dagny").get(at + "/family").wants(403)
}
