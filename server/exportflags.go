package main

import (
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/cases/export"
	"dunlin/cases/measures"
)

// exportJob is what an export was asked for.
type exportJob struct {
	What     string `json:"what"`   // figures, rows or extract
	Report   string `json:"report"` // of figures: closure, rates or ages
	Format   string `json:"format"`
	Table    string `json:"table,omitempty"` // of one CSV file
	Which    string `json:"which,omitempty"` // of rows
	Answers  string `json:"answers,omitempty"`
	FromYear int    `json:"from_year,omitempty"`
	ToYear   int    `json:"to_year,omitempty"`
	Full     bool   `json:"full,omitempty"`
	ByDay    bool   `json:"by_day,omitempty"` // of rates: days of tests, not of referrals
}

// outFlags are the flags that every file has.
func (j *exportJob) outFlags(fs *flag.FlagSet) (out *string) {
	fs.StringVar(&j.Table, "table", "", "the `name` of the one table that FILE.csv holds")
	return fs.String("out", "", "the `FILE` to write, .xlsx, .zip or .csv")
}

// path is the file to write, and its format.
func (j *exportJob) path(out string) (string, error) {
	j.Format = strings.TrimPrefix(strings.ToLower(filepath.Ext(out)), ".")
	switch j.Format {
	case export.XLSX, export.ZIP, export.CSV:
	default:
		return "", errors.New("name with --out the file to write, ending in .xlsx, .zip or .csv")
	}
	if j.Table != "" && j.Format != export.CSV {
		return "", errors.New("--table goes with a file that ends in .csv")
	}
	return filepath.Abs(out)
}

// job makes the op of an export, whose days are checked.
func (j *exportJob) job(fs *flag.FlagSet, out, why string, days ...string) (*op, error) {
	if fs.NArg() > 0 {
		return nil, fmt.Errorf("%q is one argument too many", fs.Arg(0))
	}
	for _, d := range days {
		if _, err := cases.ParseDay(d); d != "" && err != nil {
			return nil, err
		}
	}
	path, err := j.path(out)
	if err != nil {
		return nil, err
	}
	why = strings.TrimSpace(why)
	if why == "" && j.What != "figures" {
		return nil, errors.New("say with --reason who gets the file, and what for")
	}
	return &op{Command: "export", Path: path, Reason: why, Export: *j}, nil
}

func exportRows(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	j := exportJob{What: "rows"}
	get, out := configFlags(fs, "store", "zone", "code"), j.outFlags(fs)
	from := fs.String("from", "", "first day of referral, `YYYY-MM-DD`")
	to := fs.String("to", "", "last day of referral, `YYYY-MM-DD`")
	fs.StringVar(&j.Which, "which", export.OpenCases, "open, closed or all `cases`")
	why := fs.String("reason", "", "who gets the file, and what for; `text` for the audit trail")
	return storeJob(ctx, std, fs, args, get, func() (*op, error) {
		if !slices.Contains([]string{export.OpenCases, export.ClosedCases, export.AllCases}, j.Which) {
			return nil, errors.New("--which is open, closed or all")
		}
		o, err := j.job(fs, *out, *why, *from, *to)
		if err != nil {
			return nil, err
		}
		o.From, o.To = *from, *to
		return o, nil
	})
}

func exportExtract(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	j := exportJob{What: "extract"}
	get, out := configFlags(fs, "store", "zone", "code"), j.outFlags(fs)
	fs.IntVar(&j.FromYear, "from-year", 0, "first `year` of birth")
	fs.IntVar(&j.ToYear, "to-year", 0, "last `year` of birth (default the first)")
	why := fs.String("reason", "", "who gets the file, and what for; `text` for the audit trail")
	fs.StringVar(&j.Answers, "answers", "", "`name` of the person who answers for an extract of very few lines")
	return storeJob(ctx, std, fs, args, get, func() (*op, error) {
		if j.FromYear == 0 {
			return nil, errors.New("name with --from-year the first year of birth")
		}
		if j.ToYear == 0 {
			j.ToYear = j.FromYear
		}
		return j.job(fs, *out, *why)
	})
}

func exportFigures(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	j := exportJob{What: "figures"}
	get, out := configFlags(fs, "store", "zone", "code"), j.outFlags(fs)
	fs.StringVar(&j.Report, "report", "closure", "the `report`: closure, rates or ages")
	from := fs.String("from", "", "first day of the cohort, `YYYY-MM-DD`")
	to := fs.String("to", "", "last day of the cohort, `YYYY-MM-DD`")
	var of intervalReport // without flags: birth to closure
	of.flags(fs)
	group := fs.String("group", "", "what the cases of an interval are divided by: `site|language|county|gestation|variants|year|class`")
	fs.BoolVar(&j.ByDay, "by-day", false, "rates: --from and --to are days of tests and appointments")
	fs.BoolVar(&j.Full, "full", false, "hide no small numbers: for the program only")
	return storeJob(ctx, std, fs, args, get, func() (*op, error) {
		if !slices.Contains([]string{"closure", "rates", "ages"}, j.Report) {
			return nil, errors.New("--report is closure, rates or ages")
		}
		o, err := j.job(fs, *out, "", *from, *to)
		if err != nil {
			return nil, err
		}
		o.From, o.To = *from, *to
		if j.Report != "closure" {
			return o, nil
		}
		of.from, of.to = cmp.Or(of.from, string(measures.Birth)), cmp.Or(of.to, string(measures.Closure))
		win, err := o.window()
		if err != nil {
			return nil, err
		}
		q := of.question(*group, win)
		if f := q.Faults(); len(f) > 0 {
			return nil, errors.New(strings.Join(f, " "))
		}
		o.Interval = &q
		return o, nil
	})
}
