package intake_test

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/mail"
)

const mails = "mail/testdata/"

// newMailBench is a bench that opens mails.
func newMailBench(t testing.TB, s intake.Settings) *bench {
	b := newBench(t, s)
	b.in.OpenMail(mail.Reader{})
	return b
}

// wantMail is what one made-up mail leads to: each of its items as
// "position: outcome, kind", and parts of the reasons.
type wantMail struct {
	file  string
	items []string
	says  []string
}

// mailGoldens: what each made-up mail leads to on an empty store. Source: the table of
// mails and their handling of this project's exchange page, sections 4.2 to 4.5.
var mailGoldens = []wantMail{
	{file: "e01-hl7-attachment-base64.eml", items: []string{"attachment 1, F0001.hl7, message 1: opened, new infant"}},
	{file: "e03-csv-quoted-printable-windows1252-rfc2231-name.eml", items: []string{"attachment 1, lista de recién nacidos.csv, row 2: opened, new infant"}},
	{file: "e04-forwarded-as-attachment.eml", items: []string{"attachment 1, F0001.hl7, message 1: opened, new infant"}},
	{file: "e05-dsn-failed.eml", items: []string{"delivery notice: review, not delivered"}, says: []string{"no letter that is known here"}},
	{file: "e06-dsn-delayed.eml", items: []string{"delivery notice: refused, delivery notice"}, says: []string{"delayed"}},
	{file: "e07-out-of-office.eml", items: []string{"automatic reply: refused, automatic reply"}},
	{file: "e08-out-of-office-without-headers.eml", items: []string{"automatic reply: refused, automatic reply"}},
	{file: "e09-read-receipt-mdn.eml", items: []string{"read receipt: refused, read receipt"}},
	{file: "e10-real-reply-from-family.eml", items: []string{"text: review, reply"}, says: []string{"a letter that is not known here"}},
	{file: "e11-smime-enveloped.eml", items: []string{"attachment 1, smime.p7m: review, cannot be read"}, says: []string{"encrypted", "Call the sender"}},
	{file: "e12-smime-signed-clear.eml", items: []string{"text: review, look at this"}, says: []string{"signature was not checked"}},
	{file: "e13-tnef-winmail.eml", items: []string{"attachment 1, winmail.dat: review, cannot be read"}, says: []string{"cannot be opened here"}},
	{file: "e14-no-message-id-no-date.eml", items: []string{"text: review, look at this"}},
	{file: "e15-hl7-pasted-in-body-flowed.eml", items: []string{"text, message 1: review, cannot be read"}, says: []string{"pasted", "ask for the original file"}},
	{file: "e16-broken-base64.eml", items: []string{"attachment 1, F0001.hl7, message 1: review, cannot be read"}, says: []string{"arrived damaged"}},
	{file: "e17-two-hl7-and-a-pdf.eml", items: []string{"attachment 1, a.HL7, message 1: opened, new infant",
		"attachment 2, b.txt, message 1: opened, new infant", "attachment 3, report.pdf: review, cannot be read"}, says: []string{"PDF"}},
}

func TestEveryMadeUpMail(t *testing.T) {
	for _, w := range mailGoldens {
		t.Run(w.file, func(t *testing.T) {
			b := newMailBench(t, intake.Settings{})
			raw, err := os.ReadFile(mails + w.file)
			if err != nil {
				t.Fatal(err)
			}
			r := b.receive(w.file, raw)
			var got, reasons []string
			for _, i := range r.Items {
				got = append(got, i.Position+": "+i.Outcome+", "+i.Kind)
				reasons = append(reasons, i.Reasons...)
			}
			eq(t, "items", strings.Join(got, "\n"), strings.Join(w.items, "\n"))
			for _, part := range w.says {
				if !strings.Contains(strings.Join(reasons, "\n"), part) {
					t.Errorf("reasons %q lack %q", reasons, part)
				}
			}
		})
	}
}

// TestSameMessageID: e02 is e01 sent again under the same Message-ID with another
// text. Its attachment is the same, so nothing new follows, and the item says why.
func TestSameMessageID(t *testing.T) {
	b := newMailBench(t, intake.Settings{})
	first := only(t, b.mail("e01-hl7-attachment-base64.eml"))
	i := only(t, b.mail("e02-same-message-id-again.eml"))
	wantItem(t, i, "duplicate", "already here", "belongs to "+first.Reference)
	wantItem(t, i, "duplicate", "already here", "Possible duplicate: a mail with the same Message-ID")
	// and when the attachment says something else, it stands for itself, with the note
	i = only(t, b.mail("e12-smime-signed-clear.eml", "smime-2@lab.example", "20260309.1015.0001@lab.example"))
	wantItem(t, i, "review", "look at this", "Possible duplicate")
	// forwarded by somebody else: the same attachment
	i = only(t, b.mail("e04-forwarded-as-attachment.eml"))
	wantItem(t, i, "duplicate", "already here", first.Reference)
	// the very same mail again
	r := b.mail("e01-hl7-attachment-base64.eml")
	wantItem(t, only(t, r), "duplicate", "already here", first.Reference)
	if !r.Again {
		t.Error("not known again")
	}
	eq(t, "cases", len(b.all()), 1)
}

// TestMailKeepsEverything: the whole mail and each part are kept byte for byte, each
// part within its mail, and the counts add up.
func TestMailKeepsEverything(t *testing.T) {
	b := newMailBench(t, intake.Settings{})
	r := b.mail("e17-two-hl7-and-a-pdf.eml")
	whole, err := os.ReadFile(mails + "e17-two-hl7-and-a-pdf.eml")
	if err != nil {
		t.Fatal(err)
	}
	b.view(func(rd cases.Reader) error {
		rec, err := rd.Received(r.Hash)
		if err != nil {
			return err
		}
		eq(t, "the mail", string(rec.Raw) == string(whole), true)
		eq(t, "sender", rec.Sender, "results@lab.example")
		eq(t, "counts", fmt.Sprint(rec.Counts), "map[opened:2 review:1]")
		var read intake.DocumentRead
		if err := json.Unmarshal(rec.Read, &read); err != nil {
			return err
		}
		eq(t, "parts", len(read.Mail.Parts), 3)
		for _, i := range r.Items {
			part, err := rd.Received(i.Document)
			if err != nil {
				return err
			}
			eq(t, "within", part.Within, r.Hash)
			eq(t, "part's sender", part.Sender, "results@lab.example")
			eq(t, "part's counts", len(part.Counts), 1)
		}
		return nil
	})
	for _, c := range b.all() {
		eq(t, "referral day", c.Referral.On.String(), "2026-03-09") // the mail's
	}
}

// TestDayOfTheMail: a date that cannot be right is not used.
func TestDayOfTheMail(t *testing.T) {
	for date, want := range map[string]string{
		"Mon, 09 Mar 2026 10:15:30 -0500": "2026-03-09",
		"Mon, 09 Mar 2020 10:15:30 -0500": "2026-03-30", // years ago
		"Thu, 09 Mar 2028 10:15:30 -0500": "2026-03-30", // not yet
		"yesterday":                       "2026-03-30",
		"Mon, 30 Mar 2026 23:30:00 +1300": "2026-03-30",
	} {
		b := newMailBench(t, intake.Settings{})
		only(t, b.mail("e01-hl7-attachment-base64.eml", "Mon, 09 Mar 2026 10:15:30 -0500", date))
		eq(t, date, b.all()[0].Referral.On.String(), want)
	}
}
