package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // so that the program's zone exists on any machine
)

// release is the version printed and written into new stores.
const release = "0.1.0"

// Exit codes of every command.
const (
	exitOK     = 0
	exitFailed = 1 // the job failed, or some input was refused
	exitUsage  = 2 // wrong use
)

// stdio is where a command reads and writes, so that tests can stand in.
type stdio struct {
	in       io.Reader
	out, err io.Writer
}

// command is one subcommand: its words for help, and what it does.
type command struct {
	name, args, short, long string
	run                     func(ctx context.Context, io stdio, fs *flag.FlagSet, args []string) int
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	code := run(ctx, stdio{os.Stdin, os.Stdout, os.Stderr}, os.Args[1:])
	stop()
	os.Exit(code)
}

func commands() []command {
	return []command{
		serveCommand(), demoCommand(), importCommand(), assessCommand(), overdueCommand(), lettersCommand(), reportCommand(), exportCommand(),
		checkCommand(), backupCommand(), restoreCommand(), compactCommand(), accountCommand(), configCommand(), healthCommand(), versionCommand(),
	}
}

// run dispatches one command line and returns the exit code.
func run(ctx context.Context, io stdio, args []string) int {
	if len(args) == 0 {
		usage(io.err)
		return exitUsage
	}
	switch args[0] {
	case "help", "-h", "--help", "-help":
		usage(io.out)
		return exitOK
	}
	if args[0] == examineName {
		return examineFile(ctx, io)
	}
	for _, c := range commands() {
		if c.name == args[0] {
			return c.call(ctx, io, args[1:])
		}
	}
	fmt.Fprintf(io.err, "dunlin: there is no command %q. The commands:\n\n", args[0])
	usage(io.err)
	return exitUsage
}

func usage(w io.Writer) {
	fmt.Fprint(w, "dunlin follows infants up after a newborn screen for cystic fibrosis.\n\nUse: dunlin COMMAND [--help] ...\n\n")
	for _, c := range commands() {
		fmt.Fprintf(w, "  %-9s %s\n", c.name, c.short)
	}
	fmt.Fprint(w, "\nExit codes: 0 done, 1 the job failed, 2 wrong use.\n")
}

func (c command) call(ctx context.Context, io stdio, args []string) int {
	fs := flag.NewFlagSet(c.name, flag.ContinueOnError)
	fs.SetOutput(io.err)
	fs.Usage = func() {
		fmt.Fprintf(fs.Output(), "Use: dunlin %s %s\n\n%s\n", c.name, c.args, c.long)
		printFlags(fs)
	}
	return c.run(ctx, io, fs, args)
}

// printFlags prints the flags of a command; of those that every setting has, only the
// usual ones.
func printFlags(fs *flag.FlagSet) {
	shown := flag.NewFlagSet("", flag.ContinueOnError)
	shown.SetOutput(fs.Output())
	some, quiet := false, false
	fs.VisitAll(func(f *flag.Flag) {
		if s, ok := f.Value.(*settingFlag); ok && s.quiet {
			quiet = true
			return
		}
		shown.Var(f.Value, f.Name, f.Usage)
		shown.Lookup(f.Name).DefValue = f.DefValue
		some = true
	})
	if some {
		fmt.Fprint(fs.Output(), "\nFlags:\n")
		shown.PrintDefaults()
	}
	if quiet {
		fmt.Fprint(fs.Output(), "\nEvery other setting has a flag too: dunlin config names.\n")
	}
}

// parse reads a command's flags; done tells that the command ends here with code.
func parse(io stdio, fs *flag.FlagSet, args []string) (code int, done bool) {
	for _, a := range args {
		if a == "--help" || a == "-help" || a == "-h" {
			fs.SetOutput(io.out)
			break
		}
	}
	switch err := fs.Parse(args); {
	case errors.Is(err, flag.ErrHelp):
		return exitOK, true
	case err != nil:
		return exitUsage, true
	}
	return exitOK, false
}

// wrongUse says what is wrong with a command line.
func wrongUse(io stdio, fs *flag.FlagSet, format string, args ...any) int {
	fmt.Fprintf(io.err, "dunlin %s: %s\nSee dunlin %s --help.\n", fs.Name(), fmt.Sprintf(format, args...), fs.Name())
	return exitUsage
}

// fail says why a job failed.
func fail(io stdio, what string, err error) int {
	fmt.Fprintf(io.err, "dunlin %s: %s\n", what, people(err))
	return exitFailed
}
