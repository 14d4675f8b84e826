package cases_test

import (
	"fmt"
	"strings"
	"testing"

	"dunlin/cases"
)

// owedIn says what is owed in one line: family letters, doctor letters after a bar, what
// waits for a release after another, messages after a third.
func owedIn(a *cases.Assessment) string {
	say := func(ls []cases.LetterDue) string {
		var out []string
		for _, l := range ls {
			out = append(out, fmt.Sprintf("%s (%s) %s", l.Kind, l.Occasion, l.Due))
		}
		return strings.Join(out, ", ")
	}
	var ms []string
	for _, m := range a.MessagesDue {
		ms = append(ms, fmt.Sprintf("%s by %s (%s)", m.Kind, m.By, m.Occasion))
	}
	return strings.TrimRight(strings.Join([]string{say(a.LettersDue), say(a.DoctorLettersDue), say(a.LettersToRelease), strings.Join(ms, ", ")}, " | "), " |")
}

var (
	firstMade   = made(cases.LetterFirstNotice, "2026-03-09", "2026-03-11", "mailed")
	doctorMade  = made(cases.LetterReferral, "2026-03-09", "2026-03-10", "mailed")
	bookingMade = made(cases.LetterBooking, "2026-03-25 09:30", "2026-03-12", "mailed")
	known       = call("2026-03-10", true)
	ahead       = booked("2026-03-25", "09:30", "booked", "2026-03-11")
)

func release(kind, on string) func(*cases.Case) {
	return func(c *cases.Case) {
		c.Releases = append(c.Releases, cases.Release{Kind: kind, On: at(on), By: "Dr. Finch", Licence: "physician"})
	}
}

// again says of the letter that an edit adds that it did not arrive, and is owed again
// from a day on.
func again(add func(*cases.Case), from string) func(*cases.Case) {
	return func(c *cases.Case) {
		add(c)
		l := &c.Letters[len(c.Letters)-1]
		l.State, l.Unsent, l.AgainFrom = "came-back", true, at(from)
	}
}

func oneVariant(c *cases.Case) {
	c.Genotype = &cases.Genotype{Reported: at("2026-03-09"), Scope: "panel", Variants: []cases.Variant{{Name: "F508del"}}}
}

// When letters fall due follows the practice page, section 3.1; the numbers of days are
// proposals of this project. 9 March 2026 is a Monday.
func TestWhenLettersAndMessagesFallDue(t *testing.T) {
	p := cases.DefaultProtocol()
	base := func(edits ...func(*cases.Case)) cases.Case {
		return sought(append([]func(*cases.Case){known, firstMade, doctorMade}, edits...)...)
	}
	for _, x := range []struct {
		name, on string
		c        cases.Case
		want     string
	}{
		{"primary care, the working day after the referral", "2026-03-10", sought(), " | doctor-referral (2026-03-09) 2026-03-10"},
		{"not on the day itself", "2026-03-09", sought(), ""},
		{"presumptive CF, at once and again", "2026-03-10", sought(twoVariants, doctorMade), " | doctor-referral (2026-03-09 presumptive) 2026-03-09"},
		{"a flag on mail is the family's", "2026-03-10", sought(func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "no-mail"}} }), " | doctor-referral (2026-03-09) 2026-03-10"},

		{"reminder, 5 working days before", "2026-03-18", base(ahead, bookingMade), "reminder (2026-03-25 09:30) 2026-03-18"},
		{"not 6", "2026-03-17", base(ahead, bookingMade), ""},
		{"still 3", "2026-03-20", base(ahead, bookingMade), "reminder (2026-03-25 09:30) 2026-03-18"},
		{"with 2 it would come too late", "2026-03-23", base(ahead, bookingMade), ""},
		{"not beside the letter of the booking", "2026-03-19", base(ahead), "booking (2026-03-25 09:30) 2026-03-11"},
		{"2 working days after the letter of the booking", "2026-03-19", base(ahead, made(cases.LetterBooking, "2026-03-25 09:30", "2026-03-18", "mailed")), ""},
		{"and then", "2026-03-20", base(ahead, made(cases.LetterBooking, "2026-03-25 09:30", "2026-03-18", "mailed")), "reminder (2026-03-25 09:30) 2026-03-20"},
		{"not for a booking that moved", "2026-03-18", base(booked("2026-03-25", "09:30", "cancelled", "2026-03-16"), bookingMade), ""},
		{"not under a hold", "2026-03-18", base(ahead, bookingMade, func(c *cases.Case) { c.Holds = []cases.Hold{{Reason: "skin", From: at("2026-03-16")}} }), ""},

		{"missed", "2026-03-26", base(booked("2026-03-25", "09:30", "missed", "2026-03-26")), "missed (2026-03-25 09:30) 2026-03-26"},
		{"once", "2026-03-30", base(booked("2026-03-25", "09:30", "missed", "2026-03-26"), made(cases.LetterMissed, "2026-03-25 09:30", "2026-03-26", "mailed"), call("2026-03-27", true)), ""},
		{"not when spoken with since", "2026-03-26", base(booked("2026-03-25", "09:30", "missed", "2026-03-26"), call("2026-03-26", true)), ""},
		{"not when booked again", "2026-03-26", base(booked("2026-03-25", "09:30", "missed", "2026-03-25"), booked("2026-04-01", "10:00", "booked", "2026-03-26")), "booking (2026-04-01 10:00) 2026-03-26"},

		{"a result waits for its release", "2026-03-25", base(noVariants, collected("2026-03-24", 12, 14)),
			" | doctor-result (2026-03-24 unlikely) 2026-03-25 | result (2026-03-24) 2026-03-24"},
		{"released", "2026-03-25", base(noVariants, collected("2026-03-24", 12, 14), release(cases.LetterResult, "2026-03-25")),
			"result (2026-03-24) 2026-03-25 | doctor-result (2026-03-24 unlikely) 2026-03-25"},
		{"a release of before the test counts for nothing", "2026-03-25", base(noVariants, collected("2026-03-24", 12, 14), release(cases.LetterResult, "2026-03-20")),
			" | doctor-result (2026-03-24 unlikely) 2026-03-25 | result (2026-03-24) 2026-03-24"},
		{"a carrier's", "2026-03-24", base(oneVariant, collected("2026-03-24", 12, 14), release(cases.LetterCarrier, "2026-03-24")),
			"carrier (2026-03-24) 2026-03-24 |  | result (2026-03-24) 2026-03-24"},
		{"no carrier information without a variant", "2026-03-24", base(noVariants, collected("2026-03-24", 12, 14), release(cases.LetterCarrier, "2026-03-24")),
			" |  | result (2026-03-24) 2026-03-24"},
		{"no result in between the bands", "2026-03-24", base(noVariants, collected("2026-03-24", 40, 42), release(cases.LetterResult, "2026-03-24")), ""},
		{"no result while the genotype is not in", "2026-03-24", base(collected("2026-03-24", 12, 14), release(cases.LetterResult, "2026-03-24")), ""},
		{"the doctor hears of a value in the CF range, the family from a person", "2026-03-25", base(noVariants, collected("2026-03-24", 80, 82), release(cases.LetterResult, "2026-03-24")),
			" | doctor-result (2026-03-24 consistent-with-cf) 2026-03-25"},
		{"a reading that was changed is told again", "2026-03-25", base(noVariants, collected("2026-03-24", 40, 42), made(cases.LetterDoctorResult, "2026-03-24 unlikely", "2026-03-24", "mailed")),
			" | doctor-result (2026-03-24 intermediate) 2026-03-25"},
		{"not while it does not fit", "2026-03-25", base(twoVariants, collected("2026-03-24", 12, 14), made(cases.LetterReferral, "2026-03-09 presumptive", "2026-03-10", "mailed")),
			" |  | repeat-needed (2026-03-24 does-not-fit) 2026-03-24"},

		{"no contact, on the rung's day", "2026-03-19", sought(firstMade, doctorMade, call("2026-03-09", false), call("2026-03-10", false)),
			"no-contact (2026-03-09) 2026-03-19 | doctor-cannot-reach (2026-03-09) 2026-03-19"},
		{"not before", "2026-03-18", sought(firstMade, doctorMade, call("2026-03-09", false), call("2026-03-10", false)), ""},
		{"never untrue: nobody has tried", "2026-03-30", sought(doctorMade), ""},
		{"nor when reached", "2026-03-19", base(call("2026-03-09", false), call("2026-03-10", false)), ""},

		{"first notice waits for a release in presumptive CF", "2026-03-10", sought(twoVariants, known, doctorMade, made(cases.LetterReferral, "2026-03-09 presumptive", "2026-03-10", "mailed")),
			" |  | first-notice (2026-03-09) 2026-03-10"},

		{"made again from the day there is an address", "2026-03-18", sought(known, doctorMade, again(firstMade, "2026-03-18")), "first-notice (2026-03-09 again 2) 2026-03-18"},
		{"not on the day before", "2026-03-17", sought(known, doctorMade, again(firstMade, "2026-03-18")), ""},
		{"once", "2026-03-18", sought(known, doctorMade, again(firstMade, "2026-03-18"), made(cases.LetterFirstNotice, "2026-03-09 again 2", "2026-03-18", "to-print")), ""},
		{"and again", "2026-03-25", sought(known, doctorMade, again(firstMade, "2026-03-18"), again(made(cases.LetterFirstNotice, "2026-03-09 again 2", "2026-03-18", "came-back"), "2026-03-25")), "first-notice (2026-03-09 again 3) 2026-03-25"},
		{"not once a test was collected", "2026-03-25", sought(known, doctorMade, again(firstMade, "2026-03-18"), noVariants, collected("2026-03-24", 40, 42)), " | doctor-result (2026-03-24 intermediate) 2026-03-25"},
		{"primary care's", "2026-03-20", sought(known, firstMade, again(doctorMade, "2026-03-19")), " | doctor-referral (2026-03-09 again 2) 2026-03-19"},
		{"a release covers it", "2026-03-30", base(noVariants, collected("2026-03-24", 12, 14), release(cases.LetterResult, "2026-03-25"), made(cases.LetterDoctorResult, "2026-03-24 unlikely", "2026-03-25", "mailed"),
			again(made(cases.LetterResult, "2026-03-24", "2026-03-25", "came-back"), "2026-03-30")), "result (2026-03-24 again 2) 2026-03-30"},
		{"the reminder follows the booking's second letter", "2026-03-20", base(ahead, again(made(cases.LetterBooking, "2026-03-25 09:30", "2026-03-12", "came-back"), "2026-03-18"), made(cases.LetterBooking, "2026-03-25 09:30 again 2", "2026-03-18", "mailed")), "reminder (2026-03-25 09:30) 2026-03-20"},

		{"a text the day before", "2026-03-24", base(texting, ahead, bookingMade), " |  |  | reminder by text (2026-03-25 09:30)"},
		{"not without consent", "2026-03-24", base(ahead, bookingMade), ""},
		{"not under any flag", "2026-03-24", base(texting, ahead, bookingMade, func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "no-voicemail"}} }), ""},
		{"not on the day", "2026-03-25", base(texting, ahead, bookingMade), ""},
		{"a nudge beside the second call", "2026-03-10", sought(texting, doctorMade, call("2026-03-09", false)), " |  |  | nudge by text (2026-03-09 nudge 1)"},
		{"not when nobody called", "2026-03-10", sought(texting, doctorMade), ""},
		{"the next beside the third", "2026-03-12", sought(texting, firstMade, doctorMade, call("2026-03-09", false), func(c *cases.Case) {
			c.Messages = []cases.MessageMade{{Kind: cases.MessageNudge, Occasion: "2026-03-09 nudge 1", By: "text", QueuedOn: at("2026-03-10")}}
		}), " |  |  | nudge by text (2026-03-09 nudge 2)"},
	} {
		a := p.Assess(&x.c, at(x.on))
		if got := owedIn(&a); got != strings.TrimRight(x.want, " |") {
			t.Errorf("%s:\n got %q\nwant %q", x.name, got, x.want)
		}
	}
}

// A closing, a death, a refusal, a move or a flag leaves nothing owed to the family, in
// letters or messages (issue's and protocol's cautions); the doctor's rule is its own.
func TestWhatStopsLetters(t *testing.T) {
	p := cases.DefaultProtocol()
	closed := func(as string) func(*cases.Case) {
		return func(c *cases.Case) {
			c.Closures = []cases.Closure{{On: at("2026-03-24"), As: as, By: "M. Lark", AgreedBy: "I. Heron", Reason: "reviewed", LookAgain: at("2026-09-02"), RestsOn: []cases.Day{at("2026-03-24")}}}
		}
	}
	result := " | doctor-result (2026-03-24 unlikely) 2026-03-25"
	for name, x := range map[string]struct {
		stop func(*cases.Case)
		want string
	}{
		"died":         {func(c *cases.Case) { c.Infant.Died = at("2026-03-24") }, ""},
		"closed":       {closed("not-affected"), result},
		"closed lost":  {closed("lost"), result},
		"in error":     {closed("duplicate"), ""},
		"moved":        {func(c *cases.Case) { c.Handover = &cases.Handover{On: at("2026-03-24"), AcceptedOn: at("2026-03-24")} }, ""},
		"declined":     {func(c *cases.Case) { c.Declined = &cases.Declined{On: at("2026-03-24")} }, result},
		"no-mail flag": {func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "no-mail"}} }, result},
		"custody flag": {func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "custody"}} }, result},
		"safety flag":  {func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "safety"}} }, result},
		"flag not begun": {func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "safety", From: at("2026-03-26")}} },
			"booking (2026-04-01 09:30) 2026-03-25, result (2026-03-24) 2026-03-25" + result},
	} {
		c := sought(known, noVariants, texting, collected("2026-03-24", 12, 14), release(cases.LetterResult, "2026-03-25"), booked("2026-04-01", "09:30", "booked", "2026-03-25"), x.stop)
		a := p.Assess(&c, at("2026-03-25"))
		if got := owedIn(&a); got != strings.TrimRight(x.want, " |") {
			t.Errorf("%s:\n got %q\nwant %q", name, got, x.want)
		}
		for _, kind := range []string{cases.LetterFirstNotice, cases.LetterMissed, cases.LetterResult, cases.MessageNudge} {
			if why := p.LetterStop(&c, kind, "", at("2026-03-25")); (why == "") != (name == "flag not begun") {
				t.Errorf("%s, %s: stop %q", name, kind, why)
			}
		}
	}
	late := sought(known, noVariants, collected("2026-03-24", 12, 14), closed("not-affected"))
	if a := p.Assess(&late, at("2026-04-24")); owedIn(&a) != "" {
		t.Errorf("a month after the closing: %s", owedIn(&a))
	}
}
