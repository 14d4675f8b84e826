package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// TestStopLetsRequestsEnd: a request whose body is half sent when the program is told to
// stop is answered in full, while no new connection is taken.
func TestStopLetsRequestsEnd(t *testing.T) {
	file, _ := adminOf(t, "")
	address, stop := serveFor(t, file)
	pages := strings.TrimPrefix(address, "http://")
	c, err := net.Dial("tcp", pages)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	c.SetDeadline(time.Now().Add(20 * time.Second))
	body := "email=nobody%40example.org&password=x"
	fmt.Fprintf(c, "POST /sign-in HTTP/1.1\r\nHost: %s\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: %d\r\n\r\n%s", pages, len(body), body[:10])
	time.Sleep(100 * time.Millisecond) // until it is under way
	stopped := make(chan struct{})
	go func() {
		stop()
		close(stopped)
	}()
	refused := false
	for range 200 {
		other, err := net.DialTimeout("tcp", pages, time.Second)
		if refused = err != nil; refused {
			break
		}
		other.Close()
		time.Sleep(10 * time.Millisecond)
	}
	if !refused {
		t.Error("new connections are taken while the program stops")
	}
	select {
	case <-stopped:
		t.Fatal("the program stopped before the request was answered")
	default:
	}
	io.WriteString(c, body[10:])
	resp, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil {
		t.Fatalf("the request was cut off: %v", err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil || !strings.Contains(string(text), "</html>") {
		t.Errorf("the answer is not whole: %d %v %q", resp.StatusCode, err, text)
	}
	<-stopped
}

// stopsAfter is a store whose context ends after some changes, as when the program is
// told to stop in the middle of a job.
type stopsAfter struct {
	cases.Store
	left int
	end  context.CancelFunc
}

func (s *stopsAfter) Update(ctx context.Context, a cases.Actor, f func(cases.Writer) error) error {
	err := s.Store.Update(ctx, a, f)
	if s.left--; s.left == 0 {
		s.end()
	}
	return err
}

// TestStopBetweenLetters stops the making of letters after each number of steps: what was
// made is whole, and the next run makes exactly the rest.
func TestStopBetweenLetters(t *testing.T) {
	const families = 4
	for after := 1; after <= families; after++ {
		s := siteWithFamilies(t, families)
		today, err := s.today(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		p, err := s.press(nil)
		if err != nil {
			t.Fatal(err)
		}
		ctx, end := context.WithCancel(t.Context())
		p.Store = &stopsAfter{s.db, after, end}
		tally, err := p.Run(ctx, today)
		if !errors.Is(err, context.Canceled) || len(tally.Made) != after {
			t.Fatalf("stopped after %d: %d made, %v", after, len(tally.Made), err)
		}
		p.Store = s.db
		if tally, err = p.Run(t.Context(), today); err != nil || len(tally.Made) != families-after {
			t.Errorf("stopped after %d: then %d made, %v", after, len(tally.Made), err)
		}
		if problems, err := s.db.Check(t.Context()); err != nil || len(problems) > 0 {
			t.Errorf("stopped after %d: %v %v", after, problems, err)
		}
		end()
	}
}

// siteWithFamilies has some reached families whose first notice is due.
func siteWithFamilies(t *testing.T, n int) *site {
	t.Helper()
	cfg, err := demoConfig(filepath.Join(t.TempDir(), "p.db"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := openSite(cfg, false, longWait, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.close() })
	today, err := s.today(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	a := cases.Actor{ID: "a", Name: "A. Tern", Role: cases.Coordinator}
	for i := range n {
		_, err := s.desk.Open(t.Context(), a, cases.Case{
			Infant: cases.Infant{Given: "Ada", Family: fmt.Sprintf("Wren%c", 'a'+i), Born: today - cases.Day(10+i), Gestation: 39 * 7, BirthWeightG: 3200}, Referral: cases.Referral{On: today - 1, Route: "screen"},
			Contacts: []cases.Contact{{On: today - 1, With: "family", By: "phone", Reached: true}},
			Family: &cases.Family{Language: "en", Guardians: []cases.Guardian{{Given: "Ruth", Family: "Wren", Relation: "mother", Letters: true,
				Address: &cases.Address{Lines: []string{fmt.Sprintf("%d Curlew Lane", 14+i)}, City: "Alder Bay", Region: "AB", Postal: "00014"}}}},
		}, cases.Event{Kind: "opened"})
		if err != nil {
			t.Fatal(err)
		}
	}
	return s
}
