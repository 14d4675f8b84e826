package web_test

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/reminders/letters"
	"dunlin/templates"
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

// fillWaiting opens n infants who wait for a place: a quarter each for a repeat, ready, too
// young, and too light by an estimate; with sessions of 8 places at one site.
func (s *site) fillWaiting(n, sessions int) {
	const flow = `"referral":{"on":"2026-02-20","route":"screen"},
"contacts":[{"on":"2026-02-20","with":"primary-care","by":"phone","reached":true},{"on":"2026-02-20","with":"family","by":"phone","reached":true}]}`
	kinds := []string{docQNS, readyDoc(0),
		`{"document":"dunlin-case/1","infant":{"given":"Ezra 0","family":"Young","born":"2026-02-25","gestation":"39w0d","birth_weight_g":3300,"weights":[{"on":"2026-03-02","g":3300}]},` + doc(flow, "2026-02-20", "2026-03-02"),
		`{"document":"dunlin-case/1","infant":{"given":"Ezra 0","family":"Light","born":"2026-02-08","gestation":"33w0d","birth_weight_g":1500,"weights":[{"on":"2026-02-24","g":1600},{"on":"2026-03-02","g":1780}]},` + flow}
	s.update(func(w cases.Writer) error {
		for i := range n {
			k, err := cases.ParseCase([]byte(doc(kinds[i%len(kinds)], "Tobias", fmt.Sprintf("Tobias %d", i), "Ezra 0", fmt.Sprintf("Ezra %d", i))), cases.DayOf(s.now), s.protocol)
			if err == nil {
				_, err = cases.OpenCase(w, s.protocol, k, cases.Event{Kind: "case-opened", Text: "Case opened"})
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	for i := range sessions {
		k := session(cases.MakeDay(2026, 3, 6) + cases.Day(7*(i/5)+[]int{0, 3, 4, 5, 6}[i%5]))
		k.Places, k.ForRepeats = 8, 2
		s.withSessions(alderBay, k)
	}
}

// BenchmarkSchedule fetches the nurse's page, the proposals and the outlook with 2,000 waiting
// infants and 35 sessions of 8 places.
func BenchmarkSchedule(b *testing.B) {
	s := newSite(b)
	s.fillWaiting(2000, 35)
	c := s.as("dagny")
	for name, path := range map[string]string{"page": "/schedule", "proposals": proposalsPath, "outlook": "/schedule/outlook"} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c.fetch(b, path)
			}
		})
	}
}

// fillMailed keeps n letters that were mailed, in print runs of 50, all of one infant.
func (s *site) fillMailed(n int) {
	s.t.Helper()
	k := s.open(docMail)
	data, err := json.Marshal(letters.Letter{Format: "dunlin-letter/2", Blocks: []templates.LetterBlock{{Text: strings.Repeat("Please call us. ", 120)}}})
	if err != nil {
		s.t.Fatal(err)
	}
	for from := 0; from < n; from += 1000 {
		s.update(func(w cases.Writer) error {
			for i := from; i < min(from+1000, n); i++ {
				day := w.Today() - cases.Day(i/50)
				_, err := w.PutLetter(cases.Letter{Case: k.ID, Kind: cases.LetterRepeatNeeded, Occasion: fmt.Sprint("test ", i+100), State: "mailed", MadeOn: day, Changed: day,
					PrintRun: day.String() + "-a", Tracking: fmt.Sprintf("TRACK%08d", i), Data: data})
				if err != nil {
					return err
				}
			}
			return nil
		})
	}
}

// BenchmarkLetters fetches the page of letters with 2,000 open infants, many of whom are owed
// a letter that cannot be made, the list of those, and that of 20,000 mailed letters.
func BenchmarkLetters(b *testing.B) {
	s := newSite(b)
	s.fillWaiting(2000, 0)
	s.fillMailed(20_000)
	c := s.as("wren")
	for name, path := range map[string]string{"to print": "/letters", "due": "/letters?state=due", "mailed": "/letters?state=mailed"} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c.fetch(b, path)
			}
		})
	}
}
