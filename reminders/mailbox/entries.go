package mailbox

import (
	"context"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// What became of a message, as its entry in the store says.
const (
	TakenIn     = "taken in"
	HereBefore  = "here before"
	Unreadable  = "taken in; something in it cannot be read"
	TooLarge    = "too large; a person is told"
	NotFetched  = "could not be fetched; a person is told"
	stillToTake = "" // failed so far, and to be tried again
)

// stored reports whether the message's own bytes are in the store.
func stored(outcome string) bool {
	return outcome == TakenIn || outcome == HereBefore || outcome == Unreadable
}

// recall reads what is known of the folder while its numbers have a validity.
func (b *Box) recall(ctx context.Context, validity uint32) error {
	if b.known != nil && b.validity == validity {
		return nil
	}
	m := map[uint32]cases.MailEntry{}
	err := b.store.View(ctx, func(r cases.Reader) error {
		for e, err := range r.MailEntries(b.Name(), validity) {
			if err != nil {
				return err
			}
			m[e.UID] = e
		}
		return nil
	})
	if err == nil {
		b.known, b.validity = m, validity
	}
	return err
}

// record writes entries, and then remembers them.
func (b *Box) record(ctx context.Context, entries []cases.MailEntry) error {
	if len(entries) == 0 {
		return nil
	}
	err := b.store.Update(ctx, actor, func(w cases.Writer) error {
		for _, e := range entries {
			if err := w.PutMailEntry(e); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, e := range entries {
		b.known[e.UID] = e
	}
	return nil
}

func (b *Box) entry(uid uint32, outcome, hash string) cases.MailEntry {
	return cases.MailEntry{Box: b.Name(), Validity: b.validity, UID: uid, Hash: hash, At: b.o.Now(), Outcome: outcome}
}

// outcomeOf reads from intake's result what became of a message.
func outcomeOf(r intake.Result) string {
	if r.Again {
		return HereBefore
	}
	for _, it := range r.Items {
		if it.Outcome == string(intake.Review) && it.Kind == intake.KindCannot {
			return Unreadable
		}
	}
	return TakenIn
}

// folderFor says where a message with an outcome goes.
func (b *Box) folderFor(outcome string) string {
	switch outcome {
	case TakenIn, HereBefore:
		return b.o.Handled
	case stillToTake:
		return ""
	}
	return b.o.Trouble
}
