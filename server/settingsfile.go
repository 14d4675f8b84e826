package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
)

// oldNames are names of settings in files written for earlier releases.
var oldNames = map[string]string{"help": "help_line"}

// readConfigFile reads the settings file over what c holds. Every name that is no
// setting is said at once, with the one that may be meant.
func readConfigFile(path string, c *config) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("--config: %w", err)
	}
	if data, err = renameOld(data); err == nil {
		err = checkNames(data)
	}
	if err == nil {
		err = decodeAll(data, c)
	}
	if err != nil {
		return fmt.Errorf("settings file %s: %w", path, err)
	}
	return nil
}

// decodeAll reads one JSON object and nothing after it.
func decodeAll(data []byte, into any) error {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return place(data, err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return errors.New("something stands after the closing brace")
	}
	return nil
}

// place adds the line to what the decoder says.
func place(data []byte, err error) error {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	at := int64(-1)
	switch {
	case errors.As(err, &syntax):
		at = syntax.Offset
	case errors.As(err, &kind):
		at = kind.Offset
		err = fmt.Errorf("%s cannot be of the kind %s", cmp.Or(kind.Field, "all of it"), kind.Value)
	}
	if at < 0 || at > int64(len(data)) {
		return err
	}
	return fmt.Errorf("line %d: %w", 1+bytes.Count(data[:at], []byte("\n")), err)
}

// renameOld lets files of earlier releases go on working.
func renameOld(data []byte) ([]byte, error) {
	var top map[string]json.RawMessage
	if json.Unmarshal(data, &top) != nil {
		return data, nil // said when it is decoded
	}
	changed := false
	for old, now := range oldNames {
		value, ok := top[old]
		if !ok {
			continue
		}
		if _, both := top[now]; both {
			return nil, fmt.Errorf("%s is the old name of %s: leave it out", old, now)
		}
		top[now] = value
		delete(top, old)
		changed = true
	}
	if !changed {
		return data, nil
	}
	return json.Marshal(top)
}

// checkNames finds every name that is no setting.
func checkNames(data []byte) error {
	var top map[string]json.RawMessage
	if json.Unmarshal(data, &top) != nil {
		return nil
	}
	var errs []error
	for _, name := range strayNames(top, "") {
		text := fmt.Sprintf("there is no setting %q", name)
		if near := nearest(name); near != "" {
			text += fmt.Sprintf("; is %q meant?", near)
		}
		errs = append(errs, errors.New(text))
	}
	return errors.Join(errs...)
}

func strayNames(level map[string]json.RawMessage, prefix string) (out []string) {
	for name, value := range level {
		full := prefix + name
		switch {
		case isSetting(full):
		case slices.ContainsFunc(allSettings(), func(s setting) bool { return strings.HasPrefix(s.name, full+".") }):
			var below map[string]json.RawMessage
			if json.Unmarshal(value, &below) == nil {
				out = append(out, strayNames(below, full+".")...)
			}
		default:
			out = append(out, full)
		}
	}
	slices.Sort(out)
	return out
}

func isSetting(name string) bool {
	return slices.ContainsFunc(allSettings(), func(s setting) bool { return strings.EqualFold(s.name, name) })
}

// nearest gives the setting whose name is nearest; "" when none is near.
func nearest(name string) (best string) {
	least := max(2, len(name)/4) + 1
	for _, s := range allSettings() {
		if d := distance(name, s.name); d < least {
			best, least = s.name, d
		}
	}
	return best
}

// distance counts the letters to change, add or take away.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(b)]
}
