package mailbox

import (
	"slices"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// flush stores what is held, records it, and only then marks and moves it.
func (r *round) flush() error {
	if len(r.held) == 0 {
		return nil
	}
	all := r.held
	r.held, r.bytes = nil, 0
	docs := make([]intake.Document, len(all))
	for i := range all {
		docs[i] = all[i].doc
	}
	results, err := r.b.sink.ReceiveAll(r.outer, actor, docs)
	if err != nil || len(results) != len(docs) {
		return r.flushEach(all, err)
	}
	entries := make([]cases.MailEntry, len(all))
	for i, h := range all {
		entries[i] = r.entryOf(h, results[i])
	}
	return r.settle(entries)
}

// flushEach gives the documents to the store one by one, so that one which it cannot
// take does not hold up the others. A store that takes nothing at all cannot record
// the failure either, and ends the poll.
func (r *round) flushEach(all []held, why error) error {
	r.b.o.Log.Warn("mailbox: storing messages one by one", "box", r.b.Name(), "err", why)
	var entries []cases.MailEntry
	for _, h := range all {
		results, err := r.b.sink.ReceiveAll(r.outer, actor, []intake.Document{h.doc})
		if err == nil && len(results) == 1 {
			entries = append(entries, r.entryOf(h, results[0]))
			continue
		}
		if r.outer.Err() != nil {
			return err
		}
		if err := r.notStored(h, err); err != nil {
			return err
		}
	}
	return r.settle(entries)
}

// notStored counts a failure of the store against a message. When a person cannot
// even be told, it is tried again for ever.
func (r *round) notStored(h held, why error) error {
	r.b.o.Log.Error("mailbox: a message could not be stored", "box", r.b.Name(), "uid", h.uid, "err", why)
	if r.failures++; r.failures > r.b.limits.trouble {
		return errMany
	}
	e := r.b.entry(h.uid, stillToTake, "")
	if e.Tries = h.tries + 1; e.Tries >= r.b.limits.tries && h.outcome == "" {
		results, err := r.b.sink.ReceiveAll(r.outer, actor, []intake.Document{r.b.tellNotStored(h.uid, h.doc)})
		if err == nil && len(results) == 1 {
			e.Outcome, e.Hash = NotFetched, results[0].Hash
			r.count(NotFetched)
		}
	}
	return r.b.record(r.outer, []cases.MailEntry{e})
}

func (r *round) entryOf(h held, result intake.Result) cases.MailEntry {
	e := r.b.entry(h.uid, h.outcome, result.Hash)
	if e.Outcome == "" {
		e.Outcome = outcomeOf(result)
	}
	return e
}

// settle records what was stored, counts it, and marks and moves it on the server.
func (r *round) settle(entries []cases.MailEntry) error {
	if err := r.b.record(r.outer, entries); err != nil {
		return err
	}
	for _, e := range entries {
		r.count(e.Outcome)
	}
	if !r.s.alive() {
		return nil // the next poll marks and moves
	}
	return r.finish(entries)
}

func (r *round) count(outcome string) {
	r.tally.Left--
	switch outcome {
	case TakenIn:
		r.tally.Taken++
	case HereBefore:
		r.tally.Again++
	case TooLarge:
		r.tally.TooLarge++
	default:
		r.tally.Trouble++
	}
}

// finish marks messages whose content is stored as seen, moves what can be moved,
// and records both. A refusal is no error: the content is safe.
func (r *round) finish(entries []cases.MailEntry) error {
	lost := r.mark(entries)
	if lost == nil {
		lost = r.move(entries)
	}
	entries = slices.DeleteFunc(entries, func(e cases.MailEntry) bool { return e == r.b.known[e.UID] })
	if err := r.b.record(r.outer, entries); err != nil || lost == nil {
		return err
	}
	return r.reconnect(lost) // the next poll marks and moves the others
}

// mark adds \Seen to those of the messages whose content is stored.
func (r *round) mark(entries []cases.MailEntry) error {
	var uids []uint32
	for _, e := range entries {
		if stored(e.Outcome) && !e.Seen {
			uids = append(uids, e.UID)
		}
	}
	if len(uids) == 0 || r.noSeen {
		return nil
	}
	if err := r.s.markSeen(uids); err != nil {
		r.noSeen = true
		r.b.o.Log.Warn("mailbox: messages cannot be marked as seen", "box", r.b.Name(), "err", clean(err.Error()))
		return r.ifLost(err)
	}
	for i := range entries {
		entries[i].Seen = entries[i].Seen || stored(entries[i].Outcome)
	}
	return nil
}

// move moves the messages to where their outcome belongs, if there is such a folder.
func (r *round) move(entries []cases.MailEntry) error {
	groups := map[string][]uint32{}
	for _, e := range entries {
		if to := r.b.folderFor(e.Outcome); r.s.folders[to] && e.Moved == "" {
			groups[to] = append(groups[to], e.UID)
		}
	}
	for to, uids := range groups {
		if err := r.s.move(uids, to); err != nil {
			r.s.folders[to] = false
			r.b.o.Log.Warn("mailbox: messages cannot be moved", "box", r.b.Name(), "folder", to, "err", clean(err.Error()))
			if err := r.ifLost(err); err != nil {
				return err
			}
			continue
		}
		for i := range entries {
			if slices.Contains(uids, entries[i].UID) {
				entries[i].Moved = to
			}
		}
	}
	return nil
}

// ifLost gives the error if the connection was lost with it.
func (r *round) ifLost(err error) error {
	if r.s.alive() {
		return nil
	}
	return err
}
