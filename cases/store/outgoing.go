package store

import (
	"errors"
	"fmt"
	"iter"
	"strings"

	"dunlin/cases"
)

func outgoingTable() *table[cases.Outgoing] {
	return &table[cases.Outgoing]{
		name: "outgoing", fixed: idWidth, strict: true,
		key: func(o *cases.Outgoing) string { return o.ID },
		indexes: []index[cases.Outgoing]{
			{name: "once", version: 1, unique: true, keys: func(o *cases.Outgoing) []string {
				return []string{messageKey(o)}
			}},
			{name: "case", version: 1, keys: func(o *cases.Outgoing) []string { return oneKey(string(o.Case)) }},
			{name: "state", version: 1, keys: func(o *cases.Outgoing) []string { return []string{closed(o.State)} }},
			{name: "number", version: 1, unique: true, keys: func(o *cases.Outgoing) []string { return oneKey(o.Number) }},
		},
	}
}

// Outgoing reads one message; NotFound when there is none.
func (r *reader) Outgoing(id string) (cases.Outgoing, error) {
	return r.db.outgoing.one(r.tx, id, "There is no such message.")
}

// Outgoings gives the messages in a state, or all for "", in order of queueing.
func (r *reader) Outgoings(state string) iter.Seq2[cases.Outgoing, error] {
	return r.db.outgoing.inState(r.tx, state)
}

// OutgoingOf lists the messages about a case, in order of queueing.
func (r *reader) OutgoingOf(id cases.ID) ([]cases.Outgoing, error) {
	if id == "" {
		return nil, nil
	}
	return r.db.outgoing.list(r.tx, r.db.outgoing.keysWith(r.tx, "case", closed(string(id))))
}

// OutgoingByNumber reads the message with a number; NotFound when there is none.
func (r *reader) OutgoingByNumber(number string) (cases.Outgoing, error) {
	id, ok := r.db.outgoing.owner(r.tx, "number", closed(strings.ToUpper(strings.TrimSpace(number))))
	if !ok {
		return cases.Outgoing{}, notFound("There is no message with this number.", errNoRecord)
	}
	return r.Outgoing(id)
}

// PutOutgoing writes a message. A new one, without ID, gets an identifier and a number
// of its own, which no letter has; it is refused as a Conflict when its case has one of
// that kind, occasion and channel. One that is there keeps what it says and what it is
// about.
func (w *writer) PutOutgoing(o cases.Outgoing) (cases.Outgoing, error) {
	if err := o.Check(); err != nil {
		return o, err
	}
	if o.ID == "" {
		o.ID = w.NewID()
	} else if old, err := w.db.outgoing.get(w.tx, o.ID); err == nil {
		if old.Case != o.Case || old.Kind != o.Kind || old.Occasion != o.Occasion || old.By != o.By ||
			old.Number != o.Number || old.Subject != o.Subject || old.Body != o.Body || old.Letter != o.Letter {
			return o, cases.Errorf(cases.Refused, "Message %s cannot become another message: what it says and what it is about stay.", old.Number)
		}
	}
	if o.Case != "" {
		if _, err := w.db.cases.get(w.tx, string(o.Case)); err != nil {
			return o, notFound("The message belongs to no case in the store.", err)
		}
	}
	if o.Number == "" {
		var err error
		if o.Number, err = w.letterNumber(); err != nil {
			return o, err
		}
	}
	done, err := w.db.outgoing.put(w.tx, &o)
	var k *clash
	if errors.As(err, &k) {
		return o, &cases.Error{Kind: cases.Conflict, Err: err,
			Text: fmt.Sprintf("The message %s for %s by %s was already queued.", o.Kind, orWord(o.Occasion, "this case"), o.By)}
	}
	if err != nil {
		return o, err
	}
	return *done.now, nil
}
