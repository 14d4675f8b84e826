package intake_test

import (
	"context"
	"strings"
	"testing"

	"dunlin/cases"
)

// sent puts a message of ours, with its number, on a case in a state.
func (b *bench) sent(c cases.Case, kind, whom, letter, state string) (o cases.Outgoing) {
	b.t.Helper()
	b.update(func(w cases.Writer) (err error) {
		o = cases.Outgoing{Number: "MSG00124", Case: c.ID, Kind: kind, Occasion: "2026-03-04 x", By: cases.ByEmail, ToWhom: whom, To: familyMail, Letter: letter, Subject: "Please call us", Body: "Please call us.\n", Queued: w.Now()}
		o.Step(w.Now(), "Dunlin", state, "")
		o, err = w.PutOutgoing(o)
		return err
	})
	return o
}

func (b *bench) outgoing(id string) (o cases.Outgoing) {
	b.t.Helper()
	b.view(func(r cases.Reader) (err error) { o, err = r.Outgoing(id); return err })
	return o
}

var toMessage = []string{"letter-000123", "letter-MSG00124"}

// TestMessageBounces: a notice about a message of ours marks it, tells a person, and
// leaves a letter that went by mail as it was.
func TestMessageBounces(t *testing.T) {
	for name, x := range map[string]struct{ state, want, outcome, says string }{
		"sent":      {cases.OutSent, cases.OutBounced, "review", "has not reached the family. Phone or post"},
		"uncertain": {cases.OutUncertain, cases.OutBounced, "review", "Phone or post"},
		"before":    {cases.OutBounced, cases.OutBounced, "attached", "come back before"},
		"held":      {cases.OutHeld, cases.OutHeld, "review", "was not sent"},
	} {
		t.Run(name, func(t *testing.T) {
			b, c, l := newPostBench(t, "mailed")
			o := b.sent(c, cases.MessageNudge, cases.ToFamily, "", x.state)
			i := only(t, b.mail("e05-dsn-failed.eml", toMessage...))
			wantItem(t, i, x.outcome, "not delivered", x.says)
			eq(t, "reference", i.Reference, c.Reference)
			eq(t, "state", b.outgoing(o.ID).State, x.want)
			eq(t, "letter", b.letter(l.ID).State, "mailed")
		})
	}
	b, c, _ := newPostBench(t, "mailed")
	o := b.sent(c, cases.MessageNudge, cases.ToFamily, "", cases.OutSent)
	b.mail("e05-dsn-failed.eml", toMessage...)
	if got := b.outgoing(o.ID); !strings.Contains(got.Note, "5.1.1") || len(got.History) != 2 {
		t.Errorf("%+v", got)
	}
	if now := b.of(c.Reference); !strings.Contains(now.Notes[len(now.Notes)-1].Text, "MSG00124") {
		t.Errorf("%+v", now.Notes)
	}
}

func TestDelayOfAMessageChangesNothing(t *testing.T) {
	b, c, _ := newPostBench(t, "mailed")
	o := b.sent(c, cases.MessageNudge, cases.ToFamily, "", cases.OutSent)
	wantItem(t, only(t, b.mail("e06-dsn-delayed.eml", toMessage...)), "attached", "delivery notice", "is delayed")
	eq(t, "state", b.outgoing(o.ID).State, cases.OutSent)
}

// TestLetterComesBackOnlyByItsOwnWay: a letter that an e-mail brought came back with it;
// one that goes by mail, and of which the e-mail only told, did not.
func TestLetterComesBackOnlyByItsOwnWay(t *testing.T) {
	for by, want := range map[string]string{cases.ByEmail: "came-back", "": "mailed"} {
		b, c, l := newPostBench(t, "mailed")
		l.By = by
		b.update(func(w cases.Writer) error { _, err := w.PutLetter(l); return err })
		o := b.sent(c, l.Kind, cases.ToFamily, l.ID, cases.OutSent)
		i := only(t, b.mail("e05-dsn-failed.eml", toMessage...))
		wantItem(t, i, "review", "not delivered", "Phone or post")
		eq(t, "letter by "+by, b.letter(l.ID).State, want)
		eq(t, "message", b.outgoing(o.ID).State, cases.OutBounced)
	}
}

// TestDeathSilencesBounce: nobody is told to phone a bereaved family.
func TestDeathSilencesBounce(t *testing.T) {
	b, c, _ := newPostBench(t, "mailed")
	b.sent(c, cases.MessageNudge, cases.ToFamily, "", cases.OutSent)
	if err := b.db.Update(context.Background(), importer, func(w cases.Writer) error {
		c.Infant.Died, c.Infant.DiedReported = w.Today(), w.Today()
		_, err := w.PutCase(c, cases.Event{Kind: "test"})
		return err
	}); err != nil {
		t.Fatal(err)
	}
	i := only(t, b.mail("e05-dsn-failed.eml", toMessage...))
	wantItem(t, i, "review", "not delivered", "Send nothing more")
	if strings.Contains(strings.Join(i.Reasons, " "), "Phone or post") {
		t.Errorf("reasons %q", i.Reasons)
	}
}
