package store

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"

	"dunlin/cases"
)

// eraser takes out of the store all that is kept of some cases. What it meets beside
// them, such as a list of a day or a sibling's case, loses the line or reference.
type eraser struct {
	w       *writer
	ids     []cases.ID
	refs    []string
	needles [][]byte // texts that lead to the infant in records of nobody
	e       cases.Erasure
}

// Erase removes a case with its letters, messages, items, lines of kept lists and audit
// entries, and the documents that name no other infant. It writes an entry with e, the
// counts filled in, which carries no personal fact. A legal hold is refused. Copies made
// earlier, and the free space of the file until it is compacted, still hold the bytes.
func (w *writer) Erase(id cases.ID, e cases.Erasure, ev cases.Event) (cases.Erasure, error) {
	c, err := w.Case(id)
	if err != nil {
		return e, err
	}
	if into := c.MergedInto(); into != "" {
		return e, cases.Errorf(cases.Refused, "%s was merged into %s and goes with it.", c.Reference, into)
	}
	x := &eraser{w: w, e: e}
	all := []cases.Case{c}
	for _, m := range c.Merged {
		dup, err := w.ByReference(m.Reference)
		if err != nil {
			return e, err
		}
		all = append(all, dup)
	}
	for i := range all {
		if h := all[i].HeldLegally(w.Today()); h != nil {
			return e, cases.Errorf(cases.Refused, "%s is under a legal hold since %s, placed by %s. Nothing of it may be erased.", all[i].Reference, h.On, h.By)
		}
		x.ids = append(x.ids, all[i].ID)
		x.refs = append(x.refs, all[i].Reference)
		x.needles = append(x.needles, []byte(all[i].ID), []byte(all[i].Reference))
	}
	for _, part := range []func() error{x.letters, x.items, x.lists, x.tokens, x.records, x.neighbors} {
		if err := part(); err != nil {
			return e, err
		}
	}
	if err := x.trail(ev); err != nil {
		return e, err
	}
	return x.e, nil
}

// letters removes letters and messages.
func (x *eraser) letters() error {
	db, tx := x.w.db, x.w.tx
	for _, id := range x.ids {
		letters, err := x.w.LettersOf(id)
		if err != nil {
			return err
		}
		for i := range letters {
			x.needles = append(x.needles, []byte(letters[i].ID), []byte(letters[i].Number))
			if err := db.letters.delete(tx, letters[i].ID); err != nil {
				return err
			}
		}
		messages, err := x.w.OutgoingOf(id)
		if err != nil {
			return err
		}
		for i := range messages {
			x.needles = append(x.needles, []byte(messages[i].ID), []byte(messages[i].Number))
			if err := db.outgoing.delete(tx, messages[i].ID); err != nil {
				return err
			}
		}
		x.e.Letters += len(letters)
		x.e.Messages += len(messages)
	}
	return nil
}

// items removes the items of the cases, then the documents in which nothing else is.
func (x *eraser) items() error {
	var documents []string
	for _, id := range x.ids {
		items, err := x.w.ItemsOfCase(id)
		if err != nil {
			return err
		}
		for i := range items {
			x.needles = append(x.needles, []byte(items[i].ID))
			documents = appendNew(documents, items[i].Document)
			if err := x.w.db.items.delete(x.w.tx, items[i].ID); err != nil {
				return err
			}
		}
		x.e.Items += len(items)
	}
	if err := x.documents(documents); err != nil {
		return err
	}
	return rewrite(x, x.w.db.items, func(i *cases.Item) bool {
		n := len(i.Related)
		i.Related = slices.DeleteFunc(i.Related, func(ref string) bool { return slices.Contains(x.refs, ref) })
		return len(i.Related) != n
	})
}

// lists takes the lines of the cases off kept overdue lists.
func (x *eraser) lists() error {
	return rewrite(x, x.w.db.days, func(l *cases.DayList) bool {
		var rows []json.RawMessage
		if json.Unmarshal(l.Rows, &rows) != nil {
			return false
		}
		left := slices.DeleteFunc(rows, func(row json.RawMessage) bool {
			var r struct {
				Case cases.ID `json:"case"`
			}
			return json.Unmarshal(row, &r) == nil && slices.Contains(x.ids, r.Case)
		})
		x.e.ListLines += len(rows) - len(left)
		var err error
		l.Rows, err = json.Marshal(left) // the number of the day stays as it was printed
		return err == nil
	})
}

// tokens removes the tokens of forms about the cases.
func (x *eraser) tokens() error {
	t := x.w.db.once
	for _, k := range x.naming(t.name) {
		if err := t.delete(x.w.tx, k); err != nil {
			return err
		}
	}
	return nil
}

// records removes the cases themselves.
func (x *eraser) records() error {
	for _, id := range x.ids {
		if err := x.w.db.cases.delete(x.w.tx, string(id)); err != nil {
			return err
		}
		x.e.Cases++
	}
	return nil
}

// neighbors takes the references out of other cases: of siblings, and in the notes of
// flags that came from there. Their entries name the fields and not the values.
func (x *eraser) neighbors() error {
	t := x.w.db.cases
	for _, k := range x.naming(t.name) {
		c, err := t.get(x.w.tx, k)
		if err != nil {
			return err
		}
		x.forget(&c.Case)
		done, err := t.put(x.w.tx, c)
		if err != nil {
			return err
		}
		fields, err := changes(done.oldJSON, done.newJSON, "")
		if err != nil {
			return err
		}
		for i := range fields {
			fields[i].Old, fields[i].New = nil, json.RawMessage(`"changed"`)
		}
		err = x.w.record(cases.Entry{Event: cases.Event{Kind: "reference-erased", Text: "A reference to an erased record was taken out"},
			Case: c.ID, FromRev: c.Rev, ToRev: done.now.Rev, Fields: fields})
		if err != nil {
			return err
		}
	}
	return nil
}

func (x *eraser) forget(c *cases.Case) {
	c.Siblings = slices.DeleteFunc(c.Siblings, func(ref string) bool { return slices.Contains(x.refs, ref) })
	for i := range c.Flags {
		c.Flags[i].Note = x.without(c.Flags[i].Note, "a sibling")
	}
	for i := range c.Notes {
		c.Notes[i].Text = x.without(c.Notes[i].Text, "an erased record")
	}
}

// naming lists the keys of records that hold the identifier or reference of a case.
func (x *eraser) naming(bucket string) (keys []string) {
	cur := x.w.tx.Bucket([]byte(bucket)).Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		if names(v, x.needles[:2*len(x.ids)]) {
			keys = append(keys, string(k))
		}
	}
	return keys
}

// names tells whether a record holds one of some texts as a word of its own: the
// reference AB-2026-1000 is not part of AB-2026-10000.
func names(v []byte, needles [][]byte) bool {
	return slices.ContainsFunc(needles, func(n []byte) bool { return nextWord(v, n) >= 0 })
}

// nextWord gives where word stands in v with nothing of a word beside it, or -1.
func nextWord(v, word []byte) int {
	for from := 0; ; {
		i := bytes.Index(v[from:], word)
		if i < 0 {
			return -1
		}
		i += from
		end := i + len(word)
		if (i == 0 || !wordByte(v[i-1])) && (end == len(v) || !wordByte(v[end])) {
			return i
		}
		from = i + 1
	}
}

func wordByte(b byte) bool {
	return '0' <= b && b <= '9' || 'a' <= b && b <= 'z' || 'A' <= b && b <= 'Z'
}

// without gives a text with another word in place of each reference.
func (x *eraser) without(text, word string) string {
	for _, ref := range x.refs {
		for {
			i := nextWord([]byte(text), []byte(ref))
			if i < 0 {
				break
			}
			text = text[:i] + word + text[i+len(ref):]
		}
	}
	return text
}

// rewrite changes the records of a table that name a case; f tells whether it changed one.
func rewrite[T any](x *eraser, t *table[T], f func(*T) bool) error {
	for _, k := range x.naming(t.name) {
		r, err := t.get(x.w.tx, k)
		if err != nil {
			return err
		}
		if !f(r) {
			continue
		}
		if _, err := t.put(x.w.tx, r); err != nil {
			return err
		}
	}
	return nil
}

// trail empties the audit entries of the cases, and those of no case that lead to them,
// and says so in a new entry.
func (x *eraser) trail(ev cases.Event) error {
	tx := x.w.tx
	var keys []string
	for _, id := range x.ids {
		keys = append(keys, scanKeys(tx.Bucket([]byte(auditByCase)), string(id), after(string(id)), seqWidth)...)
	}
	cur := tx.Bucket([]byte(auditBucket)).Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		if !bytes.Contains(v, []byte(`"case":"`)) && !bytes.Contains(v, []byte(`"erased_by":`)) && !bytes.Contains(v, []byte(`"erased":{`)) && names(v, x.needles) {
			keys = append(keys, string(k))
		}
	}
	slices.Sort(keys)
	keys = slices.Compact(keys)
	last, err := readHead(tx)
	if err != nil {
		return err
	}
	list := make([]head, 0, len(keys))
	for _, k := range keys {
		h, err := eraseEntry(tx, k, last.seq+1)
		if err != nil {
			return fmt.Errorf("audit entry %s: %w", k, err)
		}
		list = append(list, h)
		x.e.Entries = append(x.e.Entries, h.seq)
	}
	if len(list) > 0 {
		x.e.Sum = sumErased(list)
	}
	if err := x.looks(last.seq + 1); err != nil {
		return err
	}
	if err := x.w.record(cases.Entry{Event: ev, Erased: &x.e}); err != nil {
		return err
	}
	return x.w.listErasure(last.seq + 1)
}

// erasuresSetting lists the numbers of the entries that say what was erased. The entries
// themselves are the record of it, so a change of the list has none.
const erasuresSetting = "erasures"

func (w *writer) listErasure(seq uint64) error {
	list, err := w.erasureNumbers()
	if err != nil {
		return err
	}
	data, err := json.Marshal(append(list, seq))
	if err != nil {
		return err
	}
	_, err = w.db.settings.put(w.tx, &setting{Name: erasuresSetting, Value: data})
	return err
}

func (r *reader) erasureNumbers() (list []uint64, err error) {
	data, ok, err := r.Setting(erasuresSetting)
	if err != nil || !ok {
		return nil, err
	}
	return list, json.Unmarshal(data, &list)
}

// Erasures lists the entries that say what was erased, newest first.
func (r *reader) Erasures() ([]cases.Entry, error) {
	list, err := r.erasureNumbers()
	if err != nil {
		return nil, err
	}
	out := make([]cases.Entry, len(list))
	for i, seq := range list {
		if out[len(list)-1-i], err = r.entry(number(seq)); err != nil {
			return nil, err
		}
	}
	return out, nil
}
