package main

import (
	"context"
	"flag"
	"fmt"
	"time"

	"dunlin/cases/store"
	"dunlin/server/safekeeping"
)

func compactCommand() command {
	return command{name: "compact", args: "[flags]", short: "write the store anew without unused space; not while serving",
		long: `Writes the store anew without the space that changes left unused, checks the new file
in full, compares it with the old one, and only then gives it the name. The program
must not serve meanwhile. As much free space as the store takes is needed.`,
		run: func(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
			get := configFlags(fs, "store", "zone", "code")
			if code, done := parse(std, fs, args); done {
				return code
			}
			if fs.NArg() > 0 {
				return wrongUse(std, fs, "it takes no arguments")
			}
			cfg, err := get()
			if err != nil {
				fmt.Fprintf(std.err, "dunlin compact: %s\n", people(err))
				return exitUsage
			}
			if cfg.served() {
				return fail(std, "compact", fmt.Errorf("a program serves %s. Stop it first, then compact", cfg.Store))
			}
			if _, err := cfg.lookFirst(ctx, nil); err != nil {
				return fail(std, "compact", err)
			}
			if err := safekeeping.Room(cfg.Store); err != nil {
				return fail(std, "compact", err)
			}
			before, after, err := store.Compact(ctx, cfg.Store, store.Options{Now: time.Now, Zone: cfg.zone, Protocol: cfg.protocol, Program: cfg.Code, Release: release, Wait: longWait})
			if err != nil {
				return fail(std, "compact", cfg.wayBack(err))
			}
			fmt.Fprintf(std.out, "%s: %s before, %s now, %d cases, checked. Audit trail: %d entries, head %s.\n",
				cfg.Store, safekeeping.Megabytes(before.Bytes), safekeeping.Megabytes(after.Bytes), after.Counts["cases"], after.Seq, after.Hash)
			return exitOK
		}}
}
