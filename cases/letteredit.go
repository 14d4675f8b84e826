package cases

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strings"
	"time"
)

// LetterEdit says who changed the words of one letter, when and why.
type LetterEdit struct {
	At  time.Time `json:"at"`
	By  string    `json:"by"`
	Why string    `json:"why"`
	// ReadBy read the changed words of a letter that says a result, and let them go;
	// Licence is what that person is licensed as.
	ReadBy  string `json:"read_by,omitempty"`
	Licence string `json:"licence,omitempty"`
}

// Sum tells apart the words of a letter before and after a change: hex SHA-256.
func (l *Letter) Sum() string {
	sum := sha256.Sum256(l.Data)
	return hex.EncodeToString(sum[:])
}

// EditLetter gives one letter other words. What it said when it was made is kept and can
// be had back with RestoreLetter. Only a letter that is not printed yet can be changed.
// seen is the Sum of the words that the person saw; other words meanwhile are a Conflict.
// A letter that says a result needs, for the changed words too, a named person and what
// that person is licensed as.
func (d *Desk) EditLetter(ctx context.Context, a Actor, id, seen string, data json.RawMessage, e LetterEdit) error {
	switch {
	case strings.TrimSpace(e.Why) == "":
		return FieldError("why", "Enter why the words are changed")
	case !json.Valid(data):
		return Errorf(Invalid, "The changed letter cannot be read.")
	}
	return d.rewrite(ctx, a, id, seen, Event{Kind: "letter-edited", Text: "Words of a letter changed", Reason: e.Why}, func(l *Letter, now time.Time) error {
		if LetterKindOf(l.Kind).Released && (strings.TrimSpace(e.ReadBy) == "" || strings.TrimSpace(e.Licence) == "") {
			return FieldError("read_by", "Enter who read the changed words, and what that person is licensed as")
		}
		if bytes.Equal(l.Data, data) {
			return FieldError("words", "The words are as they were")
		}
		if l.Original == nil {
			l.Original = l.Data
		}
		l.Data = data
		e.At, e.By = now, a.Name
		l.Edited = &e
		l.Step(now, a.Name, l.State, "Words changed: "+e.Why)
		return nil
	})
}

// RestoreLetter gives a letter the words back with which it was made.
func (d *Desk) RestoreLetter(ctx context.Context, a Actor, id, seen string) error {
	return d.rewrite(ctx, a, id, seen, Event{Kind: "letter-restored", Text: "Words of a letter put back"}, func(l *Letter, now time.Time) error {
		if l.Original == nil {
			return Errorf(Refused, "Letter %s says what it said when it was made.", l.Number)
		}
		l.Data, l.Original, l.Edited = l.Original, nil, nil
		l.Step(now, a.Name, l.State, "Words put back as they were made")
		return nil
	})
}

// rewrite changes the words of one letter, with an entry in the trail of its case.
func (d *Desk) rewrite(ctx context.Context, a Actor, id, seen string, ev Event, f func(*Letter, time.Time) error) error {
	if err := a.need(SendLetters); err != nil {
		return err
	}
	return d.store.Update(ctx, a, func(w Writer) error {
		l, err := w.Letter(id)
		switch {
		case err != nil:
			return err
		case l.State != "to-print" && l.State != "held":
			return Errorf(Refused, "Letter %s is %s. Only a letter that waits to be printed can be changed.", l.Number, l.State)
		case l.Sum() != seen:
			return Errorf(Conflict, "Somebody changed the words of letter %s meanwhile. Open it again.", l.Number)
		}
		if err := f(&l, w.Now()); err != nil {
			return err
		}
		l.Changed = w.Today()
		if _, err := w.PutLetter(l); err != nil {
			return err
		}
		ev.Text += ": " + LetterKindOf(l.Kind).Word + ", number " + l.Number
		if l.Case == "" {
			return w.Note(ev)
		}
		_, err = ChangeIn(w, d.protocol, l.Case, 0, ev, func(*Case, Day) error { return nil })
		return err
	})
}
