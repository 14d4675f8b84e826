package intake

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"dunlin/cases"
)

// builtOn tells whether a later change touched what an earlier one set, so that the
// earlier one cannot be taken back alone: a value of its own, something within an entry
// that it added, or within an entry of the same list that would move up.
func builtOn(earlier, later []cases.FieldChange) bool {
	for _, e := range byEntry(earlier) {
		list, at, added := entryOf(e)
		for _, l := range byEntry(later) {
			if strings.HasPrefix(l.Path, "to_check") {
				continue
			}
			if _, _, alsoAdded := entryOf(l); added && alsoAdded {
				continue // whole entries are found wherever they stand
			}
			if leadsInto(l.Path, e.Path) || leadsInto(e.Path, l.Path) || added && behind(l.Path, list, at) {
				return true
			}
		}
	}
	return false
}

// byEntry writes an added list as its entries.
func byEntry(fields []cases.FieldChange) (out []cases.FieldChange) {
	for _, f := range fields {
		var list []json.RawMessage
		if len(f.Old) > 0 || !bytes.HasPrefix(f.New, []byte("[")) || json.Unmarshal(f.New, &list) != nil {
			out = append(out, f)
			continue
		}
		for i, v := range list {
			out = append(out, cases.FieldChange{Path: fmt.Sprintf("%s[%d]", f.Path, i), New: v})
		}
	}
	return out
}

// entryOf gives the list and the index of an added entry such as notes[2].
func entryOf(f cases.FieldChange) (list string, at int, ok bool) {
	open := strings.LastIndexByte(f.Path, '[')
	if len(f.Old) > 0 || open < 0 || !strings.HasSuffix(f.Path, "]") {
		return "", 0, false
	}
	at, err := strconv.Atoi(f.Path[open+1 : len(f.Path)-1])
	return f.Path[:open], at, err == nil
}

// leadsInto tells that a path is another or leads into it.
func leadsInto(path, whole string) bool {
	rest, ok := strings.CutPrefix(path, whole)
	return ok && (rest == "" || rest[0] == '.' || rest[0] == '[')
}

// behind tells that a path leads into a later entry of a list.
func behind(path, list string, at int) bool {
	rest, ok := strings.CutPrefix(path, list+"[")
	n, _, closed := strings.Cut(rest, "]")
	i, err := strconv.Atoi(n)
	return ok && closed && err == nil && i > at
}
