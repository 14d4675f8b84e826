package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"dunlin/cases"
)

// lines is the access log, oldest first.
func (s *site) lines() (out []cases.Access) {
	s.t.Helper()
	err := s.db.View(context.Background(), func(r cases.Reader) (err error) {
		if out, _, err = r.Accesses(cases.AccessQuery{}); err != nil {
			return err
		}
		for i := range out {
			if out[i].Infants, err = r.AccessInfants(out[i]); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		s.t.Fatal(err)
	}
	slices.Reverse(out)
	return out
}

// since are the lines written since there were n.
func (s *site) since(n int) []cases.Access { return s.lines()[n:] }

// unlogged names the infants that a page shows, by family name or reference, and that
// its line of the access log does not name.
func unlogged(body string, all []cases.Case, line *cases.Access) (out []string) {
	for i := range all {
		k := &all[i]
		shown := strings.Contains(body, k.Reference) || strings.Contains(strings.ToUpper(body), strings.ToUpper(k.Infant.Family))
		if shown && (line == nil || !slices.Contains(line.Infants, k.Reference)) {
			out = append(out, k.Reference)
		}
	}
	return out
}

// logSite has some infants at different points of their way.
func logSite(t *testing.T) (*site, []cases.Case) {
	s := newSite(t)
	closed := `,"sweat_tests":[{"on":"2026-02-27","site":"alder-bay","collector":"tubing","arms":[{"side":"left","minutes":30,"amount_ul":24,"chloride":17},{"side":"right","minutes":30,"amount_ul":20,"chloride":19}]}]`
	var all []cases.Case
	for _, text := range []string{docQNS, docTwoVariants, docNew, docBooked,
		doc(docBooked, `"bookings"`, `"closures":[{"on":"2026-03-03","as":"lost","by":"Wren Castellano","look_again":"2026-09-03"}],"bookings"`, "Ezra", "Proposed", "Vanterpool", "Quillfeather"),
		doc(docBooked, `,
"bookings":[{"on":"2026-03-06","at":"09:30","site":"alder-bay","state":"booked","changed":"2026-02-21"}]`, closed+`,"genotype":{"scope":"none"},"closures":[{"on":"2026-03-03","as":"not-affected","by":"Dr. Lindqvist"}]`, "Ezra", "Closed", "Vanterpool", "Marrowby")} {
		all = append(all, s.open(text))
	}
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)), session(cases.MakeDay(2026, 3, 13)))
	return s, all
}

// TestEveryLookIsInTheLog opens every page that is linked, as each role: a page that
// shows an infant leaves exactly one line, which names all infants on the page.
//
//asvs:16.1.1 16.2.1
func TestEveryLookIsInTheLog(t *testing.T) {
	s, all := logSite(t)
	for _, who := range []string{"wren", "dagny", "ines", "theo"} {
		c := s.as(who)
		c.http.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
		seen, queue, logged := map[string]bool{"/": true}, []string{"/", "/overdue/print"}, 0
		for len(queue) > 0 {
			at := queue[0]
			queue = queue[1:]
			before := len(s.lines())
			p := c.get(at)
			now := s.since(before)
			var line *cases.Access
			switch len(now) {
			case 0:
			case 1:
				line = &now[0]
				logged++
				if line.By != who+"@x.example" || line.Status != p.status || !strings.HasPrefix(line.Route, "GET /") || line.From != "127.0.0.1" || line.Request == "" || line.Session == "" {
					t.Errorf("%s: %+v", at, line)
				}
			default:
				t.Errorf("%s as %s left %d lines", at, who, len(now))
			}
			if missing := unlogged(p.body, all, line); len(missing) > 0 {
				t.Errorf("%s as %s shows %v, and its line of the access log does not say so: %+v", at, who, missing, line)
			}
			if to := p.head.Get("Location"); to != "" && !seen[to] {
				seen[to] = true
				queue = append(queue, to)
			}
			if p.doc == nil {
				continue
			}
			for _, next := range p.links() {
				if !seen[next] {
					seen[next] = true
					queue = append(queue, next)
				}
			}
		}
		t.Logf("%s: %d pages, %d lines", who, len(seen), logged)
		if who != "theo" && logged < 5 {
			t.Errorf("%s: hardly any page is in the log", who)
		}
	}
	s.noPersonalFacts(all)
}

// noPersonalFacts fails when the log holds a name or number of an infant or family.
func (s *site) noPersonalFacts(all []cases.Case) {
	s.t.Helper()
	text, err := json.Marshal(s.lines())
	if err != nil {
		s.t.Fatal(err)
	}
	for i := range all {
		for _, fact := range []string{all[i].Infant.Family, all[i].Infant.Given} {
			if fact != "" && strings.Contains(string(text), fact) {
				s.t.Errorf("the access log holds %q", fact)
			}
		}
	}
}

// The harness itself: a page whose line leaves out one infant is found.
func TestUnloggedIsFound(t *testing.T) {
	all := []cases.Case{{Reference: "AB-2026-0001", Infant: cases.Infant{Family: "Sorrel"}}, {Reference: "AB-2026-0002", Infant: cases.Infant{Family: "Tern"}}}
	body := `<a href="/infants/AB-2026-0001">Sorrel</a> and Tern`
	if got := unlogged(body, all, &cases.Access{Infants: []string{"AB-2026-0001"}}); !slices.Equal(got, []string{"AB-2026-0002"}) {
		t.Errorf("got %v", got)
	}
	if got := unlogged(body, all, nil); len(got) != 2 {
		t.Errorf("got %v", got)
	}
}

func TestChangesAreInTheLog(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	c := s.as("wren")
	f := c.get("/infants/"+k.Reference+"/name").form("/infants/"+k.Reference+"/name").set("family", "Okoro")
	n := len(s.lines())
	f.send() // saved, then the page of the infant
	got := s.since(n)
	if len(got) != 2 || got[0].Act != cases.ActChange || got[0].Status != 303 || !slices.Equal(got[0].Infants, []string{k.Reference}) || got[1].Act != cases.ActView {
		t.Errorf("%+v", got)
	}
	n = len(s.lines())
	c.get("/infants/"+k.Reference+"/name").form("/infants/"+k.Reference+"/name").set("family", "").send()
	if got := s.since(n); len(got) != 2 || got[1].Outcome() != "not saved" {
		t.Errorf("%+v", got)
	}
}

//asvs:16.3.2
func TestRefusalsAreInTheLog(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	c := s.as("theo")
	n := len(s.lines())
	for _, at := range []string{"/overdue", "/infants/" + k.Reference, "/infants/AB-2099-0001"} {
		c.get(at)
	}
	got := s.since(n)
	if len(got) != 3 {
		t.Fatalf("%+v", got)
	}
	for i, want := range [][]string{nil, {k.Reference}, {"AB-2099-0001"}} {
		if got[i].Outcome() != "refused" || !slices.Equal(got[i].Infants, want) {
			t.Errorf("%+v", got[i])
		}
	}
}

//asvs:16.2.5
func TestSearchesAreInTheLogWithoutTheirText(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	s.open(doc(docQNS, "Tobias", "Tobin", "AB26-000512", "AB26-000513"))
	c := s.as("wren")
	n := len(s.lines())
	c.get("/infants").form("/infants/find").set("q", "oyela").send()
	got := s.since(n)
	last := got[len(got)-1]
	if last.Act != cases.ActSearch || last.Rows != 2 || !slices.Contains(last.Infants, k.Reference) {
		t.Errorf("%+v", last)
	}
	if text := strings.ToLower(fmt.Sprint(got)); strings.Contains(text, "oyela") {
		t.Error("the log holds what was typed")
	}
}

// TestNoLineNoPage: while the log cannot be written nobody sees an infant.
//
//asvs:16.5.3
func TestNoLineNoPage(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	c := s.as("wren")
	s.readOnly.Store(true)
	for _, at := range []string{"/infants/" + k.Reference, "/overdue", "/overdue/print", "/infants", "/schedule"} {
		p := c.get(at).wants(503, "The access log cannot be written")
		if strings.Contains(p.body, "OYELARAN") || strings.Contains(p.body, k.Reference) {
			t.Errorf("%s shows the infant", at)
		}
	}
	c.get("/settings/protocol").wants(200)
	s.readOnly.Store(false)
	c.get("/infants/"+k.Reference).wants(200, "OYELARAN")
}

func TestFilesAreInTheLog(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	c := s.as("wren")
	f := c.get("/infants/"+k.Reference+"/export").form("/infants/"+k.Reference+"/export").set("reason", "Moves to another program")
	n := len(s.lines())
	f.send()
	if got := s.since(n); len(got) != 1 || got[0].Act != cases.ActExport || got[0].Why != "Moves to another program" || !slices.Equal(got[0].Infants, []string{k.Reference}) {
		t.Errorf("%+v", got)
	}
	f = c.get("/reports/exports").form("/reports/exports/cases").set("l_reason", "Handover").set("l_format", "csv")
	n = len(s.lines())
	f.send()
	if got := s.since(n); len(got) != 1 || got[0].Act != cases.ActExport || got[0].Rows != 1 || !slices.Equal(got[0].Infants, []string{k.Reference}) || !strings.HasPrefix(got[0].What, "Line list") {
		t.Errorf("%+v", got)
	}
	n = len(s.lines())
	c.get("/reports/closure")
	c.get("/reports/closure?figures=full")
	if got := s.since(n); len(got) != 1 || got[0].Act != cases.ActView || !strings.Contains(got[0].What, "full figures") {
		t.Errorf("%+v", got)
	}
}
