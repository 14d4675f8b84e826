package web

import (
	"fmt"
	"strings"
	"time"

	"dunlin/templates"
)

// outboxPart fills the part of the jobs page about what goes out.
func (s *server) outboxPart(c Ctx, p *templates.JobsPage) {
	if s.Out == nil {
		p.Out = templates.Note{Head: "Nothing goes out by e-mail or text.", Text: "No mail server and no text service is set up. Letters go by mail, and people phone."}
		return
	}
	o, err := s.Out.Outbox(c.Request().Context())
	if err != nil {
		s.Log.Error("state of the outbox", "request", requestOf(c), "err", err)
		p.Out = templates.Note{Kind: "late", Head: "Nobody knows how the outbox is.", Text: "Messages may be waiting. Phone, or tell support."}
		return
	}
	p.Out = s.outboxNote(&o)
	if o.SetUp {
		p.OutFacts = s.outboxFacts(&o)
	}
}

// longWaits is after how long a message that waits is a trouble: longer than the night.
const longWaits = 20 * time.Hour

// outboxNote puts the state of what goes out into words, what a person must do first.
func (s *server) outboxNote(o *Outbox) templates.Note {
	look := o.Failed + o.Uncertain + o.Bounced
	switch {
	case !o.SetUp:
		return templates.Note{Head: "Nothing goes out by e-mail or text.", Text: "No mail server and no text service is set up. Letters go by mail, and people phone."}
	case look > 0:
		n := templates.Note{Kind: "late", Head: templates.Count(look, "message needs", "messages need") + " a person."}
		for _, x := range []struct {
			n                int
			one, many, after string
		}{{o.Failed, "failed", "failed", "phone or post"}, {o.Bounced, "came back", "came back", "phone or post"},
			{o.Uncertain, "is uncertain", "are uncertain", "ask whether it came; it is never sent again by itself"}} {
			if x.n > 0 {
				n.Text += fmt.Sprintf(" %s: %s.", templates.Count(x.n, x.one, x.many), x.after)
			}
		}
		n.Text = strings.TrimSpace(n.Text)
		return n
	case len(o.Trouble) > 0:
		return templates.Note{Kind: "late", Head: "Messages cannot be sent now.", Text: endSentence(sentence(strings.Join(o.Trouble, "; "))) + " They are tried again. What is urgent, phone."}
	case !o.Oldest.IsZero() && s.Now().Sub(o.Oldest) > longWaits:
		return templates.Note{Kind: "late", Head: "A message waits since " + s.moment(o.Oldest) + ".", Text: "Look whether the job below runs. What is urgent, phone."}
	case o.Folder != "":
		return templates.Note{Kind: "info", Head: "Nothing is sent.", Text: "Messages become files in a folder: this program is set up to try them out."}
	}
	return templates.Note{Kind: "good", Head: "All messages that were due went out.", Text: "That a server took a message does not prove that it was read."}
}

func (s *server) outboxFacts(o *Outbox) []templates.Fact {
	yes := func(on bool, what string) string {
		if on {
			return "Set up"
		}
		return "Not set up: " + what
	}
	out := []templates.Fact{
		{Name: "E-mail", Text: yes(o.Email, "letters go by mail")},
		{Name: "Text messages", Text: yes(o.Text, "families who agreed to them are phoned")},
		{Name: "Waiting", Text: templates.Count(o.Queued, "message", "messages")},
		{Name: "Held", Text: templates.Count(o.Held, "message", "messages"), Note: "They must not go: the case changed, or the appointment is over."},
		{Name: "Last taken by a server", Text: "None since the program started"},
	}
	if o.Folder != "" {
		out = append(out, templates.Fact{Name: "Folder", Text: o.Folder})
	}
	if !o.Good.IsZero() {
		out[4].Text = s.stamp(o.Good) + ", " + ago(s.Now().Sub(o.Good))
	}
	return out
}
