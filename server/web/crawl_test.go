package web_test

import (
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/reminders"
	"dunlin/templates/htmlcheck"

	"golang.org/x/net/html"
)

// Every link that a page offers to a role opens a good page for that role.
func TestNoDeadLinks(t *testing.T) {
	s := newSite(t)
	closed := `,"sweat_tests":[{"on":"2026-02-27","site":"alder-bay","collector":"tubing","arms":[{"side":"left","minutes":30,"amount_ul":24,"chloride":17},{"side":"right","minutes":30,"amount_ul":20,"chloride":19}]}]`
	for _, text := range []string{docQNS, docTwoVariants, docNew, docBooked,
		doc(docBooked, `"bookings"`, `"closures":[{"on":"2026-03-03","as":"lost","by":"Wren Castellano","look_again":"2026-09-03"}],"bookings"`, "Ezra", "Proposed"),
		doc(docBooked, `,
"bookings":[{"on":"2026-03-06","at":"09:30","site":"alder-bay","state":"booked","changed":"2026-02-21"}]`, closed+`,"genotype":{"scope":"none"},"closures":[{"on":"2026-03-03","as":"not-affected","by":"Dr. Lindqvist"}]`, "Ezra", "Closed"),
		doc(docQNS, `"amount_ul":8}`, `"amount_ul":24,"chloride":20}`, `"amount_ul":11}`, `"amount_ul":24,"chloride":95}`, "Tobias", "Disagree"),
	} {
		s.open(text)
	}
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)), session(cases.MakeDay(2026, 3, 13)))
	book := reminders.Book{Store: s.db, Protocol: func() *cases.Protocol { return s.protocol }}
	for _, now := range []time.Time{s.now.Add(-24 * time.Hour), s.now} {
		s.now = now
		if _, err := book.Keep(t.Context(), cases.DayOf(now)); err != nil {
			t.Fatal(err)
		}
	}
	for _, who := range []string{"wren", "dagny", "ines", "theo"} {
		t.Run(who, func(t *testing.T) {
			c := s.as(who)
			seen, queue := map[string]string{"/": "the address bar"}, []string{"/"}
			for len(queue) > 0 {
				at := queue[0]
				queue = queue[1:]
				p := c.get(at)
				if p.status != 200 {
					t.Errorf("%s, linked from %s: %d %s", at, seen[at], p.status, p.title())
				}
				if p.doc == nil {
					continue
				}
				for _, next := range p.links() {
					if _, ok := seen[next]; !ok {
						seen[next] = at
						queue = append(queue, next)
					}
				}
			}
			t.Logf("%d pages", len(seen))
			if len(seen) < 3 {
				t.Error("hardly any page was found")
			}
		})
	}
}

// links are the addresses on this site that the page leads to.
func (p *page) links() (out []string) {
	htmlcheck.Walk(p.doc, func(n *html.Node) {
		h, _ := htmlcheck.Attr(n, "href")
		h, _, _ = strings.Cut(h, "#")
		_, day := strings.CutPrefix(h, "/overdue/days/")
		day = day && !strings.HasPrefix(h, "/overdue/days/2026-03-0") || strings.HasPrefix(h, "/intake?day=") && !strings.HasPrefix(h, "/intake?day=2026-03-0") // any day has a day before
		if n.Data == "a" && strings.HasPrefix(h, "/") && !day {
			out = append(out, h)
		}
	})
	return out
}
