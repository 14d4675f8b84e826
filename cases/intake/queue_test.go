package intake_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// gate is an intake whose transactions wait until they are let through.
type gate struct {
	mu      sync.Mutex
	open    chan struct{}
	entered chan int // the number of documents of each call
	calls   [][]string
	fail    func(docs []intake.Document) error
}

func newGate() *gate { return &gate{open: make(chan struct{}), entered: make(chan int, 100)} }

func (g *gate) ReceiveAtOnce(ctx context.Context, a cases.Actor, docs []intake.Document) ([]intake.Result, error) {
	g.entered <- len(docs)
	select {
	case <-g.open:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	names, out := []string{}, []intake.Result{}
	for _, d := range docs {
		names = append(names, a.ID+"/"+d.Name)
		out = append(out, intake.Result{Name: d.Name, Counts: map[intake.Outcome]int{intake.NoCase: 1}})
	}
	g.calls = append(g.calls, names)
	if g.fail != nil {
		if err := g.fail(docs); err != nil {
			return make([]intake.Result, len(docs)), err
		}
	}
	return out, nil
}

// hand hands documents over one after the other, each by its own caller, the first
// of them into a transaction that waits.
func (g *gate) hand(t *testing.T, q *intake.Queue, ctxs []context.Context, docs ...string) (answers []chan error) {
	t.Helper()
	for i, n := range docs {
		c := make(chan error, 1)
		answers = append(answers, c)
		who, name, _ := strings.Cut(n, "/")
		ctx := context.Background()
		if i < len(ctxs) && ctxs[i] != nil {
			ctx = ctxs[i]
		}
		started := make(chan struct{})
		go func() {
			close(started)
			r, err := q.Receive(ctx, cases.Actor{ID: who}, intake.Document{Name: name, Raw: []byte(name)})
			if err == nil && r.Name != name {
				err = fmt.Errorf("%s was given the result of %s", name, r.Name)
			}
			c <- err
		}()
		<-started
		if i == 0 {
			<-g.entered
			continue
		}
		waitFor(t, func() bool { return q.Waiting() == i })
	}
	return answers
}

func waitFor(t *testing.T, f func() bool) {
	t.Helper()
	for range 5000 {
		if f() {
			return
		}
		time.Sleep(time.Millisecond)
	}
	t.Fatal("waited in vain")
}

// TestQueueShares: what comes while a transaction runs shares the next one, in
// order, and a change of the actor begins another.
func TestQueueShares(t *testing.T) {
	g := newGate()
	q := intake.NewQueue(g, intake.QueueLimits{})
	as := g.hand(t, q, nil, "a/1", "a/2", "a/3", "b/4", "a/5")
	close(g.open)
	for _, a := range as {
		if err := <-a; err != nil {
			t.Error(err)
		}
	}
	q.Stop()
	eq(t, "calls", fmt.Sprint(g.calls), "[[a/1] [a/2 a/3] [b/4] [a/5]]")
	if _, err := q.Receive(context.Background(), cases.Actor{}, intake.Document{}); !errors.Is(err, intake.ErrStopping) {
		t.Errorf("a stopped queue answers %v", err)
	}
	q.Stop() // again does no harm
}

// TestQueueOneBad: a document that makes its transaction fail keeps no other out.
func TestQueueOneBad(t *testing.T) {
	g := newGate()
	bad := errors.New("made to fail")
	g.fail = func(docs []intake.Document) error {
		if slices.ContainsFunc(docs, func(d intake.Document) bool { return d.Name == "3" }) {
			return bad
		}
		return nil
	}
	q := intake.NewQueue(g, intake.QueueLimits{})
	as := g.hand(t, q, nil, "a/1", "a/2", "a/3", "a/4")
	close(g.open)
	for i, a := range as {
		if err := <-a; (i == 2) != errors.Is(err, bad) || i != 2 && err != nil {
			t.Errorf("document %d: %v", i+1, err)
		}
	}
	q.Stop()
	eq(t, "calls", fmt.Sprint(g.calls), "[[a/1] [a/2 a/3 a/4] [a/2] [a/3] [a/4]]")
}

// TestQueueGivesUp: a caller that leaves while its document waits stores nothing,
// and a full line holds callers back until they leave.
func TestQueueGivesUp(t *testing.T) {
	g := newGate()
	q := intake.NewQueue(g, intake.QueueLimits{Waiting: 2})
	ctx, leave := context.WithCancel(context.Background())
	as := g.hand(t, q, []context.Context{nil, ctx}, "a/1", "a/2", "a/3")
	short, cancel := context.WithTimeout(context.Background(), 20*time.Millisecond)
	defer cancel()
	if _, err := q.Receive(short, cases.Actor{}, intake.Document{Name: "4"}); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("a full line answers %v", err)
	}
	leave()
	if err := <-as[1]; !errors.Is(err, context.Canceled) {
		t.Errorf("who left was told %v", err)
	}
	close(g.open)
	q.Stop()
	eq(t, "calls", fmt.Sprint(g.calls), "[[a/1] [a/3]]")
}

// TestQueueLate: a transaction that does not begin in time fails for all that were
// in it, once, and the queue goes on.
func TestQueueLate(t *testing.T) {
	g := newGate()
	q := intake.NewQueue(g, intake.QueueLimits{Time: 30 * time.Millisecond})
	as := g.hand(t, q, nil, "a/1")
	if err := <-as[0]; !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("%v", err)
	}
	close(g.open)
	if _, err := q.Receive(context.Background(), cases.Actor{}, intake.Document{Name: "2"}); err != nil {
		t.Error(err)
	}
	q.Stop()
}

// TestQueuePanic: a panic is an error for its callers; the queue goes on.
func TestQueuePanic(t *testing.T) {
	g := newGate()
	close(g.open)
	g.fail = func(docs []intake.Document) error {
		if docs[0].Name == "1" {
			panic("made to fail")
		}
		return nil
	}
	q := intake.NewQueue(g, intake.QueueLimits{})
	if _, err := q.Receive(context.Background(), cases.Actor{}, intake.Document{Name: "1"}); err == nil {
		t.Error("no error")
	}
	if _, err := q.Receive(context.Background(), cases.Actor{}, intake.Document{Name: "2"}); err != nil {
		t.Error(err)
	}
	q.Stop()
}

// TestQueueOnTheStore: many callers over the real store; every item is counted once
// and each caller has the result of its own document.
func TestQueueOnTheStore(t *testing.T) {
	b := newBench(t, intake.Settings{})
	q := intake.NewQueue(b.in, intake.QueueLimits{})
	docs := thousand(t, 200)
	var wg sync.WaitGroup
	var mu sync.Mutex
	total := map[intake.Outcome]int{}
	for _, d := range docs {
		wg.Add(1)
		go func() {
			defer wg.Done()
			r, err := q.Receive(context.Background(), importer, d)
			if err != nil || r.Name != d.Name || r.Total() != 1 || r.Again {
				t.Errorf("%s: %+v, %v", d.Name, r, err)
			}
			mu.Lock()
			defer mu.Unlock()
			for o, n := range r.Counts {
				total[o] += n
			}
		}()
	}
	wg.Wait()
	q.Stop()
	eq(t, "outcomes", fmt.Sprint(total), "map[no-case:180 opened:20]")
	b.view(func(r cases.Reader) error {
		counts, err := r.ItemCounts(0)
		eq(t, "items", fmt.Sprint(counts), "map[no-case:180 opened:20]")
		return err
	})
}

// afterwards is an intake whose first call fails after all was committed.
type afterwards struct {
	to     *intake.Intake
	failed bool
}

func (a *afterwards) ReceiveAtOnce(ctx context.Context, who cases.Actor, docs []intake.Document) ([]intake.Result, error) {
	rs, err := a.to.ReceiveAtOnce(ctx, who, docs)
	if len(docs) > 1 && !a.failed {
		a.failed = true
		return rs, errors.New("made to fail")
	}
	return rs, err
}

// TestQueueFinishedBefore: what was committed before a transaction failed is no
// duplicate of itself.
func TestQueueFinishedBefore(t *testing.T) {
	b := newBench(t, intake.Settings{})
	q := intake.NewQueue(&afterwards{to: b.in}, intake.QueueLimits{})
	var wg sync.WaitGroup
	for _, d := range thousand(t, 40) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			r, err := q.Receive(context.Background(), importer, d)
			if err != nil || r.Again || r.Counts[intake.Duplicate] > 0 {
				t.Errorf("%s: %+v, %v", d.Name, r, err)
			}
		}()
	}
	wg.Wait()
	q.Stop()
}
