package web_test

import (
	"fmt"
	"io"
	"strings"
	"testing"

	"dunlin/cases"
)

// fill opens n cases, of which every hundredth needs something today.
func (s *site) fill(n int) (ref string) {
	const batch = 5000
	for from := 0; from < n; from += batch {
		s.update(func(w cases.Writer) error {
			for i := from; i < min(from+batch, n); i++ {
				text := doc(docBooked, "2026-03-06", "2026-03-20")
				if i%100 == 0 {
					text = docQNS
				}
				k, err := cases.ParseCase([]byte(doc(text, "Tobias", fmt.Sprintf("Tobias %d", i))), cases.DayOf(s.now), s.protocol)
				if err != nil {
					return err
				}
				if k, err = cases.OpenCase(w, s.protocol, k, cases.Event{Kind: "case-opened", Text: "Case opened"}); err != nil {
					return err
				}
				if i%100 == 0 {
					ref = k.Reference
				}
			}
			return nil
		})
	}
	return ref
}

// fetch gets a page over loopback and reads all of it, without checking it.
func (c *client) fetch(b *testing.B, path string) {
	res, err := c.http.Get(c.url + path)
	if err != nil {
		b.Fatal(err)
	}
	defer res.Body.Close()
	if n, err := io.Copy(io.Discard, res.Body); err != nil || res.StatusCode != 200 || n == 0 {
		b.Fatal(res.StatusCode, n, err)
	}
}

// BenchmarkPages fetches pages over loopback with all middleware: the overdue
// list is 1,000 infants out of 100,000 open cases, its first 200 rows built.
// With -short it is 100 out of 10,000.
func BenchmarkPages(b *testing.B) {
	n := 100_000
	if testing.Short() {
		n /= 10
	}
	s := newSite(b)
	ref := s.fill(n)
	c := s.as("wren")
	for _, path := range []string{"/overdue", "/infants/" + ref, "/infants/" + ref + "/contacts/new", "/me"} {
		b.Run(path[:min(len(path), 8)]+path[max(0, len(path)-4):], func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c.fetch(b, path)
			}
		})
	}
}

// BenchmarkIntake fetches the page of a day with 1,000 items, of which 200 wait, and
// the page of one of them.
func BenchmarkIntake(b *testing.B) {
	s := newSite(b)
	s.update(func(w cases.Writer) error {
		for i := range 1000 {
			it := cases.Item{Document: strings.Repeat("0", 64), Position: fmt.Sprintf("row %d", i+2), At: s.now, Outcome: "no-case", Kind: "not referred (in range)", Title: fmt.Sprintf("Easterly, Pim %d", i)}
			if i%5 == 0 {
				it.Outcome, it.Kind, it.Due, it.Reasons = "review", "cannot be read", cases.DayOf(s.now), []string{"row 2, dob: The birth date is not a day of the calendar."}
			}
			if _, err := w.PutItem(it); err != nil {
				return err
			}
		}
		return nil
	})
	c := s.as("wren")
	for name, path := range map[string]string{"day": "/intake", "item": "/intake/" + s.waiting()[0].ID} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c.fetch(b, path)
			}
		})
	}
}
