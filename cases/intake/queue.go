package intake

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"dunlin/cases"
)

// ErrStopping is the answer of a queue that takes no more documents.
var ErrStopping = errors.New("intake: the queue is stopping; nothing was stored")

// Taker takes several documents in, in one transaction where it can; *Intake is one.
type Taker interface {
	ReceiveAtOnce(ctx context.Context, a cases.Actor, docs []Document) ([]Result, error)
}

// errNotAtOnce ends a transaction that cannot hold all that was given.
var errNotAtOnce = errors.New("intake: too many items for one transaction")

// ReceiveAtOnce takes documents in with one disk sync: their bytes and what becomes of
// them are stored together or not at all. It is for senders that keep a document until
// they are answered. When that fails for whatever reason, or there are too many items,
// it does as ReceiveAll: the bytes first, so that a document which cannot be decided on
// is kept all the same.
func (in *Intake) ReceiveAtOnce(ctx context.Context, actor cases.Actor, docs []Document) ([]Result, error) {
	set, err := in.inForce(ctx)
	if err != nil {
		return nil, err
	}
	tops, jobs := in.beginAll(docs, set)
	err = in.store.Update(ctx, actor, func(w cases.Writer) error {
		if err := keepIn(w, actor, jobs); err != nil {
			return err
		}
		done, err := in.some(w, actor, jobs, 0)
		if err == nil && done < len(jobs) {
			err = errNotAtOnce
		}
		return err
	})
	if err == nil {
		return totals(tops), nil
	}
	return in.ReceiveAll(ctx, actor, docs)
}

// QueueLimits bound what a queue holds; zero values stand for the defaults.
type QueueLimits struct {
	Waiting int           // documents that wait; more callers wait before they hand over (256)
	Batch   int           // documents that share a transaction (128)
	Bytes   int           // bytes that share a transaction (16 MB); one document may be larger
	Time    time.Duration // for one transaction, with waiting for other writers (30 s)
	Linger  time.Duration // for as many documents as the last transaction had (2 ms)
}

func (l *QueueLimits) settle() {
	set := func(v *int, d int) {
		if *v <= 0 {
			*v = d
		}
	}
	set(&l.Waiting, 256)
	set(&l.Batch, 128)
	set(&l.Bytes, 16<<20)
	if l.Time <= 0 {
		l.Time = 30 * time.Second
	}
	if l.Linger <= 0 {
		l.Linger = 2 * time.Millisecond
	}
}

// Queue lets many callers share the disk's syncs: documents that come while one
// transaction runs go into the next one together. Each caller gets its own result,
// and only after the commit. Documents are taken in the order in which they were
// handed over. It is safe for use by several goroutines.
type Queue struct {
	to     Taker
	limits QueueLimits
	line   chan *waiting
	ended  chan struct{}
	last   int // documents of the last transaction; only run uses it

	mu      sync.RWMutex // held for reading while something is put into the line
	stopped bool
}

// waiting is one document in the line.
type waiting struct {
	ctx   context.Context
	actor cases.Actor
	doc   Document
	done  chan struct{} // closed when result and err stand
	r     Result
	err   error
}

// NewQueue starts a queue; Stop ends it.
func NewQueue(to Taker, l QueueLimits) *Queue {
	l.settle()
	q := &Queue{to: to, limits: l, line: make(chan *waiting, l.Waiting), ended: make(chan struct{})}
	go q.run()
	return q
}

// Receive hands one document over and waits until it is stored and decided on. When
// the context ends while the document waits, it is not stored. When it ends later,
// the document may be stored: giving the same bytes again does no harm.
func (q *Queue) Receive(ctx context.Context, a cases.Actor, d Document) (Result, error) {
	w := &waiting{ctx: ctx, actor: a, doc: d, done: make(chan struct{})}
	if err := q.put(w); err != nil {
		return Result{}, err
	}
	select {
	case <-w.done:
		return w.r, w.err
	case <-ctx.Done():
		return Result{}, ctx.Err()
	}
}

func (q *Queue) put(w *waiting) error {
	q.mu.RLock()
	defer q.mu.RUnlock()
	if q.stopped {
		return ErrStopping
	}
	select {
	case q.line <- w:
		return nil
	case <-w.ctx.Done():
		return w.ctx.Err()
	}
}

// Stop takes no more documents and returns when all that wait are done.
func (q *Queue) Stop() {
	q.mu.Lock()
	if !q.stopped {
		q.stopped = true
		close(q.line)
	}
	q.mu.Unlock()
	<-q.ended
}

func (q *Queue) run() {
	defer close(q.ended)
	var next *waiting
	for {
		if next == nil {
			w, ok := <-q.line
			if !ok {
				return
			}
			next = w
		}
		var batch []*waiting
		batch, next = q.gather(next)
		q.last = len(batch)
		q.take(batch)
	}
}

// gather takes what waits, up to the limits and as long as the actor is the same, for
// a transaction has one actor. left is the first that did not fit. Senders that were
// answered together send their next documents within a moment: they are waited for
// a little, so that not one of them alone has the next transaction.
func (q *Queue) gather(first *waiting) (batch []*waiting, left *waiting) {
	batch, size := []*waiting{first}, len(first.doc.Raw)
	var patience <-chan time.Time
	for len(batch) < q.limits.Batch {
		var w *waiting
		ok := true
		select {
		case w, ok = <-q.line:
		default:
			if len(batch) >= q.last {
				return batch, nil
			}
			if patience == nil {
				patience = time.After(q.limits.Linger)
			}
			select {
			case w, ok = <-q.line:
			case <-patience:
				return batch, nil
			}
		}
		if !ok {
			return batch, nil
		}
		if size += len(w.doc.Raw); size > q.limits.Bytes || w.actor != first.actor {
			return batch, w
		}
		batch = append(batch, w)
	}
	return batch, nil
}

// take receives a batch. When it fails, each document is tried alone, so that one
// which cannot be taken in does not keep the others out.
func (q *Queue) take(batch []*waiting) {
	here := batch[:0]
	for _, w := range batch {
		if w.err = w.ctx.Err(); w.err != nil {
			close(w.done)
			continue
		}
		here = append(here, w)
	}
	if len(here) == 0 {
		return
	}
	rs, err := q.receive(here)
	late := errors.Is(err, context.DeadlineExceeded)
	for i, w := range here {
		if i < len(rs) {
			w.r = rs[i]
		}
		if w.err = err; err != nil && len(here) > 1 && !late {
			q.alone(w)
		}
		close(w.done)
	}
}

// alone tries one document again. What the failed batch had finished counts as it
// was, not as a duplicate of itself.
func (q *Queue) alone(w *waiting) {
	before := w.r
	rs, err := q.receive([]*waiting{w})
	w.r, w.err = Result{}, err
	if err == nil {
		w.r = rs[0]
		if w.r.Again && before.Total() == w.r.Total() {
			w.r = before
		}
	}
}

func (q *Queue) receive(batch []*waiting) (rs []Result, err error) {
	defer func() {
		if x := recover(); x != nil {
			rs, err = nil, fmt.Errorf("intake: panic while documents were taken in: %v", x)
		}
	}()
	ctx, cancel := context.WithTimeout(context.Background(), q.limits.Time)
	defer cancel()
	docs := make([]Document, len(batch))
	for i, w := range batch {
		docs[i] = w.doc
	}
	rs, err = q.to.ReceiveAtOnce(ctx, batch[0].actor, docs)
	if err == nil && len(rs) != len(docs) {
		err = fmt.Errorf("intake: %d results for %d documents", len(rs), len(docs))
	}
	return rs, err
}

// Waiting tells how many documents wait for a transaction.
func (q *Queue) Waiting() int { return len(q.line) }
