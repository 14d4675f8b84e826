package web

import (
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// word is a value of the case document with its word on the screen.
type word struct{ value, text string }

var contactWith = []word{{"family", "Family"}, {"primary-care", "Primary care"}, {"specialist", "CF center"}, {"public-health-nurse", "Public-health nurse"}, {"supervisor", "Supervisor"}}

var contactBy = []word{{"phone", "Phone"}, {"letter", "Letter"}, {"certified-letter", "Certified letter"}, {"email", "E-mail"}, {"text", "Text"}, {"visit", "Visit"}, {"in-person", "In person"}, {"fax", "Fax"}}

// contactOutcomes are what may happen; reached is true only for a two-way talk
// or seen at home.
var contactOutcomes = []struct {
	text    string
	reached bool
}{
	{"talked, understood", true}, {"talked, call back", true}, {"left message, no health detail", false}, {"no answer", false},
	{"wrong number", false}, {"out of service", false}, {"mailed", false}, {"signed for", false}, {"refused", false},
	{"not collected", false}, {"came back", false}, {"seen at home", true}, {"no one home", false},
}

const contactCaution = "On voicemail, in a text, and with anyone but a guardian: name, number and a request to call back, no health detail."

func wordOf(list []word, value string) string {
	for _, w := range list {
		if w.value == value {
			return w.text
		}
	}
	return sentence(strings.ReplaceAll(value, "-", " "))
}

func valuesOf(list []word) []string {
	out := make([]string, len(list))
	for i, w := range list {
		out[i] = w.value
	}
	return out
}

func optionsOf(list []word) []templates.Option {
	out := make([]templates.Option, len(list))
	for i, w := range list {
		out[i] = templates.Option{Value: w.value, Text: w.text}
	}
	return out
}

func outcomeValues() []string {
	out := make([]string, len(contactOutcomes))
	for i, o := range contactOutcomes {
		out[i] = o.text
	}
	return out
}

func reachedBy(outcome string) bool {
	for _, o := range contactOutcomes {
		if o.text == outcome {
			return o.reached
		}
	}
	return false
}

// logForm is the empty form that logs a contact.
func logForm(now string) templates.LogForm {
	outcomes := make([]templates.Option, len(contactOutcomes))
	for i, o := range contactOutcomes {
		outcomes[i] = templates.Option{Value: o.text, Text: sentence(o.text)}
	}
	return templates.LogForm{
		Caution: contactCaution,
		With:    templates.Choice{ID: "with", Legend: "Who", Options: optionsOf(contactWith)}.Choose("family"),
		By:      templates.Choice{ID: "by", Legend: "How", Options: optionsOf(contactBy)}.Choose("phone"),
		Outcome: templates.Choice{ID: "outcome", Legend: "What happened", Options: outcomes},
		Person:  templates.Field{ID: "person", Label: "Spoke to or wrote to", Optional: true, Width: "w14", NoSpell: true},
		Used:    templates.Field{ID: "used", Label: "Number or address used", Optional: true, Width: "w14", NoSpell: true},
		On:      templates.Field{ID: "on", Label: "Day", Value: "today", Width: "w14", Hint: "Like 5 Mar 2026, today or yesterday"},
		At:      templates.Field{ID: "at", Label: "Time", Value: now, Width: "w4", InputMode: "numeric", Hint: "24-hour clock"},
		Note:    templates.Field{ID: "note", Label: "Note", Optional: true, Width: "w20"},
		NextTry: templates.Field{ID: "next_try", Label: "Next try", Optional: true, Width: "w14", Hint: "+2d is two days from today"},
	}
}

// lastContact is the latest contact of a case up to a day, and how many tries
// there were; nil for none.
func lastContact(k *cases.Case, on cases.Day) (last *cases.Contact, tries int) {
	for i := range k.Contacts {
		c := &k.Contacts[i]
		if c.On > on {
			continue
		}
		tries++
		if last == nil || c.On > last.On || c.On == last.On && c.At >= last.At {
			last = c
		}
	}
	return last, tries
}

func contactSummary(c *cases.Contact) string {
	return shortDay(c.On) + ", " + strings.ToLower(wordOf(contactBy, c.By)) + ", " + strings.ToLower(wordOf(contactWith, c.With))
}
