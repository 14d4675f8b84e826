package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"runtime"
	"runtime/debug"
)

// build is what is known of how this program was made.
type build struct {
	Release  string `json:"release"`
	Go       string `json:"go"`
	Platform string `json:"platform"`
	Revision string `json:"revision,omitempty"` // of the source
	Time     string `json:"time,omitempty"`     // of the revision
	Changed  bool   `json:"changed,omitempty"`  // the source held changes beside the revision
	Static   bool   `json:"static"`             // made without cgo
}

// thisBuild reads what the tools wrote into the program.
func thisBuild() build {
	b := build{Release: release, Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.Revision = s.Value
		case "vcs.time":
			b.Time = s.Value
		case "vcs.modified":
			b.Changed = s.Value == "true"
		case "CGO_ENABLED":
			b.Static = s.Value == "0"
		}
	}
	return b
}

// revision is the source's short revision, "" when it is not known.
func revision() string {
	r := thisBuild().Revision
	return r[:min(12, len(r))]
}

func versionCommand() command {
	return command{name: "version", args: "[--json | --sbom]", short: "print the release, and what it is made of",
		long: `Prints the release of this program and how it was built.

--sbom prints the software bill of materials: every module in this program with its
version, as CycloneDX 1.6 JSON (an open standard, ECMA-424), for tools that look for
known faults in modules.`,
		run: func(_ context.Context, io stdio, fs *flag.FlagSet, args []string) int {
			asJSON := fs.Bool("json", false, "print JSON")
			sbom := fs.Bool("sbom", false, "print the bill of materials")
			if code, done := parse(io, fs, args); done {
				return code
			}
			if fs.NArg() > 0 || *asJSON && *sbom {
				return wrongUse(io, fs, "it takes no arguments, and one of --json and --sbom")
			}
			var what any = thisBuild()
			switch {
			case *sbom:
				info, ok := debug.ReadBuildInfo()
				if !ok {
					return fail(io, "version", fmt.Errorf("this program does not know what it was made of: build it with go build"))
				}
				what = billOf(info)
			case !*asJSON:
				printBuild(io, thisBuild())
				return exitOK
			}
			enc := json.NewEncoder(io.out)
			enc.SetIndent("", "  ")
			if err := enc.Encode(what); err != nil {
				return fail(io, "version", err)
			}
			return exitOK
		}}
}

func printBuild(io stdio, b build) {
	fmt.Fprintf(io.out, "dunlin %s\n", b.Release)
	line := "built with " + b.Go + " for " + b.Platform
	if b.Static {
		line += ", static"
	}
	if b.Revision != "" {
		line += ", from " + b.Revision[:min(12, len(b.Revision))]
		if b.Time != "" {
			line += " of " + b.Time
		}
		if b.Changed {
			line += " with changes"
		}
	}
	fmt.Fprintln(io.out, line)
}
