package cases

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// readStrict reads one JSON object into a struct and reports every fault at once:
// unknown, doubled or missing fields, wrong types, words outside their list.
// null counts as absent.
func readStrict(data []byte, dst any) []Fault {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	r := strictReader{dec: dec}
	tree, err := r.value("")
	if err == nil {
		if _, err = dec.Token(); errors.Is(err, io.EOF) {
			err = nil
		} else if err == nil {
			err = errors.New("there is more after the end of the document")
		}
	}
	if err != nil {
		return []Fault{{"", "is not JSON that can be read: " + err.Error()}}
	}
	r.assign(reflect.ValueOf(dst).Elem(), tree, "", "")
	return r.faults
}

type strictReader struct {
	dec    *json.Decoder
	faults []Fault
}

func (r *strictReader) fault(path, format string, args ...any) {
	r.faults = append(r.faults, Fault{path, fmt.Sprintf(format, args...)})
}

// value reads the next value into maps, slices and scalars.
func (r *strictReader) value(path string) (any, error) {
	tok, err := r.dec.Token()
	if err != nil {
		if errors.Is(err, io.EOF) {
			err = errors.New("it ends too early")
		}
		return nil, err
	}
	switch tok {
	case json.Delim('{'):
		m := map[string]any{}
		for r.dec.More() {
			key, err := r.dec.Token()
			if err != nil {
				return nil, err
			}
			name := key.(string)
			v, err := r.value(join(path, name))
			if err != nil {
				return nil, err
			}
			if _, twice := m[name]; twice {
				r.fault(join(path, name), "is given twice")
			}
			m[name] = v
		}
		_, err = r.dec.Token()
		return m, err
	case json.Delim('['):
		list := []any{}
		for i := 0; r.dec.More(); i++ {
			v, err := r.value(path + "[" + strconv.Itoa(i) + "]")
			if err != nil {
				return nil, err
			}
			list = append(list, v)
		}
		_, err = r.dec.Token()
		return list, err
	}
	return tok, nil
}

func join(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}

var (
	dayType       = reflect.TypeFor[Day]()
	gestationType = reflect.TypeFor[Gestation]()
	clockType     = reflect.TypeFor[Clock]()
)

func (r *strictReader) assign(v reflect.Value, node any, path string, tag reflect.StructTag) {
	switch v.Type() {
	case dayType:
		parse(r, v, node, path, ParseDay)
		return
	case gestationType:
		parse(r, v, node, path, ParseGestation)
		return
	case clockType:
		parse(r, v, node, path, ParseClock)
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		r.assign(v.Elem(), node, path, tag)
	case reflect.Struct:
		r.object(v, node, path)
	case reflect.Slice:
		list, ok := node.([]any)
		if !ok {
			r.fault(path, "must be a list")
			return
		}
		v.Set(reflect.MakeSlice(v.Type(), len(list), len(list)))
		for i, item := range list {
			at := path + "[" + strconv.Itoa(i) + "]"
			if item == nil {
				r.fault(at, "must not be null")
				continue
			}
			r.assign(v.Index(i), item, at, "")
		}
	case reflect.String:
		r.text(v, node, path, tag)
	case reflect.Bool:
		if b, ok := node.(bool); ok {
			v.SetBool(b)
		} else {
			r.fault(path, "must be true or false")
		}
	case reflect.Float64, reflect.Int:
		r.number(v, node, path, tag)
	}
}

func parse[T any](r *strictReader, v reflect.Value, node any, path string, f func(string) (T, error)) {
	s, ok := node.(string)
	if !ok {
		r.fault(path, "must be text")
		return
	}
	x, err := f(s)
	if err != nil {
		r.fault(path, "%s", err.Error())
		return
	}
	v.Set(reflect.ValueOf(x))
}

func (r *strictReader) text(v reflect.Value, node any, path string, tag reflect.StructTag) {
	s, ok := node.(string)
	if !ok {
		r.fault(path, "must be text")
		return
	}
	if words := tag.Get("enum"); words != "" && s != "" && !slices.Contains(strings.Fields(words), s) {
		r.fault(path, "must be one of %s, not %q", strings.Join(strings.Fields(words), ", "), s)
		return
	}
	if i := strings.IndexFunc(s, func(c rune) bool { return c < ' ' && c != '\n' && c != '\r' && c != '\t' }); i >= 0 {
		r.fault(path, "holds a control character")
		return
	}
	v.SetString(s)
}

func (r *strictReader) number(v reflect.Value, node any, path string, tag reflect.StructTag) {
	n, ok := node.(json.Number)
	if !ok {
		r.fault(path, "must be a number")
		return
	}
	f, err := n.Float64()
	if err != nil {
		r.fault(path, "is too large a number")
		return
	}
	if lo, err := strconv.ParseFloat(tag.Get("min"), 64); err == nil && f < lo {
		r.fault(path, "must be at least %g, not %g", lo, f)
		return
	}
	if hi, err := strconv.ParseFloat(tag.Get("max"), 64); err == nil && f > hi {
		r.fault(path, "must be at most %g, not %g", hi, f)
		return
	}
	if v.Kind() == reflect.Float64 {
		v.SetFloat(f)
		return
	}
	if f != float64(int64(f)) || f > 1e9 || f < -1e9 {
		r.fault(path, "must be a whole number, not %s", n)
		return
	}
	v.SetInt(int64(f))
}

// object fills a struct from an object: absent fields keep their value.
func (r *strictReader) object(v reflect.Value, node any, path string) {
	m, ok := node.(map[string]any)
	if !ok {
		r.fault(path, "must be an object")
		return
	}
	fields := fieldsOf(v.Type())
	for _, f := range fields.list {
		item := m[f.name]
		if item == nil {
			if f.tag.Get("req") != "" {
				r.fault(join(path, f.name), "is missing")
			}
			continue
		}
		before := len(r.faults)
		r.assign(v.Field(f.index), item, join(path, f.name), f.tag)
		if s, isText := item.(string); isText && s == "" && f.tag.Get("req") != "" && len(r.faults) == before {
			r.fault(join(path, f.name), "is empty")
		}
	}
	var unknown []string
	for name := range m {
		if !fields.known[name] {
			unknown = append(unknown, name)
		}
	}
	slices.Sort(unknown)
	for _, name := range unknown {
		r.fault(join(path, name), "is not a field known here")
	}
}

type fieldInfo struct {
	index int
	name  string
	tag   reflect.StructTag
	typ   reflect.Type
}

type fieldSet struct {
	list  []fieldInfo
	known map[string]bool
}

var fieldCache sync.Map // reflect.Type -> *fieldSet

func fieldsOf(t reflect.Type) *fieldSet {
	if s, ok := fieldCache.Load(t); ok {
		return s.(*fieldSet)
	}
	s := &fieldSet{known: map[string]bool{}}
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "" || name == "-" || !f.IsExported() {
			continue
		}
		s.list = append(s.list, fieldInfo{i, name, f.Tag, f.Type})
		s.known[name] = true
	}
	fieldCache.Store(t, s)
	return s
}
