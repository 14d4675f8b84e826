package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"dunlin/cases"
	"dunlin/cases/export"
	"dunlin/cases/measures"
)

// export writes a file: first under a name for the time being, then the entry of the
// audit trail, then its name. Without the entry there is no file.
func (o *op) export(ctx context.Context, s *site, out io.Writer) (code int, err error) {
	return o.fileOut(ctx, s, out, func(w io.Writer) (export.Log, error) {
		log, err := o.writeExport(ctx, s, w)
		log.Format, log.Reason = o.Export.Format, o.Reason
		return log, err
	})
}

// fileOut writes the file of an export and its entry.
func (o *op) fileOut(ctx context.Context, s *site, out io.Writer, write func(io.Writer) (export.Log, error)) (code int, err error) {
	if _, err := os.Lstat(o.Path); err == nil {
		return exitFailed, fmt.Errorf("%s is there already; choose another name. Nothing was exported", o.Path)
	}
	f, err := os.CreateTemp(filepath.Dir(o.Path), ".dunlin-export-")
	if err != nil {
		return exitFailed, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, f.Close(), os.Remove(f.Name()))
			code = exitFailed
		}
	}()
	sum := sha256.New()
	log, err := write(io.MultiWriter(f, sum))
	if err != nil {
		return exitFailed, err
	}
	if err := f.Sync(); err != nil {
		return exitFailed, err
	}
	log.Sum = hex.EncodeToString(sum.Sum(nil))
	by := cases.Actor{ID: o.Who, Name: o.Who, Role: cases.System, Via: "command line"}
	if err := s.noteExport(ctx, by, log.Event(), cases.Access{Rows: log.Rows}); err != nil {
		return exitFailed, fmt.Errorf("the export could not be written into the audit trail, so nothing was exported: %w", err)
	}
	if err := settle(f, o.Path); err != nil {
		return exitFailed, err
	}
	fmt.Fprintf(out, "%s: %s\n", o.Path, log.Event().Text)
	return exitOK, nil
}

// noteExport writes down an export that a command asked for, in the audit trail and in
// the access log, before anything leaves.
func (s *site) noteExport(ctx context.Context, by cases.Actor, ev cases.Event, line cases.Access) error {
	line.By, line.Role, line.Act, line.Route, line.What, line.Why = by.ID, by.Role, cases.ActExport, "dunlin export", ev.Text, ev.Reason
	return s.db.Update(ctx, by, func(w cases.Writer) error { return errors.Join(w.Note(ev), w.LogAccess(line)) })
}

// settle gives a finished file its name, which no other file may have.
func settle(f *os.File, path string) error {
	name, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	if err := errors.Join(name.Close(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// writeExport writes what was asked and says what it is.
func (o *op) writeExport(ctx context.Context, s *site, w io.Writer) (export.Log, error) {
	switch o.Export.What {
	case "rows":
		return o.writeRows(ctx, s, w)
	case "extract":
		return o.writeExtract(ctx, s, w)
	}
	return o.writeFigures(ctx, s, w)
}

func (o *op) writeRows(ctx context.Context, s *site, w io.Writer) (log export.Log, err error) {
	win, err := o.window()
	if err != nil {
		return log, err
	}
	l := export.Lines{From: win.From, To: win.To, Which: o.Export.Which}
	log = export.Log{What: "Line list of cases, with names", Filter: l.Words()}
	err = s.db.View(ctx, func(r cases.Reader) error {
		b := export.RowsBook(export.Made{Program: s.cfg.Letters.Name, Filter: l.Words(), AsOf: r.Today(), By: o.Who},
			func(f func(*cases.Case, *cases.Assessment) error) error { return l.Each(r, s.cfg.protocol, f) })
		log.Rows, err = b.Write(w, o.Export.Format, o.Export.Table)
		return err
	})
	return log, err
}

func (o *op) writeExtract(ctx context.Context, s *site, w io.Writer) (log export.Log, err error) {
	var e *export.Extract
	err = s.db.View(ctx, func(r cases.Reader) error {
		if e, err = export.NewExtract(o.Export.FromYear, o.Export.ToYear, r.Today(), s.cfg.PostalAreas); err != nil {
			return err
		}
		return e.Read(r)
	})
	if err != nil {
		return log, err
	}
	log = export.Log{What: "De-identified extract", Filter: e.Words(), Hidden: export.ExtractHides}
	if least := s.cfg.protocol.SmallNumberBelow; e.Few(least) {
		if o.Export.Answers == "" {
			return log, cases.Errorf(cases.Refused, "The extract would have fewer than %d lines, in which somebody may be recognized. Take more years, or name with --answers the person who answers for it. Nothing was exported.", least)
		}
		log.Hidden += ". So few lines, answered for by " + o.Export.Answers
	}
	b := e.Book(s.cfg.Letters.Name)
	log.Rows, err = b.Write(w, o.Export.Format, o.Export.Table)
	return log, err
}

// writeFigures writes the figures of a report, made by one rule for small numbers.
func (o *op) writeFigures(ctx context.Context, s *site, w io.Writer) (log export.Log, err error) {
	j, rule := &o.Export, measures.SmallNumbers{Below: s.cfg.protocol.SmallNumberBelow}
	log.Hidden = "Small numbers hidden"
	if j.Full {
		rule, log.Hidden = measures.SmallNumbers{}, "Full figures"
	}
	made := export.Made{Program: s.cfg.Letters.Name, By: o.Who, Full: j.Full, Below: rule.Below}
	var b export.Book
	switch j.Report {
	case "rates":
		log.What = "QNS by site"
		b, err = o.ratesBook(ctx, s, rule, &made)
	case "ages":
		log.What = "Open cases by age"
		b, err = o.agesBook(ctx, s, rule, &made)
	default:
		log.What = "Closure times, " + o.Interval.Interval()
		b, err = o.intervalBook(ctx, s, rule, &made)
	}
	if err != nil {
		return log, err
	}
	log.Filter = made.Filter
	log.Rows, err = b.Write(w, j.Format, j.Table)
	return log, err
}

func (o *op) intervalBook(ctx context.Context, s *site, rule measures.SmallNumbers, made *export.Made) (export.Book, error) {
	rep, err := s.interval(ctx, *o.Interval)
	if err != nil {
		return export.Book{}, err
	}
	made.AsOf, made.Filter = rep.AsOf, rep.Words()
	return export.IntervalBook(rep.Publish(rule), *made), nil
}

func (o *op) ratesBook(ctx context.Context, s *site, rule measures.SmallNumbers, made *export.Made) (export.Book, error) {
	win, err := o.window()
	if err != nil {
		return export.Book{}, err
	}
	read := win
	if o.Export.ByDay {
		read = measures.Window{} // tests of those days, whenever their cases were referred
	}
	var t *measures.RatesTally
	var ages *measures.AgesTally
	err = s.eachMilestone(ctx, &read, func() {
		win.AsOf = read.AsOf
		if t = measures.NewRatesTally(win, s.cfg.protocol); o.Export.ByDay {
			t = measures.NewDayTally(win, s.cfg.protocol)
			return
		}
		ages = measures.NewAgesTally(win)
	}, func(m *cases.Milestones) {
		t.Add(m)
		if ages != nil {
			ages.Add(m)
		}
	})
	if err != nil {
		return export.Book{}, err
	}
	made.AsOf, made.Filter = win.AsOf, export.Lines{From: win.From, To: win.To}.Words()
	var first []measures.QuarterAges
	if ages != nil {
		first = ages.Report(rule)
	} else {
		made.Filter = "Tests and appointments of these days: " + win.From.String() + " to " + win.To.String()
	}
	return export.RatesBook(t.Report().Publish(rule), first, *made), nil
}

func (o *op) agesBook(ctx context.Context, s *site, rule measures.SmallNumbers, made *export.Made) (export.Book, error) {
	var open []measures.OpenCase
	err := s.db.View(ctx, func(r cases.Reader) error {
		made.AsOf = r.Today()
		for k, err := range r.Open() {
			if err != nil {
				return err
			}
			a := s.cfg.protocol.AssessStep(&k, r.Today())
			if c, ok := measures.OpenCaseOf(&k, &a); ok {
				open = append(open, c)
			}
		}
		return nil
	})
	made.Filter = "All open cases"
	return export.AgeingBook(measures.AgeOpen(open, measures.ByAge, measures.ByLate, rule), *made), err
}
