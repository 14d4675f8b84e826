package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// report prints what became of imported files.
type report struct {
	out       io.Writer
	json, dry bool
	files     int
	total     map[intake.Outcome]int
}

// batch prints the results of one batch.
func (r *report) batch(in io.Reader) error {
	dec := json.NewDecoder(in)
	for {
		var raw json.RawMessage
		var res intake.Result
		err := dec.Decode(&raw)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err == nil {
			err = json.Unmarshal(raw, &res)
		}
		if err != nil {
			return fmt.Errorf("the results cannot be read: %w", err)
		}
		r.files++
		for k, n := range res.Counts {
			r.total[k] += n
		}
		switch {
		case r.json:
			fmt.Fprintf(r.out, "%s\n", raw)
		case r.dry:
			for i := range res.Items {
				line := dryLine(&res.Items[i])
				if i == 0 { // what is wrong with the whole file stands with its first message
					for _, w := range res.Warnings {
						line += " The file: " + w.String()
					}
				}
				fmt.Fprintf(r.out, "%s, %s\n", res.Name, line)
			}
		default:
			writeImport(r.out, res.Name, res)
		}
	}
}

// close prints the counts, which add up to the items in.
func (r *report) close() {
	if r.json || r.files == 0 {
		return
	}
	line := countsLine(r.total)
	if r.dry {
		read := 0
		for _, o := range []intake.Outcome{intake.Opened, intake.Attached, intake.NoCase, intake.Duplicate} {
			read += r.total[o]
		}
		files := "files"
		if r.files == 1 {
			files = "file"
		}
		line = fmt.Sprintf("%d read, %d set aside, %d refused, of %d %s; %s", read, r.total[intake.Review], r.total[intake.Refused], r.files, files, line)
	}
	fmt.Fprintf(r.out, "%s\n", line)
}

// dryLine says on one line what would become of an item.
func dryLine(it *cases.Item) string {
	would := map[intake.Outcome]string{
		intake.Opened: "read: a case would be opened", intake.Attached: "read: would be added to " + it.Reference,
		intake.NoCase: "read: in range, no case", intake.Duplicate: "read: already here",
		intake.Review: "set aside", intake.Refused: "refused",
	}[intake.Outcome(it.Outcome)]
	line := it.Position + ": " + would
	if len(it.Reasons) > 0 {
		line += ": " + strings.Join(strings.Fields(strings.Join(it.Reasons, " ")), " ")
	}
	return line
}

// countsLine says what became of all items; the parts add up to the items in.
func countsLine(counts map[intake.Outcome]int) string {
	n := 0
	var parts []string
	for _, k := range intake.Outcomes {
		n += counts[k]
		if counts[k] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", counts[k], k))
		}
	}
	return strings.TrimSuffix(fmt.Sprintf("%d in: %s", n, strings.Join(parts, ", ")), ": ")
}

func writeImport(out io.Writer, name string, res intake.Result) {
	fmt.Fprintf(out, "%s\n", name)
	for _, w := range res.Warnings {
		fmt.Fprintf(out, "  warning: %s\n", w)
	}
	for _, it := range res.Items {
		fmt.Fprintf(out, "  %s: %s", it.Position, it.Outcome)
		if it.Reference != "" {
			fmt.Fprintf(out, " %s", it.Reference)
		}
		fmt.Fprintln(out)
		for _, r := range it.Reasons {
			fmt.Fprintf(out, "    %s\n", r)
		}
	}
}
