package main

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"net"
	"os"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/cases/schedule"
	"dunlin/reminders/jobs"
	"dunlin/reminders/letters"
	"dunlin/reminders/outbox"
	"dunlin/server/web"
	"dunlin/templates"
)

// outboxJob is the name of the job that sends what waits.
const outboxJob = "outbox"

// words makes the texts of messages, from those that ship and the program's own.
func (s *site) words() (*outbox.Words, error) {
	var own []fs.FS
	if dir := s.cfg.Outgoing.Words; dir != "" {
		own = append(own, os.DirFS(dir))
	}
	texts, err := templates.ParseMessages(own...)
	if err != nil {
		return nil, err
	}
	p := &s.cfg.Letters
	return &outbox.Words{Texts: texts, Contact: p.Contact, Phone: p.Phone, Hours: p.Hours, Attached: s.cfg.Outgoing.Attach}, nil
}

// wordMessages lets the press queue messages, by the channels that are set up.
func (s *site) wordMessages(p *letters.Press) error {
	o := &s.cfg.Outgoing
	if !o.email() && !o.text() {
		return nil
	}
	words, err := s.words()
	if err != nil {
		return err
	}
	p.Message = func(c *cases.Case, due cases.MessageDue) (cases.Outgoing, error) {
		switch {
		case due.By == cases.ByText && !o.text():
			return cases.Outgoing{}, errors.New("the family agreed to text messages, and no service for them is set up; phone instead")
		case due.By == cases.ByEmail && !o.email():
			return cases.Outgoing{}, errors.New("the family agreed to e-mail, and no mail server is set up; phone instead")
		}
		return words.Message(c, due)
	}
	if o.Doctor && o.email() {
		p.Along = words.Along
		p.ToSite = func(r cases.Reader, l *cases.Letter) (cases.Outgoing, bool) {
			key, _, _ := strings.Cut(l.Occasion, " ")
			site, err := schedule.SiteByKey(r, key)
			if err != nil {
				return cases.Outgoing{}, false
			}
			return words.Clinic(l, site.Email)
		}
	}
	return nil
}

// outbox makes the worker that sends; nil when nothing is set up to send by.
func (s *site) outbox(now func() time.Time, log *slog.Logger) (*outbox.Worker, error) {
	c := &s.cfg.Outgoing
	if !c.email() && !c.text() {
		return nil, nil
	}
	journal, err := outbox.OpenJournal(s.cfg.Store + ".sent")
	if err != nil {
		return nil, err
	}
	o := outbox.Options{Store: s.db, Protocol: func() *cases.Protocol { return s.cfg.protocol }, Now: func() time.Time { return now().In(s.cfg.zone) }, Log: log, Nowhere: s.nowhere,
		Journal: journal, From: cases.Clock(c.From), Until: cases.Clock(c.Until), Domain: (&outbox.SMTP{From: c.Mail.From}).Domain()}
	if c.Attach {
		o.Attach = attachLetter
	}
	if c.Folder != "" {
		f := &outbox.Folder{Path: c.Folder, From: c.Mail.From, FromName: c.Mail.FromName}
		o.Email, o.Text = f, f
		return outbox.New(o)
	}
	if c.Mail.Address != "" {
		if o.Email, err = c.Mail.channel(); err != nil {
			return nil, err
		}
	}
	if c.Text.URL != "" {
		if o.Text, err = c.Text.channel(); err != nil {
			return nil, err
		}
	}
	return outbox.New(o)
}

func (m *smtpConfig) channel() (*outbox.SMTP, error) {
	roots, err := certificates(m.CAFile)
	if err != nil {
		return nil, err
	}
	host, port, err := net.SplitHostPort(m.Address)
	if err != nil {
		return nil, err
	}
	return &outbox.SMTP{Host: host, Port: portOf(port), Implicit: m.Security == "tls", User: m.User, RootCAs: roots, From: m.From, FromName: m.FromName,
		Password: secret("the mail server's password", m.PasswordFile, smtpPasswordVariable)}, nil
}

func (t *textConfig) channel() (*outbox.Webhook, error) {
	roots, err := certificates(t.CAFile)
	if err != nil {
		return nil, err
	}
	h := &outbox.Webhook{URL: t.URL, RootCAs: roots}
	if t.KeyFile != "" {
		h.Key = secret("the key of the text service", t.KeyFile, "")
	}
	return h, nil
}

// attachLetter sets a kept letter as PDF, for the program that sends letters to doctors
// by e-mail. The file is named by the letter's number, which says nothing of the infant.
func attachLetter(kept cases.Letter) ([]outbox.File, error) {
	l, err := letters.Decode(kept)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := l.WritePDF(&b); err != nil {
		return nil, err
	}
	return []outbox.File{{Name: "letter-" + kept.Number + ".pdf", Type: "application/pdf", Raw: b.Bytes()}}, nil
}

// sendOut is the job that sends what waits. It has a runner of its own, so that a server
// that hangs keeps no other job waiting.
func (s *site) sendOut(w *outbox.Worker) jobs.Job {
	return jobs.Job{Name: outboxJob, Spec: s.cfg.Outgoing.Every, Stale: time.Hour, Run: func(ctx context.Context, _ time.Time) (string, error) {
		tally, err := w.Run(ctx)
		if s.keeper != nil { // what went out must be known even if this disk is lost
			err = errors.Join(err, s.keeper.SaveJournal())
		}
		return tally.String(), err
	}}
}

// Outbox tells how what goes out stands.
func (w *working) Outbox(ctx context.Context) (web.Outbox, error) {
	if w.outbox == nil {
		return web.Outbox{}, nil
	}
	h, err := w.outbox.Health(ctx)
	if err != nil {
		return web.Outbox{}, err
	}
	o := web.Outbox{SetUp: true, Folder: w.folder, Email: h.Email, Text: h.Text, Queued: h.Queued, Held: h.Held, Failed: h.Failed, Uncertain: h.Uncertain, Bounced: h.Bounced,
		Oldest: h.Oldest, Good: h.Good}
	for _, by := range []string{cases.ByEmail, cases.ByText} {
		if why := h.Trouble[by]; why != "" {
			o.Trouble = append(o.Trouble, by+": "+why)
		}
	}
	return o, nil
}
