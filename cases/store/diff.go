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
func changes(before, after []byte, prefix string) ([]cases.FieldChange, error) {
	old, err := parsed(before)
	if err != nil {
		return nil, err
	}
	now, err := parsed(after)
	if err != nil {
		return nil, err
	}
	d := differ{}
	if err := d.walk(prefix, old, now); err != nil {
		return nil, err
	}
	return d.out, nil
}

func parsed(b []byte) (any, error) {
	if len(b) == 0 {
		return map[string]any{}, nil
	}
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
	names := make([]string, 0, len(old)+len(now))
	for k := range old {
		names = append(names, k)
	}
	for k := range now {
		if _, both := old[k]; !both {
			names = append(names, k)
		}
	}
	slices.Sort(names)
	for _, k := range names {
		at := k
		if path != "" {
			at = path + "." + k
		}
		if err := d.walk(at, member(old, k), member(now, k)); err != nil {
			return err
		}
	}
	return nil
}

func member(m map[string]any, k string) any {
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
