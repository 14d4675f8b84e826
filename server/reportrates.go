package main

import (
	"context"
	"encoding/json"
	"io"

	"dunlin/cases"
	"dunlin/cases/measures"
)

// reportRates prints the rates of the cases of a window, small counts hidden by the
// program's protocol.
func (o *op) reportRates(ctx context.Context, s *site, out io.Writer, win measures.Window) (int, error) {
	var t *measures.RatesTally
	err := s.eachMilestone(ctx, &win, func() { t = measures.NewRatesTally(win, s.cfg.protocol) }, func(m *cases.Milestones) { t.Add(m) })
	if err != nil {
		return exitFailed, err
	}
	p := t.Report().Publish(measures.SmallNumbers{Below: s.cfg.protocol.SmallNumberBelow})
	if o.JSON {
		enc := json.NewEncoder(out)
		enc.SetIndent("", "  ")
		return exitOK, enc.Encode(p)
	}
	return exitOK, p.WriteText(out)
}

// eachMilestone gives the milestones of the cases of a window as of today, test
// messages left out. start is called once the day is known.
func (s *site) eachMilestone(ctx context.Context, win *measures.Window, start func(), f func(*cases.Milestones)) error {
	return s.db.View(ctx, func(r cases.Reader) error {
		win.AsOf = r.Today()
		start()
		to := win.AsOf
		if win.To != 0 {
			to = win.To
		}
		for m, err := range r.Milestones(win.From, to) {
			if err != nil {
				return err
			}
			if m.Marks&cases.MarkTestMessage == 0 {
				f(&m)
			}
		}
		return nil
	})
}
