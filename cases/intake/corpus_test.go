package intake_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/csvfile"
	"dunlin/cases/intake/hl7"
	"dunlin/cases/intake/mail"
	"dunlin/cases/store"
)

// sample is one made-up document and what it must lead to. The outcomes were written
// down from the exchange page of this project (its sections 1, 3, 4.6, 8 and 9: the
// answer list LL840-0 of LOINC, HL7 version 2.5.1) before the program was asked. All
// people and places are invented; the region is Alder Bay.
type sample struct {
	id     string
	raw    string
	before []string // documents that came earlier
	set    intake.Settings
	want   string   // outcomes of its items in order; "a|b" allows either
	says   []string // parts of what is said of it: reasons, warnings, values to check
	not    []string // what must not be said
	check  func(t *testing.T, cs []cases.Case)
}

// corpus gathers the samples of all kinds.
func corpus() (all []sample) {
	for _, kind := range [][]sample{
		screenSamples(), answerSamples(), variantSamples(), oldSamples(), textSamples(), severalSamples(),
		formSamples(), byteSamples(), hugeSamples(), sweatSamples(), sweatOddSamples(), labSamples(), typeSamples(),
		documentSamples(), listSamples(), listOddSamples(), mailSamples(),
	} {
		all = append(all, kind...)
	}
	return all
}

var corpusOut = flag.String("corpus", "", "write the made-up messages into this folder, one file each")

// errTried ends the transaction of a sample, so that nothing of it stays and all
// samples can share one store.
var errTried = errors.New("only tried")

// within is a store inside one transaction that is going to be given up.
type within struct{ w cases.Writer }

func (s within) View(_ context.Context, f func(cases.Reader) error) error { return f(s.w) }

func (s within) Update(_ context.Context, _ cases.Actor, f func(cases.Writer) error) error {
	return f(s.w)
}

// stand is a store that forgets each try.
type stand struct {
	db *store.DB
}

func newStand(t testing.TB) *stand {
	t.Helper()
	db, err := store.Open(filepath.Join(t.TempDir(), "corpus.db"), store.Options{Now: func() time.Time { return today }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return &stand{db}
}

// tried is what became of the last of several documents, with all cases there are.
type tried struct {
	intake.Result
	cases []cases.Case
	kept  map[string]string // raw bytes by hash
}

// try takes documents in one after the other and forgets them again.
func (s *stand) try(t testing.TB, set intake.Settings, docs ...string) (out tried) {
	t.Helper()
	err := s.db.Update(context.Background(), importer, func(w cases.Writer) error {
		in := intake.New(within{w}, nil, set, hl7.Format{}, csvfile.Format{})
		in.OpenMail(mail.Reader{})
		out.kept = map[string]string{}
		for i, raw := range docs {
			r, err := in.Receive(context.Background(), importer, intake.Document{Source: "import", Name: fmt.Sprintf("%d.txt", i), At: today, Raw: []byte(raw)})
			if err != nil {
				return err
			}
			out.Result = r
			rec, err := w.Received(r.Hash)
			if err != nil {
				return err
			}
			out.kept[r.Hash] = string(rec.Raw)
		}
		for c, err := range w.All() {
			if err != nil {
				return err
			}
			out.cases = append(out.cases, c)
		}
		return errTried
	})
	if !errors.Is(err, errTried) {
		t.Fatalf("the store failed: %v", err)
	}
	return out
}

// text is everything that is said of the documents.
func (r *tried) text() string {
	var b strings.Builder
	for _, it := range r.Items {
		b.WriteString(strings.Join(it.Reasons, "\n") + "\n")
	}
	for _, p := range r.Warnings {
		b.WriteString(p.String() + "\n")
	}
	for _, c := range r.cases {
		for _, k := range c.ToCheck {
			b.WriteString(k.Field + ": " + k.Text + " " + k.Reason + "\n")
		}
	}
	return b.String()
}

func (r *tried) outcomes() string {
	got := make([]string, len(r.Items))
	for i, it := range r.Items {
		got[i] = it.Outcome
	}
	return strings.Join(got, " ")
}

func TestCorpus(t *testing.T) {
	s := newStand(t)
	seen := map[string]bool{}
	all := corpus()
	for _, m := range all {
		if seen[m.id] {
			t.Errorf("%s is there twice", m.id)
		}
		seen[m.id] = true
		writeOut(t, m)
		t.Run(m.id, func(t *testing.T) {
			r := s.try(t, m.set, append(m.before, m.raw)...)
			if got := r.outcomes(); !fits(got, m.want) {
				t.Errorf("%s, want %s\n%s", got, m.want, r.text())
			}
			sound(t, &r, m.raw)
			text := r.text()
			for _, part := range m.says {
				if !strings.Contains(strings.ToLower(text), strings.ToLower(part)) {
					t.Errorf("nothing says %q in\n%s", part, text)
				}
			}
			for _, part := range m.not {
				if strings.Contains(strings.ToLower(text), strings.ToLower(part)) {
					t.Errorf("%q is said in\n%s", part, text)
				}
			}
			if m.check != nil {
				m.check(t, r.cases)
			}
		})
	}
	if len(all) < 150 {
		t.Errorf("only %d messages", len(all))
	}
	t.Logf("%d made-up documents", len(all))
}

// fits compares outcomes; "a|b" stands for either.
func fits(got, want string) bool {
	g, w := strings.Fields(got), strings.Fields(want)
	if len(g) != len(w) {
		return false
	}
	for i := range g {
		ok := false
		for alt := range strings.SplitSeq(w[i], "|") {
			ok = ok || alt == g[i]
		}
		if !ok {
			return false
		}
	}
	return true
}

func writeOut(t *testing.T, m sample) {
	if *corpusOut == "" {
		return
	}
	if err := os.WriteFile(filepath.Join(*corpusOut, strings.ReplaceAll(m.id, "/", "_")), []byte(m.raw), 0o600); err != nil {
		t.Fatal(err)
	}
}

// sound checks what holds of every document: at least one item, counters that add up,
// the bytes kept, and reasons that a person can read.
func sound(t testing.TB, r *tried, raw string) {
	t.Helper()
	if len(r.Items) == 0 || r.Total() != len(r.Items) {
		t.Errorf("counters %v for %d items", r.Counts, len(r.Items))
	}
	if r.kept[r.Hash] != raw {
		t.Error("the bytes were not kept")
	}
	for i := range r.Items {
		it := &r.Items[i]
		o := intake.Outcome(it.Outcome)
		if (o == intake.Review || o == intake.Refused || o == intake.Duplicate) && len(it.Reasons) == 0 {
			t.Errorf("%s is %s without a reason", it.Position, o)
		}
		for _, reason := range append([]string{it.Title, it.Position}, it.Reasons...) {
			if why := unreadable(reason); why != "" {
				t.Errorf("%s: %s: %q", it.Position, why, reason[:min(len(reason), 300)])
			}
		}
	}
	for _, p := range r.Warnings {
		if why := unreadable(p.String()); why != "" {
			t.Errorf("warning: %s: %q", why, p.String())
		}
	}
}

// badVerb is what fmt writes for a value that does not fit; "%!" alone may have been sent.
var badVerb = regexp.MustCompile(`%!.?\(`)

// unreadable says why a person could not read a sentence as it stands on a page or on
// a terminal.
func unreadable(s string) string {
	switch {
	case len(s) > 700:
		return "too long"
	case badVerb.MatchString(s), strings.Contains(s, "<nil>"), strings.Contains(s, "runtime error"):
		return "not a sentence"
	}
	for _, c := range s {
		if unicode.IsControl(c) || unicode.Is(unicode.Bidi_Control, c) {
			return fmt.Sprintf("holds the control character %U", c)
		}
	}
	return ""
}
