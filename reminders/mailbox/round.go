package mailbox

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// round is one poll.
type round struct {
	b     *Box
	outer context.Context // for the store: what was fetched is stored though the poll's time is over
	ctx   context.Context // for the connection
	s     *session
	tally Tally

	todo, mend []uint32 // to be taken in; taken in, and not yet marked or moved
	held       []held   // fetched and not yet stored
	bytes      int64    // of held
	failures   int      // of messages, in this poll
	noSeen     bool     // the server does not let messages be marked
}

// held is a document on its way to the store.
type held struct {
	uid     uint32
	outcome string // TooLarge or NotFetched: the document tells of the message
	tries   int    // failures so far
	doc     intake.Document
}

var errMany = errors.New("too many messages could not be fetched or stored; the rest waits for the next poll")

func (r *round) run() (err error) {
	ctx, cancel := context.WithTimeoutCause(r.outer, r.b.o.PollLimit, fmt.Errorf("it took longer than %s", r.b.o.PollLimit))
	defer cancel()
	r.ctx = ctx
	if r.s, err = r.b.signIn(ctx); err != nil {
		return err
	}
	defer func() { r.s.close() }()
	if err = r.b.recall(r.outer, r.s.validity); err != nil {
		return err
	}
	if err = r.look(); err != nil {
		return err
	}
	r.tally.Found, r.tally.Left = len(r.todo), len(r.todo)
	if err = r.finishOld(); err != nil {
		return err
	}
	for part := range slices.Chunk(r.todo, r.b.o.Batch) {
		err = r.take(part)
		// Whatever stopped it: what was fetched is stored.
		if err = errors.Join(err, r.flush()); err != nil {
			return err
		}
	}
	return nil
}

// look lists what is in the folder and not dealt with.
func (r *round) look() error {
	lim := r.b.limits
	for from := uint64(1); from <= uint64(r.s.exists); from += uint64(lim.window) {
		to := min(from+uint64(lim.window)-1, uint64(r.s.exists))
		uids, err := r.s.numbers(uint32(from), uint32(to))
		if err != nil && from > 1 && r.s.alive() {
			break // somebody else took messages away meanwhile
		} else if err != nil {
			return err
		}
		for _, uid := range uids {
			switch k := r.b.known[uid]; {
			case k.Outcome == stillToTake:
				r.todo = append(r.todo, uid)
			case r.unfinished(k):
				r.mend = append(r.mend, uid)
			}
		}
		if len(uids) == 0 || len(r.todo) >= lim.found {
			break
		}
	}
	return nil
}

// unfinished reports whether a message was taken in and then not marked or moved,
// because the connection was lost, or the folder came later.
func (r *round) unfinished(e cases.MailEntry) bool {
	return stored(e.Outcome) && !e.Seen || e.Moved == "" && r.s.folders[r.b.folderFor(e.Outcome)]
}

func (r *round) finishOld() error {
	for part := range slices.Chunk(r.mend, r.b.o.Batch) {
		entries := make([]cases.MailEntry, 0, len(part))
		for _, uid := range part {
			entries = append(entries, r.b.known[uid])
		}
		if err := r.finish(entries); err != nil {
			return err
		}
		if r.noSeen {
			return nil
		}
	}
	return nil
}

// take fetches some messages, one at a time, after asking for their sizes.
func (r *round) take(uids []uint32) error {
	sizes, err := r.s.sizes(uids)
	if err != nil && !r.s.alive() {
		if err = r.reconnect(err); err == nil {
			sizes, err = r.s.sizes(uids)
		}
	}
	if err != nil {
		return err
	}
	for _, uid := range uids {
		if err := r.one(uid, sizes); err != nil {
			return err
		}
		if r.bytes >= r.b.limits.held {
			if err := r.flush(); err != nil {
				return err
			}
		}
	}
	return nil
}

// one fetches a message. The error ends the poll.
func (r *round) one(uid uint32, sizes map[uint32]int64) error {
	size, ok := sizes[uid]
	if !ok {
		return r.failed(uid, errNoBody)
	}
	if size > r.b.o.MaxMessage {
		return r.tooLarge(uid, size)
	}
	raw, err := r.s.fetch(uid, size)
	if err == nil {
		r.hold(held{uid: uid, tries: r.b.known[uid].Tries, doc: r.b.document(uid, raw)})
		return nil
	}
	// A failure counts against the message only if the server still answers.
	if !r.s.alive() {
		if again := r.reconnect(err); again != nil {
			return again
		}
	}
	if errors.Is(err, errTooLarge) {
		return r.tooLarge(uid, r.b.o.MaxMessage+1)
	}
	return r.failed(uid, err)
}

func (r *round) hold(h held) {
	r.held = append(r.held, h)
	r.bytes += int64(len(h.doc.Raw))
}

// reconnect opens a new connection in place of a lost one. When that fails, it
// gives the reason for which the first was lost.
func (r *round) reconnect(why error) error {
	r.b.o.Log.Warn("mailbox: connecting again", "box", r.b.Name(), "err", why)
	if r.ctx.Err() != nil {
		return why
	}
	s, err := r.b.signIn(r.ctx)
	if err != nil {
		return fmt.Errorf("%w; then: %w", why, err)
	}
	r.s.close()
	r.s = s
	if s.validity != r.b.validity {
		return errors.New("the mail server numbered its messages anew meanwhile; the next poll looks at all of them")
	}
	return nil
}

// tooLarge holds a document that tells a person of a message that is not taken in.
func (r *round) tooLarge(uid uint32, size int64) error {
	head, err := r.s.head(uid)
	if err != nil && !r.s.alive() {
		if err := r.reconnect(err); err != nil {
			return err
		}
	}
	r.hold(held{uid: uid, outcome: TooLarge, tries: r.b.known[uid].Tries, doc: r.b.tellTooLarge(uid, size, head)})
	return nil
}

// failed counts a failure against a message; after some, a person is told.
func (r *round) failed(uid uint32, why error) error {
	tries := r.b.known[uid].Tries + 1
	r.b.o.Log.Warn("mailbox: a message was not taken in", "box", r.b.Name(), "uid", uid, "tries", tries, "err", clean(why.Error()))
	if r.failures++; r.failures > r.b.limits.trouble {
		return errMany
	}
	if tries >= r.b.limits.tries {
		r.hold(held{uid: uid, outcome: NotFetched, tries: tries, doc: r.b.tellNotFetched(uid, why)})
		return nil
	}
	e := r.b.entry(uid, stillToTake, "")
	e.Tries = tries
	return r.b.record(r.outer, []cases.MailEntry{e})
}
