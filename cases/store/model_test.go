package store

import (
	"errors"
	"math/rand/v2"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"dunlin/cases"
)

// TestAgainstModel runs random writes, edits from old revisions, failures and
// reopenings against a plain map, and checks the store at the end of each run.
func TestAgainstModel(t *testing.T) {
	dir := t.TempDir()
	runs := 0
	rapid.Check(t, func(rt *rapid.T) {
		runs++
		path := filepath.Join(dir, strconv.Itoa(runs)+".db")
		o := testOptions()
		o.Scratch = true
		o.Rand = rand.NewChaCha8([32]byte{byte(runs), byte(runs >> 8)})
		db, err := Open(path, o)
		if err != nil {
			rt.Fatal(err)
		}
		m := &model{db: db, open: func() (*DB, error) { return Open(path, o) }, want: map[cases.ID]cases.Case{}}
		rt.Repeat(map[string]func(*rapid.T){
			"open a case": m.create, "edit": m.edit, "edit an old revision": m.conflict, "fail": m.fail, "reopen": m.reopen,
			"": m.compare,
		})
		problems, err := m.db.Check(ctx)
		if err != nil || len(problems) > 0 {
			rt.Fatalf("check: %v %v", problems, err)
		}
		m.db.Close()
	})
}

type model struct {
	db    *DB
	open  func() (*DB, error)
	want  map[cases.ID]cases.Case
	order []cases.ID
	old   []cases.Case // versions that were written over
}

func drawCase(t *rapid.T, c cases.Case) cases.Case {
	c.Infant.Family = rapid.SampledFrom([]string{"Wren", "García-López", "O'Brien", "Wren Lake", "李", ""}).Draw(t, "family")
	c.Infant.Given = rapid.SampledFrom([]string{"Ada", "Ben Cy", "", "Zoë"}).Draw(t, "given")
	c.Infant.Born = cases.MakeDay(2026, 1, 1) + cases.Day(rapid.IntRange(0, 70).Draw(t, "born"))
	c.Referral.On, c.Referral.Route = c.Infant.Born+2, "screen"
	c.Infant.Records = nil
	for range rapid.IntRange(0, 2).Draw(t, "records") {
		c.Infant.Records = append(c.Infant.Records, cases.RecordNo{Number: rapid.StringMatching(`[A-Z0-9-]{0,4}`).Draw(t, "record")})
	}
	c.Closures = nil
	if rapid.IntRange(0, 4).Draw(t, "closed") == 0 {
		on := c.Infant.Born + 5
		c.Closures = []cases.Closure{{On: on, As: "other-diagnosis", By: "a", AgreedBy: "b", AgreedOn: on, Reason: "r"}}
	}
	c.Owner = rapid.StringN(0, 5, 20).Filter(func(s string) bool { return !strings.Contains(s, "\x00") }).Draw(t, "owner")
	return c
}

func (m *model) write(c cases.Case) (out cases.Case, err error) {
	err = m.db.Update(ctx, clerk, func(w cases.Writer) (err error) {
		out, err = w.PutCase(c, cases.Event{Kind: "test"})
		return err
	})
	return out, err
}

func (m *model) create(t *rapid.T) {
	c, err := m.write(drawCase(t, cases.Case{}))
	if err != nil {
		t.Fatal(err)
	}
	m.want[c.ID] = c
	m.order = append(m.order, c.ID)
}

func (m *model) pick(t *rapid.T) cases.Case {
	if len(m.order) == 0 {
		t.Skip("no case yet")
	}
	return m.want[rapid.SampledFrom(m.order).Draw(t, "case")]
}

func (m *model) edit(t *rapid.T) {
	was := m.pick(t)
	now, err := m.write(drawCase(t, was))
	if err != nil || now.Rev != was.Rev+1 {
		t.Fatalf("rev %d after %d: %v", now.Rev, was.Rev, err)
	}
	m.old = append(m.old, was)
	m.want[now.ID] = now
}

func (m *model) conflict(t *rapid.T) {
	if len(m.old) == 0 {
		t.Skip("nothing was written over yet")
	}
	old := rapid.SampledFrom(m.old).Draw(t, "old")
	_, err := m.write(drawCase(t, old))
	var ch *cases.Changed
	if !errors.As(err, &ch) {
		t.Fatalf("an old revision was taken: %v", err)
	}
	if d := cmp.Diff(m.want[old.ID], ch.Now, sameCase); d != "" || len(ch.By) != int(ch.Have-ch.Want) {
		t.Fatalf("changed: %d entries from %d to %d\n%s", len(ch.By), ch.Want, ch.Have, d)
	}
}

func (m *model) fail(t *rapid.T) {
	no := errors.New("no")
	err := m.db.Update(ctx, clerk, func(w cases.Writer) error {
		if _, err := w.PutCase(drawCase(t, cases.Case{}), cases.Event{}); err != nil {
			return err
		}
		return no
	})
	if err != no {
		t.Fatal(err)
	}
}

func (m *model) reopen(t *rapid.T) {
	if err := m.db.Close(); err != nil {
		t.Fatal(err)
	}
	var err error
	if m.db, err = m.open(); err != nil {
		t.Fatal(err)
	}
}

func (m *model) compare(t *rapid.T) {
	err := m.db.View(ctx, func(r cases.Reader) error {
		n, open := 0, 0
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			if d := cmp.Diff(m.want[c.ID], c, sameCase); d != "" {
				t.Fatalf("case %s: %s", c.ID, d)
			}
			if c.ID != m.order[n] {
				t.Fatalf("case %d is out of order", n)
			}
			if len(c.Closures) == 0 {
				open++
			}
			n++
			h, err := r.History(c.ID)
			if err != nil || len(h) != int(c.Rev) {
				t.Fatalf("%d entries for revision %d: %v", len(h), c.Rev, err)
			}
		}
		for c, err := range r.Open() {
			if err != nil || len(c.Closures) > 0 {
				t.Fatalf("open: %s %v", c.ID, err)
			}
			open--
		}
		if n != len(m.want) || open != 0 {
			t.Fatalf("%d cases of %d, open count off by %d", n, len(m.want), open)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
