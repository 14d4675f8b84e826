package schedule_test

import (
	"fmt"
	"testing"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// BenchmarkBook books one place, without the disk.
func BenchmarkBook(b *testing.B) {
	w := newWorld(b)
	w.put(b, session(4, 0))
	c := w.infant(b, nil)
	for b.Loop() {
		got, err := w.desk.Book(ctx, nurse, schedule.Ask{Case: c.ID, Site: "alder-bay", On: clinic, At: "09:00"})
		if err != nil {
			b.Fatal(err)
		}
		b.StopTimer()
		// The history of one infant would grow without end.
		if _, err := w.desk.Cancel(ctx, nurse, c.ID, 0, len(got[0].Bookings)-1, "again"); err != nil {
			b.Fatal(err)
		}
		w.must(b, func(x cases.Writer) error {
			k, err := x.Case(c.ID)
			if err == nil {
				k.Bookings = nil
				_, err = x.PutCase(k, cases.Event{Kind: "test"})
			}
			return err
		})
		b.StartTimer()
	}
}

// BenchmarkReadBoard reads the free places of five sites for eight weeks: 400 places,
// half of them taken.
func BenchmarkReadBoard(b *testing.B) {
	w := newWorld(b)
	w.must(b, func(x cases.Writer) error {
		for i := range 5 {
			key := fmt.Sprintf("site-%d", i)
			if err := schedule.PutSite(x, schedule.Site{Key: key, Name: "Site"}); err != nil {
				return err
			}
			var list []schedule.Session
			for week := range 8 {
				for _, d := range []cases.Day{0, 2} {
					list = append(list, schedule.Session{Site: key, On: clinic + cases.Day(7*week) + d, Start: "09:00", Places: 5, Minutes: 60})
				}
			}
			if err := schedule.PutSessions(x, w.p, list...); err != nil {
				return err
			}
			for n, s := range list {
				for place := range s.Places {
					if (n+place)%2 == 0 {
						continue
					}
					c := cases.Case{Infant: cases.Infant{Born: today - 20}, Referral: cases.Referral{On: today - 10, Route: "screen"},
						Bookings: []cases.Booking{{On: s.On, At: s.At(place), Site: key, State: "booked"}}}
					if _, err := x.PutCase(c, cases.Event{Kind: "test"}); err != nil {
						return err
					}
				}
			}
		}
		return nil
	})
	b.ReportAllocs()
	for b.Loop() {
		if err := w.db.View(ctx, func(r cases.Reader) error {
			board, err := schedule.ReadBoard(r, w.p, 63, nil)
			if err == nil && len(board.Places) != 200 {
				b.Fatalf("%d free places", len(board.Places))
			}
			return err
		}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkCalendarFile writes the file of one appointment.
func BenchmarkCalendarFile(b *testing.B) {
	a := appointment()
	a.Location, a.Text = "Alder Bay Hospital, 1 Shore Road", "Keep your baby warm and well fed.\nAllow 90 minutes."
	f := file(b, a)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := f.Encode(); err != nil {
			b.Fatal(err)
		}
	}
}
