package store

import (
	"bytes"
	"encoding/base32"
	"errors"
	"fmt"
	"io"
	"iter"
	"strings"

	"dunlin/cases"
)

func letterTable() *table[cases.Letter] {
	return &table[cases.Letter]{
		name: "letters", fixed: idWidth, strict: true,
		key: func(l *cases.Letter) string { return l.ID },
		indexes: []index[cases.Letter]{
			{name: "once", version: 1, unique: true, keys: func(l *cases.Letter) []string {
				return []string{letterKey(l)}
			}},
			{name: "case", version: 1, keys: func(l *cases.Letter) []string { return []string{string(l.Case) + keyEnd} }},
			{name: "state", version: 1, keys: func(l *cases.Letter) []string { return []string{closed(l.State)} }},
			{name: "number", version: 1, unique: true, keys: func(l *cases.Letter) []string { return oneKey(l.Number) }},
			{name: "changed", version: 1, keys: func(l *cases.Letter) []string {
				return []string{closed(l.State) + closed(l.Changed.String()) + closed(l.Kind)}
			}},
			{name: "run", version: 1, keys: func(l *cases.Letter) []string { return oneKey(l.PrintRun) }},
			{name: "tracking", version: 1, keys: func(l *cases.Letter) []string { return oneKey(l.Tracking) }},
		},
	}
}

// Letter reads one letter; NotFound when there is none.
func (r *reader) Letter(id string) (cases.Letter, error) {
	return r.db.letters.one(r.tx, id, "There is no such letter.")
}

// Letters gives the letters in a state, or all for "", in order of making.
func (r *reader) Letters(state string) iter.Seq2[cases.Letter, error] {
	return r.db.letters.inState(r.tx, state)
}

// LettersOf lists the letters of a case, in order of making; "" those of no case.
func (r *reader) LettersOf(id cases.ID) ([]cases.Letter, error) {
	return r.db.letters.list(r.tx, r.db.letters.keysWith(r.tx, "case", string(id)+keyEnd))
}

// LatestLetters gives up to most letters in a state whose kind fits, those changed last
// first (of one day in no order), and counts all that fit. Only those given are read.
func (r *reader) LatestLetters(state string, fits func(kind string) bool, most int) ([]cases.Letter, int, error) {
	var ids []string
	n := 0
	prefix := []byte(closed(state))
	b := r.tx.Bucket([]byte("letters.changed"))
	cur := b.Cursor()
	k, _ := cur.Seek([]byte(after(string(prefix))))
	if k == nil {
		k, _ = cur.Last()
	} else {
		k, _ = cur.Prev()
	}
	for ; bytes.HasPrefix(k, prefix); k, _ = cur.Prev() {
		rest, id := k[len(prefix):len(k)-idWidth], k[len(k)-idWidth:]
		_, kind, _ := strings.Cut(string(rest), keyEnd)
		if fits != nil && !fits(strings.TrimSuffix(kind, keyEnd)) {
			continue
		}
		if n++; len(ids) < most {
			ids = append(ids, string(id))
		}
	}
	list, err := r.db.letters.list(r.tx, ids)
	return list, n, err
}

// LettersOfRun gives the letters of a print run, in order of making.
func (r *reader) LettersOfRun(run string) ([]cases.Letter, error) {
	if run == "" {
		return nil, nil
	}
	return r.db.letters.list(r.tx, r.db.letters.keysWith(r.tx, "run", closed(run)))
}

// LettersTracked gives the letters with a tracking number.
func (r *reader) LettersTracked(number string) ([]cases.Letter, error) {
	if number == "" {
		return nil, nil
	}
	return r.db.letters.list(r.tx, r.db.letters.keysWith(r.tx, "tracking", closed(number)))
}

// LetterByNumber reads the letter with a printed number; NotFound when there is none.
func (r *reader) LetterByNumber(number string) (cases.Letter, error) {
	id, ok := r.db.letters.owner(r.tx, "number", closed(strings.ToUpper(strings.TrimSpace(number))))
	if !ok {
		return cases.Letter{}, notFound("There is no letter with this number.", errNoRecord)
	}
	return r.Letter(id)
}

// PutLetter writes a letter. A new one, without ID, gets an identifier and,
// unless it has one, a number that says nothing of the case; it is refused as a
// Conflict when its case has a letter of that kind and occasion. A letter that
// is there keeps its case, kind, occasion and number.
func (w *writer) PutLetter(l cases.Letter) (cases.Letter, error) {
	if l.ID == "" {
		l.ID = w.NewID()
	} else if old, err := w.db.letters.get(w.tx, l.ID); err == nil {
		if old.Case != l.Case || old.Kind != l.Kind || old.Occasion != l.Occasion || old.Number != l.Number {
			return l, cases.Errorf(cases.Refused, "Letter %s cannot become another letter: case, kind, occasion and number stay.", old.Number)
		}
	}
	if l.Case == "" && cases.LetterKindOf(l.Kind).To == cases.ToClinic {
		// A list of the day is of no case.
	} else if _, err := w.db.cases.get(w.tx, string(l.Case)); err != nil {
		return l, notFound("The letter belongs to no case in the store.", err)
	}
	if l.Number == "" {
		var err error
		if l.Number, err = w.letterNumber(); err != nil {
			return l, err
		}
	}
	done, err := w.db.letters.put(w.tx, &l)
	var k *clash
	if errors.As(err, &k) {
		return l, &cases.Error{Kind: cases.Conflict, Err: err,
			Text: fmt.Sprintf("The letter %s for %s was already made.", l.Kind, orWord(l.Occasion, "this case"))}
	}
	if err != nil {
		return l, err
	}
	return *done.now, nil
}

func orWord(s, word string) string {
	if s == "" {
		return word
	}
	return s
}

// spoken leaves out letters and digits that are taken for each other.
var spoken = base32.NewEncoding("23456789ABCDEFGHJKLMNPQRSTUVWXYZ").WithPadding(base32.NoPadding)

// letterNumber is eight random signs, printed on the letter or sent with the message,
// that no letter and no message has.
func (w *writer) letterNumber() (string, error) {
	for {
		var b [5]byte
		if _, err := io.ReadFull(w.db.opt.Rand, b[:]); err != nil {
			return "", fmt.Errorf("make a letter number: %w", err)
		}
		n := spoken.EncodeToString(b[:])
		_, letter := w.db.letters.owner(w.tx, "number", closed(n))
		_, message := w.db.outgoing.owner(w.tx, "number", closed(n))
		if !letter && !message {
			return n, nil
		}
	}
}
