package main

import (
	"cmp"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"

	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/reminders"
)

func overdueCommand() command {
	return command{name: "overdue", args: "[flags]", short: "print today's overdue list",
		long: `Prints today's overdue list, in the order in which it is worked, as a table or, with
--json, as one assessment a line.`,
		run: func(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
			get := configFlags(fs, "store", "zone", "code")
			asJSON := fs.Bool("json", false, "print one assessment a line")
			return storeJob(ctx, std, fs, args, get, func() (*op, error) { return &op{Command: "overdue", JSON: *asJSON}, nil })
		}}
}

// storeJob is the common shape of the commands that read a store.
func storeJob(ctx context.Context, std stdio, fs *flag.FlagSet, args []string, get func() (*config, error), make func() (*op, error)) int {
	if code, done := parse(std, fs, args); done {
		return code
	}
	o, err := make()
	if err != nil {
		return wrongUse(std, fs, "%v", err)
	}
	cfg, err := get()
	if err != nil {
		fmt.Fprintf(std.err, "dunlin %s: %s\n", fs.Name(), people(err))
		return exitUsage
	}
	return doOp(ctx, std, cfg, o, true)
}

func (o *op) overdue(ctx context.Context, s *site, out io.Writer) (int, error) {
	page, err := s.book.Today(ctx)
	if err != nil {
		return exitFailed, err
	}
	if o.JSON {
		enc := json.NewEncoder(out)
		enc.SetEscapeHTML(false)
		for i := range page.Items {
			a := s.book.Protocol().Assess(page.Items[i].Case, page.Today) // the whole of it
			a.Next.Because = a.Explain(page.Items[i].Case)
			if err := enc.Encode(a); err != nil {
				return exitFailed, err
			}
		}
		return exitOK, nil
	}
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "DAYS LATE\tINFANT\tBORN\tREFERENCE\tWHY IT IS HERE\tNEXT ACTION\tDUE\n")
	for i := range page.Items {
		it := &page.Items[i]
		late := "today"
		if n := it.Late(); n > 0 {
			late = fmt.Sprint(n)
		}
		in := &it.Case.Infant
		fmt.Fprintf(w, "%s\t%s, %s\t%s\t%s\t%s\t%s\t%s\n", late, strings.ToUpper(in.Family), in.Given, cases.Say(in.Born),
			it.Case.Reference, it.Reason(), it.Action(), cases.Say(it.Assessment.Next.Due))
	}
	if err := w.Flush(); err != nil {
		return exitFailed, err
	}
	_, err = fmt.Fprintf(out, "\n%d on the list of %s. %s\nNot a diagnosis: a work list until a named clinician decides.\n", len(page.Items), cases.Say(page.Today), reminders.OrderRule)
	return exitOK, err
}

func reportCommand() command {
	return command{name: "report", args: "[flags]", short: "print closure times",
		long: `Prints closure times of the cases referred in a window: from birth and from referral
to first test and to closure, by Kaplan-Meier with open cases counted. With --rates:
QNS, missed appointments, final resolution, contacts, repeats and complete data,
each with what it counts; small counts are hidden by the protocol.

With --faults: what is missing or cannot be so in what is recorded, by case number,
with what to do; suspected duplicates included.

With --from-milestone and --to-milestone: the interval between two milestones of the
cases referred, or with --by birth born, in the window, with --group by site,
language, county, gestation, variants, year or class; small counts are hidden.

With --year: the figures of the infants born in a year, small counts hidden unless
--full is given, as text or, with --pdf, as the report on paper. Full figures, and
every file, are written into the audit trail first. Where the figures of a year were
kept, those with small counts hidden are the ones kept.

With --data it reads a CSV file instead: lines that begin with # are comments, a
header names time and event (or status: 0 still open, 1 and up the reason), and
each further line is a case. It gives curve, median, mean, the share closed by
reason, and with --group the log-rank test. A file with faults is refused.`,
		run: func(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
			get := configFlags(fs, "store", "zone", "code")
			asJSON := fs.Bool("json", false, "print JSON")
			from := fs.String("from", "", "first day of referral, `YYYY-MM-DD`")
			to := fs.String("to", "", "last day of referral, `YYYY-MM-DD`")
			rates := fs.Bool("rates", false, "print rates in place of closure times")
			faults := fs.Bool("faults", false, "list data faults by case number in place of closure times")
			var data dataReport
			data.flags(fs)
			var interval intervalReport
			interval.flags(fs)
			var year yearReport
			year.flags(fs)
			if code, done := parse(std, fs, args); done {
				return code
			}
			reason := interval.wrong(fs, data.group, *rates)
			if !interval.asked() || data.file != "" {
				reason = cmp.Or(data.wrong(fs), reason)
			}
			if *faults && (*rates || interval.asked()) {
				reason = "--faults lists cases: leave out --rates and the milestones"
			}
			if year.Year != 0 || reason == "" {
				reason = year.wrong(fs)
			}
			if reason != "" {
				return wrongUse(std, fs, "%s", reason)
			}
			if year.Year != 0 {
				return storeJob(ctx, std, fs, args, get, func() (*op, error) { return year.op(*asJSON) })
			}
			if data.file != "" {
				return data.run(std, *asJSON)
			}
			return storeJob(ctx, std, fs, args, get, func() (*op, error) {
				for _, d := range []string{*from, *to} {
					if d == "" {
						continue
					}
					if _, err := cases.ParseDay(d); err != nil {
						return nil, err
					}
				}
				o := &op{Command: "report", JSON: *asJSON, From: *from, To: *to, Rates: *rates, Faults: *faults}
				if interval.asked() {
					q := interval.question(data.group, measures.Window{})
					o.Interval = &q
				}
				return o, nil
			})
		}}
}

func (o *op) report(ctx context.Context, s *site, out io.Writer) (int, error) {
	if o.Year != nil {
		return o.reportYear(ctx, s, out)
	}
	win, err := o.window()
	if err != nil {
		return exitUsage, err
	}
	if o.Rates {
		return o.reportRates(ctx, s, out, win)
	}
	if o.Faults {
		return o.reportFaults(ctx, s, out, win)
	}
	if o.Interval != nil {
		return o.reportInterval(ctx, s, out, win)
	}
	var t *measures.Tally
	err = s.eachMilestone(ctx, &win, func() { t = measures.NewTally(win) }, func(m *cases.Milestones) { t.Add(measures.RecordOf(m)) })
	if err != nil {
		return exitFailed, err
	}
	rep := t.Report()
	if o.JSON {
		enc := json.NewEncoder(out)
		enc.SetIndent("", "  ")
		return exitOK, enc.Encode(rep)
	}
	return exitOK, rep.WriteText(out)
}

// window is the window of referral that a job was asked about.
func (o *op) window() (measures.Window, error) {
	var win measures.Window
	for _, x := range []struct {
		text string
		day  *cases.Day
	}{{o.From, &win.From}, {o.To, &win.To}} {
		if x.text == "" {
			continue
		}
		d, err := cases.ParseDay(x.text)
		if err != nil {
			return win, err
		}
		*x.day = d
	}
	return win, nil
}

func checkCommand() command {
	return command{name: "check", args: "[flags]", short: "verify the store: pages, records, indexes, audit chain",
		long: `Verifies the pages of the file, the hash of every record, every index against the
cases, and the chains of audit trail and access log. With --heads their ends are
compared with those noted outside the store (setting heads_file): a cut tail shows only
so. Prints each problem. Exit 1 if there is one.`,
		run: func(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
			get := configFlags(fs, "store", "zone", "code")
			heads := fs.String("heads", "", "`file` of noted heads")
			return storeJob(ctx, std, fs, args, get, func() (*op, error) {
				o := &op{Command: "check"}
				if *heads == "" {
					return o, nil
				}
				text, err := os.ReadFile(*heads)
				if err == nil {
					_, err = readHeads(string(text))
				}
				if err != nil {
					return nil, fmt.Errorf("--heads %s: %w", *heads, err)
				}
				o.Heads = string(text)
				return o, nil
			})
		}}
}

func (o *op) check(ctx context.Context, s *site, out io.Writer) (int, error) {
	problems, err := s.db.Check(ctx)
	if err != nil {
		return exitFailed, err
	}
	fit := ""
	if o.Heads != "" {
		noted, err := readHeads(o.Heads)
		if err != nil {
			return exitUsage, err
		}
		cut, err := s.db.CheckHeads(ctx, noted)
		if err != nil {
			return exitFailed, err
		}
		problems, fit = append(problems, cut...), fmt.Sprintf(" %d noted heads fit.", len(noted))
	}
	for _, p := range problems {
		fmt.Fprintln(out, p)
	}
	if len(problems) > 0 {
		fmt.Fprintf(out, "%d problem(s) found in %s.\n", len(problems), s.db.Path())
		return exitFailed, nil
	}
	heads, err := s.db.Heads(ctx)
	if err != nil {
		return exitFailed, err
	}
	audit, access := heads[0], heads[1]
	fmt.Fprintf(out, "%s is sound. Audit trail: %d entries, head %s.", s.db.Path(), audit.Seq, audit.Hash)
	if access.Seq > 0 {
		fmt.Fprintf(out, " Access log: %d lines, head %s.", access.Seq, access.Hash)
	}
	fmt.Fprintln(out, fit)
	return exitOK, nil
}
