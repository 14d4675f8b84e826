package mail

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/japanese"
	"golang.org/x/text/encoding/unicode"

	"dunlin/cases/intake"
)

func open(t testing.TB, file string) intake.Mail {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("testdata", file))
	if err != nil {
		t.Fatal(err)
	}
	if !(Reader{}).Sniff(raw) {
		t.Errorf("%s is not taken for a mail", file)
	}
	return Reader{}.Open(raw)
}

// TestHeadings reads the headings of the made-up mails.
func TestHeadings(t *testing.T) {
	for _, w := range []struct {
		file, from, name, subject, id, about string
		kind                                 intake.MailKind
	}{
		{"e01-hl7-attachment-base64.eml", "results@lab.example", "NBS Laboratory", "CF screen positive referral", "<20260309.1015.0001@lab.example>", "", intake.PlainMail},
		{"e03-csv-quoted-printable-windows1252-rfc2231-name.eml", "clinica@clinic.example", "Clínica Ejemplo", "Lista de recién nacidos", "<line-list-1@clinic.example>", "", intake.PlainMail},
		{"e05-dsn-failed.eml", "mailer-daemon@mx.followup.example", "Mail Delivery System", "Delivery Status Notification (Failure)", "<dsn-1@mx.followup.example>", "<letter-000123.1@followup.example>", intake.DeliveryNotice},
		{"e07-out-of-office.eml", "pat@clinic.example", "Dr Pat Primary", "Automatic reply: Appointment for your patient", "<ooo-1@clinic.example>", "<notice-000045.1@followup.example>", intake.AutoReply},
		{"e08-out-of-office-without-headers.eml", "pat@clinic.example", "Dr Pat Primary", "Out of office Re: Appointment for your patient", "<ooo-2@clinic.example>", "<notice-000045.1@followup.example>", intake.AutoReply},
		{"e09-read-receipt-mdn.eml", "pat@clinic.example", "Pat", "Read: Appointment for your patient", "<mdn-1@clinic.example>", "<notice-000045.1@followup.example>", intake.ReadReceipt},
		{"e10-real-reply-from-family.eml", "family@home.example", "Maria", "Re: Appointment reminder", "<CAF123@home.example>", "<letter-000123.1@followup.example>", intake.PlainMail},
		{"e14-no-message-id-no-date.eml", "results@lab.example", "NBS Laboratory", "referral", "", "", intake.PlainMail},
	} {
		m := open(t, w.file)
		got := fmt.Sprint(m.From, "|", m.FromName, "|", m.Subject, "|", m.MessageID, "|", strings.Join(m.About, " "), "|", m.Kind)
		want := fmt.Sprint(w.from, "|", w.name, "|", w.subject, "|", w.id, "|", w.about, "|", w.kind)
		if got != want {
			t.Errorf("%s:\n got %s\nwant %s", w.file, got, want)
		}
	}
	if m := open(t, "e14-no-message-id-no-date.eml"); !m.Date.IsZero() {
		t.Errorf("date %v", m.Date)
	}
	m := open(t, "e05-dsn-failed.eml")
	want := []intake.Delivery{{Recipient: "family@home.example", Action: "failed", Status: "5.1.1", Diagnostic: "smtp; 550 5.1.1 user unknown"}}
	if d := cmp.Diff(want, m.Notices); d != "" || m.Envelope != "letter-000123" {
		t.Errorf("envelope %q, notices %s", m.Envelope, d)
	}
}

// TestPartsKeepTheirBytes: a text/csv part keeps its Windows-1252 bytes, 493 of them,
// although it declares the set; libraries that convert it give 497.
func TestPartsKeepTheirBytes(t *testing.T) {
	m := open(t, "e03-csv-quoted-printable-windows1252-rfc2231-name.eml")
	p := m.Parts[len(m.Parts)-1]
	if p.Name != "lista de recién nacidos.csv" || p.Charset != "windows-1252" || len(p.Raw) != 493 || !strings.Contains(string(p.Raw), "Pe\xf1a") {
		t.Errorf("%q %q %d bytes", p.Name, p.Charset, len(p.Raw))
	}
	if m.Text != "Lista adjunta. Gracias, José" {
		t.Errorf("text %q", m.Text)
	}
}

// TestCharacterSets reads the same text in sets that mails declare.
func TestCharacterSets(t *testing.T) {
	const greek, cyrillic, latin, kana = "Καλημέρα", "Здравствуйте, мама", "Begoña – “José”", "こんにちは、田中です"
	for _, w := range []struct {
		name string
		e    encoding.Encoding
		text string
	}{
		{"windows-1252", charmap.Windows1252, latin}, {"Windows-1253", charmap.Windows1253, greek}, {"koi8-r", charmap.KOI8R, cyrillic},
		{"ISO-8859-5", charmap.ISO8859_5, cyrillic}, {"iso-2022-jp", japanese.ISO2022JP, kana}, {"Shift_JIS", japanese.ShiftJIS, kana},
		{"EUC-JP", japanese.EUCJP, kana}, {"UTF-16LE", unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM), cyrillic},
		{"utf-16be", unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM), kana}, {"utf-16", unicode.UTF16(unicode.BigEndian, unicode.UseBOM), latin},
		{"utf-8", unicode.UTF8, kana}, {"iso-8859-1", unicode.UTF8, cyrillic}, {"us-ascii", unicode.UTF8, cyrillic}, {"", charmap.Windows1252, latin},
	} {
		body, err := w.e.NewEncoder().String(w.text)
		if err != nil {
			t.Fatal(w.name, err)
		}
		kind := "text/plain"
		if w.name != "" {
			kind += "; charset=" + w.name
		}
		raw := "From: a@b.example\r\nSubject: x\r\nContent-Type: " + kind + "\r\nContent-Transfer-Encoding: binary\r\n\r\n" + body
		if m := (Reader{}).Open([]byte(raw)); m.Text != w.text || len(m.Problems) > 0 {
			t.Errorf("%s: %q, %v", w.name, m.Text, m.Problems)
		}
	}
	m := Reader{}.Open([]byte("From: a@b.example\nSubject: x\nContent-Type: text/plain; charset=martian\n\nplain words"))
	if m.Text != "plain words" || len(m.Problems) != 1 {
		t.Errorf("unknown set: %q %v", m.Text, m.Problems)
	}
}

func TestSubjectsAndNames(t *testing.T) {
	for in, want := range map[string]string{
		"=?koi8-r?B?8NLJ18XU?=":                      "Привет",
		"=?ISO-2022-JP?B?GyRCOjRGIxsoQg==?=":         "佐藤",
		"=?utf-8?q?first?=\r\n =?utf-8?q?_second?=":  "first second",
		"=?utf-8?q?x=0D=0ABcc:_victim@example.org?=": "x Bcc: victim@example.org",
		"=?utf-8?B?4oCuZ25pcnRz4oCs?=":               "gnirts", // RIGHT-TO-LEFT OVERRIDE is taken out
		"=?martian?q?a=20b?=":                        "=?martian?q?a=20b?=",
		strings.Repeat("long ", 200):                 strings.Repeat("long ", 60) + "…",
		"a\x00b\x07c":                                "abc",
		"=?windows-1252?Q?R=E9sultat_=96_urgent?=":   "Résultat – urgent",
	} {
		m := Reader{}.Open([]byte("From: a@b.example\r\nSubject: " + in + "\r\n\r\nx"))
		if m.Subject != want {
			t.Errorf("%q: %q, want %q", in, m.Subject, want)
		}
	}
	for in, want := range map[string]string{
		`attachment; filename="../../etc/passwd"`:                     "passwd",
		`attachment; filename="C:\\Users\\x\\result.hl7"`:             "result.hl7",
		"attachment; filename=\"a\u202ecod.exe\"":                     "acod.exe",
		`attachment; filename="=?utf-8?q?Jos=C3=A9.csv?="`:            "José.csv",
		`attachment; filename*=windows-1252''Jos%E9.csv`:              "José.csv",
		`attachment; filename*0="long"; filename*1="er.csv"`:          "longer.csv",
		`attachment; filename=un quoted.csv`:                          "un",
		`attachment; filename="` + strings.Repeat("x", 300) + `.csv"`: strings.Repeat("x", 100) + "…",
		`attachment; filename=".."`:                                   "",
		`attachment; filename="CON"`:                                  "CON",
		`attachment`:                                                  "",
	} {
		m := Reader{}.Open([]byte("From: a@b.example\r\nSubject: x\r\nContent-Type: application/octet-stream\r\nContent-Disposition: " + in + "\r\n\r\nx"))
		if m.Parts[0].Name != want {
			t.Errorf("%s: %q, want %q", in, m.Parts[0].Name, want)
		}
		if want != "" && m.Parts[0].Label != "attachment 1, "+want {
			t.Errorf("label %q", m.Parts[0].Label)
		}
	}
}

// TestAutomaticReplies: RFC 3834 for Auto-Submitted; the other signs are custom and
// come from this project's exchange page, section 4.4.
func TestAutomaticReplies(t *testing.T) {
	const answer = "In-Reply-To: <letter-ABCD.1@x.example>\n"
	for in, want := range map[string]bool{
		"Auto-Submitted: auto-replied\n":                          true,
		"Auto-Submitted: auto-replied (vacation)\n":               true,
		"Auto-Submitted: no\n":                                    false,
		"Auto-Submitted: auto-generated\n":                        false, // a laboratory's own notice
		"Auto-Submitted: auto-generated\n" + answer:               true,
		"Precedence: bulk\n":                                      false,
		"Precedence: bulk\n" + answer:                             false,
		"Precedence: bulk\nReturn-Path: <>\n" + answer:            true,
		"Subject: Out of office Re: x\n":                          false,
		"Subject: Out of office Re: x\n" + answer:                 true,
		"Subject: Re: Out of office\n" + answer:                   false,
		"Subject: Respuesta automática: cita\nPrecedence: junk\n": true,
		"X-Autoreply: yes\n":                                      true,
		"X-Auto-Response-Suppress: All\n" + answer:                false,
		answer: false,
	} {
		m := Reader{}.Open([]byte("From: a@b.example\n" + in + "\nHello"))
		if (m.Kind == intake.AutoReply) != want {
			t.Errorf("%q: kind %d, want automatic %v", in, m.Kind, want)
		}
	}
}

func TestHTMLIsOnlyText(t *testing.T) {
	m := Reader{}.Open([]byte("From: a@b.example\nSubject: x\nContent-Type: text/html; charset=utf-8\n\n" +
		"<html><head><title>t</title><style>p{}</style></head><body><p>Bitte &amp; danke</p><script>alert(1)</script><img src=\"https://x.example/p.gif\">" +
		"<table><tr><td>a</td><td>b</td></tr></table>1 &lt; 2 < 3</body></html>"))
	if m.Text != "Bitte & danke\n a\tb\t\n1 < 2 < 3" {
		t.Errorf("%q", m.Text)
	}
}

// TestSniff tells mails from the other documents.
func TestSniff(t *testing.T) {
	for in, want := range map[string]bool{
		"From: a\nSubject: b\n\nc":                            true,
		"From a@b Mon Mar  9\nReceived: x\n\tby y\nTo: z\n\n": true,
		"X-Own: 1\nX-Two: 2\nDate: 3\nMime-Version: 1.0\n\n":  true,
		"Subject: only one\n\nFrom: in the text":              false,
		"MSH|^~\\&|\nFrom: x\nTo: y":                          false,
		"referral_date,card_serial\n":                         false,
		"Hello,\nFrom: a\nTo: b\n":                            false,
		"":                                                    false,
		"\x00\x01":                                            false,
		"From: a":                                             false,
		"From the mailbox: message 7 is too large\nSize: 40 MB\nTo: x": false,
	} {
		if got := (Reader{}).Sniff([]byte(in)); got != want {
			t.Errorf("%q: %v", in, got)
		}
	}
}

// seeds gives every made-up mail.
func seeds(t testing.TB) (out [][]byte) {
	files, err := filepath.Glob("testdata/*.eml")
	if err != nil || len(files) < 18 {
		t.Fatalf("%d mails: %v", len(files), err)
	}
	for _, f := range files {
		raw, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, raw)
	}
	return out
}

// BenchmarkOpen takes a mail apart that brings two messages and a PDF, 19 KB.
func BenchmarkOpen(b *testing.B) {
	raw, err := os.ReadFile("testdata/e17-two-hl7-and-a-pdf.eml")
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(raw)))
	b.ReportAllocs()
	for b.Loop() {
		if m := (Reader{}).Open(raw); len(m.Parts) != 3 {
			b.Fatal(len(m.Parts))
		}
	}
}
