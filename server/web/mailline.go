package web

import (
	"fmt"
	"time"

	"dunlin/templates"
)

// mailLine says how the mailbox is: quietly when the last poll was good, loudly
// when mail may be waiting unread.
func (s *server) mailLine(c Ctx) templates.Note {
	if s.Mail == nil {
		return templates.Note{Head: "No mailbox is set up.", Text: "What is sent by e-mail must be saved and uploaded here."}
	}
	m, err := s.Mail.Mailbox(c.Request().Context())
	if err != nil {
		s.Log.Error("state of the mailbox", "request", requestOf(c), "err", err)
		return templates.Note{Kind: "late", Head: "Nobody knows how the mailbox is.", Text: "New referrals may be waiting there. Phone the laboratory, or tell support."}
	}
	return s.mailNote(&m)
}

// mailNote puts the state of the mailbox into words.
func (s *server) mailNote(m *Mailbox) templates.Note {
	now := s.Now()
	const waiting = " New referrals may be waiting there. Phone the laboratory, or tell support."
	since := "No mail was ever read."
	if !m.Good.IsZero() {
		since = "No mail since " + s.moment(m.Good) + "."
	}
	switch {
	case m.Name == "":
		return templates.Note{Head: "No mailbox is set up.", Text: "What is sent by e-mail must be saved and uploaded here."}
	case m.Trouble != "":
		return templates.Note{Kind: "late", Head: since, Text: endSentence(sentence(m.Trouble)) + waiting}
	case m.Good.IsZero() && m.Tried.IsZero():
		return templates.Note{Head: "The mailbox was not read yet.", Text: "The first reading comes within " + span(max(m.Every, time.Minute)) + "."}
	case m.Late(now):
		return templates.Note{Kind: "late", Head: since, Text: "It should be read every " + span(m.Every) + "." + waiting}
	}
	text := ""
	if m.Said != "" {
		text = endSentence(sentence(m.Said))
	}
	return templates.Note{Kind: "good", Head: "Last good poll of the mailbox " + ago(now.Sub(m.Good)) + ".", Text: text}
}

// Late tells whether the last good poll is older than three polls take.
func (m *Mailbox) Late(now time.Time) bool {
	if !m.Due.IsZero() {
		return now.After(m.Due)
	}
	return m.Every > 0 && now.Sub(m.Good) > 3*m.Every+time.Minute
}

// moment is a time of day, with its date when it is not today.
func (s *server) moment(t time.Time) string {
	t = t.In(s.Now().Location())
	if now := s.Now(); t.Year() == now.Year() && t.YearDay() == now.YearDay() {
		return s.clock(t)
	}
	return t.Format("2 Jan 2006, 15:04")
}

// ago is how long ago something was, in words.
func ago(d time.Duration) string {
	if d < time.Minute {
		return "just now"
	}
	return span(d) + " ago"
}

// span is a length of time in words, in its largest unit.
func span(d time.Duration) string {
	switch {
	case d < time.Hour:
		return templates.Count(int(d/time.Minute), "minute", "minutes")
	case d < 48*time.Hour:
		return templates.Count(int(d/time.Hour), "hour", "hours")
	}
	return templates.Days(int(d / (24 * time.Hour)))
}

// endSentence ends a text with a full stop.
func endSentence(s string) string {
	if s == "" {
		return ""
	}
	switch s[len(s)-1] {
	case '.', '!', '?':
		return s
	}
	return s + "."
}

// every says how often something comes.
func every(d time.Duration) string {
	if d <= 0 {
		return "Not set"
	}
	return fmt.Sprintf("Every %s", span(d))
}
