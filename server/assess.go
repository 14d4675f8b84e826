package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"time"

	"dunlin/cases"
)

func assessCommand() command {
	return command{name: "assess", args: "[--on DATE] [--protocol FILE] [FILE...|-]", short: "assess case documents",
		long: `Reads case documents (one, an array of them, or one a line) from files or standard
input, and prints one JSON object a line, in order: the assessment, or
{"reference", "refused": [{"path", "reason"}]}. Nothing is stored.
Exit 1 if any was refused. --schema prints the JSON schema of a case document.`,
		run: runAssess}
}

func runAssess(_ context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	on := fs.String("on", "", "day of assessment, `YYYY-MM-DD` (default today)")
	schema := fs.Bool("schema", false, "print the JSON schema of a case document and stop")
	get := configFlags(fs, "zone")
	if code, done := parse(std, fs, args); done {
		return code
	}
	if *schema {
		enc := json.NewEncoder(std.out)
		enc.SetIndent("", "  ")
		if err := enc.Encode(cases.Schema()); err != nil {
			return fail(std, "assess", err)
		}
		return exitOK
	}
	c, err := get()
	if err != nil {
		fmt.Fprintf(std.err, "dunlin assess: %s\n", people(err))
		return exitUsage
	}
	day := cases.DayOf(time.Now().In(c.zone))
	if *on != "" {
		if day, err = cases.ParseDay(*on); err != nil {
			return wrongUse(std, fs, "--on %v", err)
		}
	}
	names := fs.Args()
	if len(names) == 0 {
		names = []string{"-"}
	}
	out := bufio.NewWriter(std.out)
	code := exitOK
	for _, name := range names {
		refused, err := assessFile(std.in, out, name, day, c.protocol)
		if err != nil {
			out.Flush()
			return fail(std, "assess", err)
		}
		if refused {
			code = exitFailed
		}
	}
	if err := out.Flush(); err != nil {
		return fail(std, "assess", err)
	}
	return code
}

// assessFile assesses every document of one input.
func assessFile(in io.Reader, out io.Writer, name string, day cases.Day, p *cases.Protocol) (refused bool, err error) {
	data, err := readInput(in, name)
	if err != nil {
		return false, err
	}
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	for _, doc := range splitDocuments(data) {
		line := assessDocument(doc, day, p)
		if _, bad := line.(refusal); bad {
			refused = true
		}
		if err := enc.Encode(line); err != nil {
			return refused, err
		}
	}
	return refused, nil
}

func readInput(in io.Reader, name string) ([]byte, error) {
	if name == "-" {
		return io.ReadAll(in)
	}
	return os.ReadFile(name)
}

// refusal says what is wrong with a document.
type refusal struct {
	Reference string        `json:"reference"`
	Refused   []cases.Fault `json:"refused"`
}

func assessDocument(doc []byte, day cases.Day, p *cases.Protocol) any {
	c, err := cases.ParseCase(doc, day, p)
	if err != nil {
		var e *cases.Error
		if !errors.As(err, &e) {
			e = &cases.Error{Faults: []cases.Fault{{Reason: err.Error()}}}
		}
		return refusal{c.Reference, e.Faults}
	}
	return explained(p, &c, day)
}

// explained is the assessment with its sentence.
func explained(p *cases.Protocol, c *cases.Case, day cases.Day) cases.Assessment {
	a := p.Assess(c, day)
	a.Next.Because = a.Explain(c)
	return a
}

// splitDocuments finds the documents of an input: one object, an array of them, or
// objects one after the other. What cannot be split is one document, to be refused
// as a whole.
func splitDocuments(data []byte) [][]byte {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	trimmed := bytes.TrimSpace(data)
	if len(trimmed) == 0 {
		return [][]byte{data}
	}
	if trimmed[0] == '[' {
		var list []json.RawMessage
		if json.Unmarshal(trimmed, &list) == nil {
			docs := make([][]byte, len(list))
			for i, m := range list {
				docs[i] = m
			}
			return docs
		}
		return [][]byte{data}
	}
	var docs [][]byte
	dec := json.NewDecoder(bytes.NewReader(trimmed))
	for {
		var m json.RawMessage
		switch err := dec.Decode(&m); {
		case errors.Is(err, io.EOF):
			return docs
		case err != nil:
			return splitLines(trimmed)
		}
		docs = append(docs, m)
	}
}

// splitLines takes one document a line, so that a broken one spoils no other. A
// single broken document over many lines stays one.
func splitLines(data []byte) [][]byte {
	var docs [][]byte
	whole := 0
	for line := range bytes.Lines(data) {
		if line = bytes.TrimSpace(line); len(line) == 0 {
			continue
		}
		if json.Valid(line) && line[0] == '{' {
			whole++
		}
		docs = append(docs, line)
	}
	if whole == 0 {
		return [][]byte{data}
	}
	return docs
}
