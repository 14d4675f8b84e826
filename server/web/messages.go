package web

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

const messagesPath = "/messages"

// messageTab is one list of messages by e-mail and text.
type messageTab struct {
	state, text, none string
	also              []string
}

var messageTabs = []messageTab{
	{state: "look", text: "To decide", also: []string{cases.OutUncertain, cases.OutBounced, cases.OutFailed}, none: "No message waits for a person."},
	{state: cases.OutQueued, text: "Queued", also: []string{cases.OutSending}, none: "No message waits to be sent."},
	{state: cases.OutHeld, text: "Held", none: "No message is held."},
	{state: cases.OutSent, text: "Sent", none: "No message was sent yet."},
	{state: cases.OutDropped, text: "Dropped", none: "No message was dropped."},
}

// messageTags are the states of messages as tags.
var messageTags = map[string]templates.Tag{
	cases.OutQueued: {Kind: "book", Text: "Queued"}, cases.OutSending: {Kind: "half", Text: "Being sent"}, cases.OutSent: {Kind: "out", Text: "Sent"}, cases.OutFailed: {Kind: "cross", Text: "Failed"},
	cases.OutHeld: {Kind: "hold", Text: "Held"}, cases.OutUncertain: {Kind: "late", Text: "Uncertain"}, cases.OutBounced: {Kind: "back", Text: "Bounced"}, cases.OutDropped: {Kind: "blank", Text: "Dropped"},
}

// messageHelp says what a state means and what a person does next.
var messageHelp = map[string]string{
	cases.OutUncertain: "The program stopped while it handed this over. Nobody knows whether it went out, so it is not sent again by itself. Look in the mail server’s list, or phone.",
	cases.OutBounced:   "A notice came back: it did not arrive. Ask for the right address, and phone meanwhile.",
	cases.OutFailed:    "The server refused it for good, or could not be reached for too long. Correct the address, or phone.",
	cases.OutHeld:      "By the facts as they are it must not go out. Nothing needs to be done; send it again once that has changed, or drop it.",
	cases.OutSending:   "It is being handed to the server now.",
	cases.OutQueued:    "It goes out by itself. Messages to families go in the hours of the day only.",
	cases.OutSent:      "The server took it. That does not prove that it arrived.",
}

// messageKind is the kind of a message in words.
func messageKind(kind string) string {
	switch kind {
	case cases.MessageReminder:
		return "Reminder the day before"
	case cases.MessageNudge:
		return "Asks for a call back"
	}
	return cases.LetterKindOf(kind).Word
}

func byWord(by string) string { return wordOf(contactBy, by) }

// messagesPage answers GET /messages.
func (s *server) messagesPage(c Ctx) error { return s.showMessages(c, http.StatusOK, s.emptyForm()) }

func (s *server) showMessages(c Ctx, status int, f *form) error {
	tab := messageTabs[0]
	for _, t := range messageTabs {
		if want := or(f.typed("state"), c.QueryParam("state")); t.state == want || want != "" && slices.Contains(t.also, want) {
			tab = t
		}
	}
	p := &templates.MessagesPage{Base: templates.Base{Name: "E-mails and texts, " + strings.ToLower(tab.text), Current: "letters", Problems: f.problems}, Parts: s.letterParts(c, "messages"), Head: tab.text, None: tab.none,
		Lead: "What goes out by e-mail and text. To families only with recorded consent, and never with a result, a name of the infant or a test."}
	chosen := or(f.typed("message"), c.QueryParam("message"))
	err := s.view(c, func(r cases.Reader) error {
		p.Rows, p.Chosen, p.Tabs = nil, nil, nil
		for _, t := range messageTabs {
			list, err := outgoingIn(r, &t)
			if err != nil {
				return err
			}
			p.Tabs = append(p.Tabs, templates.Tab{Href: messagesPath + "?state=" + t.state, Text: t.text, Count: len(list), Counted: t.state != cases.OutSent && t.state != cases.OutDropped, Current: t.state == tab.state})
			if t.state != tab.state {
				continue
			}
			if len(list) > mostListed {
				p.Cut, list = fmt.Sprintf("The newest %d of %d are shown.", mostListed, len(list)), list[:mostListed]
			}
			for i := range list {
				if err := s.messageRow(c, r, p, &list[i], &chosen, f); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.render(c, status, p)
}

// outgoingIn lists the messages of a tab, the newest first.
func outgoingIn(r cases.Reader, tab *messageTab) ([]cases.Outgoing, error) {
	var out []cases.Outgoing
	for _, state := range append([]string{tab.state}, tab.also...) {
		for o, err := range r.Outgoings(state) {
			if err != nil {
				return nil, err
			}
			out = append(out, o)
		}
	}
	slices.SortStableFunc(out, func(a, b cases.Outgoing) int { return cmp.Compare(b.ID, a.ID) })
	return out, nil
}

func (s *server) messageRow(c Ctx, r cases.Reader, p *templates.MessagesPage, o *cases.Outgoing, chosen *string, f *form) error {
	var k cases.Case
	if o.Case != "" {
		var err error
		if k, err = r.Case(o.Case); err != nil {
			return err
		}
	}
	if *chosen == "" {
		*chosen = o.ID
	}
	row := templates.MessageRow{ID: o.ID, Name: s.nameOfLetter(&cases.Letter{Occasion: o.Occasion}, nil), Reference: k.Reference, Kind: messageKind(o.Kind), By: byWord(o.By), To: toWords[o.ToWhom], State: messageTags[o.State], When: s.moment(o.Changed),
		Href: messagesPath + "?state=" + o.State + "&message=" + o.ID, Current: o.ID == *chosen}
	if k.ID != "" {
		row.Name = infantName(&k.Infant)
	}
	p.Rows = append(p.Rows, row)
	if row.Current {
		p.Chosen = s.messageView(c, o, &k, &row, f)
	}
	return nil
}

func (s *server) messageView(c Ctx, o *cases.Outgoing, k *cases.Case, row *templates.MessageRow, f *form) *templates.MessageView {
	v := &templates.MessageView{MessageRow: *row, Address: shown(o.To), Subject: o.Subject, Body: strings.Split(o.Body, "\n"), Lang: o.Language, Number: o.Number, Note: o.Note, Help: messageHelp[o.State], Steps: s.stepRows(o.History),
		Tries: o.Tries, Action: messagesPath + "/" + o.ID}
	if o.Letter != "" {
		v.Letter = "/letters/" + o.Letter + "/pdf"
	}
	if k.ID != "" && can(c, logContacts) {
		v.Phone = "/infants/" + k.Reference + "/contacts/new"
	}
	if !can(c, sendLetters) {
		return v
	}
	var acts []word
	switch o.State {
	case cases.OutHeld, cases.OutFailed, cases.OutBounced:
		acts = []word{{cases.SendAgain, "Send it again"}, {cases.DropMessage, "Drop it"}}
	case cases.OutUncertain:
		acts = []word{{cases.TakeAsSent, "It arrived"}, {cases.SendAgain, "Send it again"}, {cases.DropMessage, "Drop it"}}
	case cases.OutQueued:
		acts = []word{{cases.DropMessage, "Drop it"}}
	default:
		return v
	}
	as := f.group(templates.Choice{ID: "as", Legend: "What becomes of it", Down: true, Options: optionsOf(acts)})
	why := f.field(templates.Field{ID: "reason", Label: "How do you know, or why?", Width: "w20"})
	v.As, v.Why = &as, &why
	return v
}

// decideMessage answers POST /messages/:id: a person's word on a message.
func (s *server) decideMessage(c Ctx) error {
	f, id := s.readForm(c), c.Param("id")
	var o cases.Outgoing
	err := s.view(c, func(r cases.Reader) (err error) {
		o, err = r.Outgoing(id)
		return err
	})
	if err != nil {
		return err
	}
	as := f.choice("as", "Choose what becomes of the message", cases.SendAgain, cases.TakeAsSent, cases.DropMessage)
	why := f.need("reason", "Reason", "Enter how you know, or why", 300)
	f.values.Set("message", id)
	f.values.Set("state", o.State)
	if !f.ok() {
		return s.showMessages(c, http.StatusUnprocessableEntity, f)
	}
	done := map[string]string{cases.SendAgain: "Queued again", cases.TakeAsSent: "Taken as sent", cases.DropMessage: "Dropped"}[as]
	err = s.submit(c, f, messagesPath, func(ctx context.Context) (templates.Notice, error) {
		return templates.Notice{Head: done, Text: "Message " + o.Number + "."}, s.Desk.DecideMessage(ctx, actorOf(c), id, as, why)
	})
	if k := cases.KindOf(err); err != nil && (k == cases.Refused || k == cases.Invalid) {
		f.fail("as-0", "%s", err)
		return s.showMessages(c, http.StatusConflict, f)
	}
	return err
}
