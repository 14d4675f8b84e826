package intake_test

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/mail"
)

const headings = "From: Lab <results@lab.example>\r\nSubject: results\r\nMessage-ID: <h1@lab.example>\r\nMIME-Version: 1.0\r\n"

// made makes a mail of a text and one attachment in base64.
func made(text, kind, name string, file []byte) []byte {
	return []byte(headings + "Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\nContent-Type: text/plain; charset=utf-8\r\n\r\n" + text +
		"\r\n--b\r\nContent-Type: " + kind + "\r\nContent-Disposition: attachment; filename=\"" + name + "\"\r\nContent-Transfer-Encoding: base64\r\n\r\n" +
		base64.StdEncoding.EncodeToString(file) + "\r\n--b--\r\n")
}

// bomb is a zip file of 20 KB that would unpack to 20 MB.
func bomb(t testing.TB) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.Create("../../etc/x")
	if err == nil {
		_, err = w.Write(make([]byte, 20<<20))
	}
	if err = errors.Join(err, z.Close()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestAttachmentsThatAreNotOpened: one review item each, due the next working day,
// with what to do; nothing is unpacked.
//
//asvs:5.2.2
func TestAttachmentsThatAreNotOpened(t *testing.T) {
	for _, w := range []struct {
		kind, name string
		file       []byte
		says       string
	}{
		{"application/zip", "results.zip", bomb(t), "packed file"},
		{"application/vnd.ms-excel", "list.xlsx", append([]byte("PK\x03\x04"), "....xl/workbook.xml"...), "Ask the sender for the list as CSV"},
		{"application/octet-stream", "list.xls", []byte("\xd0\xcf\x11\xe0\xa1\xb1"), "office program"},
		{"image/jpeg", "fax.jpg", []byte("\xff\xd8\xff\xe0"), "picture"},
		{"application/hl7-v2", "report.hl7", []byte("%PDF-1.7 under another name"), "PDF"},
		{"text/calendar", "invite.ics", []byte("BEGIN:VCALENDAR\r\n"), "calendar entry"},
		{"application/x-pkcs7-mime", "smime.p7m", []byte("0\x80"), "encrypted"},
		{"application/octet-stream", "thing.bin", []byte{1, 2, 3}, "neither an HL7 message nor a line list"},
		{"application/hl7-v2", "empty.hl7", nil, "The file is empty."},
	} {
		b := newMailBench(t, intake.Settings{})
		i := only(t, b.receive("mail", made("Please see attached.", w.kind, w.name, w.file)))
		wantItem(t, i, "review", "cannot be read", w.says)
		eq(t, w.name, i.Position, "attachment 1, "+w.name)
		eq(t, "due", i.Due.String(), "2026-03-31")
	}
}

// TestNamesOfAttachments are for showing only, without direction signs or paths.
//
//asvs:5.3.2
func TestNamesOfAttachments(t *testing.T) {
	b := newMailBench(t, intake.Settings{})
	hl7 := load(t, msgs+"d05-nbs-in-range.hl7")
	r := b.receive("mail", made("x", "application/hl7-v2", "../../etc/\u202e<script>.hl7", hl7))
	b.view(func(rd cases.Reader) error {
		rec, err := rd.Received(only(t, r).Document)
		eq(t, "name", rec.Name, "<script>.hl7") // pages escape it
		eq(t, "bytes", string(rec.Raw) == string(hl7), true)
		return err
	})
}

// TestPastedResults: a message or a list in the text of a mail is read like an
// attachment when its lines are whole, and left to a person otherwise.
func TestPastedResults(t *testing.T) {
	hl7 := strings.ReplaceAll(string(load(t, msgs+"d02-nbs-cf-one-variant-r117h.hl7")), "\r", "\r\n")
	csv := string(load(t, lists+"c01-line-list-utf8.csv"))
	quoted := string(load(t, bad+"m02-forwarded-quoted.txt"))
	for _, w := range []struct{ name, kind, body, want string }{
		{"HL7", "text/plain", hl7, "opened"},
		{"HL7 flowed", "text/plain; format=flowed", hl7, "review"},
		{"HL7 after words", "text/plain", "Dear all,\r\n\r\n" + hl7, "review"},
		{"HL7 quoted", "text/plain", quoted, "review"},
		{"HL7 in HTML", "text/html", "<pre>" + strings.ReplaceAll(hl7, "&", "&amp;") + "</pre>", "review"},
		{"list", "text/plain; charset=utf-8", csv, "opened opened opened"},
		{"list flowed", "text/plain; charset=utf-8; format=flowed", csv, "review review review"},
	} {
		t.Run(w.name, func(t *testing.T) {
			b := newMailBench(t, intake.Settings{})
			r := b.receive("mail", []byte(headings+"Content-Type: "+w.kind+"\r\n\r\n"+w.body))
			var got []string
			for _, i := range r.Items {
				got = append(got, i.Outcome)
				if i.Outcome == "review" && !strings.Contains(strings.Join(i.Reasons, " "), "ask for the original file") {
					t.Errorf("reasons %q", i.Reasons)
				}
			}
			eq(t, "outcomes", strings.Join(got, " "), w.want)
		})
	}
}

// TestSentAgainWhole: what arrived damaged or pasted, and comes again as it should be,
// is new, although its bytes may be the same.
func TestSentAgainWhole(t *testing.T) {
	hl7 := strings.ReplaceAll(string(load(t, msgs+"d02-nbs-cf-one-variant-r117h.hl7")), "\r", "\r\n")
	head := headings + "Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\nContent-Type: application/hl7-v2; name=r.hl7\r\n\r\n" + strings.TrimSpace(hl7)
	whole := head + "\r\n--b--\r\n"
	for name, first := range map[string]string{"cut off": head, "pasted": headings + "Content-Type: text/plain; format=flowed\r\n\r\n" + strings.TrimSpace(hl7)} {
		b := newMailBench(t, intake.Settings{})
		i := only(t, b.receive("mail", []byte(first)))
		eq(t, name, i.Outcome, "review")
		if _, err := b.in.Resolve(context.Background(), importer, i.ID, intake.Choice{As: intake.SendBack}); err != nil {
			t.Fatal(err)
		}
		eq(t, name+", again", only(t, b.receive("mail", []byte(whole))).Outcome, "opened")
	}
}

// TestWordsBesideAResult: a text that may say more than its attachment is read by a
// person; a covering line is not.
func TestWordsBesideAResult(t *testing.T) {
	hl7 := load(t, msgs+"d05-nbs-in-range.hl7")
	for text, want := range map[string]int{
		"Please see the attached result.":            1,
		"Kind regards, the laboratory, 555-555-0100": 1,
		"See attached.\r\n\r\nIf you are not the intended recipient, disregard this mail and\r\ndelete it. Thank you.": 1,
		"Please DISREGARD the result of yesterday.":            2,
		"The other twin is out of range too, result to follow": 2,
	} {
		b := newMailBench(t, intake.Settings{})
		r := b.receive("mail", made(text, "application/hl7-v2", "r.hl7", hl7))
		if len(r.Items) != want {
			t.Errorf("%q: %d items: %v", text, len(r.Items), r.Items)
		}
		if want == 2 {
			wantItem(t, r.Items[0], "review", "look at this", "read by a person")
		}
	}
}

// TestResultByMachine: a result in a mail that says of itself to be automatic is read
// like any other.
func TestResultByMachine(t *testing.T) {
	for _, sign := range []string{"Auto-Submitted: auto-generated\r\n", "Auto-Submitted: auto-replied\r\n", "Precedence: bulk\r\nReturn-Path: <>\r\n"} {
		b := newMailBench(t, intake.Settings{})
		raw := append([]byte(sign), made("x", "application/hl7-v2", "r.hl7", load(t, msgs+"d02-nbs-cf-one-variant-r117h.hl7"))...)
		eq(t, sign, only(t, b.receive("mail", raw)).Outcome, "opened")
	}
}

// TestPlainBounce: a notice of delivery in a form of its own is left to a person.
func TestPlainBounce(t *testing.T) {
	b, c, _ := newPostBench(t, "mailed")
	b.update(func(w cases.Writer) error {
		_, err := w.PutLetter(cases.Letter{Number: "7KQ294XF", Case: c.ID, Kind: cases.LetterBooking, MadeOn: w.Today(), State: "mailed", Data: []byte("{}")})
		return err
	})
	i := only(t, b.receive("mail", []byte("Return-Path: <>\r\nFrom: MAILER-DAEMON@mx.example\r\nSubject: failure notice\r\n\r\n"+
		"I was not able to deliver it.\r\n<family@home.example>: no such user\r\n--- copy:\r\nMessage-ID: <letter-7KQ294XF.1@followup.example>\r\n")))
	wantItem(t, i, "review", "not delivered", "in a form that is not read here")
	eq(t, "reference", i.Reference, c.Reference)
	eq(t, "revision", b.of(c.Reference).Rev, c.Rev)
}

// TestTooManyParts: a mail of 100,000 parts gives 200 items and one for the rest.
func TestTooManyParts(t *testing.T) {
	var b strings.Builder
	b.WriteString(headings + "Content-Type: multipart/mixed; boundary=b\r\n\r\n")
	for i := range 100_000 {
		fmt.Fprintf(&b, "--b\r\nContent-Type: application/octet-stream\r\n\r\nno %d\r\n", i)
	}
	b.WriteString("--b--\r\n")
	be := newMailBench(t, intake.Settings{})
	r := be.receive("mail", []byte(b.String()))
	eq(t, "items", len(r.Items), 201)
	wantItem(t, r.Items[0], "review", "cannot be read", "more than 200 parts")
}

// TestMailAfterAFailure: when the store fails in the middle, nothing is lost, and the
// same mail given again is taken in once.
func TestMailAfterAFailure(t *testing.T) {
	raw := load(t, mails+"e17-two-hl7-and-a-pdf.eml")
	for n := 1; n <= 2; n++ {
		b := newMailBench(t, intake.Settings{})
		in := intake.New(&failing{Store: b.db, n: n}, nil, intake.Settings{}, b.formats()...).OpenMail(mail.Reader{})
		if _, err := in.Receive(context.Background(), importer, intake.Document{Source: "mailbox", At: today, Raw: raw}); err == nil {
			t.Fatalf("%d: no failure", n)
		}
		r := b.receive("mail", raw)
		eq(t, "counts", fmt.Sprint(r.Counts), "map[opened:2 review:1]")
		eq(t, "cases", len(b.all()), 2)
	}
}

// TestTwoMailsAtOnce: the same attachment in two mails of one batch is taken in once.
func TestTwoMailsAtOnce(t *testing.T) {
	b := newMailBench(t, intake.Settings{})
	docs := []intake.Document{{Source: "import", At: today, Raw: load(t, mails+"e01-hl7-attachment-base64.eml")},
		{Source: "import", At: today, Raw: load(t, mails+"e04-forwarded-as-attachment.eml")}}
	rs, err := b.in.ReceiveAll(context.Background(), importer, docs)
	if err != nil || len(rs) != 2 {
		t.Fatal(rs, err)
	}
	eq(t, "first", only(t, rs[0]).Outcome, "opened")
	wantItem(t, only(t, rs[1]), "duplicate", "already here", only(t, rs[0]).Reference)
}
