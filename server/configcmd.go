package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

// usualFlags are the settings that stand in the help of commands that take them all.
var usualFlags = []string{"store", "zone", "code", "listen", "admin-listen", "log-level", "daily", "help-line", "tls-cert", "tls-key", "letters-folder"}

func configCommand() command {
	return command{name: "config", args: "[check | names] [flags]", short: "print the settings in force, check them, or list them all",
		long: `Prints the settings as they come out of defaults, file, DUNLIN_* variables and flags.

config check looks at them: files and folders that are named, certificates, keys and
texts, and what a program that serves should have. It changes nothing. Exit 1 if
something is wrong; what only wants a look is said and is no failure.

config names lists every setting: its name in the file, its flag, its variable, its
default and what it does. The names are the same in all three places: mailbox.user in
the file is --mailbox-user and DUNLIN_MAILBOX_USER.`,
		run: runConfig}
}

func runConfig(_ context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	get := configAllFlags(fs, usualFlags...)
	sub := ""
	if len(args) > 0 && !strings.HasPrefix(args[0], "-") {
		sub, args = args[0], args[1:]
	}
	if code, done := parse(std, fs, args); done {
		return code
	}
	if fs.NArg() > 0 || sub != "" && sub != "check" && sub != "names" {
		return wrongUse(std, fs, "write: dunlin config, dunlin config check, or dunlin config names")
	}
	if sub == "names" {
		if err := printSettings(std.out); err != nil {
			return fail(std, "config", err)
		}
		return exitOK
	}
	c, err := get()
	switch {
	case sub == "check":
		return c.tellCheck(std, err)
	case err != nil:
		return fail(std, "config", err)
	}
	enc := json.NewEncoder(std.out)
	enc.SetIndent("", "  ")
	if err := enc.Encode(c); err != nil {
		return fail(std, "config", err)
	}
	return exitOK
}

// printSettings lists every setting.
func printSettings(out io.Writer) error {
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "SETTING\tFLAG\tVARIABLE\tWHAT IT DOES\n")
	for _, s := range allSettings() {
		fmt.Fprintf(w, "%s\t--%s\t%s\t%s\n", s.name, s.flag(), s.variable(), strings.ReplaceAll(s.help(), "`", ""))
	}
	fmt.Fprintf(w, "\t\t%s\tthe password of the mailbox, in place of its file\n", mailboxPasswordVariable)
	fmt.Fprintf(w, "\t\t%s\tthe password of the mail server, in place of its file\n", smtpPasswordVariable)
	fmt.Fprintf(w, "\t\t%s\tthe secret of the sign-in service, in place of its file\n", oidcSecretVariable)
	fmt.Fprintf(w, "\t--config\t%sCONFIG\tpath of the settings file\n", variablePrefix)
	return w.Flush()
}

// tellCheck says all that is wrong with the settings, then what wants a look.
func (c *config) tellCheck(std stdio, wrong error) int {
	faults, looks := c.examineSettings()
	if wrong != nil {
		faults = append([]error{wrong}, faults...)
	}
	for _, e := range faults {
		fmt.Fprintf(std.err, "Wrong: %s\n", people(e))
	}
	for _, l := range looks {
		fmt.Fprintf(std.out, "Look at this: %s\n", l)
	}
	if len(faults) > 0 {
		return exitFailed
	}
	from := "defaults, variables and flags"
	if c.file != "" {
		from = c.file
	}
	fmt.Fprintf(std.out, "The settings are in order (%s).\n", from)
	return exitOK
}
