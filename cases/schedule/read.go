package schedule

import (
	"encoding/json"
	"fmt"
	"slices"

	"dunlin/cases"
)

const centroidsSetting = "postal centroids"

// PutCentroids keeps the middles of postal-code areas for the program.
func PutCentroids(w cases.Writer, c Centroids) error {
	value, err := json.Marshal(c)
	if err != nil {
		return fmt.Errorf("postal centroids: %w", err)
	}
	if err := w.PutSetting(centroidsSetting, value); err != nil {
		return err
	}
	return w.Note(cases.Event{Kind: "centroids-changed", Text: fmt.Sprintf("Postal-code areas loaded: %d", len(c))})
}

// KeptCentroids reads what PutCentroids kept; empty when nothing was. The table of a
// whole country has some 33,000 rows: callers that read it often should keep it.
func KeptCentroids(r cases.Reader) (Centroids, error) {
	value, ok, err := r.Setting(centroidsSetting)
	if err != nil || !ok {
		return Centroids{}, err
	}
	c := Centroids{}
	if err := json.Unmarshal(value, &c); err != nil {
		return nil, fmt.Errorf("setting %s: %w", centroidsSetting, err)
	}
	return c, nil
}

// ReadWaits lists who waits for a place today: the open cases, and those closed as
// CRMS/CFSPID whose day to look again comes within RetestAhead days or has come. They
// stand in the order in which infants choose.
func ReadWaits(r cases.Reader, p *cases.Protocol) ([]Wait, error) {
	var out []Wait
	today := r.Today()
	look := func(c *cases.Case) {
		a := p.AssessStep(c, today)
		if w, ok := WaitOf(c, &a, p); ok {
			out = append(out, w)
		}
	}
	for c, err := range r.Open() {
		if err != nil {
			return nil, err
		}
		look(&c)
	}
	for c, err := range r.RetestsThrough(today + RetestAhead) {
		if err != nil {
			return nil, err
		}
		look(&c)
	}
	slices.SortFunc(out, func(x, y Wait) int { return compareWaits(&x, &y) })
	return out, nil
}
