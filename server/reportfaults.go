package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/measures"
)

// faultsReport is the JSON form of the data faults.
type faultsReport struct {
	On       cases.Day       `json:"on"`
	Cases    int             `json:"cases"`
	Faulty   int             `json:"faulty"` // cases with any kind
	Compared int             `json:"pairs_compared"`
	Left     int             `json:"pairs_not_compared"`
	Kinds    []faultsOfAKind `json:"kinds"`
}

type faultsOfAKind struct {
	Key   string      `json:"key"`
	Name  string      `json:"name"`
	Means string      `json:"means"`
	Do    string      `json:"do"`
	Cases int         `json:"cases"`
	Lines []faultLine `json:"lines"`
}

type faultLine struct {
	Reference string    `json:"reference"`
	Referred  cases.Day `json:"referred"`
	Closed    cases.Day `json:"closed,omitempty"`
	Words     []string  `json:"words"`
	Others    []string  `json:"others,omitempty"`
}

// mostPairs is how many pairs of cases are compared, in a few seconds at most.
const mostPairs = 50_000

// reportFaults prints the data faults of the cases of a window, by case number.
func (o *op) reportFaults(ctx context.Context, s *site, out io.Writer, win measures.Window) (int, error) {
	var rep faultsReport
	for i := range cases.DataFaultKinds {
		k := &cases.DataFaultKinds[i]
		rep.Kinds = append(rep.Kinds, faultsOfAKind{Key: k.Key, Name: k.Name, Means: k.Means, Do: k.Do, Lines: []faultLine{}})
	}
	alike := map[cases.ID][]cases.Alike{}
	err := s.db.View(ctx, func(r cases.Reader) error {
		found, err := intake.FindSuspects(r, s.cfg.protocol, mostPairs)
		for _, x := range found.Pairs {
			alike[x.B] = append(alike[x.B], cases.Alike{Reference: x.ReferenceA, Why: x.Why})
		}
		rep.Compared, rep.Left = found.Compared, found.Left
		return err
	})
	if err != nil {
		return exitFailed, err
	}
	t := cases.DataFaultTally{Alike: alike}
	err = s.eachMilestone(ctx, &win, func() { t.Quality = cases.NewDataQuality(s.cfg.protocol, win.AsOf) }, func(m *cases.Milestones) {
		t.Add(m)
		faults := t.Of(m)
		for i := range rep.Kinds {
			if f := cases.DataFault(i); faults.Has(f) {
				l := t.Line(m, f)
				rep.Kinds[i].Lines = append(rep.Kinds[i].Lines, faultLine{Reference: strings.Clone(l.Reference), Referred: l.Referred, Closed: l.Closed, Words: l.Words, Others: l.Others})
			}
		}
	})
	if err != nil {
		return exitFailed, err
	}
	rep.On, rep.Cases, rep.Faulty = win.AsOf, t.Cases, t.Faulty
	for i := range rep.Kinds {
		rep.Kinds[i].Cases = t.Counts[i]
	}
	if o.JSON {
		enc := json.NewEncoder(out)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		return exitOK, enc.Encode(rep)
	}
	return exitOK, rep.writeText(out)
}

func (r *faultsReport) writeText(out io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Data faults as of %s: %d of %d cases. For the program only: small counts are not hidden.\n", cases.Say(r.On), r.Faulty, r.Cases)
	for i := range r.Kinds {
		k := &r.Kinds[i]
		fmt.Fprintf(&b, "\n%s: %d\n", k.Name, k.Cases)
		if k.Cases > 0 {
			fmt.Fprintf(&b, "  %s %s\n", k.Means, k.Do)
		}
		for _, l := range k.Lines {
			fmt.Fprintf(&b, "  %s  %s\n", l.Reference, strings.Join(l.Words, " "))
		}
	}
	fmt.Fprintf(&b, "\n%d pairs of cases were compared, %d with less in common were not.\n", r.Compared, r.Left)
	_, err := io.WriteString(out, b.String())
	return err
}
