package measures

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// maxFaults is how many faults of a file are listed; the rest are counted.
const maxFaults = 50

// DataError lists what is wrong with a data file. Nothing is computed from a file
// with faults: leaving lines out would change every figure after them.
type DataError struct {
	Faults []DataFault
	More   int // faults beyond those listed
}

// DataFault is one fault of a data file.
type DataFault struct {
	Line   int // in the file, from 1; 0 for the file as a whole
	Reason string
}

// Error gives one fault a line.
func (e *DataError) Error() string {
	lines := make([]string, 0, len(e.Faults)+1)
	for _, f := range e.Faults {
		if f.Line == 0 {
			lines = append(lines, f.Reason)
			continue
		}
		lines = append(lines, fmt.Sprintf("line %d: %s", f.Line, f.Reason))
	}
	if e.More > 0 {
		lines = append(lines, fmt.Sprintf("and %d more", e.More))
	}
	return strings.Join(lines, "\n")
}

func (e *DataError) add(line int, format string, args ...any) {
	if len(e.Faults) == maxFaults {
		e.More++
		return
	}
	e.Faults = append(e.Faults, DataFault{line, fmt.Sprintf(format, args...)})
}

func wholeFile(format string, args ...any) error {
	e := &DataError{}
	e.add(0, format, args...)
	return e
}

// ReadData reads a data set as comma-separated values. Lines that begin with # are
// comments; the first other line names the columns, in any order: time (0 or more),
// and event or status (0 still open, 1 and up the reason of closure; a file may have
// both where they agree). Other columns are passed over, but the one named by group,
// if any, divides the cases; its blank cells make a group of their own. A file that
// cannot be read as this is refused with a *DataError.
func ReadData(r io.Reader, group string) (Data, error) {
	c := csv.NewReader(&withoutMark{r: r})
	c.Comment, c.ReuseRecord, c.FieldsPerRecord = '#', true, -1
	head, err := c.Read()
	switch {
	case errors.Is(err, io.EOF):
		return Data{}, wholeFile("the file is empty; it needs a first line that names the columns time and event (or status)")
	case err != nil:
		return Data{}, lineError(err)
	}
	f := dataFile{csv: c, groups: map[string]uint32{}}
	if f.columns, err = findColumns(head, group); err != nil {
		return Data{}, err
	}
	if f.group < 0 {
		f.groups["all"], f.data.Groups = 0, []string{"all"}
	}
	return f.read()
}

// withoutMark passes over a byte order mark.
type withoutMark struct {
	r    io.Reader
	past bool
}

func (w *withoutMark) Read(p []byte) (int, error) {
	if !w.past {
		w.past = true
		var b [3]byte
		n, err := io.ReadFull(w.r, b[:])
		if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
			return 0, err
		}
		if string(b[:n]) != "\ufeff" {
			w.r = io.MultiReader(strings.NewReader(string(b[:n])), w.r)
		}
	}
	return w.r.Read(p)
}

// columns are the places of the columns that are read; -1 where there is none.
type columns struct {
	time, event, status, group, all int
}

func findColumns(head []string, group string) (columns, error) {
	names := make([]string, len(head))
	for i, h := range head {
		names[i] = strings.TrimSpace(h)
	}
	var faults DataError
	find := func(name string) int {
		same := func(h string) bool { return strings.EqualFold(h, name) }
		i := slices.IndexFunc(names, same)
		if i >= 0 && slices.ContainsFunc(names[i+1:], same) {
			faults.add(0, "the header names the column %q twice", name)
		}
		return i
	}
	c := columns{time: find("time"), event: find("event"), status: find("status"), group: -1, all: len(names)}
	has := shown(strings.Join(names, ", "))
	if c.time < 0 {
		faults.add(0, "the header has no column \"time\"; it has: %s", has)
	}
	if c.event < 0 && c.status < 0 {
		faults.add(0, "the header has neither a column \"event\" nor \"status\"; it has: %s", has)
	}
	if group != "" {
		if c.group = find(group); c.group < 0 {
			faults.add(0, "the header has no column %q to group by; it has: %s", group, has)
		}
	}
	if len(faults.Faults) > 0 {
		return columns{}, &faults
	}
	return c, nil
}

// lineError turns a fault of the form into a DataError.
func lineError(err error) error {
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return err
	}
	e := &DataError{}
	e.add(p.StartLine, "the quotes do not match: a field with quotes begins and ends with one, and doubles those inside")
	return e
}

// dataFile is a file being read.
type dataFile struct {
	csv *csv.Reader
	columns
	data   Data
	groups map[string]uint32
	faults DataError
}

func (f *dataFile) read() (Data, error) {
	for {
		record, err := f.csv.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			if p := (*csv.ParseError)(nil); !errors.As(err, &p) {
				return Data{}, err
			}
			var e *DataError
			errors.As(lineError(err), &e)
			f.faults.add(e.Faults[0].Line, "%s; nothing after it was read", e.Faults[0].Reason)
			break
		}
		o, reason := f.observation(record)
		if reason != "" {
			line, _ := f.csv.FieldPos(0)
			f.faults.add(line, "%s", reason)
			continue
		}
		f.data.Observations = append(f.data.Observations, o)
	}
	if len(f.groups) > MaxGroups {
		f.faults.add(0, "the column to group by has %d different values; at most %d groups are compared", len(f.groups), MaxGroups)
	}
	if len(f.faults.Faults) > 0 {
		return Data{}, &f.faults
	}
	f.sortGroups()
	return f.data, nil
}

// observation reads one line; reason says why it cannot.
func (f *dataFile) observation(record []string) (o Observation, reason string) {
	if len(record) != f.all {
		return o, fmt.Sprintf("it has %d columns, the header %d", len(record), f.all)
	}
	if o.Time, reason = readTime(record[f.time]); reason != "" {
		return o, reason
	}
	if f.status >= 0 {
		if o.Reason, reason = readReason("status", record[f.status]); reason != "" {
			return o, reason
		}
	}
	if f.event >= 0 {
		event, reason := readReason("event", record[f.event])
		switch {
		case reason != "":
			return o, reason
		case f.status < 0:
			o.Reason = event
		case (event == 0) != (o.Reason == 0):
			return o, fmt.Sprintf("event %d and status %d disagree on whether the case is open", event, o.Reason)
		}
	}
	if f.group >= 0 {
		o.Group = f.groupOf(strings.TrimSpace(record[f.group]))
	}
	return o, ""
}

// groupOf numbers the groups as they come. One beyond the most stands for all more,
// and is refused at the end.
func (f *dataFile) groupOf(name string) uint32 {
	g, ok := f.groups[name]
	if !ok {
		name = strings.Clone(name)
		g = uint32(min(len(f.data.Groups), MaxGroups))
		f.groups[name] = g
		f.data.Groups = append(f.data.Groups, name)
	}
	return g
}

// sortGroups puts the groups in order of name, so that the order of the lines does
// not matter.
func (f *dataFile) sortGroups() {
	names := slices.Sorted(slices.Values(f.data.Groups))
	to := make([]uint32, len(names))
	for i, name := range names {
		to[f.groups[name]] = uint32(i)
	}
	for i := range f.data.Observations {
		f.data.Observations[i].Group = to[f.data.Observations[i].Group]
	}
	f.data.Groups = names
}

// shown makes what a file holds safe and short enough for a message.
func shown(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return '?'
	}, s)
	if r := []rune(s); len(r) > 200 {
		s = string(r[:200]) + " ..."
	}
	return s
}

// readTime reads a plain decimal number that is not negative.
func readTime(s string) (float64, string) {
	s = strings.TrimSpace(s)
	if s == "" {
		return 0, "the time is missing"
	}
	t, err := strconv.ParseFloat(s, 64)
	if err != nil || strings.ContainsAny(s, "xXpP_") || math.IsNaN(t) || math.IsInf(t, 0) {
		return 0, fmt.Sprintf("the time \"%s\" is not a number; write it with digits and a point", shown(s))
	}
	if t < 0 {
		return 0, fmt.Sprintf("the time %s is negative: the case would have closed before its clock started", shown(s))
	}
	return t + 0, "" // no negative zero
}

// readReason reads 0, or the code of a reason.
func readReason(column, s string) (uint8, string) {
	s = strings.TrimSpace(s)
	if s == "" {
		return 0, fmt.Sprintf("the %s is missing; write 0 for a case that is still open", column)
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > MaxReasons {
		return 0, fmt.Sprintf("the %s \"%s\" is not a code from 0 (still open) to %d", column, shown(s), MaxReasons)
	}
	return uint8(n), ""
}
