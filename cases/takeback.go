package cases

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// TakeBack gives the case as it would be without one earlier change, whose fields are
// those of its entry in the audit trail. Values that the change set return to what
// they were. A value changed again since then stays, and kept names its path; an
// entry of a list that the change added is taken off even when it was changed since,
// and off names its path.
func (c *Case) TakeBack(fields []FieldChange) (now Case, kept, off []string, err error) {
	data, err := json.Marshal(c)
	if err != nil {
		return now, nil, nil, err
	}
	doc, err := tree(data)
	if err != nil {
		return now, nil, nil, err
	}
	t := takeBack{}
	for _, f := range inOrder(fields) {
		before, err1 := treeOrNothing(f.Old)
		after, err2 := treeOrNothing(f.New)
		parts, err3 := pathParts(f.Path)
		if err := firstError(err1, err2, err3); err != nil {
			return now, nil, nil, fmt.Errorf("change of %s: %w", f.Path, err)
		}
		doc = t.back(doc, parts, f.Path, before, after)
	}
	if data, err = json.Marshal(doc); err != nil {
		return now, nil, nil, err
	}
	if err := json.Unmarshal(data, &now); err != nil {
		return now, nil, nil, fmt.Errorf("a case without that change cannot be read: %w", err)
	}
	now.ID, now.Rev = c.ID, c.Rev
	now.Prepare()
	return now, t.kept, t.off, nil
}

// inOrder puts what was added last first, so that the indexes of a list hold while
// its entries are taken off, and what was removed first last, so that they hold while
// entries return.
func inOrder(fields []FieldChange) []FieldChange {
	var out, gone []FieldChange
	for _, f := range slices.Backward(fields) {
		if len(f.New) > 0 {
			out = append(out, f)
		}
	}
	for _, f := range fields {
		if len(f.New) == 0 {
			gone = append(gone, f)
		}
	}
	return append(out, gone...)
}

// nothing stands for a value that is not there.
type nothing struct{}

type takeBack struct{ kept, off []string }

// back sets the value at a path to before, if it still is after, and gives the node.
func (t *takeBack) back(node any, parts []any, path string, before, after any) any {
	if len(parts) == 0 {
		return t.value(node, path, before, after)
	}
	switch at := parts[0].(type) {
	case string:
		m, ok := node.(map[string]any)
		if !ok {
			if node != (nothing{}) || before == (nothing{}) {
				t.kept = append(t.kept, path)
				return node
			}
			m = map[string]any{} // the change had taken the whole away
		}
		v, ok := m[at]
		if !ok {
			v = nothing{}
		}
		if v = t.back(v, parts[1:], path, before, after); v == (nothing{}) {
			delete(m, at)
		} else {
			m[at] = v
		}
		return m
	case int:
		list, ok := node.([]any)
		if !ok {
			t.kept = append(t.kept, path)
			return node
		}
		return t.inList(list, at, parts, path, before, after)
	}
	return node
}

// value gives before for a node that still is after. Of a list or an object that the
// change had added and that grew since, what was added goes and the rest stays.
func (t *takeBack) value(node any, path string, before, after any) any {
	if reflect.DeepEqual(node, after) {
		return before
	}
	if before == (nothing{}) {
		switch added := after.(type) {
		case []any:
			if list, ok := node.([]any); ok {
				var left any = list
				for i := len(added) - 1; i >= 0; i-- {
					if list, ok := left.([]any); ok {
						left = t.entryOff(list, i, path+"["+strconv.Itoa(i)+"]", added[i])
					}
				}
				return left
			}
		case map[string]any:
			if m, ok := node.(map[string]any); ok {
				return t.membersOff(m, path, added)
			}
		}
	}
	t.kept = append(t.kept, path)
	return node
}

func (t *takeBack) membersOff(m map[string]any, path string, added map[string]any) any {
	for _, name := range slices.Sorted(maps.Keys(added)) {
		v, ok := m[name]
		if !ok {
			continue
		}
		if v = t.value(v, path+"."+name, nothing{}, added[name]); v == (nothing{}) {
			delete(m, name)
		} else {
			m[name] = v
		}
	}
	if len(m) == 0 {
		return nothing{}
	}
	return m
}

// inList takes a change of one entry of a list back.
func (t *takeBack) inList(list []any, at int, parts []any, path string, before, after any) any {
	if len(parts) == 1 && before == (nothing{}) {
		return t.entryOff(list, at, path, after)
	}
	if at >= len(list) {
		if len(parts) == 1 && after == (nothing{}) {
			return append(list, before)
		}
		t.kept = append(t.kept, path)
		return list
	}
	list[at] = t.back(list[at], parts[1:], path, before, after)
	return list
}

// entryOff takes an added entry off a list: where it was, or wherever it stands now;
// one that was changed since is known by its numbers, else by its day.
func (t *takeBack) entryOff(list []any, at int, path string, added any) any {
	for i, v := range list {
		if reflect.DeepEqual(v, added) && (i == at || at >= len(list) || !reflect.DeepEqual(list[at], added)) {
			return without(list, i)
		}
	}
	best, like, several := -1, 0, false
	for i, v := range list {
		switch n := likeness(v, added); {
		case n == 0 || n < like:
		case n > like:
			best, like, several = i, n, false
		case i == at:
			best, several = i, false
		case best != at:
			several = true
		}
	}
	if best < 0 || several {
		t.kept = append(t.kept, path)
		return list
	}
	t.off = append(t.off, path)
	return without(list, best)
}

func without(list []any, i int) any {
	if len(list) == 1 {
		return nothing{}
	}
	return append(append([]any{}, list[:i]...), list[i+1:]...)
}

// likeness tells how sure it is that an entry is the added one, changed since: 2 when
// a number of the laboratory is the same, 1 when only "on" is, 0 otherwise.
func likeness(a, b any) int {
	x, ok1 := a.(map[string]any)
	y, ok2 := b.(map[string]any)
	if !ok1 || !ok2 || x["on"] == nil || x["on"] != y["on"] {
		return 0
	}
	for _, n := range accessions(x) {
		if slices.Contains(accessions(y), n) {
			return 2
		}
	}
	return 1
}

func accessions(test map[string]any) (out []any) {
	arms, _ := test["arms"].([]any)
	for _, v := range arms {
		if arm, ok := v.(map[string]any); ok && arm["accession"] != nil {
			out = append(out, arm["accession"])
		}
	}
	return out
}

// pathParts splits sweat_tests[0].arms into its names and indexes.
func pathParts(path string) (out []any, err error) {
	for _, name := range strings.Split(path, ".") {
		name, rest, indexed := strings.Cut(name, "[")
		out = append(out, name)
		for indexed {
			var n string
			n, rest, _ = strings.Cut(rest, "]")
			i, err := strconv.Atoi(n)
			if err != nil || i < 0 {
				return nil, fmt.Errorf("%q is no path", path)
			}
			out = append(out, i)
			_, rest, indexed = strings.Cut(rest, "[")
		}
	}
	return out, nil
}

func tree(data []byte) (any, error) {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	var v any
	err := dec.Decode(&v)
	return v, err
}

func treeOrNothing(data json.RawMessage) (any, error) {
	if len(data) == 0 {
		return nothing{}, nil
	}
	return tree(data)
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
