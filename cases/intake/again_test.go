package intake_test

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

func load(t testing.TB, path string) []byte {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// d01 is the plain positive message, changed by pairs of old and new text.
func d01(t testing.TB, pairs ...string) []byte {
	t.Helper()
	s := string(load(t, msgs+"d01-nbs-cf-two-variants.hl7"))
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(s, pairs[i]) {
			t.Fatalf("the message does not hold %q", pairs[i])
		}
		s = strings.ReplaceAll(s, pairs[i], pairs[i+1])
	}
	return []byte(s)
}

// in05 is the plain in-range message, changed in the same way.
func in05(t testing.TB, pairs ...string) []byte {
	t.Helper()
	s := string(load(t, msgs+"d05-nbs-in-range.hl7"))
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(s, pairs[i]) {
			t.Fatalf("the message does not hold %q", pairs[i])
		}
		s = strings.ReplaceAll(s, pairs[i], pairs[i+1])
	}
	return []byte(s)
}

func outcomes(r intake.Result) string {
	var out []string
	for _, it := range r.Items {
		out = append(out, it.Outcome)
	}
	return strings.Join(out, " ")
}

func reasons(r intake.Result) string {
	var out []string
	for _, it := range r.Items {
		out = append(out, it.Reasons...)
	}
	return strings.Join(out, "\n")
}

// TestSameBytesTwice: every file a second time gives only duplicates and changes
// no case.
func TestSameBytesTwice(t *testing.T) {
	for _, w := range goldens {
		b := newBench(t, intake.Settings{})
		first := b.file(w.file)
		before := b.all()
		waiting := len(b.waiting())
		again := b.file(w.file)
		if !again.Again || again.Counts[intake.Duplicate] != len(first.Items) || len(again.Items) != len(first.Items) {
			t.Errorf("%s: second time %v", w.file, again.Counts)
		}
		after := b.all()
		if len(after) != len(before) || len(b.waiting()) != waiting {
			t.Errorf("%s: %d cases and %d waiting became %d and %d", w.file, len(before), waiting, len(after), len(b.waiting()))
		}
		for i := range after {
			eq(t, "revision", after[i].Rev, before[i].Rev)
		}
		b.view(func(r cases.Reader) error {
			rec, err := r.Received(first.Hash)
			if err != nil {
				return err
			}
			if !bytes.Equal(rec.Raw, load(t, w.file)) {
				t.Errorf("%s: the bytes kept differ", w.file)
			}
			n := 0
			for _, k := range rec.Counts {
				n += k
			}
			eq(t, "kept counters", n, len(first.Items))
			return nil
		})
	}
}

// TestSameResultOtherWay: the same content with other line ends and another
// message number is a duplicate by its clinical key.
func TestSameResultOtherWay(t *testing.T) {
	b := newBench(t, intake.Settings{})
	raw := d01(t)
	b.receive("cr.hl7", raw)
	for name, in := range map[string][]byte{
		"lf":     bytes.ReplaceAll(raw, []byte("\r"), []byte("\n")),
		"crlf":   bytes.ReplaceAll(raw, []byte("\r"), []byte("\r\n")),
		"number": d01(t, "|D01-0001|", "|D01-0099|"),
		"framed": append(append([]byte{0x0B}, raw...), 0x1C, 0x0D),
		"d23":    load(t, msgs+"d23-lf-line-ends.hl7"),
		"d24":    load(t, msgs+"d24-crlf-line-ends.hl7"),
		"d25":    load(t, msgs+"d25-odd-delimiters.hl7"),
	} {
		r := b.receive(name, in)
		eq(t, name, outcomes(r), "duplicate")
		eq(t, name+" reference", r.Items[0].Reference, "AB-2026-0001")
	}
	eq(t, "cases", len(b.all()), 1)
}

// TestSameBytesTogether: one call may hold the same bytes twice.
func TestSameBytesTogether(t *testing.T) {
	b := newBench(t, intake.Settings{})
	doc := intake.Document{Source: "import", Name: "a", At: today, Raw: d01(t)}
	rs, err := b.in.ReceiveAll(context.Background(), importer, []intake.Document{doc, doc})
	if err != nil {
		t.Fatal(err)
	}
	eq(t, "first", outcomes(rs[0]), "opened")
	eq(t, "second", outcomes(rs[1]), "duplicate")
	eq(t, "mail date counts before the message's", b.of("AB-2026-0001").Referral.On.String(), "2026-03-09")
	doc = intake.Document{Name: "b", At: today, Sent: today.AddDate(0, 0, -3), Raw: other(t)}
	r, err := b.in.Receive(context.Background(), importer, doc)
	if err != nil {
		t.Fatal(err)
	}
	eq(t, "mail date", b.of(r.Items[0].Reference).Referral.On.String(), "2026-03-27")
}

func TestSameMessageNumber(t *testing.T) {
	b := newBench(t, intake.Settings{})
	b.file(bad + "m12-same-control-id-a.hl7")
	r := b.file(bad + "m12-same-control-id-b-different.hl7")
	eq(t, "outcome", outcomes(r), "review") // in range, while the case of a is open
	for _, part := range []string{"same message number", "AB-2026-0001 is open"} {
		if !strings.Contains(reasons(r), part) {
			t.Errorf("nothing says %q in %s", part, reasons(r))
		}
	}
}

// TestCorrection: a correction to in range flags the case for a person and leaves
// it as it is.
func TestCorrection(t *testing.T) {
	b := newBench(t, intake.Settings{})
	b.receive("d01", d01(t))
	before := b.of("AB-2026-0001")
	r := b.file(msgs + "d07-nbs-corrected-to-in-range.hl7")
	eq(t, "outcome", outcomes(r), "review")
	eq(t, "reference", r.Items[0].Reference, "AB-2026-0001")
	eq(t, "case", r.Items[0].Case, before.ID)
	after := b.of("AB-2026-0001")
	eq(t, "revision", after.Rev, before.Rev)
	eq(t, "waiting", len(b.waiting()), 1)
	if len(after.Closures) > 0 {
		t.Error("the case was closed by a message")
	}
}

func TestAttachAddsAndNeverOverwrites(t *testing.T) {
	b := newBench(t, intake.Settings{})
	one := d01(t, "OBX|3|ST|21654-9^CFTR gene mutations found [Identifier] in Blood or Tissue by Molecular genetics method Nominal^LN|2|G551D (c.1652G>A)", "OBX|3|ST|62330-6^Birth hospital facility name^LN|2|Example Birth Hospital",
		"Two CFTR variants found. ", "", "|NM|8339-4^Birth weight Measured^LN||3120|", "|NM|8339-4^Birth weight Measured^LN|||")
	eq(t, "first", outcomes(b.receive("one", one)), "opened")
	wantNames(t, b.of("AB-2026-0001"), "F508del")
	r := b.receive("two", d01(t, "||118.4|ng/mL", "||120.9|ng/mL"))
	eq(t, "second", outcomes(r), "attached")
	c := b.of("AB-2026-0001")
	wantNames(t, c, "F508del", "G551D")
	eq(t, "weight filled", c.Infant.BirthWeightG, 3120.0)
	eq(t, "IRT stays", *c.Referral.Screen.IRTNgML, 118.4)
	if !strings.Contains(reasons(r), "120.9") {
		t.Errorf("the other IRT is not named: %s", reasons(r))
	}
	a := cases.DefaultProtocol().Assess(&c, cases.DayOf(today))
	eq(t, "presumptive after the second variant", a.PresumptiveCF, true)
	eq(t, "third", outcomes(b.receive("three", d01(t, "||118.4|ng/mL", "||120.9|ng/mL", "|D01-0001|", "|D01-7|"))), "duplicate")
	other := b.receive("four", d01(t, "F508del (c.1521_1523delCTT, p.Phe508del)", "W1282X"))
	eq(t, "other variants", outcomes(other), "review")
	eq(t, "top", other.Items[0].Top, true)
}

func TestDeathIsTold(t *testing.T) {
	for _, first := range []bool{false, true} {
		b := newBench(t, intake.Settings{})
		if first {
			b.receive("d01", d01(t))
		}
		r := b.file(msgs + "d22-deceased.hl7")
		eq(t, "items", len(r.Items), 1)
		c := b.of("AB-2026-0001")
		if c.Infant.Died == 0 || c.Infant.DiedReported == 0 {
			t.Fatal("the death is not on the case")
		}
		a := cases.DefaultProtocol().Assess(&c, cases.DayOf(today))
		if len(a.LettersDue) > 0 {
			t.Error("letters are due after a death")
		}
		w := b.waiting()
		if len(w) != 1 || w[0].Case != c.ID || !strings.Contains(strings.Join(w[0].Reasons, " "), "PID[1]-30") {
			t.Errorf("nobody is told: %+v", w)
		}
	}
}

// TestOneTransaction: the store fails in the middle of an item; nothing of it
// stays but the bytes, and the document can be given again.
func TestOneTransaction(t *testing.T) {
	b := newBench(t, intake.Settings{})
	raw := d01(t)
	in := intake.New(&failing{Store: b.db, n: 2}, nil, intake.Settings{}, b.formats()...)
	doc := intake.Document{Source: "import", Name: "d01", At: today, Raw: raw}
	if _, err := in.Receive(context.Background(), importer, doc); err == nil {
		t.Fatal("no error although the store failed")
	}
	eq(t, "cases", len(b.all()), 0)
	r := b.receive("d01", raw)
	eq(t, "outcome", outcomes(r), "opened")
	eq(t, "again", r.Again, false)
}

// failing lets the n-th transaction fail after it has done its work.
type failing struct {
	cases.Store
	n, calls int
}

func (f *failing) Update(ctx context.Context, a cases.Actor, do func(cases.Writer) error) error {
	f.calls++
	return f.Store.Update(ctx, a, func(w cases.Writer) error {
		err := do(w)
		if err == nil && f.calls == f.n {
			return context.DeadlineExceeded
		}
		return err
	})
}
