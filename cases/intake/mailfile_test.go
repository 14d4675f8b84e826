package intake_test

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// familyMail is the mail address of the family of newPostBench's case, as in the
// made-up mails.
const familyMail = "family@home.example"

// newPostBench is a mail bench with a case whose family has a mail address, and one
// letter of it, numbered as in the made-up mails.
func newPostBench(t testing.TB, state string) (*bench, cases.Case, cases.Letter) {
	b := newMailBench(t, intake.Settings{})
	b.file(msgs + "d02-nbs-cf-one-variant-r117h.hl7")
	c := b.all()[0]
	var l cases.Letter
	b.update(func(w cases.Writer) (err error) {
		day := w.Today() - 25
		c.Family.Guardians[0].Email = familyMail
		c.Letters = append(c.Letters, cases.LetterMade{Kind: cases.LetterFirstNotice, MadeOn: day, State: state, Number: "000123"})
		if c, err = w.PutCase(c, cases.Event{Kind: "test"}); err != nil {
			return err
		}
		l, err = w.PutLetter(cases.Letter{Number: "000123", Case: c.ID, Kind: cases.LetterFirstNotice, MadeOn: day, State: state, Data: []byte("{}")})
		return err
	})
	return b, c, l
}

func (b *bench) update(f func(w cases.Writer) error) {
	b.t.Helper()
	if err := b.db.Update(context.Background(), importer, f); err != nil {
		b.t.Fatal(err)
	}
}

func (b *bench) letter(id string) (l cases.Letter) {
	b.t.Helper()
	b.view(func(r cases.Reader) (err error) {
		l, err = r.Letter(id)
		return err
	})
	return l
}

// mail receives a made-up mail, with texts in it replaced: old, new, old, new ...
func (b *bench) mail(file string, replace ...string) intake.Result {
	b.t.Helper()
	raw, err := os.ReadFile(mails + file)
	if err != nil {
		b.t.Fatal(err)
	}
	return b.receive(file, []byte(strings.NewReplacer(replace...).Replace(string(raw))))
}

// only gives the single item of a result.
func only(t testing.TB, r intake.Result) cases.Item {
	t.Helper()
	if len(r.Items) != 1 {
		t.Fatalf("%d items: %v", len(r.Items), r.Items)
	}
	return r.Items[0]
}

func wantItem(t *testing.T, i cases.Item, outcome, kind, says string) {
	t.Helper()
	if i.Outcome != outcome || i.Kind != kind || !strings.Contains(strings.Join(i.Reasons, " "), says) {
		t.Errorf("%s, %s: %q; want %s, %s, with %q", i.Outcome, i.Kind, i.Reasons, outcome, kind, says)
	}
}

// TestDeliveryFailure: RFC 3464. The letter came back, the attempt is logged, and a
// person phones or posts on the next working day; nothing else of the case moves.
func TestDeliveryFailure(t *testing.T) {
	b, c, l := newPostBench(t, "mailed")
	i := only(t, b.mail("e05-dsn-failed.eml"))
	wantItem(t, i, "review", "not delivered", "Phone or post")
	eq(t, "reference", i.Reference, c.Reference)
	eq(t, "letter", i.Letter, l.ID)
	eq(t, "due", i.Due.String(), "2026-03-31")
	after := b.letter(l.ID)
	eq(t, "letter state", after.State, "came-back")
	if !strings.Contains(after.Note, "5.1.1") {
		t.Errorf("note %q", after.Note)
	}
	now := b.of(c.Reference)
	eq(t, "letter on the case", now.Letters[0].State, "came-back")
	k := now.Contacts[len(now.Contacts)-1]
	eq(t, "contact", fmt.Sprint(k.On, k.With, k.By, k.Reached, k.Outcome, k.Used), fmt.Sprint("2026-03-09", "family", "email", false, "came back", familyMail))

	// a second notice about the same letter makes no second task
	i = only(t, b.mail("e05-dsn-failed.eml", "dsn-1@", "dsn-9@"))
	wantItem(t, i, "attached", "not delivered", "come back before")
	eq(t, "revision", b.of(c.Reference).Rev, now.Rev)
	if r := b.mail("e05-dsn-failed.eml"); !r.Again || r.Items[0].Outcome != "duplicate" {
		t.Errorf("the same notice again: %v", r.Items)
	}
}

// TestNoticesThatChangeNothing: delays, notices that contradict themselves, letters
// that are not here or were not mailed.
func TestNoticesThatChangeNothing(t *testing.T) {
	for _, w := range []struct {
		name, state, file   string
		replace             []string
		outcome, kind, says string
	}{
		{"delayed", "mailed", "e06-dsn-delayed.eml", nil, "attached", "delivery notice", "is delayed"},
		{"delivered", "mailed", "e05-dsn-failed.eml", []string{"Action: failed", "Action: delivered", "Status: 5.1.1", "Status: 2.0.0"}, "attached", "delivery notice", "was delivered"},
		{"contradiction", "mailed", "e05-dsn-failed.eml", []string{"Status: 5.1.1", "Status: 2.0.0"}, "review", "not delivered", "nothing was changed"},
		{"reached one of two", "mailed", "e05-dsn-failed.eml", []string{"user unknown\r\n", "user unknown\r\n\r\nFinal-Recipient: rfc822;other@home.example\r\nAction: delivered\r\nStatus: 2.0.0\r\n"}, "review", "not delivered", "not the same for all"},
		{"unknown letter", "mailed", "e05-dsn-failed.eml", []string{"letter-000123", "letter-000999"}, "review", "not delivered", "no letter that is known"},
		{"two letters", "mailed", "e05-dsn-failed.eml", []string{"<letter-000123", "<letter-ABCDEFGH"}, "review", "not delivered", "Phone or post"},
		{"not yet printed", "to-print", "e05-dsn-failed.eml", nil, "review", "not delivered", `stands as "to-print"`},
		{"unknown letter delayed", "mailed", "e06-dsn-delayed.eml", []string{"letter-000123", "letter-000999"}, "refused", "delivery notice", "is delayed"},
		{"unreadable", "mailed", "e05-dsn-failed.eml", []string{"Action: failed", "Action: lost", "Status: 5.1.1", ""}, "attached", "delivery notice", "does not say"},
	} {
		t.Run(w.name, func(t *testing.T) {
			b, c, l := newPostBench(t, w.state)
			wantItem(t, only(t, b.mail(w.file, w.replace...)), w.outcome, w.kind, w.says)
			if w.name == "two letters" { // one of them is not here, so the other is meant
				return
			}
			eq(t, "letter", b.letter(l.ID).State, w.state)
			eq(t, "revision", b.of(c.Reference).Rev, c.Rev)
		})
	}
}

// TestDeathSilencesFailure: nobody is told to phone a bereaved family.
func TestDeathSilencesFailure(t *testing.T) {
	b, c, _ := newPostBench(t, "mailed")
	b.update(func(w cases.Writer) error {
		c.Infant.Died, c.Infant.DiedReported = w.Today(), w.Today()
		_, err := w.PutCase(c, cases.Event{Kind: "test"})
		return err
	})
	i := only(t, b.mail("e05-dsn-failed.eml"))
	wantItem(t, i, "review", "not delivered", "Send nothing more")
	if strings.Contains(strings.Join(i.Reasons, " "), "Phone or post") {
		t.Errorf("reasons %q", i.Reasons)
	}
}

// TestRepliesOfMachines: automatic replies and read receipts make no task.
func TestRepliesOfMachines(t *testing.T) {
	for _, w := range []struct{ file, kind, note string }{
		{"e07-out-of-office.eml", "automatic reply", "away until 20 March"},
		{"e08-out-of-office-without-headers.eml", "automatic reply", "out of the office"},
		{"e09-read-receipt-mdn.eml", "read receipt", "does not prove"},
	} {
		b, c, l := newPostBench(t, "mailed")
		wantItem(t, only(t, b.mail(w.file)), "refused", w.kind, "kept and counted")
		eq(t, w.file+" revision", b.of(c.Reference).Rev, c.Rev)
		if n := len(b.waiting()); n != 0 {
			t.Errorf("%s: %d tasks", w.file, n)
		}

		i := only(t, b.mail(w.file, "notice-000045", "letter-000123"))
		wantItem(t, i, "attached", w.kind, "Noted on "+c.Reference)
		now := b.of(c.Reference)
		eq(t, "letter", i.Letter, l.ID)
		eq(t, "revisions", fmt.Sprint(i.FromRev, i.ToRev), fmt.Sprint(c.Rev, now.Rev))
		if n := now.Notes[len(now.Notes)-1]; !strings.Contains(n.Text, w.note) {
			t.Errorf("%s: note %q", w.file, n.Text)
		}
		if n := len(b.waiting()); n != 0 {
			t.Errorf("%s: %d tasks", w.file, n)
		}
		eq(t, "letter state", b.letter(l.ID).State, "mailed")
	}
}

// TestReplies: a reply goes to the one case it is about, and to a person.
func TestReplies(t *testing.T) {
	stranger := []string{familyMail, "someone@elsewhere.example", "letter-000123.1@followup.example", "other@home.example"}
	known := []string{"letter-000123.1@followup.example", "other@home.example"}
	for _, w := range []struct {
		name          string
		replace       []string
		kind, says    string
		noted, linked bool
	}{
		{"answers a letter", nil, "reply", "Read it", true, true},
		{"answers a letter from another address", []string{familyMail, "gran@elsewhere.example"}, "reply", "Read it", true, true},
		{"no reference", stranger, "look at this", "to be read by a person", false, false},
		{"reference, known address", append(known, "Re: Appointment reminder", "Re: REFERENCE"), "reply", "belongs to", true, true},
		{"reference, stranger", append(stranger, "Re: Appointment reminder", "Re: REFERENCE"), "reply", "not an address of that case", false, true},
		{"reference in the address", append(known, "referrals@followup", "referrals+REFERENCE@followup"), "reply", "belongs to", true, true},
		{"reference of no case", append(known, "Re: Appointment reminder", "Re: ZZ-2026-9999"), "look at this", "to be read", false, false},
		{"letter that is not here", []string{"000123", "000999"}, "reply", "not known here", false, false},
	} {
		t.Run(w.name, func(t *testing.T) {
			b, c, _ := newPostBench(t, "mailed")
			var replace []string
			for _, s := range w.replace {
				replace = append(replace, strings.ReplaceAll(s, "REFERENCE", strings.ToLower(c.Reference)))
			}
			i := only(t, b.mail("e10-real-reply-from-family.eml", replace...))
			wantItem(t, i, "review", w.kind, w.says)
			eq(t, "linked", i.Reference == c.Reference, w.linked)
			now := b.of(c.Reference)
			eq(t, "noted", len(now.Notes) > len(c.Notes), w.noted)
			if w.noted {
				text := now.Notes[len(now.Notes)-1].Text
				if !strings.Contains(text, "can we come on Tuesday? Gracias, María") || strings.Contains(text, "23 March") {
					t.Errorf("note %q", text)
				}
			}
			eq(t, "bookings", len(now.Bookings), len(c.Bookings)) // wishes are not acted on
		})
	}
}

// TestReplyAboutTwoCases waits for a person, on neither case.
func TestReplyAboutTwoCases(t *testing.T) {
	b, c, _ := newPostBench(t, "mailed")
	b.file(msgs + "d17-latin1-declared.hl7")
	other := ""
	for _, o := range b.all() {
		if o.Reference != c.Reference {
			other = o.Reference
		}
	}
	i := only(t, b.mail("e10-real-reply-from-family.eml", "Re: Appointment reminder", "Re: "+other))
	wantItem(t, i, "review", "reply", "more than one case")
	eq(t, "case", i.Case, "")
	eq(t, "related", len(i.Related), 2)
	eq(t, "revision", b.of(c.Reference).Rev, c.Rev)
}

// TestUndoOfANote: a reply that was filed on the wrong case comes off it again, and a
// person's choice of another case puts its text there.
func TestUndoOfANote(t *testing.T) {
	b, c, _ := newPostBench(t, "mailed")
	nurse := cases.Actor{ID: "n", Name: "Nurse", Role: cases.Nurse}
	i := only(t, b.mail("e07-out-of-office.eml", "notice-000045", "letter-000123"))
	i, err := b.in.Undo(context.Background(), nurse, i.ID, "about another infant")
	if err != nil {
		t.Fatal(err)
	}
	eq(t, "outcome", i.Outcome, "review")
	eq(t, "notes", len(b.of(c.Reference).Notes), len(c.Notes))
	_, err = b.in.Resolve(context.Background(), nurse, i.ID, intake.Choice{As: intake.Same, Reference: c.Reference})
	if err != nil {
		t.Fatal(err)
	}
	notes := b.of(c.Reference).Notes
	if n := notes[len(notes)-1]; n.By != "Nurse" || !strings.Contains(n.Text, "I am away until 20 March.") {
		t.Errorf("note %+v", n)
	}
}
