package web

import (
	"fmt"
	"strings"
	"time"

	"dunlin/cases/intake"
	"dunlin/templates"
)

// readFacts sets out what was read from an item.
func readFacts(r *intake.Referral) []templates.Fact {
	var out []templates.Fact
	add := func(name, text string) {
		if text = strings.TrimSpace(text); text != "" {
			out = append(out, templates.Fact{Name: name, Text: shown(text)})
		}
	}
	add("Infant", joinName(strings.ToUpper(r.Infant.Family), r.Infant.Given))
	add("Born", momentWords(r.Infant.Born))
	if r.Infant.Sex != "" {
		add("Sex", sexWord(r.Infant.Sex))
	}
	add("Birth order", orderText(r.Infant.Order, r.Infant.Plurality))
	if r.Infant.Gestation != 0 {
		add("Gestation", gestationWords(r.Infant.Gestation))
	}
	if r.Infant.BirthWeight > 0 {
		add("Birth weight", plainNumber(r.Infant.BirthWeight)+" g")
	}
	for _, id := range r.Infant.Records {
		add("Record number", strings.TrimSpace(id.Number+" "+id.Authority))
	}
	add("Specimen number", r.Accession.Number)
	add("Card", r.Card)
	add("Mother", joinName(strings.ToUpper(r.Mother.Family), r.Mother.Given))
	for _, p := range r.Mother.Phones {
		add("Phone", p.Number)
	}
	add("Birth place", r.Infant.Facility)
	add("Collected", momentWords(r.Collected))
	add("Reported", momentWords(r.Reported))
	for _, a := range r.Interpretation {
		add("CF interpretation", strings.TrimSpace(a.Text+" "+a.Code))
	}
	for _, m := range r.IRT {
		add("IRT", strings.TrimSpace(m.Comparator+m.Text+" "+m.Unit))
	}
	for _, x := range r.Variants {
		add("CFTR variants", x.Text)
	}
	for _, t := range r.Comments {
		add("Comment", t)
	}
	for i := range r.Sites {
		add("Sweat, site "+fmt.Sprint(i+1), siteWords(&r.Sites[i]))
	}
	add("Laboratory reads", r.LabReads)
	add("Sender", strings.TrimSpace(r.Sender+" "+r.Program))
	add("Message number", r.ControlID)
	if r.Test() {
		add("Kind", "Test message")
	}
	return out
}

func momentWords(m intake.Moment) string {
	switch {
	case m.Day != 0 && m.Bad == "":
		text := shortDay(m.Day)
		if m.Clock != "" {
			text += ", " + string(m.Clock)
		}
		return text
	case m.Text != "":
		return m.Text + " (cannot be used)"
	}
	return ""
}

// orderText is a place among the infants of one birth; "" for a single birth.
func orderText(order, of int) string {
	known := map[bool]string{true: "not known", false: fmt.Sprint(order)}[order == 0]
	switch {
	case order == 0 && of < 2:
		return ""
	case of == 0:
		return known + ", of how many is not said"
	}
	return fmt.Sprintf("%s of %d", known, of)
}

// mailFacts are the headings and the text of the mail that an item is, or came in.
func mailFacts(rec *intake.Record) (facts []templates.Fact, text string) {
	a := rec.About
	if a == nil {
		return nil, ""
	}
	from := strings.TrimSpace(a.FromName + " " + a.From)
	facts = []templates.Fact{{Name: "From", Text: shown(from)}, {Name: "Subject", Text: shown(a.Subject)}, {Name: "Sent", Text: sentWords(a.Sent)}}
	for _, p := range a.Parts {
		facts = append(facts, templates.Fact{Name: "Part", Text: shown(p.Label), Note: shown(p.Type) + ", " + byteWords(p.Bytes)})
	}
	return facts, visible(a.Text)
}

// sentWords is the Date heading of a mail as its sender's clock showed it.
func sentWords(t string) string {
	at, err := time.Parse(time.RFC3339, t)
	if err != nil {
		return shown(t)
	}
	return at.Format("2 Jan 2006, 15:04 -0700")
}
