package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"strings"

	"dunlin/cases"
	"dunlin/cases/measures"
)

// intervalReport is what report is asked about one interval between two milestones.
type intervalReport struct{ from, to, by string }

func (i *intervalReport) flags(fs *flag.FlagSet) {
	var keys []string
	for _, m := range measures.MilestoneList() {
		keys = append(keys, string(m.Key))
	}
	fs.StringVar(&i.from, "from-milestone", "", "the `MILESTONE` an interval begins with: "+strings.Join(keys, ", "))
	fs.StringVar(&i.to, "to-milestone", "", "the `MILESTONE` it ends with, later in the same list")
	fs.StringVar(&i.by, "by", measures.ByReferral, "what --from and --to bound for an interval: `referral|birth`")
}

// asked tells that an interval is asked about.
func (i *intervalReport) asked() bool { return i.from != "" || i.to != "" }

// wrong says what is wrong with the flags given, or "".
func (i *intervalReport) wrong(fs *flag.FlagSet, group string, rates bool) string {
	if !i.asked() {
		reason := ""
		fs.Visit(func(f *flag.Flag) {
			if f.Name == "by" {
				reason = "--by goes with --from-milestone and --to-milestone"
			}
		})
		return reason
	}
	switch {
	case i.from == "" || i.to == "":
		return "--from-milestone and --to-milestone go together"
	case rates:
		return "--rates are not about an interval: leave out --from-milestone and --to-milestone"
	}
	return strings.Join(i.question(group, measures.Window{}).Faults(), " ")
}

func (i *intervalReport) question(group string, w measures.Window) measures.Question {
	return measures.Question{From: measures.Milestone(i.from), To: measures.Milestone(i.to), By: i.by, Group: group, Window: w}
}

// reportInterval prints an interval of the cases of a window, small counts hidden by
// the program's protocol.
func (o *op) reportInterval(ctx context.Context, s *site, out io.Writer, win measures.Window) (int, error) {
	q := *o.Interval
	q.Window = win
	r, err := s.interval(ctx, q)
	if err != nil {
		return exitFailed, err
	}
	p := r.Publish(measures.SmallNumbers{Below: s.cfg.protocol.SmallNumberBelow})
	if o.JSON {
		enc := json.NewEncoder(out)
		enc.SetIndent("", "  ")
		return exitOK, enc.Encode(p)
	}
	return exitOK, p.WriteText(out)
}

// interval answers a question as of today from the kept milestones.
func (s *site) interval(ctx context.Context, q measures.Question) (measures.IntervalReport, error) {
	var t *measures.IntervalTally
	err := s.db.View(ctx, func(r cases.Reader) error {
		q.AsOf = r.Today()
		if faults := q.Faults(); len(faults) > 0 {
			return fmt.Errorf("the interval cannot be counted: %s", strings.Join(faults, " "))
		}
		t = measures.NewIntervalTally(q)
		from, to := q.Reads()
		for m, err := range r.Milestones(from, to) {
			if err != nil {
				return err
			}
			t.Add(&m)
		}
		return nil
	})
	if err != nil {
		return measures.IntervalReport{}, err
	}
	return t.Report(), nil
}
