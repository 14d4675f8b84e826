package intake_test

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"mime/quotedprintable"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/csvfile"
	"dunlin/cases/intake/hl7"
	"dunlin/cases/intake/mail"
	"dunlin/cases/store"
)

// allMails gives every made-up mail.
func allMails(t testing.TB) (out [][]byte) {
	files, err := filepath.Glob(mails + "*.eml")
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

// FuzzMail: any bytes in, at least one item out, no panic, the bytes kept whole, the
// counts add up, and the same mail again changes nothing.
func FuzzMail(f *testing.F) {
	for _, raw := range allMails(f) {
		f.Add(raw)
	}
	// One store for all, because opening one is slow; it need not survive a power cut.
	db, err := store.Open(filepath.Join(f.TempDir(), "fuzz.db"), store.Options{Scratch: true, Now: func() time.Time { return today }})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() {
		if err := db.Close(); err != nil {
			f.Error(err)
		}
	})
	shared := &bench{t: f, db: db, in: intake.New(db, nil, intake.Settings{}, hl7.Format{}, csvfile.Format{}).OpenMail(mail.Reader{Limits: mail.Limits{Parts: 20, Depth: 5}})}
	f.Fuzz(func(t *testing.T, raw []byte) {
		b := &bench{t: t, db: shared.db, in: shared.in}
		if !(mail.Reader{}).Sniff(raw) {
			raw = append([]byte("From: a@b.example\r\nSubject: x\r\n"), raw...)
		}
		first := b.receive("fuzz", raw)
		if first.Format != "mail" {
			t.Fatalf("read as %q", first.Format)
		}
		b.view(func(r cases.Reader) error {
			rec, err := r.Received(first.Hash)
			if err != nil {
				return err
			}
			if !bytes.Equal(rec.Raw, raw) {
				t.Error("the mail was not kept as it came")
			}
			for _, i := range first.Items {
				if _, err := r.Received(i.Document); err != nil {
					return fmt.Errorf("%s: %w", i.Position, err)
				}
				if i.Outcome == "review" && len(i.Reasons) == 0 {
					t.Errorf("%s waits without a reason", i.Position)
				}
			}
			return nil
		})
		again := b.receive("fuzz", raw)
		if again.Counts[intake.Duplicate] != len(first.Items) || !again.Again {
			t.Fatalf("%v then %v", first.Counts, again.Counts)
		}
	})
}

// TestAnyNesting: results that are attached at any depth, in any transfer encoding,
// within forwarded mails and beside other parts, are all found and read.
func TestAnyNesting(t *testing.T) {
	template := load(t, msgs+"d01-nbs-cf-two-variants.hl7")
	shared := newMailBench(t, intake.Settings{})
	serial := 0
	rapid.Check(t, func(t *rapid.T) {
		b := &bench{t: shared.t, db: shared.db, in: shared.in}
		want := 0
		plant := func() string {
			want++
			serial++
			n := fmt.Sprintf("%05d", serial)
			s := strings.NewReplacer("F0001", "F1"+n, "EX2026000123", "EX77"+n, "MRN0001", "MRN9"+n, "MOM0001", "MOM9"+n, "TESTFAMILY", "FAM"+n).Replace(string(template))
			return attachment(rapid.IntRange(0, 2).Draw(t, "encoding"), s)
		}
		var part func(depth int) string
		part = func(depth int) string {
			kind := rapid.IntRange(0, 6).Draw(t, "kind")
			switch {
			case kind == 0 && depth < 6:
				return "Content-Type: message/rfc822\r\n\r\nFrom: c@d.example\r\nSubject: fw\r\n" + part(depth+1)
			case kind <= 2 && depth < 6:
				mark := fmt.Sprintf("b%d.%d", depth, rapid.IntRange(0, 99).Draw(t, "mark"))
				s := "Content-Type: multipart/" + rapid.SampledFrom([]string{"mixed", "related", "signed", "x-other"}).Draw(t, "sub") + "; boundary=\"" + mark + "\"\r\n\r\npreamble\r\n"
				for range rapid.IntRange(1, 3).Draw(t, "parts") {
					s += "--" + mark + "\r\n" + part(depth+1) + "\r\n"
				}
				return s + "--" + mark + "--\r\nepilogue\r\n"
			case kind <= 4:
				return plant()
			}
			return "Content-Type: text/plain\r\n\r\nsome words\r\n"
		}
		raw := fmt.Sprintf("From: a@b.example\r\nSubject: x\r\nMessage-ID: <n%d@b.example>\r\n", serial) + part(0)
		r, err := b.in.Receive(context.Background(), importer, intake.Document{Source: "mailbox", At: today, Raw: []byte(raw)})
		if err != nil {
			t.Fatal(err)
		}
		got := 0
		for _, i := range r.Items {
			if strings.HasSuffix(i.Position, ", message 1") && i.Kind != "cannot be read" && strings.HasPrefix(i.Title, "FAM") {
				got++
			}
		}
		if got != want {
			t.Fatalf("%d read of %d: %v", got, want, r.Items)
		}
	})
}

// attachment makes a part of an HL7 file in one of three transfer encodings.
func attachment(encoding int, s string) string {
	head := "Content-Type: application/hl7-v2; name=\"r.hl7\"\r\nContent-Disposition: attachment; filename=\"r.hl7\"\r\n"
	switch encoding {
	case 0:
		var b strings.Builder
		w := quotedprintable.NewWriter(&b)
		w.Binary = true
		_, _ = w.Write([]byte(s)) // a strings.Builder never fails
		_ = w.Close()
		return head + "Content-Transfer-Encoding: quoted-printable\r\n\r\n" + b.String()
	case 1:
		e := base64.StdEncoding.EncodeToString([]byte(s))
		out := head + "Content-Transfer-Encoding: base64\r\n\r\n"
		for len(e) > 76 {
			out, e = out+e[:76]+"\r\n", e[76:]
		}
		return out + e
	}
	return head + "Content-Transfer-Encoding: 8bit\r\n\r\n" + s
}
