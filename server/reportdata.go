package main

import (
	"bufio"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"strings"

	"dunlin/cases/measures"
)

// dataReport is what report is asked about a data file instead of a store.
type dataReport struct {
	file, group string
	tau         float64
}

func (d *dataReport) flags(fs *flag.FlagSet) {
	fs.StringVar(&d.file, "data", "", "a CSV `FILE` of times to analyze instead of a store, - for standard input")
	fs.StringVar(&d.group, "group", "", "what divides the cases: a `COLUMN` of --data, or of an interval site, language ...")
	fs.Float64Var(&d.tau, "tau", 0, "the `time` up to which the means of --data are taken (default each group's largest)")
}

// wrong says what is wrong with the flags given, or "".
func (d *dataReport) wrong(fs *flag.FlagSet) string {
	reason := ""
	fs.Visit(func(f *flag.Flag) {
		ofData := f.Name == "data" || f.Name == "group" || f.Name == "tau"
		switch {
		case f.Name == "json":
		case d.file == "" && ofData:
			reason = fmt.Sprintf("--%s goes with --data FILE, and a file named", f.Name)
		case d.file != "" && !ofData:
			reason = fmt.Sprintf("--%s is about a store; it does not go with --data", f.Name)
		case f.Name == "tau" && !(d.tau > 0 && d.tau <= 1e300):
			reason = "--tau must be a time above 0"
		}
	})
	if d.file != "" && fs.NArg() > 0 {
		reason = fmt.Sprintf("%q is one argument too many", fs.Arg(0))
	}
	return reason
}

func (d *dataReport) run(std stdio, asJSON bool) int {
	data, err := d.read(std.in)
	if err != nil {
		var faults *measures.DataError
		if errors.As(err, &faults) {
			fmt.Fprintf(std.err, "dunlin report: %s was refused, and nothing was computed:\n  %s\n",
				d.name(), strings.ReplaceAll(faults.Error(), "\n", "\n  "))
			return exitFailed
		}
		return fail(std, "report", err)
	}
	out := bufio.NewWriter(std.out)
	a := data.Analyze(d.tau)
	if asJSON {
		err = a.WriteJSON(out)
	} else {
		err = a.WriteText(out)
	}
	if ferr := out.Flush(); err == nil {
		err = ferr
	}
	if err != nil {
		return fail(std, "report", err)
	}
	return exitOK
}

func (d *dataReport) name() string {
	if d.file == "-" {
		return "standard input"
	}
	return d.file
}

func (d *dataReport) read(in io.Reader) (measures.Data, error) {
	if d.file != "-" {
		f, err := os.Open(d.file)
		if err != nil {
			return measures.Data{}, err
		}
		defer f.Close()
		in = f
	}
	return measures.ReadData(in, d.group)
}
