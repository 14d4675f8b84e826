package reminders

import (
	"context"
	"encoding/json"
	"errors"
	"iter"
	"slices"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// store is a stand-in for the real one: cases and kept lists in memory.
type store struct {
	cases  []cases.Case
	lists  map[cases.Day]cases.DayList
	today  cases.Day
	broken error
	puts   int
}

type view struct {
	cases.Writer // what the tests do not need
	s            *store
}

func (s *store) View(_ context.Context, f func(cases.Reader) error) error { return f(&view{s: s}) }

func (s *store) Update(_ context.Context, _ cases.Actor, f func(cases.Writer) error) error {
	return f(&view{s: s})
}

func (v *view) Now() time.Time   { return v.s.today.Time().Add(10 * time.Hour) }
func (v *view) Today() cases.Day { return v.s.today }

func (v *view) DueThrough(cases.Day) iter.Seq2[cases.Case, error] {
	return func(yield func(cases.Case, error) bool) {
		if v.s.broken != nil {
			yield(cases.Case{}, v.s.broken)
			return
		}
		seq(v.s.cases)(yield)
	}
}

func (v *view) DayList(d cases.Day) (cases.DayList, error) {
	if l, ok := v.s.lists[d]; ok {
		return l, nil
	}
	return cases.DayList{}, cases.Errorf(cases.NotFound, "No list was made on that day.")
}

func (v *view) DayLists(n int) ([]cases.Day, error) {
	var days []cases.Day
	for d := range v.s.lists {
		days = append(days, d)
	}
	slices.Sort(days)
	slices.Reverse(days)
	return days[:min(n, len(days))], nil
}

func (v *view) PutDayList(l cases.DayList) error {
	v.s.puts++
	v.s.lists[l.On] = l
	return nil
}

func newBook(today string, cs ...cases.Case) (*store, *Book) {
	p := cases.DefaultProtocol()
	s := &store{cases: cs, lists: map[cases.Day]cases.DayList{}, today: day(today)}
	return s, &Book{Store: s, Protocol: func() *cases.Protocol { return p }}
}

func TestKeepMakesADaysListOnce(t *testing.T) {
	s, b := newBook("2026-03-20", infant("AB-1", "2026-03-04"), infant("AB-2", "2026-03-02", named("AB-3")), infant("AB-3", "2026-03-02", named("AB-2")))
	n, err := b.Keep(context.Background(), s.today)
	if err != nil || n != 3 {
		t.Fatalf("%d, %v", n, err)
	}
	kept := s.lists[s.today]
	rows, err := Rows(kept)
	if err != nil || len(rows) != 3 || kept.N != 3 || kept.Made.IsZero() {
		t.Fatalf("%+v, %v", kept, err)
	}
	want := Row{Case: "id-AB-2", Reference: "AB-2", Given: "Ada", Family: "Wren", Born: day("2026-03-02"), Urgency: 1, Late: 10,
		Since: day("2026-03-10"), By: "step", Step: cases.StepTellPrimary, Due: day("2026-03-10"),
		Reason: "Primary care not told", Action: "Call primary care", Twins: []string{"AB-3"}}
	if got, _ := json.Marshal(rows[0]); string(got) != mustJSON(want) {
		t.Errorf("got %s", got)
	}
	// Later in the day there is less to do; the morning's list stays as it was.
	s.cases = s.cases[:1]
	if n, err = b.Keep(context.Background(), s.today); n != 3 || err != nil || s.puts != 1 {
		t.Errorf("again: %d, %v, %d writes", n, err, s.puts)
	}
}

func mustJSON(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return string(b)
}

func TestKeepAnEmptyList(t *testing.T) {
	s, b := newBook("2026-03-20")
	if n, err := b.Keep(context.Background(), s.today); n != 0 || err != nil {
		t.Fatalf("%d, %v", n, err)
	}
	if rows, err := Rows(s.lists[s.today]); err != nil || rows == nil || len(rows) != 0 {
		t.Errorf("%v, %v", rows, err)
	}
}

func TestTodayKnowsTheKeptListsAndTheGaps(t *testing.T) {
	s, b := newBook("2026-03-20", infant("AB-1", "2026-03-04"))
	page, err := b.Today(context.Background())
	if err != nil || page.Made != nil || len(page.Items) != 1 || page.Today != s.today || len(page.Earlier)+len(page.NoList) != 0 {
		t.Fatalf("%+v, %v", page, err)
	}
	for _, d := range []string{"2026-02-01", "2026-03-14", "2026-03-15", "2026-03-18", "2026-03-20"} {
		s.lists[day(d)] = cases.DayList{On: day(d), N: 1}
	}
	page, err = b.Today(context.Background())
	if err != nil || page.Made == nil || page.Made.On != s.today {
		t.Fatalf("%+v, %v", page, err)
	}
	if want := []cases.Day{day("2026-03-18"), day("2026-03-15"), day("2026-03-14")}; !slices.Equal(page.Earlier, want) {
		t.Errorf("earlier %v", page.Earlier)
	}
	if want := []cases.Day{day("2026-03-16"), day("2026-03-17"), day("2026-03-19")}; !slices.Equal(page.NoList, want) {
		t.Errorf("no list on %v", page.NoList)
	}
}

func TestBookPassesTheStoresTroubleOn(t *testing.T) {
	s, b := newBook("2026-03-20")
	s.broken = errors.New("the record does not match its checksum")
	if _, err := b.Today(context.Background()); !errors.Is(err, s.broken) {
		t.Errorf("Today: %v", err)
	}
	if _, err := b.Keep(context.Background(), s.today); !errors.Is(err, s.broken) || len(s.lists) != 0 {
		t.Errorf("Keep: %v, %v", err, s.lists)
	}
	if _, err := Rows(cases.DayList{On: s.today, Rows: []byte("{")}); err == nil || !strings.Contains(err.Error(), "2026-03-20") {
		t.Errorf("Rows: %v", err)
	}
}
