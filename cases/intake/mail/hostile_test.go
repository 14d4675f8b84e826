package mail

import (
	"encoding/base64"
	"fmt"
	"runtime"
	"strings"
	"testing"

	"dunlin/cases/intake"
)

const start = "From: a@b.example\r\nSubject: x\r\nMIME-Version: 1.0\r\n"

// labels joins the labels of the attachments of a mail.
func labels(m intake.Mail) string {
	var out []string
	for _, p := range m.Parts {
		if !p.Body {
			out = append(out, p.Label)
		}
	}
	return strings.Join(out, "; ")
}

// says joins all that is said of a mail and of its parts.
func says(m intake.Mail) string {
	var out []string
	for _, p := range m.Problems {
		out = append(out, p.Text)
	}
	for _, p := range m.Parts {
		out = append(out, p.Broken)
	}
	return strings.Join(out, "\n")
}

// many makes a mail of n small parts.
func many(n int) []byte {
	var b strings.Builder
	b.WriteString(start + "Content-Type: multipart/mixed; boundary=b\r\n\r\n")
	for i := range n {
		fmt.Fprintf(&b, "--b\r\nContent-Type: application/octet-stream; name=f%d\r\n\r\nx\r\n", i)
	}
	b.WriteString("--b--\r\n")
	return []byte(b.String())
}

// deep makes a mail of parts within parts.
func deep(n int) []byte {
	var b strings.Builder
	b.WriteString(start)
	for i := range n {
		fmt.Fprintf(&b, "Content-Type: multipart/mixed; boundary=b%d\r\n\r\n--b%d\r\n", i, i)
	}
	b.WriteString("Content-Type: text/plain\r\n\r\ninnermost\r\n")
	return []byte(b.String())
}

// forwards makes a mail within a mail within a mail ...
func forwards(n int) []byte {
	return []byte(strings.Repeat(start+"Content-Type: message/rfc822\r\n\r\n", n) + start + "\r\ninnermost\r\n")
}

// TestLimits: what lies beyond a limit is named, and the rest is read.
//
//asvs:5.2.3
func TestLimits(t *testing.T) {
	m := Reader{}.Open(many(100_000))
	if len(m.Parts) != 201 || !strings.Contains(says(m), "more than 200 parts") {
		t.Errorf("%d parts: %.200s", len(m.Parts), says(m))
	}
	m = Reader{}.Open(many(200))
	if len(m.Parts) != 200 || says(m) != strings.Repeat("\n", 199) {
		t.Errorf("%d parts: %.200s", len(m.Parts), says(m))
	}
	for name, raw := range map[string][]byte{"parts": deep(20_000), "mails": forwards(20_000)} {
		if m = (Reader{}).Open(raw); len(m.Parts) != 1 || !strings.Contains(says(m), "deeper than 10") {
			t.Errorf("%s: %d parts: %.200s", name, len(m.Parts), says(m))
		}
	}
	if m = (Reader{}).Open(deep(10)); m.Text != "innermost" || !strings.Contains(says(m), "cut off") {
		t.Errorf("ten levels: %q, %s", m.Text, says(m))
	}
	if m = (Reader{}).Open(forwards(10)); !strings.HasSuffix(m.Text, "\n\ninnermost") {
		t.Errorf("ten mails: %q, %s", m.Text, says(m))
	}
	m = Reader{Limits{Size: 1 << 10}}.Open(many(100))
	if m.Subject != "x" || len(m.Parts) != 0 || !strings.Contains(says(m), "larger than") {
		t.Errorf("size: %q %d %s", m.Subject, len(m.Parts), says(m))
	}
	m = Reader{}.Open([]byte(start + "X-Long: " + strings.Repeat("y", 1<<20) + "\r\nX-After: 1\r\n\r\nthe text"))
	if m.Subject != "x" || m.Text != "the text" || !strings.Contains(says(m), "longer than 256 KB") {
		t.Errorf("heading: %q %q %s", m.Subject, m.Text, says(m))
	}
	m = Reader{}.Open([]byte("From: a@b.example\r\nReferences: " + strings.Repeat("<letter-ABCD.1@x.example> <y@z> ", 5000) + "\r\n\r\n"))
	if len(m.About) != 2 {
		t.Errorf("%d references", len(m.About))
	}
}

// TestBrokenMails: what is damaged is named, kept, and never taken for whole.
func TestBrokenMails(t *testing.T) {
	multi := start + "Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\nContent-Type: text/plain\r\n\r\nhello\r\n"
	file := "--b\r\nContent-Type: application/x; name=f\r\n"
	for _, w := range []struct{ name, raw, labels, says string }{
		{"no end", multi + file + "\r\nMSH|^~\\&|cut o", "attachment 1, f", "cut off within it"},
		{"bad base64", multi + file + "Content-Transfer-Encoding: base64\r\n\r\nTVNI!fF5+\r\n--b--\r\n", "attachment 1, f", "arrived damaged"},
		{"unknown encoding", multi + file + "Content-Transfer-Encoding: x-uuencode\r\n\r\nbegin 644 f\r\n--b--\r\n", "attachment 1, f", `encoded as "x-uuencode"`},
		{"heading line without colon", multi + "--b\r\nContent-Type: application/x\r\nno heading at all\r\n\r\nx\r\n--b--\r\n", "attachment 1", "heading of part 2"},
		{"no boundary", start + "Content-Type: multipart/mixed\r\n\r\nsome text", "attachment 1", "not divided as"},
		{"long boundary", start + "Content-Type: multipart/mixed; boundary=" + strings.Repeat("b", 5000) + "\r\n\r\nsome text", "attachment 1", "not divided as"},
		{"other boundary", start + "Content-Type: multipart/mixed; boundary=c\r\n\r\n--b\r\n\r\nsome text", "attachment 1", "not divided as"},
		{"lines that are no headings", "From: a@b.example\r\nthis is none\r\nSubject: x\r\n\r\ntext", "", "1 lines of the heading"},
		{"type twice", start + "Content-Type: text/plain; charset=utf-8; charset=koi8-r\r\n\r\ntext", "", ""},
		{"quoted-printable cut", start + "Content-Transfer-Encoding: quoted-printable\r\n\r\nJos=E", "", ""},
	} {
		m := Reader{}.Open([]byte(w.raw))
		if labels(m) != w.labels || !strings.Contains(says(m), w.says) || m.Subject != "x" {
			t.Errorf("%s: %q: %q", w.name, labels(m), says(m))
		}
	}
	// in base64 the bytes before the damage are kept
	m := Reader{}.Open([]byte(multi + file + "Content-Transfer-Encoding: base64\r\n\r\nTVNI\r\nfF5+!!\r\n--b--\r\n"))
	if p := m.Parts[1]; !strings.HasPrefix(string(p.Raw), "MSH") || p.Broken == "" {
		t.Errorf("%q %q", p.Raw, p.Broken)
	}
}

// TestAttachedMailFile descends into a mail that is attached as a file.
func TestAttachedMailFile(t *testing.T) {
	inner := start + "Content-Type: multipart/mixed; boundary=c\r\n\r\n--c\r\nContent-Type: application/x; name=in.hl7\r\n\r\nMSH|\r\n--c--\r\n"
	m := Reader{}.Open([]byte(start + "Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\nContent-Type: application/octet-stream\r\n" +
		"Content-Disposition: attachment; filename=fw.eml\r\nContent-Transfer-Encoding: base64\r\n\r\n" + base64.StdEncoding.EncodeToString([]byte(inner)) + "\r\n--b--\r\n"))
	if labels(m) != "attachment 1, in.hl7" {
		t.Errorf("%q", labels(m))
	}
}

// TestPictureOfTheText marks a picture that the HTML shows, and no other.
func TestPictureOfTheText(t *testing.T) {
	m := Reader{}.Open([]byte(start + "Content-Type: multipart/related; boundary=b\r\n\r\n--b\r\nContent-Type: text/html\r\n\r\n<p>hi<img src=\"cid:logo@x\"></p>\r\n" +
		"--b\r\nContent-Type: image/png; name=logo.png\r\nContent-ID: <logo@x>\r\n\r\nP\r\n--b\r\nContent-Type: image/png; name=fax.png\r\n\r\nQ\r\n--b--\r\n"))
	if len(m.Parts) != 3 || !m.Parts[1].Picture || m.Parts[2].Picture {
		t.Errorf("%+v", m.Parts)
	}
}

// TestMemory opens hostile mails of the largest size and measures what is allocated
// at most: a few times the size of the mail.
//
//asvs:5.2.3
func TestMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("makes mails of 25 MB")
	}
	big := 24 << 20
	nested := start + strings.Repeat("Content-Type: message/rfc822\r\n\r\n"+start, 8) + "\r\n" + strings.Repeat("x", big)
	html := start + "Content-Type: text/html\r\n\r\n" + strings.Repeat("<p <!-- <a <script ", big/19)
	heads := "From: a@b.example\r\nSubject: x\r\n" + strings.Repeat("X: y\r\n", big/6) + "\r\ntext"
	folded := "From: a@b.example\r\nSubject: x\r\n" + strings.Repeat(" y\r\n", big/4) + "\r\ntext"
	bounds := start + "Content-Type: multipart/mixed; boundary=b\r\n\r\n" + strings.Repeat("--b\r\n\r\n", big/7)
	near := start + "Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\n\r\n" + strings.Repeat("\r\n--bx", big/6)
	partHead := start + "Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\n" + strings.Repeat("X: y\r\n", big/6)
	for name, raw := range map[string]string{"nested": nested, "HTML": html, "headings": heads, "folded": folded, "boundaries": bounds, "near boundaries": near, "headings of a part": partHead} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		m := Reader{}.Open([]byte(raw))
		runtime.ReadMemStats(&after)
		if !strings.HasPrefix(m.Subject, "x") {
			t.Errorf("%s: subject %q", name, m.Subject)
		}
		t.Logf("%s: %d MB allocated for %d MB", name, (after.TotalAlloc-before.TotalAlloc)>>20, len(raw)>>20)
		if got := (after.TotalAlloc - before.TotalAlloc) >> 20; got > 100 {
			t.Errorf("%s: %d MB", name, got)
		}
	}
}

// FuzzOpen: any bytes in, no panic, and nothing is dropped without a word: the text,
// a part, a notice or a problem.
func FuzzOpen(f *testing.F) {
	for _, raw := range seeds(f) {
		f.Add(raw)
	}
	f.Add(many(3))
	f.Add(deep(3))
	f.Add(forwards(2))
	f.Fuzz(func(t *testing.T, raw []byte) {
		r := Reader{Limits{Parts: 20, Depth: 4}}
		r.Sniff(raw)
		m := r.Open(raw)
		for _, p := range m.Parts {
			if p.Label == "" || strings.ContainsAny(p.Name, "/\\\x00\r\n\u202e") {
				t.Errorf("label %q, name %q", p.Label, p.Name)
			}
		}
		if strings.ContainsAny(m.Subject+m.From+m.FromName, "\r\n\x00\u202e") {
			t.Errorf("subject %q, from %q %q", m.Subject, m.FromName, m.From)
		}
		if len(m.Parts) > 60 {
			t.Errorf("%d parts", len(m.Parts))
		}
	})
}
