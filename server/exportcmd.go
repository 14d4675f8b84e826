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
		{"case", "REFERENCE --reason TEXT", "one case as a bundle of HL7 FHIR R4 resources. It names the infant and the family.", exportCase},
	}
}

func exportCommand() command {
	var args, says []string
	for _, k := range exportKinds() {
		args = append(args, k.name+" "+k.args)
		says = append(says, "export "+k.name+" writes "+k.says)
	}
	return command{name: "export", args: strings.Join(args, " | "), short: "write what leaves the program: a case as FHIR",
		long: strings.Join(says, "\n\n") + `

The file goes to standard output. Each export is written into the audit trail before
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
