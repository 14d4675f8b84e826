package letters

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"iter"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/templates"
)

func day(s string) cases.Day {
	d, err := cases.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

func allTexts(t testing.TB) *templates.LetterSet {
	t.Helper()
	texts, err := templates.ParseLetters()
	if err != nil {
		t.Fatal(err)
	}
	return texts
}

// alderBay is the invented program of the demo.
func alderBay() *Program {
	return &Program{
		Name: "Alder Bay Screening Follow-up", Return: []string{"PO Box 118", "Alder Bay, WA 98999"},
		Contact: "Rosa Teal", Phone: "555-0142", Hours: "Monday to Friday, from 8 in the morning to 4 in the afternoon",
		Emergency: "911", SurnameInWindow: true, Envelope: No10(),
		Sites: map[string]Site{"alder-bay": {Name: "Alder Bay Sweat Test Room", Address: "200 Causeway Road, Alder Bay", Phone: "555-0150", Note: "Park behind the building."}},
	}
}

// ada is a case referred by the screen, the family reached, a test booked ahead.
func ada() *cases.Case {
	return &cases.Case{
		ID: "01J00000000000000000000ADA", Rev: 1, Document: cases.DocumentName, Reference: "AB-2026-0042",
		Infant:   cases.Infant{Given: "Ada", Family: "Wren", Born: day("2026-03-01"), Gestation: 39 * 7, BirthWeightG: 3200},
		Referral: cases.Referral{On: day("2026-03-08"), Route: "screen"},
		Contacts: []cases.Contact{
			{On: day("2026-03-09"), With: "primary-care", By: "phone", Reached: true},
			{On: day("2026-03-09"), With: "family", By: "phone", Reached: true},
		},
		Family:   &cases.Family{Guardians: []cases.Guardian{{Given: "Lin", Family: "Wren", Address: address("14 Curlew Lane")}}},
		Bookings: []cases.Booking{{On: day("2026-03-18"), At: "09:30", Site: "alder-bay", State: "booked", Changed: day("2026-03-09")}},
	}
}

func address(lines ...string) *cases.Address {
	return &cases.Address{Lines: lines, City: "Alder Bay", Region: "WA", Postal: "98999"}
}

var adaToday = day("2026-03-10")

// compose makes a letter of a kind for a case as the assessment of a day names it.
func compose(t testing.TB, c *cases.Case, kind string, on cases.Day, p *Program) (Letter, error) {
	t.Helper()
	a := cases.DefaultProtocol().Assess(c, on)
	for _, due := range a.LettersDue {
		if due.Kind == kind {
			return Compose(c, &a, due, allTexts(t), p)
		}
	}
	t.Fatalf("no %s is due: %v", kind, a.LettersDue)
	return Letter{}, nil
}

func mustCompose(t testing.TB, c *cases.Case, kind string, on cases.Day) Letter {
	t.Helper()
	l, err := compose(t, c, kind, on, alderBay())
	if err != nil {
		t.Fatal(err)
	}
	l.Number = "7KQ294XF"
	return l
}

func pdfOf(t testing.TB, l Letter) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := l.WritePDF(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// poppler runs a tool of poppler-utils on a PDF; without it the test is skipped, and
// fails where everything must be there.
func poppler(t *testing.T, pdf []byte, tool string, args ...string) []byte {
	t.Helper()
	path, err := exec.LookPath(tool)
	if err != nil {
		if os.Getenv("DUNLIN_CI") == "1" {
			t.Fatalf("%s is missing: install poppler-utils", tool)
		}
		t.Skipf("%s is missing: install poppler-utils to run this test", tool)
	}
	file := filepath.Join(t.TempDir(), "letter.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	args = append(args, file)
	if tool == "pdftotext" {
		args = append(args, "-") // pdftoppm writes to its output without this
	}
	out, err := exec.Command(path, args...).Output()
	if err != nil {
		t.Fatalf("%s: %v", tool, err)
	}
	return out
}

// store is a stand-in for the real one: cases and letters in memory, all or nothing.
type store struct {
	cases   []cases.Case
	letters []cases.Letter
	lists   map[cases.Day]cases.DayList
	audit   []cases.Event
	today   cases.Day
	aside   json.RawMessage // the only setting used here
	// meanwhile runs before each Update, as another person's edit would.
	meanwhile func(*store)
	broken    error
	damaged   error // of one record among the open cases
}

type view struct {
	cases.Writer // what the tests do not need
	s            *store
}

func (s *store) View(_ context.Context, f func(cases.Reader) error) error {
	if s.broken != nil {
		return s.broken
	}
	return f(&view{s: s})
}

func (s *store) Update(_ context.Context, _ cases.Actor, f func(cases.Writer) error) error {
	if s.meanwhile != nil {
		s.meanwhile(s)
	}
	cs, ls, au := slices.Clone(s.cases), slices.Clone(s.letters), slices.Clone(s.audit)
	err := f(&view{s: s})
	if err != nil {
		s.cases, s.letters, s.audit = cs, ls, au
	}
	return err
}

func (v *view) Now() time.Time   { return v.s.today.Time().Add(6 * time.Hour) }
func (v *view) Today() cases.Day { return v.s.today }

func (v *view) Open() iter.Seq2[cases.Case, error] {
	return func(yield func(cases.Case, error) bool) {
		if v.s.damaged != nil && !yield(cases.Case{}, v.s.damaged) {
			return
		}
		for _, c := range v.s.cases {
			if !yield(c, nil) {
				return
			}
		}
	}
}

func (v *view) ClosedBetween(from, to cases.Day) iter.Seq2[cases.Case, error] {
	return func(func(cases.Case, error) bool) {}
}

func (v *view) BookedAt(string, cases.Day, cases.Day) iter.Seq2[cases.Booked, error] {
	return func(func(cases.Booked, error) bool) {}
}

func (v *view) Milestones(cases.Day, cases.Day) iter.Seq2[cases.Milestones, error] {
	return func(func(cases.Milestones, error) bool) {}
}

func (v *view) SharedKeys(int) iter.Seq[cases.SharedKey] { return func(func(cases.SharedKey) bool) {} }

func (v *view) LettersOf(id cases.ID) (out []cases.Letter, err error) {
	for _, l := range v.s.letters {
		if l.Case == id {
			out = append(out, l)
		}
	}
	return out, nil
}

func (v *view) OutgoingOf(cases.ID) ([]cases.Outgoing, error) { return nil, nil }

func (v *view) DueThrough(cases.Day) iter.Seq2[cases.Case, error] { return v.Open() }

func (v *view) Case(id cases.ID) (cases.Case, error) {
	for _, c := range v.s.cases {
		if c.ID == id {
			return c, nil
		}
	}
	return cases.Case{}, cases.Errorf(cases.NotFound, "There is no such case.")
}

func (v *view) PutCase(c cases.Case, e cases.Event) (cases.Case, error) {
	for i := range v.s.cases {
		if old := &v.s.cases[i]; old.ID == c.ID {
			if old.Rev != c.Rev {
				return c, &cases.Changed{Want: c.Rev, Have: old.Rev}
			}
			c.Rev++
			*old = c
			v.s.audit = append(v.s.audit, e)
			return c, nil
		}
	}
	return c, cases.Errorf(cases.NotFound, "There is no such case.")
}

func (v *view) PutLetter(l cases.Letter) (cases.Letter, error) {
	for i, old := range v.s.letters {
		if l.ID != "" && old.ID == l.ID {
			v.s.letters[i] = l
			return l, nil
		}
		if old.Case == l.Case && old.Kind == l.Kind && old.Occasion == l.Occasion {
			return l, cases.Errorf(cases.Conflict, "The letter was already made.")
		}
	}
	n := len(v.s.letters) + 1
	l.ID, l.Number = fmt.Sprintf("%026d", n), fmt.Sprintf("%08d", n)
	v.s.letters = append(v.s.letters, l)
	return l, nil
}

func (v *view) DayList(d cases.Day) (cases.DayList, error) {
	if l, ok := v.s.lists[d]; ok {
		return l, nil
	}
	return cases.DayList{}, cases.Errorf(cases.NotFound, "No list was made on that day.")
}

func (v *view) PutDayList(l cases.DayList) error {
	if v.s.lists == nil {
		v.s.lists = map[cases.Day]cases.DayList{}
	}
	v.s.lists[l.On] = l
	return nil
}

func (v *view) Setting(string) (json.RawMessage, bool, error) {
	return v.s.aside, v.s.aside != nil, nil
}

func (v *view) PutSetting(_ string, value json.RawMessage) error {
	v.s.aside = value
	return nil
}

func asJSON(t testing.TB, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
