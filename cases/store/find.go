package store

import (
	"cmp"
	"slices"
	"strings"

	"dunlin/cases"
)

const (
	findLimit = 50  // results when the query names no limit
	findReach = 500 // candidates looked at for one word
)

// Find lists the infants that match every part of the query: every word of the
// text must start a word of a name, or start the reference, a record number or
// the accession. Open cases come first, then the younger infant.
func (r *reader) Find(q cases.Query) ([]cases.Case, error) {
	words := queryWords(q.Text)
	ids, err := r.candidates(words, q.Born)
	if err != nil {
		return nil, err
	}
	var found []*caseRecord
	for c, err := range r.db.cases.each(r.tx, ids) {
		if err != nil {
			return nil, err
		}
		if q.Born != 0 && c.Infant.Born != q.Born || !matches(c, words) {
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

// candidates are the cases of the birth date or, without one, of the longest
// word; the others are compared in memory.
func (r *reader) candidates(words []string, born cases.Day) ([]string, error) {
	t := r.db.cases
	if born != 0 {
		return t.keysWith(r.tx, "born", born.String()), nil
	}
	longest := ""
	for _, w := range words {
		if len(w) > len(longest) {
			longest = w
		}
	}
	var ids []string
	seen := map[string]bool{}
	add := func(ix, prefix string) {
		if prefix == "" {
			return
		}
		// Reference is unique and keeps the identifier in its value.
		for _, id := range r.indexed(ix, prefix) {
			if !seen[id] && len(ids) < findReach {
				seen[id] = true
				ids = append(ids, id)
			}
		}
	}
	number := plainNumber(longest)
	add("reference", strings.ToUpper(clip(longest)))
	add("accession", number)
	add("record", number)
	name, _, _ := strings.Cut(fold(longest), " ")
	add("name", name)
	add("given", name)
	return ids, nil
}

func (r *reader) indexed(ix, prefix string) []string {
	t := r.db.cases
	if ix != "reference" {
		return t.keysWith(r.tx, ix, prefix)
	}
	var out []string
	c := r.tx.Bucket([]byte(t.name + "." + ix)).Cursor()
	for k, v := c.Seek([]byte(prefix)); k != nil && strings.HasPrefix(string(k), prefix) && len(out) < findReach; k, v = c.Next() {
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
	for _, rec := range c.Infant.Records {
		numbers = append(numbers, plainNumber(rec.Number))
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
