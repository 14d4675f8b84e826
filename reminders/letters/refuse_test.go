package letters

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"dunlin/cases"
)

// What a letter would say must be on record; else it is refused in words.
func TestKindsRefuseWhatIsNotOnRecord(t *testing.T) {
	tests := []struct {
		kind string // with its variant
		name string
		edit func(*cases.Case)
		want string
	}{
		{"result", "no release", func(c *cases.Case) { c.Releases = nil }, "no licensed person has released"},
		{"result", "a release without a name", func(c *cases.Case) { c.Releases[0].By = " " }, "no licensed person has released"},
		{"result", "a release of another test", func(c *cases.Case) { c.Releases[0].Occasion = "2026-03-11" }, "no licensed person has released"},
		{"result", "a later release", func(c *cases.Case) { c.Releases[0].On = day("2026-03-21") }, "no licensed person has released"},
		{"result", "a release of the other kind", func(c *cases.Case) { c.Releases[0].Kind = cases.LetterCarrier }, "no licensed person has released"},
		{"result", "an intermediate test", func(c *cases.Case) { c.SweatTests[0] = sweat("2026-03-18", 40) }, "does not support"},
		{"result", "a test in the CF range", func(c *cases.Case) { c.SweatTests[0] = sweat("2026-03-18", 88) }, "does not support"},
		{"result", "QNS", func(c *cases.Case) { c.SweatTests[0] = qns("2026-03-18") }, "has no such result"},
		{"result", "no test", func(c *cases.Case) { c.SweatTests = nil }, "has no such result"},
		{"carrier", "no variant", func(c *cases.Case) { c.Genotype = &cases.Genotype{Reported: day("2026-03-08"), Scope: "panel"} }, "does not support"},
		{"carrier", "genotype not reported", func(c *cases.Case) { c.Genotype = nil }, "does not support"},
		{"missed", "kept after all", func(c *cases.Case) { c.Bookings[0].State = "kept" }, "missed booking is not there"},
		{"reminder", "cancelled", func(c *cases.Case) { c.Bookings[0].State = "cancelled" }, "booking is not there"},
		{"no-contact", "no attempt", func(c *cases.Case) { c.Contacts = nil }, "no attempt to reach the family"},
		{"no-contact", "a custody flag", func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "custody"}} }, "forbids mail"},
		{"doctor-cannot-reach", "only letters that were not mailed", func(c *cases.Case) {
			c.Contacts = []cases.Contact{{On: day("2026-03-10"), With: "family", By: "letter", Outcome: "not mailed"}}
		}, "no attempt to reach the family"},
		{"doctor-cannot-reach", "died", func(c *cases.Case) { c.Infant.Died = day("2026-03-15") }, "the infant died"},
		{"doctor-referral", "no doctor", func(c *cases.Case) { c.PrimaryCare = nil }, "no primary care doctor"},
		{"doctor-referral", "no address", func(c *cases.Case) { c.PrimaryCare.Address = nil }, "no address of the primary care doctor"},
		{"doctor-referral", "mail came back", func(c *cases.Case) { c.PrimaryCare.Address.Bad = true }, "mail came back"},
		{"doctor-referral", "another script", func(c *cases.Case) { c.PrimaryCare.Name = "عائشة" }, "(Arabic)"},
		{"doctor-result-unlikely", "now another value", func(c *cases.Case) { c.SweatTests[0] = sweat("2026-03-18", 40) }, "has no such result"},
	}
	for _, tt := range tests {
		list := everyLetter()
		i := slices.IndexFunc(list, func(x wanted) bool { return x.name == tt.kind })
		if i < 0 {
			t.Fatalf("no letter %s", tt.kind)
		}
		tt.edit(list[i].c)
		if _, err := list[i].compose(t, complete()); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s, %s: err = %v, want %q", tt.kind, tt.name, err, tt.want)
		}
	}
}

// A flag about the family's mail does not keep its doctor from being told.
func TestFlagsOfTheFamilyDoNotStopTheDoctor(t *testing.T) {
	for _, x := range everyLetter() {
		x.c.Flags = []cases.Flag{{Kind: "no-mail"}}
		_, err := x.compose(t, complete())
		if family := cases.LetterKindOf(x.due.Kind).To == cases.ToFamily; family != (err != nil) {
			t.Errorf("%s: err = %v", x.name, err)
		}
	}
}

// Facts of the program that are not set are left out, never left blank.
func TestLettersWithoutWhatTheProgramMayLeaveOut(t *testing.T) {
	for _, x := range everyLetter() {
		x.c.PrimaryCare.Practice, x.c.Infant.Records, x.c.Family.Mother, x.c.Referral.Screen = "", nil, "", nil
		l, err := x.compose(t, alderBay())
		if err != nil {
			t.Errorf("%s: %v", x.name, err)
			continue
		}
		text := l.Preview()
		for _, blank := range []string{"{", "  ", " .", " ,", ": \n", "Fax", "IRT:", "Mother"} {
			if strings.Contains(text, blank) {
				t.Errorf("%s holds %q", x.name, blank)
			}
		}
		if l.Language == "es" && (l.Sender.Hours != "" || strings.Contains(text, "Monday to Friday")) {
			t.Errorf("%s: English hours in a Spanish letter", x.name)
		}
	}
}

// A family's tag finds its language; one without texts gets English and a note.
func TestLettersByTheFamilysLanguage(t *testing.T) {
	for tag, want := range map[string]string{"es": "es", "es-MX": "es", "ES": "es", "": "en", "en-US": "en", "vi": "en", "tlh": "en"} {
		c := full()
		c.Family.Language = tag
		l := mustCompose(t, c, cases.LetterBooking, adaToday)
		if l.Language != want {
			t.Errorf("%q: %s", tag, l.Language)
		}
		if note := l.LanguageNote(c); (note != "") != (tag == "vi" || tag == "tlh") {
			t.Errorf("%q: note %q", tag, note)
		}
	}
	x := everyLetter()[10]
	l, err := x.compose(t, complete())
	if err != nil || l.Language != "en" || l.LanguageNote(x.c) != "" {
		t.Errorf("a doctor's letter: %s, %q, %v", l.Language, l.LanguageNote(x.c), err)
	}
}

func TestClinicListRefuses(t *testing.T) {
	c := full()
	a := cases.DefaultProtocol().Assess(c, adaToday)
	one := []ClinicInfant{{At: "09:30", Case: c, Assessment: &a}}
	for want, d := range map[string]ClinicDay{
		"no infant is booked":       {Site: "alder-bay", On: day("2026-03-18"), MadeOn: adaToday},
		`test site "far-away"`:      {Site: "far-away", On: day("2026-03-18"), MadeOn: adaToday, Infants: one},
		"needs a street and a town": {Site: "bare", On: day("2026-03-18"), MadeOn: adaToday, Infants: one},
	} {
		p := complete()
		p.Sites["bare"] = Site{Name: "Bare", Address: "200 Causeway Road"}
		if _, err := ComposeClinicDay(d, allTexts(t), p); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("err = %v, want %q", err, want)
		}
	}
}

// A booking that nobody cancelled after the family declined is on the list with a word of
// warning, until the refusal is taken back.
func TestClinicListSaysThatAFamilyDeclined(t *testing.T) {
	c := full()
	for withdrawn, want := range map[cases.Day]bool{0: true, day("2026-03-12"): false} {
		c.Declined = &cases.Declined{On: day("2026-03-09"), WithdrawnOn: withdrawn}
		a := cases.DefaultProtocol().Assess(c, day("2026-03-17"))
		d := ClinicDay{Site: "alder-bay", On: day("2026-03-18"), MadeOn: day("2026-03-17"), Infants: []ClinicInfant{{At: "09:30", Case: c, Assessment: &a}}}
		l, err := ComposeClinicDay(d, allTexts(t), complete())
		if err != nil || strings.Contains(l.Preview(), "Take care: the family declined the test, call us before the day") != want {
			t.Errorf("taken back %v: %v\n%s", withdrawn, err, l.Preview())
		}
	}
}

// A site with many infants on one day gets a list of as many sheets as it takes.
func TestClinicListOfManyInfants(t *testing.T) {
	c := full()
	a := cases.DefaultProtocol().Assess(c, adaToday)
	d := ClinicDay{Site: "alder-bay", On: day("2026-03-18"), MadeOn: adaToday}
	for i := range 90 {
		d.Infants = append(d.Infants, ClinicInfant{At: cases.Clock(fmt.Sprintf("%02d:%02d", 8+i/10, i%10*6)), Case: c, Assessment: &a})
	}
	l, err := ComposeClinicDay(d, allTexts(t), complete())
	if err != nil {
		t.Fatal(err)
	}
	l.Number = "AB23CD45"
	sheets, err := l.sheets()
	if err != nil || len(sheets) <= maxSheets {
		t.Errorf("%d sheets, %v", len(sheets), err)
	}
}

func TestSiteAddress(t *testing.T) {
	p := complete()
	for in, want := range map[string][]string{
		"200 Causeway Road, Alder Bay":                            {"S", "200 Causeway Road", "Alder Bay"},
		"200 Causeway Road, Alder Bay, WA 98999":                  {"S", "200 Causeway Road", "Alder Bay, WA 98999"},
		"Floor 2, 200 Causeway Road, Alder Bay, WA 98999":         {"S", "Floor 2", "200 Causeway Road", "Alder Bay, WA 98999"},
		"East Wing, Floor 2, 200 Causeway Road, Alder Bay, 98999": {"S", "East Wing", "Floor 2, 200 Causeway Road", "Alder Bay, 98999"},
	} {
		got, err := siteAddress(&Site{Name: "S", Address: in}, p)
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("%s: %q, %v", in, got, err)
		}
	}
}

// A name of the infant that was typed into the address, or as the guardian's surname,
// never shows in the window; a street that happens to bear one of the names is fine.
func TestTheInfantIsNotInTheAddress(t *testing.T) {
	for _, x := range []struct {
		line, city, surname string
		refused             bool
		first               string
	}{
		{"c/o baby ADA Wren", "Alder Bay", "Wren", true, ""},
		{"Wren, Ada", "Alder Bay", "Wren", true, ""},
		{"14 Wren Street", "Ada", "Wren", false, "Parent or guardian, Wren"},
		{"14 Wren Street", "Alder Bay", "Wren", false, "Parent or guardian, Wren"},
		{"3 Ada Court", "Alder Bay", "Wren", false, "Parent or guardian, Wren"},
		{"14 Curlew Lane", "Alder Bay", "Ada Wren", false, "Parent or guardian"},
		{"14 Curlew Lane", "Alder Bay", "Wren-Adams", false, "Parent or guardian, Wren-Adams"},
	} {
		c := ada()
		g := &c.Family.Guardians[0]
		g.Family, g.Address = x.surname, address(x.line)
		g.Address.City = x.city
		l, err := compose(t, c, cases.LetterBooking, adaToday, alderBay())
		if x.refused != (err != nil && strings.Contains(err.Error(), "the address names the infant")) || !x.refused && (err != nil || l.Address[0] != x.first) {
			t.Errorf("%+v: %q, %v", x, l.Address, err)
		}
	}
}
