package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"iter"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
)

const (
	benchOpen    = 100_000
	benchOverdue = 1_000
)

// benchCases makes open cases of ordinary length, of which some are overdue; the
// others are told, booked and wait.
func benchCases(today cases.Day) iter.Seq[cases.Case] {
	return func(yield func(cases.Case) bool) {
		irt := 96.4
		for i := range benchOpen {
			born := today - 16 - cases.Day(i%5)
			ref := today - 6
			c := cases.Case{
				Document: cases.DocumentName, Reference: fmt.Sprintf("AB-%d-%06d", 2020+i%6, i),
				Infant: cases.Infant{Given: "Given" + strconv.Itoa(i%997), Family: "Family" + strconv.Itoa(i%4999), Sex: "female", Born: born,
					Plurality: 1, Gestation: 39*7 + 2, BirthWeightG: 3200, Weights: []cases.Weight{{On: born + 10, G: 3290}}},
				Referral: cases.Referral{On: ref, Route: "screen", Screen: &cases.Screen{Collected: born + 1, Reported: born + 6, Accession: fmt.Sprintf("AB26-%06d", i), IRTNgML: &irt}},
				Genotype: &cases.Genotype{Reported: ref, Scope: "panel", Variants: []cases.Variant{{Name: "F508del", Phase: "unknown"}}},
				Contacts: []cases.Contact{
					{On: ref, With: "primary-care", By: "phone", Reached: true, Outcome: "talked, understood", Staff: "A. Tern"},
					{On: ref + 1, With: "family", By: "phone", Reached: true, Outcome: "talked, understood", Staff: "A. Tern", Used: "555-0187"},
				},
				Family: &cases.Family{Mother: "Mother Family", Language: "en", Guardians: []cases.Guardian{{Given: "Mother", Family: "Family", Relation: "mother",
					Phones: []cases.Phone{{Number: "555-0187"}}, Address: &cases.Address{Lines: []string{"14 Curlew Lane"}, City: "Alder Bay", Region: "AB", Postal: "00014"}}}},
			}
			booked := cases.Booking{On: today + 5, At: "09:30", Site: "alder-bay", State: "booked", Changed: ref + 1}
			if i%(benchOpen/benchOverdue) == 0 {
				booked.On, booked.State, booked.Changed = today-4, "missed", today-4
			}
			c.Bookings = []cases.Booking{booked}
			if !yield(c) {
				return
			}
		}
	}
}

// benchSite is a store of 100,000 open cases, served without a network.
type benchSite struct {
	s       *site
	handler http.Handler
	cookie  *http.Cookie
}

func newBenchSite(b *testing.B) *benchSite {
	b.Helper()
	cfg, err := demoConfig(filepath.Join(b.TempDir(), "bench.db"))
	if err != nil {
		b.Fatal(err)
	}
	db, err := store.Open(cfg.Store, store.Options{Zone: cfg.zone, Protocol: cfg.protocol})
	if err != nil {
		b.Fatal(err)
	}
	by := cases.Actor{ID: "bench", Name: "Bench", Role: cases.System}
	if _, err := db.Load(context.Background(), by, benchCases(cases.DayOf(time.Now().In(cfg.zone))), cases.Event{Kind: "loaded"}); err != nil {
		b.Fatal(err)
	}
	if err := db.Close(); err != nil {
		b.Fatal(err)
	}
	d := &benchSite{}
	began := time.Now()
	if d.s, err = openSite(cfg, true, longWait, nil); err != nil {
		b.Fatal(err)
	}
	b.Logf("start-up on %d cases after a clean stop: %s", benchOpen, time.Since(began).Round(time.Millisecond/10))
	b.Cleanup(func() {
		if err := d.s.close(); err != nil {
			b.Error(err)
		}
	})
	o := &op{Command: "account", Account: account{Do: "add", ID: demoIDs[0].id, Name: demoIDs[0].name, Role: string(cases.Coordinator), Password: demoPassword}}
	if _, err := o.account(context.Background(), d.s, &bytes.Buffer{}); err != nil {
		b.Fatal(err)
	}
	if d.handler, err = pages(d.s, serving{log: slog.New(slog.DiscardHandler), now: time.Now, madeUp: true}, &working{}); err != nil {
		b.Fatal(err)
	}
	page := d.get(b, "/sign-in", http.StatusOK)
	d.post(b, "/sign-in", url.Values{"csrf": {field(b, page, "csrf")}, "email": {demoIDs[0].id}, "password": {demoPassword}})
	return d
}

func (d *benchSite) do(b *testing.B, r *http.Request, want int) string {
	if d.cookie != nil {
		r.AddCookie(d.cookie)
	}
	w := httptest.NewRecorder()
	d.handler.ServeHTTP(w, r)
	if w.Code != want {
		b.Fatalf("%s %s: %d", r.Method, r.URL.Path, w.Code)
	}
	for _, c := range w.Result().Cookies() {
		d.cookie = c
	}
	return w.Body.String()
}

func (d *benchSite) get(b *testing.B, path string, want int) string {
	return d.do(b, httptest.NewRequest(http.MethodGet, path, nil), want)
}

func (d *benchSite) post(b *testing.B, path string, v url.Values) {
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(v.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	d.do(b, r, http.StatusSeeOther)
}

func field(b *testing.B, page, name string) string {
	m := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(page)
	if m == nil {
		b.Fatalf("the page has no field %s", name)
	}
	return m[1]
}

// anonymousMB is the anonymous resident memory of this process in MB, which leaves
// the mapped store out.
func anonymousMB() float64 {
	f, err := os.Open("/proc/self/status")
	if err != nil {
		return 0
	}
	defer f.Close()
	for s := bufio.NewScanner(f); s.Scan(); {
		if rest, ok := strings.CutPrefix(s.Text(), "RssAnon:"); ok {
			kb, _ := strconv.ParseFloat(strings.Fields(rest)[0], 64)
			return kb / 1024
		}
	}
	return 0
}

// BenchmarkPages measures the running program on 100,000 open cases, 1,000 of them
// overdue: whole requests with session, rights, rendering.
func BenchmarkPages(b *testing.B) {
	d := newBenchSite(b)
	ref := "AB-2020-000000"
	b.Run("overdue", func(b *testing.B) {
		for b.Loop() {
			d.get(b, "/overdue", http.StatusOK)
		}
		b.ReportMetric(anonymousMB(), "anon-MB")
	})
	b.Run("overdue-list", func(b *testing.B) { // the list alone, without the page
		for b.Loop() {
			page, err := d.s.book.Today(context.Background())
			if err != nil || len(page.Items) != benchOverdue {
				b.Fatalf("%d on the list, %v", len(page.Items), err)
			}
		}
		b.ReportMetric(anonymousMB(), "anon-MB")
	})
	b.Run("infant", func(b *testing.B) {
		for b.Loop() {
			d.get(b, "/infants/"+ref, http.StatusOK)
		}
		b.ReportMetric(anonymousMB(), "anon-MB")
	})
	b.Run("record-contact", func(b *testing.B) { // one fact, synced
		for i := 0; b.Loop(); i++ { // another infant each time, so that no case grows
			b.StopTimer()
			ref := fmt.Sprintf("AB-%d-%06d", 2020+i%6, i)
			page := d.get(b, "/infants/"+ref+"/contacts/new", http.StatusOK)
			v := url.Values{"with": {"family"}, "by": {"phone"}, "outcome": {"no answer"}, "on": {"today"}}
			for _, name := range []string{"csrf", "once", "rev"} {
				v.Set(name, field(b, page, name))
			}
			b.StartTimer()
			d.post(b, "/infants/"+ref+"/contacts", v)
		}
		b.ReportMetric(anonymousMB(), "anon-MB")
	})
}
