package letters

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
	"dunlin/templates"
)

func qns(on string) cases.SweatTest {
	ten := 10.0
	return cases.SweatTest{On: day(on), Collector: "tubing", Arms: []cases.Arm{
		{Side: "left", Minutes: 30, AmountUL: &ten}, {Side: "right", Minutes: 30, AmountUL: &ten},
	}}
}

func sweat(on string, chloride float64) cases.SweatTest {
	enough := 24.0
	return cases.SweatTest{On: day(on), Collector: "tubing", Arms: []cases.Arm{
		{Side: "left", Minutes: 30, AmountUL: &enough, Chloride: &chloride},
		{Side: "right", Minutes: 30, AmountUL: &enough, Chloride: &chloride},
	}}
}

func TestComposeSaysWhatIsDue(t *testing.T) {
	tested := func(test cases.SweatTest) *cases.Case {
		c := ada()
		c.Bookings = nil
		c.SweatTests = []cases.SweatTest{test}
		return c
	}
	inter := tested(sweat("2026-03-18", 40))
	inter.RepeatOrdered = &cases.RepeatOrdered{On: day("2026-03-19"), By: "Dr. Finch"}
	void := tested(sweat("2026-03-18", 20))
	void.SweatTests[0].Verified = &cases.Verified{On: day("2026-03-19"), By: "Dr. Finch", As: "void"}
	apart := tested(sweat("2026-03-18", 20))
	other := 45.0
	apart.SweatTests[0].Arms[1].Chloride = &other
	tests := []struct {
		name, kind, on string
		c              *cases.Case
		want           []string
	}{
		{"first notice", cases.LetterFirstNotice, "2026-03-10", ada(), []string{"Please call us about your baby", "Please call Rosa Teal at 555-0142", "About Ada Wren, born March 1, 2026"}},
		{"booking", cases.LetterBooking, "2026-03-10", ada(), []string{"Wednesday, March 18, 2026, at 9:30 in the morning", "Alder Bay Sweat Test Room", "200 Causeway Road, Alder Bay", "Park behind the building.", "call the test site at 555-0150"}},
		{"QNS", cases.LetterRepeatNeeded, "2026-03-20", tested(qns("2026-03-18")), []string{"On Wednesday, March 18, 2026 your baby had a sweat test. There was not enough sweat to measure."}},
		{"intermediate", cases.LetterRepeatNeeded, "2026-03-20", inter, []string{"The answer was in between."}},
		{"void", cases.LetterRepeatNeeded, "2026-03-20", void, []string{"We could not use that test."}},
		{"arms disagree", cases.LetterRepeatNeeded, "2026-03-20", apart, []string{"We could not use that test."}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			l := mustCompose(t, tt.c, tt.kind, day(tt.on))
			preview := l.Preview()
			for _, want := range append(tt.want, "Parent or guardian, Wren\n14 Curlew Lane\nAlder Bay, WA 98999", "Letter 7KQ294XF") {
				if !strings.Contains(preview, want) {
					t.Errorf("the letter does not say %q:\n%s", want, preview)
				}
			}
			// Neither the sheet nor what is kept carries the case's reference.
			if all := preview + asJSON(t, l); strings.Contains(all, "AB-2026") || strings.Contains(all, "0042") {
				t.Error("the case's reference is in the letter")
			}
		})
	}
}

func TestComposeRefusesWithAReason(t *testing.T) {
	tests := []struct {
		name string
		edit func(*cases.Case, *Program)
		want string
	}{
		{"no family", func(c *cases.Case, _ *Program) { c.Family = nil }, "no parent or guardian"},
		{"no address", func(c *cases.Case, _ *Program) { c.Family.Guardians[0].Address = nil }, "no address is on record"},
		{"empty address", func(c *cases.Case, _ *Program) { c.Family.Guardians[0].Address = address(" ") }, "no street"},
		{"no town", func(c *cases.Case, _ *Program) {
			c.Family.Guardians[0].Address = &cases.Address{Lines: []string{"14 Curlew Lane"}}
		}, "no town"},
		{"mail came back", func(c *cases.Case, _ *Program) { c.Family.Guardians[0].Address.Bad = true }, "mail came back"},
		{"two guardians", func(c *cases.Case, _ *Program) {
			c.Family.Guardians = append(c.Family.Guardians, cases.Guardian{Family: "Heron", Address: address("2 Reed Way")})
		}, "choose who gets letters"},
		{"to be picked", func(c *cases.Case, _ *Program) { c.Family.PickOne = true }, "choose who gets letters"},
		{"two marked", func(c *cases.Case, _ *Program) {
			g := c.Family.Guardians[0]
			g.Letters = true
			c.Family.Guardians = []cases.Guardian{g, g}
		}, "more than one guardian is marked"},
		{"no name", func(c *cases.Case, _ *Program) { c.Infant.Given, c.Infant.Family = "", " " }, "the infant has no name"},
		{"unknown site", func(c *cases.Case, _ *Program) { c.Bookings[0].Site = "far-away" }, `test site "far-away"`},
		{"no site", func(c *cases.Case, _ *Program) { c.Bookings[0].Site = "" }, "no test site"},
		{"no time", func(c *cases.Case, _ *Program) { c.Bookings[0].At = "" }, "no time"},
		{"separate accent", func(c *cases.Case, _ *Program) { c.Infant.Given = "Zoq\u0308" }, "accent stands apart"},
		{"another script", func(c *cases.Case, _ *Program) { c.Infant.Given = "عائشة" }, "(Arabic)"},
		{"street too long", func(c *cases.Case, _ *Program) {
			c.Family.Guardians[0].Address = address(strings.Repeat("Long ", 20) + "Street")
		}, "too long for the window"},
		{"broken bytes in a name", func(c *cases.Case, _ *Program) { c.Infant.Given = "Ada\x85Wren" }, "was lost"},
		{"no phone of the program", func(_ *cases.Case, p *Program) { p.Phone = "" }, "the phone number that families call is not set"},
		{"bad geometry", func(_ *cases.Case, p *Program) { p.Envelope.Band.Right = 6 }, "does not lie in the part that may show"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c, p := ada(), alderBay()
			tt.edit(c, p)
			_, err := compose(t, c, cases.LetterBooking, adaToday, p)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("err = %v, want %q", err, tt.want)
			}
		})
	}
}

func TestComposeHoldsBackUnderAFlag(t *testing.T) {
	c := ada()
	a := cases.DefaultProtocol().Assess(c, adaToday)
	due := a.LettersDue[0]
	for _, kind := range []string{"no-mail", "custody", "safety"} {
		c.Flags = []cases.Flag{{Kind: kind, From: day("2026-03-01"), Until: day("2026-03-11")}}
		if _, err := Compose(c, &a, due, allTexts(t), alderBay()); err == nil || !strings.Contains(err.Error(), kind) {
			t.Errorf("%s: err = %v", kind, err)
		}
		c.Flags[0].Until = adaToday // the first day without it
		if _, err := Compose(c, &a, due, allTexts(t), alderBay()); err != nil {
			t.Errorf("%s is over, but: %v", kind, err)
		}
	}
	c.Flags, c.Infant.Died = nil, adaToday
	if _, err := Compose(c, &a, due, allTexts(t), alderBay()); err == nil {
		t.Error("a letter for an infant that died")
	}
}

func TestAddressee(t *testing.T) {
	p := alderBay()
	tests := []struct {
		name    string
		surname bool
		g       []cases.Guardian
		want    []string
	}{
		{"surname", true, []cases.Guardian{{Given: "Lin", Family: "Heron", Address: address("14 Curlew Lane")}}, []string{"Parent or guardian, Heron", "14 Curlew Lane", "Alder Bay, WA 98999"}},
		{"no surname by setting", false, []cases.Guardian{{Family: "Heron", Address: address("14 Curlew Lane")}}, []string{"Parent or guardian", "14 Curlew Lane", "Alder Bay, WA 98999"}},
		{"no surname on record", true, []cases.Guardian{{Address: address("14  Curlew   Lane ", "")}}, []string{"Parent or guardian", "14 Curlew Lane", "Alder Bay, WA 98999"}},
		{"three street lines", false, []cases.Guardian{{Address: address("c/o Reed", "14 Curlew Lane", "Apt 3")}}, []string{"Parent or guardian", "c/o Reed", "14 Curlew Lane, Apt 3", "Alder Bay, WA 98999"}},
		{"marked", false, []cases.Guardian{{Family: "A", Address: address("1 A Way")}, {Family: "B", Letters: true, Address: address("2 B Way")}}, []string{"Parent or guardian", "2 B Way", "Alder Bay, WA 98999"}},
		{"one address of two people", false, []cases.Guardian{{Family: "A", Address: address("1 A Way")}, {Family: "B", Address: address("1 a way")}}, []string{"Parent or guardian", "1 A Way", "Alder Bay, WA 98999"}},
		{"the second has the address", false, []cases.Guardian{{Family: "A"}, {Family: "B", Address: address("2 B Way")}}, []string{"Parent or guardian", "2 B Way", "Alder Bay, WA 98999"}},
		{"abroad", false, []cases.Guardian{{Address: &cases.Address{Lines: []string{"1 Shore Road"}, City: "Victoria", Country: "Canada"}}}, []string{"Parent or guardian", "1 Shore Road", "Victoria, CANADA"}},
		{"at home", false, []cases.Guardian{{Address: &cases.Address{Lines: []string{"1 Shore Road"}, City: "Alder Bay", Country: "U.S.A."}}}, []string{"Parent or guardian", "1 Shore Road", "Alder Bay"}},
	}
	for _, tt := range tests {
		p.SurnameInWindow = tt.surname
		got, err := addressee(&cases.Case{Family: &cases.Family{Guardians: tt.g}}, p)
		if err != nil || !slices.Equal(got, tt.want) {
			t.Errorf("%s: %q, %v, want %q", tt.name, got, err, tt.want)
		}
	}
}

// Whatever is on record, the infant's given name never gets into the window, and no
// letter has a blank where a value belongs.
func TestWindowNeverNamesTheInfant(t *testing.T) {
	texts := allTexts(t)
	rapid.Check(t, func(rt *rapid.T) {
		name := rapid.StringMatching(`[A-Z][a-zéüñ'-]{1,25}`)
		c, p := ada(), alderBay()
		c.Infant.Given = "Quixo" + name.Draw(rt, "given")
		c.Infant.Family = name.Draw(rt, "family")
		g := &c.Family.Guardians[0]
		g.Given, g.Family = name.Draw(rt, "guardian"), name.Draw(rt, "surname")
		g.Address.Lines = rapid.SliceOfN(rapid.StringMatching(`[0-9]{1,4} [A-Z][a-z]{2,12} (Lane|Road)`), 1, 3).Draw(rt, "lines")
		p.SurnameInWindow = rapid.Bool().Draw(rt, "setting")
		a := cases.DefaultProtocol().Assess(c, adaToday)
		for _, due := range a.LettersDue {
			l, err := Compose(c, &a, due, texts, p)
			if err != nil {
				if !strings.Contains(err.Error(), "too long for the window") {
					rt.Fatal(err)
				}
				continue
			}
			window := strings.Join(l.Address, "\n")
			if strings.Contains(window, "Quixo") || strings.Contains(window, g.Given) && !strings.Contains(g.Family, g.Given) && len(g.Given) > 6 {
				rt.Errorf("the window shows %q", window)
			}
			if !p.SurnameInWindow && l.Address[0] != "Parent or guardian" {
				rt.Errorf("the window begins %q", l.Address[0])
			}
			if strings.ContainsAny(templates.Plain(l.Blocks), "{}") {
				rt.Error("a field was left in the text")
			}
		}
	})
}

func TestLanguageNote(t *testing.T) {
	c := ada()
	l := mustCompose(t, c, cases.LetterBooking, adaToday)
	for tag, note := range map[string]bool{"": false, "en": false, "en-US": false, "es": true, "vi": true} {
		c.Family.Language = tag
		if got := l.LanguageNote(c); (got != "") != note || note && !strings.Contains(got, "interpreter") {
			t.Errorf("%q: %q", tag, got)
		}
	}
}
