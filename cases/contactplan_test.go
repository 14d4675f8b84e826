package cases_test

import (
	"fmt"
	"strings"
	"testing"

	"dunlin/cases"
)

func at(s string) cases.Day {
	d, err := cases.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

// sought is an infant referred on Monday 9 March 2026 whose family is not reached; the
// days are counted without holidays until May.
func sought(edits ...func(*cases.Case)) cases.Case {
	c := cases.Case{ID: "01J0000000000000000000000A", Document: cases.DocumentName, Reference: "AB-2026-0001",
		Infant:   cases.Infant{Given: "Ada", Family: "Wren", Born: at("2026-03-02"), Gestation: 39 * 7, BirthWeightG: 3200},
		Referral: cases.Referral{On: at("2026-03-09"), Route: "screen"}}
	for _, f := range edits {
		f(&c)
	}
	c.Prepare()
	return c
}

func call(on string, reached bool) func(*cases.Case) {
	return tried(on, "family", "phone", reached)
}

func tried(on, with, by string, reached bool) func(*cases.Case) {
	return func(c *cases.Case) {
		c.Contacts = append(c.Contacts, cases.Contact{On: at(on), With: with, By: by, Reached: reached})
	}
}

func booked(on, clock, state, changed string) func(*cases.Case) {
	return func(c *cases.Case) {
		c.Bookings = append(c.Bookings, cases.Booking{On: at(on), At: cases.Clock(clock), Site: "alder-bay", State: state, Changed: at(changed)})
	}
}

func made(kind, occasion, on, state string) func(*cases.Case) {
	return func(c *cases.Case) {
		l := cases.LetterMade{Kind: kind, Occasion: occasion, MadeOn: at(on), State: state}
		if state == "mailed" {
			l.MailedOn = at(on)
		}
		c.Letters = append(c.Letters, l)
	}
}

func twoVariants(c *cases.Case) {
	c.Genotype = &cases.Genotype{Reported: at("2026-03-09"), Scope: "panel", Variants: []cases.Variant{{Name: "F508del"}, {Name: "G551D"}}}
}

func collected(on string, left, right float64) func(*cases.Case) {
	return func(c *cases.Case) {
		ul := 25.0
		c.SweatTests = append(c.SweatTests, cases.SweatTest{On: at(on), Collector: "tubing",
			Arms: []cases.Arm{{Side: "left", Minutes: 30, AmountUL: &ul, Chloride: &left}, {Side: "right", Minutes: 30, AmountUL: &ul, Chloride: &right}}})
	}
}

func noVariants(c *cases.Case) {
	c.Genotype = &cases.Genotype{Reported: at("2026-03-09"), Scope: "panel"}
}

func texting(c *cases.Case) {
	c.Family = &cases.Family{Guardians: []cases.Guardian{{Given: "Lin", Family: "Wren", Phones: []cases.Phone{{Number: "555-555-0142", Kind: "mobile"}}}},
		Consents: []cases.Consent{{Channel: "text", On: at("2026-03-09")}}}
}

// The days follow the plan proposed by the practice page, section 2.2 (a choice of this
// project): calls on working days 0, 1 and 3, the letter on 3, certified mail on 8, the
// visit on 12, the review on 20.
func TestContactPlanStandsWhereTheDaysSay(t *testing.T) {
	p := cases.DefaultProtocol()
	for _, x := range []struct {
		name, on string
		c        cases.Case
		rung     string
		owed     string // rung and number, due
		next     string
	}{
		{"the day of the referral", "2026-03-09", sought(), "calls", "calls 1 2026-03-09", "calls 2 2026-03-10"},
		{"a call a day", "2026-03-10", sought(call("2026-03-09", false)), "calls", "calls 2 2026-03-10", "calls 3 2026-03-12"},
		{"two calls on one day count once", "2026-03-10", sought(call("2026-03-09", false), call("2026-03-09", false)), "calls", "calls 2 2026-03-10", "calls 3 2026-03-12"},
		{"working day 3", "2026-03-12", sought(call("2026-03-09", false), call("2026-03-10", false)), "letter", "calls 3 2026-03-12, letter 1 2026-03-12", "certified letter 1 2026-03-19"},
		{"over a weekend", "2026-03-15", sought(call("2026-03-09", false), call("2026-03-10", false), call("2026-03-12", false), tried("2026-03-12", "family", "letter", false)), "letter", "", "certified letter 1 2026-03-19"},
		{"working day 20", "2026-04-06", sought(tried("2026-03-26", "family", "visit", false)), "review", "calls 1 2026-03-09, calls 2 2026-03-10, calls 3 2026-03-12, letter 1 2026-03-12, certified letter 1 2026-03-19, review 1 2026-04-06", ""},
		{"a review with the supervisor", "2026-04-06", sought(tried("2026-04-06", "supervisor", "phone", true)), "review", "calls 1 2026-03-09, calls 2 2026-03-10, calls 3 2026-03-12, letter 1 2026-03-12, certified letter 1 2026-03-19, visit 1 2026-03-25", ""},
		{"presumptive CF is faster", "2026-03-10", sought(twoVariants, call("2026-03-09", false), call("2026-03-09", false)), "letter", "calls 3 2026-03-10, letter 1 2026-03-10", "certified letter 1 2026-03-11"},
		{"with consent a text too", "2026-03-10", sought(texting, call("2026-03-09", false)), "nudge", "calls 2 2026-03-10, nudge 1 2026-03-10", "calls 3 2026-03-12"},
		{"an e-mail stands in for the text", "2026-03-10", sought(texting, call("2026-03-09", false), tried("2026-03-10", "family", "email", false)), "nudge", "calls 2 2026-03-10", "calls 3 2026-03-12"},
		{"after a missed test it begins anew", "2026-03-24", sought(call("2026-03-09", true), booked("2026-03-23", "09:30", "missed", "2026-03-23")), "calls", "calls 1 2026-03-23, calls 2 2026-03-24", "calls 3 2026-03-26"},
	} {
		a := p.Assess(&x.c, at(x.on))
		k := a.ContactPlan
		if k == nil {
			t.Errorf("%s: no plan", x.name)
			continue
		}
		var owed []string
		for _, o := range k.Owed {
			owed = append(owed, fmt.Sprintf("%s %d %s", o.Rung, o.N, o.Due))
		}
		next := ""
		if k.Next != nil {
			next = fmt.Sprintf("%s %d %s", k.Next.Rung, k.Next.N, k.Next.Due)
		}
		if k.Rung != x.rung || strings.Join(owed, ", ") != x.owed || next != x.next {
			t.Errorf("%s: rung %q, owed %q, next %q; want %q, %q, %q", x.name, k.Rung, owed, next, x.rung, x.owed, x.next)
		}
	}
}

func TestContactPlanEndsWithATalk(t *testing.T) {
	p := cases.DefaultProtocol()
	for name, c := range map[string]cases.Case{
		"reached":      sought(call("2026-03-10", true)),
		"tested":       sought(collected("2026-03-20", 12, 14)),
		"died":         sought(func(c *cases.Case) { c.Infant.Died = at("2026-03-12") }),
		"declined":     sought(func(c *cases.Case) { c.Declined = &cases.Declined{On: at("2026-03-12")} }),
		"moved":        sought(func(c *cases.Case) { c.Handover = &cases.Handover{On: at("2026-03-12"), AcceptedOn: at("2026-03-12")} }),
		"rebooked":     sought(call("2026-03-10", true), booked("2026-03-16", "09:30", "missed", "2026-03-16"), booked("2026-03-30", "09:30", "booked", "2026-03-17")),
		"talked since": sought(call("2026-03-10", true), booked("2026-03-16", "09:30", "missed", "2026-03-16"), call("2026-03-17", true)),
	} {
		if a := p.Assess(&c, at("2026-03-20")); a.ContactPlan != nil {
			t.Errorf("%s: %+v", name, a.ContactPlan)
		}
	}
}

func TestContactPlanIsCheckedLikeOtherValues(t *testing.T) {
	rung := func(edit string) string {
		s := `{"name":"calls","with":"family","by":"phone","days":[0,1],"presumptive_days":[0,0],"who":"coordinator","what":"Call."}`
		old, now, _ := strings.Cut(edit, "=>")
		return `{"contact_plan":[` + strings.Replace(s, old, now, 1) + `]}`
	}
	for edit, path := range map[string]string{
		`=>`:                                   "",
		`"calls"=>"Calls!"`:                    "contact_plan[0].name",
		`"phone"=>"pigeon"`:                    "contact_plan[0].by",
		`"days":[0,1]=>"days":[]`:              "contact_plan[0].days",
		`"days":[0,1]=>"days":[1,0]`:           "contact_plan[0].days",
		`"days":[0,1]=>"days":[0,900]`:         "contact_plan[0].days",
		`[0,0]=>[0]`:                           "contact_plan[0].presumptive_days",
		`[0,0]=>[0,2]`:                         "contact_plan[0].presumptive_days",
		`"Call."=>""`:                          "contact_plan[0].what",
		`"who"=>"whom"`:                        "contact_plan[0].whom",
		`"what"=>"letter":"no-contact","what"`: "contact_plan[0].letter",
		`"what"=>"letter":"result","what"`:     "contact_plan[0].letter",
		`"what"=>"doctor_letter":"doctor-result","what"`: "contact_plan[0].doctor_letter",
	} {
		_, err := cases.ParseProtocol([]byte(rung(edit)))
		switch {
		case path == "" && err != nil:
			t.Errorf("%s: %v", edit, err)
		case path != "" && (err == nil || !strings.Contains(err.Error(), path+":")):
			t.Errorf("%s: %v, want a fault at %s", edit, err, path)
		}
	}
	if _, err := cases.ParseProtocol([]byte(`{"contact_plan":[]}`)); err == nil {
		t.Error("an empty plan is taken")
	}
	if fs := cases.DefaultProtocol().ContactPlan.Faults(); len(fs) > 0 {
		t.Error(fs)
	}
	if s := cases.DefaultProtocol().ContactPlan.String(); !strings.HasPrefix(s, "calls on working day 0, 1, 3 (presumptive CF: 0, 0, 1); nudge ") {
		t.Error(s)
	}
}
