package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"strings"

	"dunlin/cases"
	"dunlin/cases/export/fhir"
)

// exportCase is the subcommand export case: one case as a bundle, to a file or to
// standard output.
func exportCase(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	get := configFlags(fs, "store", "zone", "code")
	format := fs.String("format", "fhir", "`form` of the file: fhir (HL7 FHIR R4, JSON)")
	reason := fs.String("reason", "", "who gets the file, and why; `text` for the log")
	reference := ""
	if len(args) > 0 && !strings.HasPrefix(args[0], "-") {
		reference, args = args[0], args[1:]
	}
	return storeJob(ctx, std, fs, args, get, func() (*op, error) {
		switch {
		case reference == "" && fs.NArg() == 1:
			reference = fs.Arg(0)
		case reference == "" || fs.NArg() > 0:
			return nil, fmt.Errorf("name one case by its reference, like AB-2026-0042")
		}
		if *format != "fhir" {
			return nil, fmt.Errorf("a case has no form %q; use fhir", *format)
		}
		if strings.TrimSpace(*reason) == "" {
			return nil, fmt.Errorf("say with --reason who gets the file, and why")
		}
		return &op{Command: "export-case", Reference: reference, Reason: strings.TrimSpace(*reason)}, nil
	})
}

// exportCase writes a case as a bundle, once the export stands in the audit trail.
func (o *op) exportCase(ctx context.Context, s *site, out io.Writer) (int, error) {
	var source fhir.Source
	if err := s.db.View(ctx, func(r cases.Reader) (err error) {
		source, err = fhir.Read(r, o.Reference)
		return err
	}); err != nil {
		return exitFailed, err
	}
	names := s.letterFacts(nil).Sites
	bundle := fhir.Make(source, fhir.Options{Program: s.cfg.Letters.Name, By: o.Who, Zone: s.cfg.zone, Protocol: s.cfg.protocol,
		Site: func(key string) string { return names[key].Name }, LeaveOut: s.cfg.CodesLeftOut})
	var body bytes.Buffer
	if err := bundle.Write(&body); err != nil {
		return exitFailed, err
	}
	ev := cases.Event{Kind: "exported", Reason: o.Reason,
		Text: fmt.Sprintf("Case %s as FHIR R4, %d rows. Names the infant.", source.Case.Reference, len(bundle.Entry))}
	who := cases.Actor{ID: o.Who, Name: o.Who, Role: cases.System, Via: "export"}
	if err := s.noteExport(ctx, who, ev, cases.Access{Infants: []string{source.Case.Reference}, Rows: 1}); err != nil {
		return exitFailed, fmt.Errorf("the export could not be logged, so nothing was exported: %w", err)
	}
	_, err := out.Write(body.Bytes())
	return exitOK, err
}
