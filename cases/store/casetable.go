package store

import (
	"strings"

	"dunlin/cases"
)

// tables are all the typed tables of a store.
type tables struct {
	cases    *table[caseRecord]
	letters  *table[cases.Letter]
	outgoing *table[cases.Outgoing]
	received *table[cases.Received]
	items    *table[cases.Item]
	mail     *table[cases.MailEntry]
	days     *table[cases.DayList]
	people   *table[cases.Account]
	settings *table[setting]
	jobs     *table[cases.JobRun]
	once     *table[onceToken]
	sessions *table[session]
	counters *table[counter]
}

// declare lists every table. The indexes of cases that hang on the protocol ask
// the open store for it.
func declare(db *DB) tables {
	return tables{
		cases: caseTable(db.standing), letters: letterTable(), outgoing: outgoingTable(), received: receivedTable(), items: itemTable(), mail: mailTable(),
		days: dayTable(), people: peopleTable(), settings: settingTable(), jobs: jobTable(),
		once: onceTable(), sessions: sessionTable(), counters: counterTable(),
	}
}

const idWidth = 26 // of a case, letter or item identifier

// protocolIndexes of cases are built anew when the protocol changes.
var protocolIndexes = []string{"due", "open", "closed", "retest", "milestones"}

func caseTable(stand func(*caseRecord) standing) *table[caseRecord] {
	return &table[caseRecord]{
		name: "cases", fixed: idWidth, strict: true,
		key: func(c *caseRecord) string { return string(c.ID) },
		rev: func(c *caseRecord) uint64 { return uint64(c.Rev) },
		loaded: func(c *caseRecord, key string, rev uint64) {
			c.ID, c.Rev = cases.ID(key), cases.Rev(rev)
			c.Prepare()
		},
		indexes: []index[caseRecord]{
			{name: "due", version: 1, keys: func(c *caseRecord) []string { return dayKey(stand(c).due) }},
			{name: "open", version: 1, keys: func(c *caseRecord) []string {
				if stand(c).closed {
					return nil
				}
				return dayKey(c.Referral.On)
			}},
			{name: "closed", version: 1, keys: func(c *caseRecord) []string {
				if s := stand(c); s.closed {
					return dayKey(s.closedOn)
				}
				return nil
			}},
			{name: "retest", version: 1, keys: func(c *caseRecord) []string { return dayKey(stand(c).retest) }},
			{name: "milestones", version: 2, keys: func(c *caseRecord) []string { return stand(c).marks }},
			{name: "booked", version: 1, keys: bookedKeys},
			{name: "name", version: 1, keys: nameKeys},
			{name: "given", version: 1, keys: givenKeys},
			{name: "born", version: 2, keys: bornKeys},
			{name: "record", version: 3, keys: recordKeys},
			{name: "accession", version: 3, keys: accessionKeys},
			{name: "match", version: 3, keys: matchKeys},
			{name: "external", version: 2, keys: externalKeys},
			{name: "reference", version: 1, unique: true, keys: func(c *caseRecord) []string {
				return oneKey(strings.ToUpper(c.Reference))
			}},
		},
	}
}

// dayKey is fixed in width; no day gives no key.
func dayKey(d cases.Day) []string {
	if d == 0 {
		return nil
	}
	return []string{d.String()}
}

func oneKey(text string) []string {
	if text == "" {
		return nil
	}
	return []string{closed(text)}
}

// nameKeys: family name (now and formerly) from each of its words, given name,
// birth date.
func nameKeys(c *caseRecord) []string {
	var out []string
	given, born := closed(fold(c.Infant.Given)), c.Infant.Born.String()
	for _, family := range append([]string{c.Infant.Family}, c.Infant.FormerNames...) {
		for _, s := range starts(fold(family)) {
			out = appendNew(out, closed(s)+given+born)
		}
	}
	return out
}

func givenKeys(c *caseRecord) []string {
	var out []string
	family, born := closed(fold(c.Infant.Family)), c.Infant.Born.String()
	for _, s := range starts(fold(c.Infant.Given)) {
		out = appendNew(out, closed(s)+family+born)
	}
	return out
}

// bornKeys: the birth date, and those that were corrected.
func bornKeys(c *caseRecord) []string {
	out := dayKey(c.Infant.Born)
	for _, d := range c.Infant.FormerBirths() {
		out = appendNew(out, d.String())
	}
	return out
}

// The numbers of a case that was merged lead to the one that has its facts.
func recordKeys(c *caseRecord) []string {
	var out []string
	if c.MergedInto() != "" {
		return nil
	}
	for _, r := range append(c.Infant.FormerRecords(), c.Infant.Records...) {
		if n := plainNumber(r.Number); n != "" {
			out = appendNew(out, closed(n))
		}
	}
	return out
}

func accessionKeys(c *caseRecord) []string {
	var out []string
	if c.MergedInto() != "" {
		return nil
	}
	if s := c.Referral.Screen; s != nil {
		out = oneKey(plainNumber(s.Accession))
	}
	for _, a := range c.Infant.FormerAccessions() {
		for _, k := range oneKey(plainNumber(a)) {
			out = appendNew(out, k)
		}
	}
	for _, m := range c.Merged {
		for _, k := range oneKey(plainNumber(m.Accession)) {
			out = appendNew(out, k)
		}
	}
	return out
}

// matchKeys are those by which what arrives finds the infants it may be about.
func matchKeys(c *caseRecord) []string {
	if c.MergedInto() != "" {
		return nil
	}
	keys := cases.MatchKeys(&c.Case)
	for i, k := range keys {
		keys[i] = closed(k)
	}
	return keys
}

// externalKeys: what others call the infant: the laboratory with its accession
// number, and each authority with its record number. A number that was corrected may
// be another infant's, so it leads here by search and matching only.
func externalKeys(c *caseRecord) []string {
	var out []string
	if c.MergedInto() != "" {
		return nil
	}
	if s := c.Referral.Screen; s != nil && s.Accession != "" {
		out = append(out, externalKey(s.Laboratory, s.Accession))
	}
	for _, m := range c.Merged {
		if m.Accession != "" {
			out = appendNew(out, externalKey(m.Laboratory, m.Accession))
		}
	}
	for _, r := range c.Infant.Records {
		if r.Number != "" {
			out = appendNew(out, externalKey(r.Authority, r.Number))
		}
	}
	return out
}

func externalKey(source, id string) string {
	return closed(fold(source)) + closed(plainNumber(id))
}

func appendNew(list []string, s string) []string {
	if contains(list, s) {
		return list
	}
	return append(list, s)
}
