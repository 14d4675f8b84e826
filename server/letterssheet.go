package main

import (
	"bytes"
	"fmt"
	"os"

	"dunlin/reminders/letters"
)

// envelopeSheet writes the sheet to proof envelopes with. A file that is there stays.
func envelopeSheet(std stdio, get func() (*config, error), name, path string) int {
	c, err := get()
	if err != nil {
		fmt.Fprintf(std.err, "dunlin letters: %s\n", people(err))
		return exitUsage
	}
	env := c.Letters.Envelope
	if name != "" {
		if env, err = letters.ProfileNamed(name); err != nil {
			fmt.Fprintf(std.err, "dunlin letters: %s\n", people(err))
			return exitUsage
		}
	}
	var b bytes.Buffer
	if err := env.WriteTestSheet(&b); err != nil {
		return fail(std, "letters", err)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fail(std, "letters", err)
	}
	_, err = f.Write(b.Bytes())
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return fail(std, "letters", err)
	}
	fmt.Fprintf(std.out, "Wrote %s: %s. Print it in full size, fold it at the ticks, and proof it with your own envelopes.\n", path, env.Name)
	return exitOK
}
