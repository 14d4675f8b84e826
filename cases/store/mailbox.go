package store

import (
	"fmt"
	"iter"

	"dunlin/cases"
)

func mailTable() *table[cases.MailEntry] {
	return &table[cases.MailEntry]{name: "mail", key: func(m *cases.MailEntry) string {
		return boxKey(m.Box, m.Validity) + fmt.Sprintf("%010d", m.UID)
	}}
}

// boxKey begins the keys of one mailbox while its numbers are valid.
func boxKey(box string, validity uint32) string {
	return closed(box) + fmt.Sprintf("%010d", validity)
}

// MailEntries gives the messages of a mailbox that were dealt with while its
// numbers had one validity, by number.
func (r *reader) MailEntries(box string, validity uint32) iter.Seq2[cases.MailEntry, error] {
	return values(r.db.mail.each(r.tx, scanKeys(r.tx.Bucket([]byte(r.db.mail.name)), boxKey(box, validity), after(boxKey(box, validity)), 0)))
}

// PutMailEntry records what became of one message; doing it again replaces it.
func (w *writer) PutMailEntry(m cases.MailEntry) error {
	if err := checkField("the name of a mailbox", m.Box); err != nil {
		return &cases.Error{Kind: cases.Invalid, Text: "The mailbox cannot be named so.", Err: err}
	}
	if m.At.IsZero() {
		m.At = w.now
	}
	_, err := w.db.mail.put(w.tx, &m)
	return err
}
