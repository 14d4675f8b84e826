package store

import (
	"bytes"
	"fmt"
	"iter"
	"strings"

	"dunlin/cases"
)

// bookedKeys: where and when the bookings lie that take a place, with the case's
// reference, so that a session is counted without reading cases.
func bookedKeys(c *caseRecord) []string {
	var out []string
	for i := range c.Bookings {
		b := &c.Bookings[i]
		if b.On != 0 && (b.State == "booked" || b.State == "kept") {
			out = appendNew(out, closed(b.Site)+b.On.String()+closed(string(b.At))+closed(c.Reference))
		}
	}
	return out
}

// BookedAt gives the places taken at a site on from to to, both included, in order
// of day, time and reference.
func (r *reader) BookedAt(site string, from, to cases.Day) iter.Seq2[cases.Booked, error] {
	return func(yield func(cases.Booked, error) bool) {
		from, to = max(from, 1), min(to, lastDay)
		if to < from || checkField("a site", site) != nil {
			return
		}
		for _, k := range r.bookedKeys(closed(site)+from.String(), closed(site)+(to+1).String()) {
			if b, err := bookedOf(k); !yield(b, err) {
				return
			}
		}
	}
}

// bookedKeys collects whole keys first, so that a caller may write meanwhile.
func (r *reader) bookedKeys(from, to string) []string {
	var out []string
	c := r.tx.Bucket([]byte(r.db.cases.name + ".booked")).Cursor()
	end := []byte(to)
	for k, _ := c.Seek([]byte(from)); k != nil && bytes.Compare(k, end) < 0; k, _ = c.Next() {
		out = append(out, string(k))
	}
	return out
}

func bookedOf(key string) (b cases.Booked, err error) {
	bad := func() (cases.Booked, error) {
		return cases.Booked{}, fmt.Errorf("index cases.booked: %q cannot be read", clip(key))
	}
	const dayWidth = len("2026-03-05")
	site, rest, ok := strings.Cut(key, keyEnd)
	if !ok || len(rest) < dayWidth {
		return bad()
	}
	at, rest2, ok := strings.Cut(rest[dayWidth:], keyEnd)
	if !ok {
		return bad()
	}
	ref, id, ok := strings.Cut(rest2, keyEnd)
	if b.On, err = cases.ParseDay(rest[:dayWidth]); !ok || err != nil {
		return bad()
	}
	b.Site, b.At, b.Reference, b.Case = site, cases.Clock(at), ref, cases.ID(id)
	return b, nil
}
