package store

import (
	"bytes"
	"encoding/json"
	"slices"
	"strconv"

	"dunlin/cases"
)

// changes lists what differs between two JSON objects, at JSON paths such as
// sweat_tests[0].arms[1].minutes. Where one side has nothing, the whole of the
// other side is one change. An empty before is an object without members.
//
// Both sides come from the same encoder, so members that are equal as written
// are equal, and only the others are looked into.
func changes(before, after []byte, prefix string) ([]cases.FieldChange, error) {
	old, err := membersOf(before)
	if err != nil {
		return nil, err
	}
	now, err := membersOf(after)
	if err != nil {
		return nil, err
	}
	d := differ{}
	for _, name := range namesOf(old, now) {
		o, n := old[name], now[name]
		if bytes.Equal(o, n) {
			continue
		}
		if err := d.member(joined(prefix, name), o, n); err != nil {
			return nil, err
		}
	}
	return d.out, nil
}

func membersOf(b []byte) (map[string]json.RawMessage, error) {
	m := map[string]json.RawMessage{}
	if len(b) == 0 {
		return m, nil
	}
	err := json.Unmarshal(b, &m)
	return m, err
}

// member compares one member as written on both sides; nil is an absent one.
func (d *differ) member(path string, old, now json.RawMessage) error {
	if old == nil || now == nil {
		d.out = append(d.out, cases.FieldChange{Path: path, Old: old, New: now})
		return nil
	}
	o, err := parsed(old)
	if err != nil {
		return err
	}
	n, err := parsed(now)
	if err != nil {
		return err
	}
	return d.walk(path, o, n)
}

func joined(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}

// namesOf lists the members of two objects, sorted, each once.
func namesOf[V any](a, b map[string]V) []string {
	names := make([]string, 0, len(a)+len(b))
	for k := range a {
		names = append(names, k)
	}
	for k := range b {
		if _, both := a[k]; !both {
			names = append(names, k)
		}
	}
	slices.Sort(names)
	return names
}

func parsed(b []byte) (any, error) {
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.UseNumber()
	var v any
	err := dec.Decode(&v)
	return v, err
}

// absent stands for a member that is not there, which is not the same as null.
type absent struct{}

type differ struct{ out []cases.FieldChange }

func (d *differ) walk(path string, old, now any) error {
	switch o := old.(type) {
	case map[string]any:
		if n, ok := now.(map[string]any); ok {
			return d.members(path, o, n)
		}
	case []any:
		if n, ok := now.([]any); ok {
			return d.items(path, o, n)
		}
	default:
		if !isContainer(now) && old == now {
			return nil
		}
	}
	return d.add(path, old, now)
}

func isContainer(v any) bool {
	switch v.(type) {
	case map[string]any, []any:
		return true
	}
	return false
}

func (d *differ) members(path string, old, now map[string]any) error {
	for _, k := range namesOf(old, now) {
		if err := d.walk(joined(path, k), valueOf(old, k), valueOf(now, k)); err != nil {
			return err
		}
	}
	return nil
}

func valueOf(m map[string]any, k string) any {
	if v, ok := m[k]; ok {
		return v
	}
	return absent{}
}

func (d *differ) items(path string, old, now []any) error {
	for i := range max(len(old), len(now)) {
		var o, n any = absent{}, absent{}
		if i < len(old) {
			o = old[i]
		}
		if i < len(now) {
			n = now[i]
		}
		if err := d.walk(path+"["+strconv.Itoa(i)+"]", o, n); err != nil {
			return err
		}
	}
	return nil
}

func (d *differ) add(path string, old, now any) error {
	c := cases.FieldChange{Path: path}
	var err error
	if c.Old, err = raw(old); err != nil {
		return err
	}
	if c.New, err = raw(now); err != nil {
		return err
	}
	d.out = append(d.out, c)
	return nil
}

func raw(v any) (json.RawMessage, error) {
	if _, none := v.(absent); none {
		return nil, nil
	}
	return json.Marshal(v)
}
