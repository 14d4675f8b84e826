package store

import (
	"fmt"
	"strconv"

	"dunlin/cases"
)

// The milestones of a case are one key of an index, in text:
//
//	<referred> <words, each closed by a zero byte> <numbers, each closed by a blank> \0 <id>
//
// Days are counted from birth; "-" is no day. Sites of tests and appointments are
// numbers: 0 none, 1 the site of the case, then further words in order.

// markLimit bounds a key; bbolt takes 32,768 bytes. A case with thousands of
// appointments keeps the first ones only.
const markLimit = 16_000

// milestoneKeys is the one key of a case; none without the days that a clock needs.
func milestoneKeys(m *cases.Milestones) []string {
	if m.Born == 0 || m.Referred == 0 {
		return nil
	}
	tests, visits := m.Tests, m.Visits
	for {
		key := markKey(m, tests, visits)
		if len(key) <= markLimit || len(tests)+len(visits) == 0 {
			return []string{key}
		}
		tests, visits = tests[:len(tests)/2], visits[:len(visits)/2]
	}
}

// The letters of outcomes and states; their order is part of the format.
var (
	markOutcomes = []cases.Outcome{cases.Unlikely, cases.Intermediate, cases.ConsistentCF, cases.QNS, cases.ArmsDisagree, cases.Unverified, cases.NotResulted}
	markStates   = []string{"booked", "kept", "missed", "cancelled"}
)

func markKey(m *cases.Milestones, tests []cases.TestMark, visits []cases.VisitMark) string {
	w := markWriter{born: m.Born, site: clip(m.Site)}
	for _, d := range []cases.Day{m.Collected, m.Reported, m.Referred, m.DoctorTold, m.FamilyReached, m.FirstBooking,
		m.FirstTest, m.FirstSufficient, m.LastResult, m.Determined, m.Closed, m.Died} {
		w.day(d)
	}
	a := m.Alleles
	w.nums(int(m.Gestation), m.BirthWeightG, a.CFCausing, a.Varying, a.Unknown, a.NonCausing, int(m.Marks), int(m.Lacks))
	w.nums(m.Calls.Family, m.Calls.FamilyReached, m.Calls.Others, m.Calls.Letters, len(tests), len(visits))
	for _, t := range tests {
		w.day(t.On)
		w.nums(place(markOutcomes, t.Outcome), w.siteNumber(t.Site), t.WeightG, yes(t.Pad)+2*yes(t.NoAmount))
	}
	for _, v := range visits {
		w.day(v.On)
		w.nums(place(markStates, v.State), w.siteNumber(v.Site))
	}
	key := m.Referred.String() + m.Born.String()
	for _, s := range []string{m.Reference, m.Route, m.ClosedAs, m.Site, m.Language, m.County, m.Region, m.Postal, strconv.Itoa(len(w.sites))} {
		key += closed(s)
	}
	for _, s := range w.sites {
		key += closed(s)
	}
	return key + closed0(w.text)
}

// closed0 ends the numbers, which are never cut.
func closed0(text []byte) string { return string(text) + keyEnd }

func yes(b bool) int {
	if b {
		return 1
	}
	return 0
}

func place[T comparable](list []T, x T) int {
	for i, y := range list {
		if x == y {
			return i
		}
	}
	return len(list)
}

// markWriter writes the numbers of a key.
type markWriter struct {
	text  []byte
	born  cases.Day
	site  string
	sites []string // further than the case's own
}

func (w *markWriter) day(d cases.Day) {
	if d == 0 {
		w.text = append(w.text, "- "...)
		return
	}
	w.nums(int(d - w.born))
}

func (w *markWriter) nums(list ...int) {
	for _, n := range list {
		w.text = strconv.AppendInt(w.text, int64(n), 10)
		w.text = append(w.text, ' ')
	}
}

func (w *markWriter) siteNumber(s string) int {
	s = clip(s)
	switch {
	case s == "":
		return 0
	case s == w.site:
		return 1
	}
	for i, x := range w.sites {
		if x == s {
			return i + 2
		}
	}
	w.sites = append(w.sites, s)
	return len(w.sites) + 1
}

// markReader reads keys. It hands out the same string for the same word, and
// slices cut from larger ones, since a report reads a million keys.
type markReader struct {
	words  map[string]string
	tests  []cases.TestMark
	visits []cases.VisitMark
	key    string // what is left of the key
	born   cases.Day
	bad    bool
}

func newMarkReader() *markReader { return &markReader{words: map[string]string{}} }

const dayText = len("2026-03-05")

func (d *markReader) read(key string) (m cases.Milestones, err error) {
	d.key, d.bad = key, false
	fail := func() (cases.Milestones, error) {
		return cases.Milestones{}, fmt.Errorf("index cases.milestones: %q cannot be read", clip(key))
	}
	if len(key) < 2*dayText+idWidth {
		return fail()
	}
	if d.born, err = cases.ParseDay(key[dayText : 2*dayText]); err != nil {
		return fail()
	}
	d.key = key[2*dayText : len(key)-idWidth]
	m.Born, m.Case = d.born, cases.ID(key[len(key)-idWidth:])
	m.Reference = d.field()
	for _, s := range []*string{&m.Route, &m.ClosedAs, &m.Site, &m.Language, &m.County, &m.Region, &m.Postal} {
		*s = d.word()
	}
	further, _ := strconv.Atoi(d.field())
	var few [8]string
	sites := few[:0]
	for range further {
		sites = append(sites, d.word())
	}
	for _, day := range []*cases.Day{&m.Collected, &m.Reported, &m.Referred, &m.DoctorTold, &m.FamilyReached, &m.FirstBooking,
		&m.FirstTest, &m.FirstSufficient, &m.LastResult, &m.Determined, &m.Closed, &m.Died} {
		*day = d.day()
	}
	m.Gestation, m.BirthWeightG = cases.Gestation(d.num()), d.num()
	m.Alleles = cases.Alleles{CFCausing: d.num(), Varying: d.num(), Unknown: d.num(), NonCausing: d.num()}
	m.Marks, m.Lacks = cases.Marks(d.num()), cases.Lacks(d.num())
	m.Calls = cases.CallCounts{Family: d.num(), FamilyReached: d.num(), Others: d.num(), Letters: d.num()}
	tests, visits := d.num(), d.num()
	m.Tests, m.Visits = d.readTests(tests, m.Site, sites), d.readVisits(visits, m.Site, sites)
	if d.bad || d.key != keyEnd {
		return fail()
	}
	return m, nil
}

// sliceOf is how many marks are allocated at once.
const sliceOf = 4096

func (d *markReader) readTests(n int, own string, sites []string) []cases.TestMark {
	if n <= 0 || n > len(d.key) {
		d.bad = d.bad || n != 0
		return nil
	}
	if len(d.tests) < n {
		d.tests = make([]cases.TestMark, max(n, sliceOf))
	}
	out := d.tests[:n:n]
	d.tests = d.tests[n:]
	for i := range out {
		t := &out[i]
		t.On, t.Outcome = d.day(), cases.VoidTest
		if o := d.num(); o >= 0 && o < len(markOutcomes) {
			t.Outcome = markOutcomes[o]
		}
		t.Site, t.WeightG = d.site(own, sites), d.num()
		bits := d.num()
		t.Pad, t.NoAmount = bits&1 != 0, bits&2 != 0
	}
	return out
}

func (d *markReader) readVisits(n int, own string, sites []string) []cases.VisitMark {
	if n <= 0 || n > len(d.key) {
		d.bad = d.bad || n != 0
		return nil
	}
	if len(d.visits) < n {
		d.visits = make([]cases.VisitMark, max(n, sliceOf))
	}
	out := d.visits[:n:n]
	d.visits = d.visits[n:]
	for i := range out {
		v := &out[i]
		v.On = d.day()
		if s := d.num(); s >= 0 && s < len(markStates) {
			v.State = markStates[s]
		}
		v.Site = d.site(own, sites)
	}
	return out
}

func (d *markReader) site(own string, sites []string) string {
	switch n := d.num(); {
	case n == 0:
		return ""
	case n == 1:
		return own
	case n < 0 || n-2 >= len(sites):
		d.bad = true
		return ""
	default:
		return sites[n-2]
	}
}

// field takes a word with its zero byte.
func (d *markReader) field() string {
	for i := 0; i < len(d.key); i++ {
		if d.key[i] == 0 {
			s := d.key[:i]
			d.key = d.key[i+1:]
			return s
		}
	}
	d.bad, d.key = true, ""
	return ""
}

func (d *markReader) word() string {
	s := d.field()
	if s == "" {
		return ""
	}
	if w, ok := d.words[s]; ok {
		return w
	}
	w := string([]byte(s)) // not a part of the batch
	d.words[w] = w
	return w
}

func (d *markReader) day() cases.Day {
	if len(d.key) > 1 && d.key[0] == '-' && d.key[1] == ' ' {
		d.key = d.key[2:]
		return 0
	}
	return d.born + cases.Day(d.num())
}

func (d *markReader) num() int {
	i, n, minus := 0, 0, false
	if i < len(d.key) && d.key[i] == '-' {
		minus = true
		i++
	}
	for ; i < len(d.key) && d.key[i] >= '0' && d.key[i] <= '9'; i++ {
		n = n*10 + int(d.key[i]-'0')
	}
	if i >= len(d.key) || d.key[i] != ' ' {
		d.bad = true
		return 0
	}
	d.key = d.key[i+1:]
	if minus {
		return -n
	}
	return n
}
