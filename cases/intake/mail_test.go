package intake_test

import (
	"os"
	"strings"
	"testing"

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

var mailGoldens = []wantMail{
	{file: "e01-hl7-attachment-base64.eml", items: []string{"attachment 1, F0001.hl7, message 1: opened, new infant"}},
	{file: "e03-csv-quoted-printable-windows1252-rfc2231-name.eml", items: []string{"attachment 1, lista de recién nacidos.csv, row 2: opened, new infant"}},
	{file: "e04-forwarded-as-attachment.eml", items: []string{"attachment 1, F0001.hl7, message 1: opened, new infant"}},
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
