package letters

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// A booking that is cancelled after the list was made: a changed list goes, once, and the
// old one does not; nothing is made when nothing changed.
func TestAChangedDayGetsAChangedList(t *testing.T) {
	o := newOffice(t, day("2026-03-16"), reachedAndBooked(1), reachedAndBooked(2))
	o.p.Program = complete
	lists := func() (out []cases.Letter) {
		_ = o.db.View(context.Background(), func(r cases.Reader) error {
			all, err := r.LettersOf("")
			slices.SortFunc(all, func(a, b cases.Letter) int { return strings.Compare(a.Occasion, b.Occasion) })
			out = all
			return err
		})
		return out
	}
	o.run(day("2026-03-17"))
	o.run(day("2026-03-18"))
	if n := len(lists()); n != 1 {
		t.Fatalf("nothing changed, and there are %d lists", n)
	}
	cancel := func(ref string) {
		c := o.case_(ref)
		o.must(schedule.NewDesk(o.db, o.desk.Protocol()).Cancel(context.Background(), coordinator, c.ID, c.Rev, 0, "the family asked"))
	}
	cancel(adaRef)
	o.k.at = o.k.at.Add(3 * time.Hour) // the clinic has begun
	run(t, o.p, day("2026-03-18"))
	if n := len(lists()); n != 1 {
		t.Fatalf("a changed list at 9 in the morning: %d lists", n)
	}
	for range 2 {
		o.run(day("2026-03-18")) // early on the day itself
	}
	got := lists()
	if len(got) != 2 || got[0].State != "held" || got[1].Occasion != "alder-bay 2026-03-18 again 2" {
		t.Fatalf("%d lists, the first %s", len(got), got[0].State)
	}
	if err := o.desk.MarkLetters(context.Background(), coordinator, []string{got[0].ID}, "to-print", "", ""); err == nil || !strings.Contains(err.Error(), got[1].Number) {
		t.Errorf("the old list is put back to print: %v", err)
	}
	l, err := Decode(got[1])
	if err != nil || !strings.Contains(l.Preview(), "takes the place of list "+got[0].Number) || !strings.Contains(l.Preview(), "1 infant") {
		t.Errorf("%v %s", err, l.Preview())
	}
	cancel("AB-2026-0102")
	o.run(day("2026-03-18"))
	if got = lists(); len(got) != 3 || got[1].State != "held" {
		t.Fatalf("%d lists, the first %s", len(got), got[0].State)
	}
	if l, err = Decode(got[2]); err != nil || !strings.Contains(l.Preview(), "0 infants") {
		t.Errorf("%v %s", err, l.Preview())
	}
	if report, err := o.db.Check(context.Background()); err != nil || len(report) > 0 {
		t.Errorf("check: %+v, err %v", report, err)
	}
}
