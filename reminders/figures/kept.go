package figures

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/templates"
)

// Kept is the figures of a birth year as they stood on a day, with the definitions and
// the protocol's values of that day. It is kept as words, which no later version of
// the program counts or names otherwise. A year may be kept again; nothing kept is
// changed or lost.
type Kept struct {
	Year     int                   `json:"year"`
	N        int                   `json:"n"` // 1 for the first of the year
	On       cases.Day             `json:"on"`
	By       string                `json:"by"`
	Why      string                `json:"why,omitempty"` // as typed
	AsOf     cases.Day             `json:"as_of"`
	Protocol json.RawMessage       `json:"protocol"` // all its values
	Shown    *templates.YearReport `json:"shown"`    // small numbers hidden
	Full     *templates.YearReport `json:"full"`
}

// Report is the kept report of one kind.
func (k *Kept) Report(full bool) *templates.YearReport {
	if full {
		return k.Full
	}
	return k.Shown
}

// keptName is the setting of the nth keeping of a year.
func keptName(year, n int) string { return fmt.Sprintf("figures/%d/%d", year, n) }

// AllKept gives every keeping of a year, the first one first.
func AllKept(r cases.Reader, year int) ([]Kept, error) {
	var out []Kept
	for n := 1; ; n++ {
		raw, ok, err := r.Setting(keptName(year, n))
		if err != nil || !ok {
			return out, err
		}
		var k Kept
		if err := json.Unmarshal(raw, &k); err != nil {
			return nil, fmt.Errorf("figures: the figures kept of %d, number %d: %w", year, n, err)
		}
		if k.Shown == nil || k.Full == nil {
			return nil, fmt.Errorf("figures: the figures kept of %d, number %d, are not whole", year, n)
		}
		out = append(out, k)
	}
}

// LastKept is the newest keeping of a year; nil when it was never kept.
func LastKept(r cases.Reader, year int) (*Kept, error) {
	all, err := AllKept(r, year)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	return &all[len(all)-1], nil
}

// Keep keeps the figures of a year beside those kept before, with an entry in the audit
// trail. A year that was kept before needs a reason.
func Keep(w cases.Writer, who cases.Actor, y measures.Year, about About, why string) (Kept, error) {
	if err := who.Need(cases.SeeFullFigures); err != nil {
		return Kept{}, err
	}
	before, err := AllKept(w, y.Year)
	if err != nil {
		return Kept{}, err
	}
	if len(before) > 0 && why == "" {
		return Kept{}, cases.FieldError("why", "Say why the figures of %d are kept again", y.Year)
	}
	protocol, err := json.Marshal(about.Protocol)
	if err != nil {
		return Kept{}, err
	}
	k := Kept{Year: y.Year, N: len(before) + 1, On: w.Today(), By: who.Name, Why: why, AsOf: y.AsOf, Protocol: protocol,
		Shown: Words(y.Publish(measures.SmallNumbers{Below: about.Protocol.SmallNumberBelow}), about),
		Full:  Words(y.Publish(measures.SmallNumbers{}), about)}
	raw, err := json.Marshal(k)
	if err != nil {
		return Kept{}, err
	}
	if err := w.PutSetting(keptName(k.Year, k.N), raw); err != nil {
		return Kept{}, err
	}
	return k, w.Note(cases.Event{Kind: "figures-kept", Reason: why,
		Text: fmt.Sprintf("Figures of %d, number %d, with records of %s.", k.Year, k.N, cases.Say(k.AsOf))})
}

// Since says what has changed since a keeping besides the figures: definitions, and
// the protocol's values.
func (k *Kept) Since(now *templates.YearReport, p *cases.Protocol) []string {
	var out []string
	then := map[string]string{}
	for _, t := range k.Shown.Terms {
		then[t.Name] = t.Text
	}
	for _, t := range now.Terms {
		was, there := then[t.Name]
		delete(then, t.Name)
		switch {
		case !there:
			out = append(out, fmt.Sprintf("Counted now, not then: %s.", t.Name))
		case was != t.Text:
			out = append(out, fmt.Sprintf("Defined otherwise then: %s. Then: %s", t.Name, was))
		}
	}
	for _, t := range k.Shown.Terms {
		if _, gone := then[t.Name]; gone {
			out = append(out, fmt.Sprintf("Counted then, not now: %s.", t.Name))
		}
	}
	return append(out, k.protocolSince(p)...)
}

func (k *Kept) protocolSince(p *cases.Protocol) []string {
	now, err := json.Marshal(p)
	if err != nil {
		return nil
	}
	a, b := map[string]json.RawMessage{}, map[string]json.RawMessage{}
	if json.Unmarshal(k.Protocol, &a) != nil || json.Unmarshal(now, &b) != nil {
		return []string{"The protocol's values of that day cannot be read."}
	}
	var out []string
	said := map[string]bool{}
	for _, n := range cases.ProtocolNotes {
		name, _, _ := strings.Cut(n.Name, ".")
		if said[name] || bytes.Equal(a[name], b[name]) {
			continue
		}
		said[name] = true
		if name != n.Name || len(a[name]) > 40 || len(b[name]) > 40 { // a group of values
			out = append(out, fmt.Sprintf("The protocol's values of \u201c%s\u201d have changed since.", name))
			continue
		}
		out = append(out, fmt.Sprintf("The protocol has changed since: %s was %s, and is %s now.", n.Title, a[name], b[name]))
	}
	return out
}
