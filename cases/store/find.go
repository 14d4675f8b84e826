package store

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"dunlin/cases"
)

const (
	findLimit = 50   // results when the query names no limit
	findReach = 2000 // cases compared in full
)

// Find lists the infants that match every part of the query: every word of the
// text must start a word of a name, or start the reference, a record number or
// the accession, now or formerly. Open cases come first, then the younger infant.
func (r *reader) Find(q cases.Query) ([]cases.Case, error) {
	words := queryWords(q.Text)
	var found []*caseRecord
	for c, err := range r.db.cases.each(r.tx, r.candidates(words, q.Born)) {
		if err != nil {
			return nil, err
		}
		if q.Born != 0 && c.Infant.Born != q.Born && !slices.Contains(c.Infant.FormerBirths(), q.Born) || !matches(c, words) {
			continue
		}
		if !q.IncludeClosed && r.db.standing(c).closed {
			continue
		}
		found = append(found, c)
	}
	slices.SortStableFunc(found, func(a, b *caseRecord) int {
		return cmp.Or(r.db.rank(a)-r.db.rank(b), cmp.Compare(b.Infant.Born, a.Infant.Born), cmp.Compare(a.Reference, b.Reference))
	})
	limit := q.Limit
	if limit <= 0 {
		limit = findLimit
	}
	out := make([]cases.Case, 0, min(limit, len(found)))
	for _, c := range found[:min(limit, len(found))] {
		out = append(out, c.Case)
	}
	return out, nil
}

// rank puts closed cases after open ones.
func (db *DB) rank(c *caseRecord) int {
	if db.standing(c).closed {
		return 1
	}
	return 0
}

// queryWords splits a query at spaces and commas.
func queryWords(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == ';' || r == '\t' })
}

// candidates are the cases that every word leads to by some index, or those of
// the birth date; they are compared with the whole query afterwards.
func (r *reader) candidates(words []string, born cases.Day) []string {
	if born != 0 {
		return r.db.cases.keysWith(r.tx, "born", born.String())
	}
	var ids []string
	for n, w := range words {
		led := r.ledTo(w)
		if n == 0 {
			ids = slices.Collect(maps.Keys(led))
			continue
		}
		ids = slices.DeleteFunc(ids, func(id string) bool { return !led[id] })
	}
	slices.Sort(ids)
	return ids[max(0, len(ids)-findReach):] // the newest, when a word is too short to tell
}

// ledTo gives the cases that one word leads to.
func (r *reader) ledTo(word string) map[string]bool {
	led := map[string]bool{}
	add := func(ix, prefix string) {
		if prefix == "" {
			return
		}
		for _, id := range r.indexed(ix, prefix) {
			led[id] = true
		}
	}
	number, name := plainNumber(word), fold(word)
	name, _, _ = strings.Cut(name, " ")
	add("reference", strings.ToUpper(clip(word)))
	add("accession", number)
	add("record", number)
	add("name", name)
	add("given", name)
	return led
}

// indexed reads the identifiers under a prefix; the unique index of references
// keeps them in its values.
func (r *reader) indexed(ix, prefix string) []string {
	t := r.db.cases
	if ix != "reference" {
		return t.keysWith(r.tx, ix, prefix)
	}
	var out []string
	c := r.tx.Bucket([]byte(t.name + "." + ix)).Cursor()
	for k, v := c.Seek([]byte(prefix)); k != nil && strings.HasPrefix(string(k), prefix); k, v = c.Next() {
		out = append(out, string(v))
	}
	return out
}

// matches tells whether every word fits the case somewhere.
func matches(c *caseRecord, words []string) bool {
	var names []string
	for _, n := range append([]string{c.Infant.Family, c.Infant.Given}, c.Infant.FormerNames...) {
		names = append(names, strings.Fields(fold(n))...)
	}
	numbers := []string{plainNumber(c.Reference)}
	if s := c.Referral.Screen; s != nil {
		numbers = append(numbers, plainNumber(s.Accession))
	}
	for _, rec := range append(c.Infant.FormerRecords(), c.Infant.Records...) {
		numbers = append(numbers, plainNumber(rec.Number))
	}
	for _, a := range c.Infant.FormerAccessions() {
		numbers = append(numbers, plainNumber(a))
	}
	for _, w := range words {
		if !startsAny(numbers, plainNumber(w)) && !eachStarts(names, strings.Fields(fold(w))) {
			return false
		}
	}
	return true
}

func startsAny(list []string, word string) bool {
	for _, s := range list {
		if word != "" && strings.HasPrefix(s, word) {
			return true
		}
	}
	return false
}

func eachStarts(names, parts []string) bool {
	for _, p := range parts {
		if !startsAny(names, p) {
			return false
		}
	}
	return len(parts) > 0
}
