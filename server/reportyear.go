package main

import (
	"cmp"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"dunlin/cases"
	"dunlin/cases/export"
	"dunlin/cases/measures"
	"dunlin/reminders/figures"
	"dunlin/templates"
)

// yearReport is what report is asked about a birth year.
type yearReport struct {
	Year  int    `json:"year"`
	PDF   string `json:"pdf,omitempty"`
	Paper string `json:"paper,omitempty"`
	Full  bool   `json:"full,omitempty"`
}

func (y *yearReport) flags(fs *flag.FlagSet) {
	fs.IntVar(&y.Year, "year", 0, "figures of the infants born in a `YEAR`")
	fs.StringVar(&y.PDF, "pdf", "", "with --year, the `FILE` to write as PDF; one that is there already is not replaced")
	fs.StringVar(&y.Paper, "paper", "", "with --pdf, the `SIZE` of the sheets: letter or a4 (default letter)")
	fs.BoolVar(&y.Full, "full", false, "with --year, do not hide small counts; for the program only")
}

// wrong says what is wrong with the flags given, or "".
func (y *yearReport) wrong(fs *flag.FlagSet) string {
	reason := ""
	fs.Visit(func(f *flag.Flag) {
		switch f.Name {
		case "year":
			if y.Year < 1990 || y.Year > 9999 {
				reason = fmt.Sprintf("--year must be a year from 1990 on, not %d", y.Year)
			}
		case "pdf", "paper", "full":
			if y.Year == 0 {
				reason = fmt.Sprintf("--%s goes with --year", f.Name)
			}
		case "from", "to", "rates", "faults", "data", "group", "by", "tau", "from-milestone", "to-milestone":
			if y.Year != 0 {
				reason = fmt.Sprintf("--%s does not go with --year, whose report is of all infants born in it", f.Name)
			}
		case "json":
			if y.PDF != "" {
				reason = "--json and --pdf are two forms of the report; choose one"
			}
		}
	})
	if _, ok := figures.PaperOf(y.Paper); !ok {
		reason = fmt.Sprintf("--paper must be letter or a4, not %q", y.Paper)
	} else if y.Paper != "" && y.PDF == "" && reason == "" {
		reason = "--paper goes with --pdf"
	}
	return reason
}

func (y *yearReport) op(asJSON bool) (*op, error) {
	o := &op{Command: "report", JSON: asJSON, Year: y}
	if y.PDF == "" {
		return o, nil
	}
	path, err := filepath.Abs(y.PDF)
	o.Path = path
	return o, err
}

// reportYear prints the figures of a birth year, or writes them as PDF.
func (o *op) reportYear(ctx context.Context, s *site, out io.Writer) (int, error) {
	r, asOf, words, err := o.yearFigures(ctx, s)
	if err != nil {
		return exitFailed, err
	}
	by := cases.Actor{ID: o.Who, Name: o.Who, Role: cases.System, Via: "command line"}
	if o.Path != "" {
		return o.fileOut(ctx, s, out, func(w io.Writer) (export.Log, error) {
			size, _ := figures.PaperOf(o.Year.Paper)
			made := fmt.Sprintf("Printed %s by %s", cases.Say(asOf.today), o.Who)
			hidden := "Small numbers hidden"
			if o.Year.Full {
				hidden = "Full figures"
			}
			return export.Log{What: "Figures for the year", Format: "PDF", Filter: words, Rows: figures.Rows(r), Hidden: hidden}, figures.Write(w, r, made, asOf.records, size)
		})
	}
	if o.Year.Full {
		err := s.db.Update(ctx, by, func(w cases.Writer) error {
			return w.Note(cases.Event{Kind: "figures-seen", Text: "Figures for the year: full figures. " + words})
		})
		if err != nil {
			return exitFailed, fmt.Errorf("full figures could not be noted in the audit trail, so they are not shown: %w", err)
		}
	}
	if o.JSON {
		enc := json.NewEncoder(out)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		return exitOK, enc.Encode(r)
	}
	return exitOK, figures.WriteText(out, r)
}

// siteName gives the name of a test site; of one that is not known its key.
func (s *site) siteName() func(string) string {
	known := s.letterFacts(nil).Sites
	return func(key string) string { return cmp.Or(known[key].Name, key) }
}

// yearDays are the day of the figures and the day they are printed.
type yearDays struct {
	records time.Time
	today   cases.Day
}

// yearFigures counts the year, or takes the figures that were kept where small numbers
// are hidden, and says in words which they are.
func (o *op) yearFigures(ctx context.Context, s *site) (r *templates.YearReport, on yearDays, words string, err error) {
	about := figures.About{Program: s.cfg.Letters.Name, Protocol: s.cfg.protocol, Site: s.siteName()}
	rule := measures.SmallNumbers{Below: s.cfg.protocol.SmallNumberBelow}
	if o.Year.Full {
		rule = measures.SmallNumbers{}
	}
	err = s.db.View(ctx, func(rd cases.Reader) error {
		on.today = rd.Today()
		kept, err := figures.LastKept(rd, o.Year.Year)
		if err != nil {
			return err
		}
		if kept != nil && !o.Year.Full {
			r, on.records = kept.Shown, kept.AsOf.Time()
			words = fmt.Sprintf("Infants born in %d, records of %s, as kept, number %d", kept.Year, r.AsOf, kept.N)
			return nil
		}
		y, err := figures.Count(rd, o.Year.Year, s.cfg.protocol)
		if err != nil {
			return err
		}
		r, on.records = figures.Words(y.Publish(rule), about), y.AsOf.Time()
		words = fmt.Sprintf("Infants born in %d, records of %s", y.Year, r.AsOf)
		return nil
	})
	return r, on, words, err
}
