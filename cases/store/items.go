package store

import (
	"errors"
	"iter"

	"dunlin/cases"
)

// inReview is the outcome of an item that waits for a person until decided.
const inReview = "review"

func itemTable() *table[cases.Item] {
	return &table[cases.Item]{
		name: "review", fixed: idWidth,
		key: func(i *cases.Item) string { return i.ID },
		indexes: []index[cases.Item]{
			{name: "outcome", version: 1, keys: func(i *cases.Item) []string {
				return []string{closed(i.Outcome) + i.At.UTC().Format(timeKey)}
			}},
			{name: "waiting", version: 1, keys: waitingKeys},
			{name: "document", version: 1, keys: func(i *cases.Item) []string { return oneKey(i.Document) }},
			{name: "key", version: 1, keys: func(i *cases.Item) []string { return oneKey(i.Key) }},
			{name: "case", version: 1, keys: func(i *cases.Item) []string { return oneKey(string(i.Case)) }},
		},
	}
}

// waitingKeys: presumptive wording first, then by due day; none once decided.
func waitingKeys(i *cases.Item) []string {
	if i.Outcome != inReview || i.Decided != nil {
		return nil
	}
	rank, due := "1", i.Due.String()
	if i.Top {
		rank = "0"
	}
	if due == "" {
		due = lastDay.String()
	}
	return []string{rank + due}
}

// Item reads one item; NotFound when there is none.
func (r *reader) Item(id string) (cases.Item, error) {
	return r.db.items.one(r.tx, id, "There is no such item.")
}

// Items lists up to n items with an outcome, or of any for "", newest first.
func (r *reader) Items(outcome string, n int) ([]cases.Item, error) {
	b, from, to := r.tx.Bucket([]byte(r.db.items.name)), "", ""
	if outcome != "" {
		b = r.tx.Bucket([]byte(r.db.items.name + ".outcome"))
		from, to = closed(outcome), after(closed(outcome))
	}
	return r.db.items.list(r.tx, lastKeys(b, from, to, idWidth, n))
}

// ItemsWaiting lists what waits for a person: presumptive wording first, then
// by due day.
func (r *reader) ItemsWaiting() ([]cases.Item, error) {
	return r.db.items.list(r.tx, r.db.items.keysWith(r.tx, "waiting", ""))
}

// ItemsOf lists the items of one document in the order in which they were taken in.
func (r *reader) ItemsOf(hash string) ([]cases.Item, error) {
	if hash == "" {
		return nil, nil
	}
	return r.db.items.list(r.tx, r.db.items.keysWith(r.tx, "document", closed(hash)))
}

// ItemsOfCase lists the items that belong to one case in the order in which they were
// taken in.
func (r *reader) ItemsOfCase(id cases.ID) ([]cases.Item, error) {
	if id == "" {
		return nil, nil
	}
	return r.db.items.list(r.tx, r.db.items.keysWith(r.tx, "case", closed(string(id))))
}

// ItemsSince gives the items that came on a day or later, oldest first. Identifiers
// begin with their time, so the walk starts near that day.
func (r *reader) ItemsSince(since cases.Day) iter.Seq2[cases.Item, error] {
	y, m, d := since.Date()
	start := startOfDay(y, m, d, r.db.opt.Zone)
	return func(yield func(cases.Item, error) bool) {
		keys := scanKeys(r.tx.Bucket([]byte(r.db.items.name)), firstID(start), "", 0)
		values(r.db.items.each(r.tx, keys))(yield)
	}
}

// ItemByKey reads the latest item with a clinical key, preferring one that has
// a case.
func (r *reader) ItemByKey(key string) (cases.Item, bool, error) {
	if key == "" {
		return cases.Item{}, false, nil
	}
	list, err := r.db.items.list(r.tx, r.db.items.keysWith(r.tx, "key", closed(key)))
	if err != nil || len(list) == 0 {
		return cases.Item{}, false, err
	}
	best := list[len(list)-1]
	for _, i := range list {
		if i.Key == key && i.Case != "" {
			best = i
		}
	}
	return best, best.Key == key, nil
}

// ItemCounts counts the items that came in on a day or later, by outcome.
func (r *reader) ItemCounts(since cases.Day) (map[string]int, error) {
	y, m, d := since.Date()
	start := startOfDay(y, m, d, r.db.opt.Zone).UTC().Format(timeKey)
	out := map[string]int{}
	c := r.tx.Bucket([]byte(r.db.items.name + ".outcome")).Cursor()
	for k, _ := c.First(); k != nil; k, _ = c.Next() {
		outcome, rest, ok := cutKey(k)
		if ok && len(rest) >= len(timeKey) && rest[:len(timeKey)] >= start {
			out[outcome]++
		}
	}
	return out, nil
}

// PutItem writes an item; a new one gets an identifier. A change of one that is
// there, such as a decision, is written to the audit trail.
func (w *writer) PutItem(i cases.Item) (cases.Item, error) {
	if err := errors.Join(checkField("the key of an item", i.Key), checkField("the outcome of an item", i.Outcome)); err != nil {
		return i, &cases.Error{Kind: cases.Invalid, Text: "The item cannot be saved.", Err: err}
	}
	if i.ID == "" {
		i.ID = w.NewID()
	}
	if i.At.IsZero() {
		i.At = w.now
	}
	done, err := w.db.items.put(w.tx, &i)
	if err != nil {
		return i, err
	}
	if done.old != nil {
		e := cases.Event{Kind: "item-changed", Text: i.Title}
		if i.Decided != nil {
			e = cases.Event{Kind: "item-decided", Text: i.Decided.As, Reason: i.Decided.Reason}
		}
		err = w.noteChange(e, i.Case, "items."+i.ID, done.oldJSON, done.newJSON)
	}
	return *done.now, err
}
