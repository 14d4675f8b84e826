package web

import (
	"strings"

	"dunlin/cases"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

// preview sets a kept letter out for reading, with what may be recorded of it.
func (s *server) preview(c Ctx, x *listed) *templates.LetterPreview {
	l := &x.l
	at := "/letters/" + l.ID
	v := &templates.LetterPreview{ID: l.ID, Name: s.nameOfLetter(l, &x.c), Reference: x.c.Reference, Number: l.Number, State: letterState(l), PDF: at + "/pdf", Steps: s.stepRows(l.History)}
	if l.State == "held" {
		v.Held = or(l.Note, "No reason was given.")
	} else {
		v.Note = l.Note
	}
	if l.Case != "" && (l.State == "to-print" || l.State == "printed" || l.State == "mailed") {
		if why := s.protocol().LetterStop(&x.c, l.Kind, l.Occasion, s.today()); why != "" {
			v.Note = strings.TrimSpace("By the facts as they are now it would not go out: " + why + ". " + v.Note)
		}
	}
	if e := l.Edited; e != nil {
		v.Edited = s.editedWords(e)
		v.MadeAs = at + "/pdf?as=made"
	}
	if can(c, sendLetters) && mayEdit(l) {
		v.Edit = at + "/edit"
	}
	if can(c, sendLetters) {
		v.Acts = letterActs(l)
	}
	d, err := letters.Decode(*l)
	if err != nil {
		v.Note = sentence(err.Error())
		return v
	}
	fillWords(v, &d)
	if l.Browser {
		v.PDF = ""
	}
	if l.Browser || l.State == "to-print" || l.State == "printed" {
		v.Page = keptPageAt(l.ID)
	}
	return v
}

// editedWords says who changed the words of a letter, when and why.
func (s *server) editedWords(e *cases.LetterEdit) string {
	out := e.By + " on " + shortDay(s.dayOf(e.At)) + ": " + endSentence(e.Why)
	if e.ReadBy != "" {
		out += " Read and released by " + e.ReadBy + ", " + endSentence(e.Licence)
	}
	return out
}

// mayEdit tells a letter whose words may still be changed.
func mayEdit(l *cases.Letter) bool { return l.State == "to-print" || l.State == "held" }

// stepRows lists the steps of a letter or message, the oldest first.
func (s *server) stepRows(list []cases.LetterStep) []templates.LetterStepRow {
	out := make([]templates.LetterStepRow, 0, len(list))
	for i := range list {
		x := &list[i]
		out = append(out, templates.LetterStepRow{What: stepWord(x.State), At: s.moment(x.At), By: x.By, Note: x.Note})
	}
	return out
}

func stepWord(state string) string {
	if t, ok := messageTags[state]; ok {
		return t.Text
	}
	return letterTag(state).Text
}

// backReasons is what an envelope that came back may say.
var backReasons = []word{{"not at this address", "Not at this address"}, {"moved, no new address", "Moved, no new address"}, {"no such address", "No such address"}, {"box closed", "Box closed"},
	{"refused", "Refused"}, {"not collected", "Not collected"}, {"nothing", "It does not say"}}

// letterActs are the small forms about a letter that left.
func letterActs(l *cases.Letter) []templates.LetterForm {
	if l.State != "mailed" && l.State != "signed-for" && l.State != "unclaimed" && l.State != "refused" {
		return nil
	}
	at := "/letters/" + l.ID
	note := templates.Field{ID: "answer-note", Name: "note", Label: "Note", Optional: true, Width: "w20"}
	var out []templates.LetterForm
	if certified(l) {
		tracking := templates.Field{ID: "tracking", Label: "Tracking number", Hint: "Type it, or scan the receipt", Value: l.Tracking, Width: "w20", NoSpell: true}
		out = append(out, templates.LetterForm{Head: "Certified mail", Action: at + "/tracking", Fields: []templates.Field{tracking}, Button: "Save tracking number"})
		if l.State == "mailed" {
			became := templates.Choice{ID: "became", Legend: "What became of it", Options: append([]templates.Option{{Text: "Choose"}},
				optionsOf([]word{{"signed-for", "Signed for"}, {"refused", "Refused"}, {"unclaimed", "Not collected"}})...)}
			who := templates.Field{ID: "became-note", Name: "note", Label: "Signed by, or what the receipt says", Optional: true, Width: "w20", NoSpell: true}
			out = append(out, templates.LetterForm{Head: "Receipt", Action: at + "/became", Choice: &became, Fields: []templates.Field{who}, Button: "Save receipt"})
		}
	}
	if l.State == "mailed" || l.State == "signed-for" {
		out = append(out, templates.LetterForm{Head: "Answered", Action: at + "/became", Hidden: []templates.Hidden{{Name: "became", Value: "answered"}}, Fields: []templates.Field{note}, Button: "Mark answered"})
	}
	if l.State != "signed-for" {
		why := templates.Choice{ID: "back-why", Legend: "What the envelope says", Options: append([]templates.Option{{Text: "Choose"}}, optionsOf(backReasons)...)}
		out = append(out, templates.LetterForm{Head: "Came back", Action: at + "/came-back", Choice: &why, Button: "Came back"})
	}
	return out
}
