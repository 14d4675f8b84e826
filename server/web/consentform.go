package web

import (
	"context"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// consentForm records that the family agreed to a channel; withdrawForm that it took
// that back.
var (
	consentForm = factForm{path: "/consents/new", right: cases.LogContacts, name: "Consent to a channel", button: "Save consent", what: "the consent", saved: "Consent recorded",
		labels: []labelled{{"channel", "Channel"}, {"on", "Day"}, {"who", "Who agreed"}}, start: func(e *factEdit) []string { return []string{"on", date(e.today).String()} }, set: setConsent, read: readConsent}
	withdrawForm = factForm{path: "/consents/withdraw", right: cases.LogContacts, name: "Consent taken back", button: "It is taken back", what: "the change", saved: "Consent taken back",
		labels: []labelled{{"channel", "Channel"}, {"who", "Who said so"}}, set: setConsentBack, read: readConsentBack}
)

var channels = []word{{cases.ByText, "Text"}, {cases.ByEmail, "E-mail"}, {"voicemail", "Voicemail"}}

// agreedTo are the channels that the family agrees to on a day.
func agreedTo(k *cases.Case, on cases.Day) []word {
	var out []word
	for _, w := range channels {
		if k.Consents(w.value, on) {
			out = append(out, w)
		}
	}
	return out
}

func setConsent(s *server, e *factEdit, p *templates.FactPage) error {
	p.Head = "The family of " + shortName(&e.c.Infant) + " agreed to a channel"
	p.Lead = "Texts and e-mails to the family go only with this. They name no infant, no test and no result, and go to the guardian who gets letters."
	p.Known = consentFacts(&e.c)
	e.add(p, radios{ID: "channel", Legend: "Channel", Options: optionsOf(channels)}, templates.Field{ID: "on", Label: "Day", Hint: dayHint, Width: "w14"},
		templates.Field{ID: "who", Label: "Who agreed, and how", Hint: "Such as: mother, on the phone", Width: "w20", NoSpell: true})
	return nil
}

func readConsent(s *server, e *factEdit) saving {
	f := e.f
	k := cases.Consent{Channel: f.choice("channel", "Select the channel", valuesOf(channels)...), On: f.needDay("on", "Day"), By: f.need("who", "Who agreed", "Enter who agreed, and how", 200)}
	if k.On > e.today {
		f.fail("on", "Day must be today or in the past")
	}
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.RecordConsent(ctx, who, e.c.ID, f.rev(), k)
	}
}

func setConsentBack(s *server, e *factEdit, p *templates.FactPage) error {
	list := agreedTo(&e.c, e.today)
	if len(list) == 0 {
		return cases.Errorf(cases.Refused, "The family of %s agrees to no channel now.", e.c.Reference)
	}
	p.Head, p.Lead = "The family of "+shortName(&e.c.Infant)+" took its consent back", "From today on nothing goes by this channel; what waits is held."
	p.Known = consentFacts(&e.c)
	e.add(p, radios{ID: "channel", Legend: "Channel", Options: optionsOf(list)}, templates.Field{ID: "who", Label: "Who said so, and how", Width: "w20", NoSpell: true})
	return nil
}

func readConsentBack(s *server, e *factEdit) saving {
	f := e.f
	channel, by := f.choice("channel", "Select the channel", valuesOf(channels)...), f.need("who", "Who said so", "Enter who said so, and how", 200)
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.WithdrawConsent(ctx, who, e.c.ID, f.rev(), channel, by)
	}
}

// consentFacts say which channels the family agreed to and took back.
func consentFacts(k *cases.Case) []templates.Fact {
	if k.Family == nil {
		return nil
	}
	var out []templates.Fact
	for i := range k.Family.Consents {
		x := &k.Family.Consents[i]
		text := "Agreed on " + shortDay(x.On)
		note := x.By
		if x.Withdrawn != 0 {
			text += ", taken back on " + shortDay(x.Withdrawn)
			note = strings.Trim(note+". "+x.WithdrawnBy, ". ")
		}
		out = append(out, templates.Fact{Name: wordOf(channels, x.Channel), Text: text, Note: note})
	}
	return out
}
