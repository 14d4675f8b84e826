package web_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/reminders"
	"dunlin/templates/htmlcheck"

	"golang.org/x/net/html"
)

// rows are the references of the list's rows, in order.
func (p *page) rows() (refs []string) {
	htmlcheck.Walk(p.doc, func(n *html.Node) {
		if ref, ok := htmlcheck.Attr(n, "data-ref"); ok {
			refs = append(refs, ref)
		}
	})
	return refs
}

func TestOverdueList(t *testing.T) {
	s := newSite(t)
	qns, two, fresh := s.open(docQNS), s.open(docTwoVariants), s.open(docNew)
	booked := s.open(docBooked)
	c := s.as("wren")
	p := c.get("/overdue").wants(200, "Overdue list", "Thursday 5 March 2026", "3 infants need something today", "OYELARAN, Tobias", "QNS, repeat due", "12 days late",
		"Book a repeat test", "Two variants, refer now", "Call the CF center and primary care", "Presumptive CF", "No voicemail", "Primary care not told", "Showing all 3", reminders.OrderRule)
	if got, want := fmt.Sprint(p.rows()), fmt.Sprint([]string{two.Reference, qns.Reference, fresh.Reference}); got != want {
		t.Errorf("order %s, want %s", got, want)
	}
	if p.find("#row-"+booked.Reference) != nil {
		t.Error("a booked infant is on the list")
	}
	if p.title() != "Overdue list, 3 infants - Dunlin" {
		t.Errorf("title %q", p.title())
	}
	if got := c.get("/overdue?why=qns-repeat-due").rows(); len(got) != 1 || got[0] != qns.Reference {
		t.Errorf("filtered: %v", got)
	}
	c.get("/overdue?why=nothing").wants(200, "No infant has this reason today")
	c.get("/overdue/print").wants(200, "555-0187", "Printed 5 Mar 2026, 08:41, by Wren Castellano")
}

func TestOverdueEmpty(t *testing.T) {
	s := newSite(t)
	c := s.as("wren")
	c.get("/overdue").wants(200, "No infants yet")
	s.open(docBooked)
	c.get("/overdue").wants(200, "Nothing is overdue", "Next due: VANTERPOOL, Ezra", "Fri 6 Mar 2026")
}

// A list over 200 infants goes on to further pages.
func TestOverduePages(t *testing.T) {
	s := newSite(t)
	s.update(func(w cases.Writer) error {
		for i := range 203 {
			k, err := cases.ParseCase([]byte(doc(docNew, "Ida", fmt.Sprintf("Ida %d", i))), cases.DayOf(s.now), s.protocol)
			if err != nil {
				return err
			}
			if _, err := cases.OpenCase(w, s.protocol, k, cases.Event{Kind: "case-opened"}); err != nil {
				return err
			}
		}
		return nil
	})
	c := s.as("wren")
	p := c.get("/overdue").wants(200, "Showing 1 to 200 of 203", "Page 1 of 2")
	if n := len(p.rows()); n != 200 {
		t.Errorf("%d rows", n)
	}
	if n := len(c.get("/overdue?page=2").wants(200, "Showing 201 to 203 of 203", "Page 2 of 2").rows()); n != 3 {
		t.Errorf("%d rows on page 2", n)
	}
	c.get("/overdue?page=9").wants(200, "Page 1 of 2")
}

// The list of a day is kept as it was, and says what became of each infant.
func TestKeptLists(t *testing.T) {
	s := newSite(t)
	qns, fresh := s.open(docQNS), s.open(docNew)
	book := reminders.Book{Store: s.db, Protocol: func() *cases.Protocol { return s.protocol }}
	for _, now := range []time.Time{s.now.Add(-24 * time.Hour), s.now} {
		s.now = now
		if _, err := book.Keep(t.Context(), cases.DayOf(now)); err != nil {
			t.Fatal(err)
		}
	}
	c := s.as("wren")
	c.get("/overdue").wants(200, "Made at 08:41 by the daily job", "Yesterday's list")
	p := c.get("/infants/" + fresh.Reference + "/contacts/new?back=overdue").form("/infants/" + fresh.Reference + "/contacts")
	p.set("with", "primary-care").set("outcome", "talked, understood").send().wants(200, "Contact saved")
	c.get("/infants/"+fresh.Reference+"/contacts/new").form("/infants/"+fresh.Reference+"/contacts").set("outcome", "talked, understood").send().wants(200, "Contact saved")
	c.get("/overdue").wants(200, "Done today", "1 infant left the list", "SORREL-WHITE, Ida", "Contact added", "you.")
	c.get("/overdue/days/2026-03-04").wants(200, "Overdue list of Wednesday 4 March 2026", "kept as it was", "OYELARAN, Tobias", qns.Reference, "On the list: QNS, repeat due")
	c.get("/overdue/days/2026-03-05").wants(200, "SORREL-WHITE, Ida", "Not on the list")
	c.get("/overdue/days/2026-03-01").wants(200, "No list was made on this day")
	s.now = s.now.Add(48 * time.Hour)
	c.get("/overdue").wants(200, "The daily job has not run today", "The last kept list is of 5 Mar 2026")
}

func TestOverdueWithoutRights(t *testing.T) {
	s := newSite(t)
	s.open(docQNS)
	if p := s.as("dagny").get("/overdue"); !strings.Contains(p.body, "Log contact") {
		t.Error("a nurse cannot log contacts from the list")
	}
}
