package cases

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

// Retention says how many years after closing a record is kept, by what the case was
// closed as; 0 keeps for good, which is the default: times are the program's and its
// state's to set. NotBeforeAge keeps every record until that birthday besides. Letters,
// messages, documents and lines of the access log go with the record of their infant.
type Retention struct {
	NoCF         int    `json:"no_cf,omitempty"` // not affected, carrier, other diagnosis
	CF           int    `json:"cf,omitempty"`    // CF and CRMS/CFSPID
	Other        int    `json:"other,omitempty"` // lost, refused, died, moved, referred in error
	NotBeforeAge int    `json:"not_before_age,omitempty"`
	Source       string `json:"source,omitempty"` // the rule or law that the times are from
}

const (
	retentionSetting = "retention"
	erasingSetting   = "erasing"
	mostYears        = 100
)

// Class is the word for what a case was closed as, among those that have a time of their own.
func (r *Retention) class(as string) (years int, word string) {
	switch as {
	case "cf", crmsCFSPID:
		return r.CF, "closed as CF or CRMS/CFSPID"
	case "not-affected", "carrier", "other-diagnosis":
		return r.NoCF, "closed with CF excluded"
	}
	return r.Other, "closed without a determination"
}

// From is the first day on which a record may be erased, and the rule in words that name
// nobody; 0 keeps it for good.
func (r *Retention) From(born, closed Day, as string) (Day, string) {
	years, word := r.class(as)
	if years == 0 || closed == 0 {
		return 0, ""
	}
	from, rule := closed.AddMonths(12*years), fmt.Sprintf("%s, %d years after closing", word, years)
	if d := born.AddMonths(12 * r.NotBeforeAge); r.NotBeforeAge > 0 && d > from {
		from = d
	}
	if r.NotBeforeAge > 0 {
		rule += fmt.Sprintf(", not before the age of %d", r.NotBeforeAge)
	}
	return from, rule
}

// RetentionOf reads the retention times in force.
func RetentionOf(r Reader) (out Retention, err error) {
	err = settingInto(r, retentionSetting, &out)
	return out, err
}

func settingInto(r Reader, name string, v any) error {
	data, ok, err := r.Setting(name)
	if err != nil || !ok {
		return err
	}
	return json.Unmarshal(data, v)
}

func putSetting(w Writer, name string, v any) error {
	data, err := json.Marshal(v)
	if err != nil {
		return err
	}
	return w.PutSetting(name, data)
}

// SetRetention changes the retention times.
func (d *Desk) SetRetention(ctx context.Context, a Actor, x Retention) error {
	if err := a.need(EraseRecords); err != nil {
		return err
	}
	for _, n := range []struct {
		field string
		years int
	}{{"no_cf", x.NoCF}, {"cf", x.CF}, {"other", x.Other}, {"not_before_age", x.NotBeforeAge}} {
		if n.years < 0 || n.years > mostYears {
			return FieldError("retention."+n.field, "Years must be from 0, for good, to %d", mostYears)
		}
	}
	if x.NoCF+x.CF+x.Other > 0 && strings.TrimSpace(x.Source) == "" {
		return FieldError("retention.source", "Enter the rule or law that the times are from")
	}
	return d.store.Update(ctx, a, func(w Writer) error { return putSetting(w, retentionSetting, x) })
}

// Erasable is one record that may be erased from a day on.
type Erasable struct {
	Case      ID
	Reference string
	Closed    Day
	From      Day
	Rule      string
	Held      *LegalHold // stops it
}

// ErasableThrough lists the records that may be erased on or before a day, the longest
// kept first. Cases that were merged go with the one that has their facts.
func ErasableThrough(r Reader, until Day) ([]Erasable, error) {
	ret, err := RetentionOf(r)
	if err != nil || ret.NoCF+ret.CF+ret.Other == 0 {
		return nil, err
	}
	var out []Erasable
	for m, err := range r.Milestones(0, until) {
		if err != nil {
			return nil, err
		}
		if from, rule := ret.From(m.Born, m.Closed, m.ClosedAs); from != 0 && from <= until {
			out = append(out, Erasable{Case: m.Case, Reference: m.Reference, Closed: m.Closed, From: from, Rule: rule})
		}
	}
	var bad error
	out = slices.DeleteFunc(out, func(e Erasable) bool {
		c, err := r.Case(e.Case)
		if err != nil {
			bad = err
		}
		return err != nil || c.MergedInto() != ""
	})
	for i := range out {
		if c, err := r.Case(out[i].Case); err == nil {
			out[i].Held = c.HeldLegally(r.Today())
		}
	}
	slices.SortStableFunc(out, func(a, b Erasable) int { return int(a.From) - int(b.From) })
	return out, bad
}
