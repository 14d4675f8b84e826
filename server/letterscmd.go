package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"dunlin/reminders/letters"
	"dunlin/templates"
)

func lettersCommand() command {
	return command{name: "letters", args: "check [--folder DIR] | fields | sheet [--envelope NAME] FILE", short: "check the letter texts; print a sheet to proof envelopes with",
		long: `letters check reads the letter texts, those of a folder laid over the built-in ones,
and prints how easily each one reads with the same invented values. The folder is the
one of the settings (letters_folder), or the one given.

GRADE is the Flesch-Kincaid grade and SMOG the grade of that name, for English; INFLESZ
and FH (Fernández Huerta) are the reading ease of Spanish, higher is easier. LONG counts
words of more than three syllables, SENTENCE is the mean length of a sentence in words
and LONGEST the longest one. A grade is a check and no proof: read each letter with
parents too.

Letters to families must read at grade 6 or below, or at INFLESZ 65 or above. Exit 1 if
one does not, or if a text has a fault; each fault is named with file and line.

letters fields prints the kinds of letter texts with their variants and the fields that
each may use.

letters sheet writes a PDF to proof the window with the program's own envelopes, of the
geometry in the settings or of one by name: ` + strings.Join(letters.ProfileNames(), ", ") + `.

A folder of texts holds LANGUAGE/NAME.txt. Each begins with lines kind, variant (where
the kind has some), language, version, title and status, and a line ---. Below it an
empty line ends a paragraph; ## begins a heading, ! a strong paragraph, - a list item
and > a line of its own; ?field before these leaves the block out when the field has no
value, ?!field when it has one, * repeats it for each infant of a list; {field} stands
for a value. A new language also needs LANGUAGE/words.txt with its months and times.`,
		run: runLetters}
}

func runLetters(_ context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	folder := fs.String("folder", "", "`folder` of the program's own letter texts")
	envelope := fs.String("envelope", "", "`name` of the geometry of envelope and sheet")
	get := configFlags(fs)
	sub := ""
	if len(args) > 0 && !strings.HasPrefix(args[0], "-") {
		sub, args = args[0], args[1:]
	}
	if code, done := parse(std, fs, args); done {
		return code
	}
	switch {
	case sub == "sheet" && fs.NArg() == 1:
		return envelopeSheet(std, get, *envelope, fs.Arg(0))
	case sub == "fields" && fs.NArg() == 0:
		if err := printFields(std.out); err != nil {
			return fail(std, "letters", err)
		}
		return exitOK
	case sub != "check" || fs.NArg() > 0:
		return wrongUse(std, fs, "write: dunlin letters check, dunlin letters fields, or dunlin letters sheet FILE")
	}
	c, err := get()
	if err != nil {
		fmt.Fprintf(std.err, "dunlin letters: %s\n", people(err))
		return exitUsage
	}
	if *folder != "" {
		c.LettersFolder = *folder
	}
	texts, err := c.letterTexts()
	if err != nil {
		return fail(std, "letters", err)
	}
	failed, err := printScores(std.out, texts)
	if err != nil {
		return fail(std, "letters", err)
	}
	for _, w := range c.letterWarnings(texts) {
		fmt.Fprintf(std.err, "Note: %s.\n", w)
	}
	if len(failed) > 0 {
		fmt.Fprintf(std.err, "Too hard to read for families: %s.\n", strings.Join(failed, ", "))
		return exitFailed
	}
	return exitOK
}

// printScores prints a line for each text and names those above the gate.
func printScores(out io.Writer, texts *templates.LetterSet) (failed []string, err error) {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "TEXT\tFOR\tGRADE\tSMOG\tINFLESZ\tFH\tWORDS\tLONG\tSENTENCE\tLONGEST\tGATE\tFROM\tSTATUS")
	for _, t := range texts.All() {
		score, err := texts.Score(t)
		if err != nil {
			return nil, err
		}
		r := score.Reading
		grade, smog, inflesz, fh := "", "", "", ""
		switch language, _, _ := strings.Cut(t.Language, "-"); language {
		case "en":
			grade, smog = fmt.Sprintf("%.1f", r.Grade()), fmt.Sprintf("%.1f", r.SMOG())
		case "es":
			inflesz, fh = fmt.Sprintf("%.0f", r.INFLESZ()), fmt.Sprintf("%.0f", r.FernandezHuerta())
		}
		whom, gate, from := "others", "none", "program"
		if templates.ForFamily(t.Kind) {
			whom, gate = "family", "no formula"
		}
		switch {
		case score.Gated && score.Passes:
			gate = "passed"
		case score.Gated:
			gate = "TOO HARD"
			failed = append(failed, t.File)
		}
		if t.Own {
			from = "folder"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%d\t%d\t%.1f\t%d\t%s\t%s\t%s\n", t.File, whom, grade, smog, inflesz, fh, r.Words, r.Long, r.PerSentence(), r.Longest, gate, from, t.Status)
	}
	return failed, w.Flush()
}

// printFields prints what the texts of each kind may ask for.
func printFields(out io.Writer) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "KIND\tFIELD\tALWAYS THERE\tMEANING")
	for _, kind := range templates.LetterKindNames() {
		if v := templates.LetterVariants(kind); len(v) > 1 {
			fmt.Fprintf(w, "%s\t\t\tvariants: %s\n", kind, strings.TrimPrefix(strings.Join(v, ", "), ", "))
		}
		for _, f := range templates.LetterFieldsOf(kind, "en") {
			there := "yes"
			if f.Maybe {
				there = "no: write ?" + f.Name
			}
			fmt.Fprintf(w, "%s\t{%s}\t%s\t%s\n", kind, f.Name, there, f.Meaning)
		}
	}
	return w.Flush()
}
