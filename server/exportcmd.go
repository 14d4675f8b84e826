package main

import (
	"context"
	"flag"
	"strings"
)

// exportKind is one thing that leaves the program as a file.
type exportKind struct {
	name, args, says string
	run              func(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int
}

// exportKinds are the subcommands of export.
func exportKinds() []exportKind {
	return []exportKind{
		{"figures", "--out FILE", "the figures of a report (--report closure, rates or ages), small numbers hidden by the program's rule, or not with --full.", exportFigures},
		{"rows", "--reason TEXT --out FILE", "one line a case, with names.", exportRows},
		{"extract", "--from-year YEAR --reason TEXT --out FILE", "one line a case without what identifies anybody, by 45 CFR 164.514(b)(2): ages in days, and of dates only the year of birth, of years that are over.", exportExtract},
		{"case", "REFERENCE --reason TEXT", "one case as a bundle of HL7 FHIR R4 resources. It names the infant and the family.", exportCase},
	}
}

func exportCommand() command {
	var args, says []string
	for _, k := range exportKinds() {
		args = append(args, k.name+" "+k.args)
		says = append(says, "export "+k.name+" writes "+k.says)
	}
	return command{name: "export", args: strings.Join(args, " | "), short: "write what leaves the program: figures, line list, extract, a case as FHIR",
		long: strings.Join(says, "\n\n") + `

FILE.xlsx is a workbook, FILE.zip holds one CSV file for each table, and FILE.csv is one
table (the first, or that of --table). All but FILE.csv have a data dictionary, and none
holds a formula. A file that is there already is not replaced. A case goes to standard
output. Each export is written into the audit trail before it gets its name, or before
the first byte; where that fails, nothing is exported.`,
		run: func(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
			if len(args) > 0 {
				for _, k := range exportKinds() {
					if k.name == args[0] {
						return k.run(ctx, std, fs, args[1:])
					}
				}
				if !strings.HasPrefix(args[0], "-") {
					return wrongUse(std, fs, "there is no export %q", args[0])
				}
			}
			if code, done := parse(std, fs, args); done {
				return code
			}
			return wrongUse(std, fs, "say what to export: %s", strings.Join(exportNames(), ", "))
		}}
}

func exportNames() (out []string) {
	for _, k := range exportKinds() {
		out = append(out, k.name)
	}
	return out
}
