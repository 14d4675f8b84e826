package store

import (
	"fmt"
	"slices"
	"testing"

	"dunlin/cases"
)

func bookedList(t *testing.T, db *DB, site string, from, to cases.Day) (out []string) {
	t.Helper()
	view(t, db, func(r cases.Reader) error {
		for b, err := range r.BookedAt(site, from, to) {
			if err != nil {
				return err
			}
			if c, err := r.Case(b.Case); err != nil || c.Reference != b.Reference {
				t.Errorf("%v: its case is %q, %v", b, c.Reference, err)
			}
			out = append(out, fmt.Sprintf("%s %s %s %s", b.Site, b.On, b.At, b.Reference))
		}
		return nil
	})
	return out
}

// The index holds exactly the bookings that take a place, and follows their state.
func TestBookedAt(t *testing.T) {
	db := openTest(t)
	day := cases.MakeDay(2026, 3, 24)
	book := func(on cases.Day, at cases.Clock, site, state string) cases.Booking {
		return cases.Booking{On: on, At: at, Site: site, State: state}
	}
	a := newCase(20, "Ada", "Wren")
	a.Bookings = []cases.Booking{book(day, "10:30", "alder-bay", "booked"), book(day-5, "09:00", "alder-bay", "missed"), book(day-7, "09:00", "alder-bay", "cancelled")}
	b := newCase(21, "Ben", "Wren")
	b.Bookings = []cases.Booking{book(day, "09:30", "alder-bay", "booked"), book(day-7, "", "alder-bay", "kept"), book(day, "09:30", "alder-bay-2", "booked")}
	a, b = put(t, db, a, "test"), put(t, db, b, "test")

	want := []string{
		"alder-bay 2026-03-17  " + b.Reference,
		"alder-bay 2026-03-24 09:30 " + b.Reference,
		"alder-bay 2026-03-24 10:30 " + a.Reference,
	}
	if got := bookedList(t, db, "alder-bay", day-7, day); !slices.Equal(got, want) {
		t.Errorf("booked:\n%q, want\n%q", got, want)
	}
	if got := bookedList(t, db, "alder-bay", day-6, day-1); len(got) != 0 {
		t.Errorf("days without bookings give %q", got)
	}
	if got := bookedList(t, db, "alder-bay", 0, 1<<30); len(got) != 3 {
		t.Errorf("the widest days give %q", got)
	}
	for _, site := range []string{"alder", "", "alder-bay\x00"} {
		if got := bookedList(t, db, site, 0, day+100); len(got) != 0 {
			t.Errorf("site %q gives %q", site, got)
		}
	}
	a.Bookings[0].State = "cancelled"
	put(t, db, a, "test")
	if got := bookedList(t, db, "alder-bay", day, day); !slices.Equal(got, want[1:2]) {
		t.Errorf("after cancelling: %q", got)
	}
}
