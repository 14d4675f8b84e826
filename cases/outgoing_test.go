package cases_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
)

func TestEmailAddressIsOnePlainAddress(t *testing.T) {
	for _, good := range []string{"ina@family.example", "i.reed+baby@mail.family.example", "o'neil@family.example", "josé@família.example", "δοκιμή@παράδειγμα.example"} {
		if !cases.EmailAddress(good) {
			t.Errorf("%q is refused", good)
		}
	}
	for _, bad := range []string{"", "ina", "@family.example", "ina@", "ina@localhost", "ina@@family.example", "ina@family.example,all@family.example", "a b@family.example",
		"ina@family.example\r\nBcc: x@y.example", "ina@family.example\n", "Ina <ina@family.example>", `"a b"@family.example`, "ina@[192.0.2.1]", "ina@-family.example",
		"ina@family-.example", "ina.@family.example", ".ina@family.example", "ina@family..example", "ina@fam\u202Eily.example", "ina@family.example\x00", "<ina@family.example>",
		"ina@fam;ily.example", strings.Repeat("a", 65) + "@family.example", "a@" + strings.Repeat("b.", 130) + "example"} {
		if cases.EmailAddress(bad) {
			t.Errorf("%q is taken", bad)
		}
	}
}

func TestTextNumber(t *testing.T) {
	for typed, want := range map[string]string{"555-555-0101": "5555550101", "+44 (0)20 7946 0000": "+4402079460000", " (555) 555.0101 ": "5555550101",
		"": "", "911": "", "555-0101 x22": "", "5+55550101": "", "555-555-0101\n": "5555550101", "555\n5550101": "", "call mother": "", "1234567890123456": ""} {
		if got := cases.TextNumber(typed); got != want {
			t.Errorf("%q: %q, not %q", typed, got, want)
		}
	}
}

// TestNoHeadingIsInjected draws texts of any signs: what is taken holds no line break in
// its address or subject, and no control character anywhere but line ends in its body.
//
//asvs:1.3.11
func TestNoHeadingIsInjected(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringMatching(`[a-z\r\n:@. ,<>"]{0,30}`), rapid.Just("ina@family.example"))
		o := cases.Outgoing{Kind: "nudge", By: cases.ByEmail, ToWhom: cases.ToFamily, To: text.Draw(t, "to"), Subject: text.Draw(t, "subject"), Body: text.Draw(t, "body")}
		if o.Check() != nil {
			return
		}
		if strings.ContainsAny(o.To+o.Subject, "\r\n\x00") || strings.ContainsAny(o.To, " ,<>\"") || strings.Count(o.To, "@") != 1 || strings.ContainsAny(o.Body, "\r\x00") {
			t.Fatalf("taken: to %q, subject %q, body %q", o.To, o.Subject, o.Body)
		}
	})
}

// stopped asks why a message must not go, for a change of a case that may get it.
func TestMessageStop(t *testing.T) {
	p := cases.DefaultProtocol()
	on, _ := cases.ParseDay("2026-03-20")
	day := func(s string) cases.Day { d, _ := cases.ParseDay(s); return d }
	make := func() cases.Case {
		return cases.Case{Document: cases.DocumentName, Reference: "AB-2026-0001", Infant: cases.Infant{Born: day("2026-03-01")}, Referral: cases.Referral{On: day("2026-03-08"), Route: "screen"},
			Family: &cases.Family{Guardians: []cases.Guardian{{Family: "Wren", Email: "ina@family.example", Phones: []cases.Phone{{Number: "555-555-0101", Kind: "mobile"}, {Number: "555-555-0102", Kind: "home"}}}},
				Consents: []cases.Consent{{Channel: cases.ByEmail, On: day("2026-03-10")}, {Channel: cases.ByText, On: day("2026-03-10")}}},
			Bookings:    []cases.Booking{{On: on + 1, At: "09:30", State: "booked"}},
			PrimaryCare: &cases.PrimaryCare{Name: "Dr Heron", Email: "heron@practice.example"}}
	}
	email := cases.Outgoing{Kind: "reminder", Occasion: "2026-03-21 09:30", By: cases.ByEmail, ToWhom: cases.ToFamily, To: "ina@family.example"}
	text := cases.Outgoing{Kind: "reminder", Occasion: "2026-03-21 09:30", By: cases.ByText, ToWhom: cases.ToFamily, To: "555-555-0101"}
	result := cases.Outgoing{Kind: cases.LetterDoctorResult, By: cases.ByEmail, ToWhom: cases.ToPrimaryCare, To: "heron@practice.example"}
	search := result
	search.Kind = cases.LetterCannotReach
	for name, x := range map[string]struct {
		change func(*cases.Case)
		stops  string // letters of those that are stopped: e, t, r, s
	}{
		"as it is":            {func(*cases.Case) {}, ""},
		"died":                {func(c *cases.Case) { c.Infant.Died, c.Infant.DiedReported = on, on }, "etrs"},
		"no consent for text": {func(c *cases.Case) { c.Family.Consents = c.Family.Consents[:1] }, "t"},
		"consent taken back":  {func(c *cases.Case) { c.Family.Consents[0].Withdrawn = on }, "e"},
		"consent comes later": {func(c *cases.Case) { c.Family.Consents[1].On = on + 1 }, "t"},
		"consent given anew": {func(c *cases.Case) {
			c.Family.Consents[0].Withdrawn = on - 3
			c.Family.Consents = append(c.Family.Consents, cases.Consent{Channel: cases.ByEmail, On: on - 1})
		}, ""},
		"safety flag":          {func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "safety"}} }, "et"},
		"no-voicemail flag":    {func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "no-voicemail"}} }, "et"},
		"custody flag":         {func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "custody", From: on}} }, "et"},
		"flag is over":         {func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "custody", Until: on}} }, ""},
		"moved to another day": {func(c *cases.Case) { c.Bookings[0].On++ }, "et"},
		"cancelled":            {func(c *cases.Case) { c.Bookings[0].State = "cancelled" }, "et"},
		"declined":             {func(c *cases.Case) { c.Declined = &cases.Declined{On: on} }, "ets"},
		"moved":                {func(c *cases.Case) { c.Handover = &cases.Handover{To: "Heron Point", On: on, AcceptedOn: on} }, "etrs"},
		"other e-mail":         {func(c *cases.Case) { c.Family.Guardians[0].Email = "new@family.example" }, "e"},
		"second guardian": {func(c *cases.Case) {
			c.Family.Guardians = append(c.Family.Guardians, cases.Guardian{Family: "Reed", Email: "r@family.example"})
		}, "et"},
		"two mobile numbers": {func(c *cases.Case) { c.Family.Guardians[0].Phones[1].Kind = "mobile" }, "t"},
		"other doctor":       {func(c *cases.Case) { c.PrimaryCare.Email = "x@practice.example" }, "rs"},
		"test message":       {func(c *cases.Case) { c.TestMessage = true }, "etrs"},
		"no family":          {func(c *cases.Case) { c.Family = nil }, "et"},
		"closed as lost": {func(c *cases.Case) {
			c.Closures = []cases.Closure{{On: on - 1, As: "lost", By: "Ina", AgreedBy: "Ola", AgreedOn: on, Reason: "Not found"}}
		}, "ets"},
		"two CF-causing known": {func(c *cases.Case) {
			c.Genotype = &cases.Genotype{Reported: on - 1, Scope: "panel", Variants: []cases.Variant{{Name: "F508del", Allele: 1, Class: "cf-causing", Reported: on - 1}, {Name: "G551D", Allele: 2, Class: "cf-causing", Reported: on - 1}}}
			c.Genotype.Variants[0].Phase, c.Genotype.Variants[1].Phase = "trans", "trans"
		}, "et"},
	} {
		c := make()
		x.change(&c)
		c.Prepare()
		got := ""
		for _, m := range []struct {
			sign string
			o    *cases.Outgoing
		}{{"e", &email}, {"t", &text}, {"r", &result}, {"s", &search}} {
			if p.MessageStop(&c, m.o, on) != "" {
				got += m.sign
			}
		}
		if got != x.stops {
			t.Errorf("%s: stopped %q, want %q", name, got, x.stops)
		}
	}
}
