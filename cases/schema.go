package cases

import (
	"reflect"
	"strconv"
	"strings"
)

// Schema describes the case document as JSON Schema (draft 2020-12), made from the
// same struct tags that the strict reader obeys.
func Schema() map[string]any {
	defs := map[string]any{}
	root := objectSchema(reflect.TypeFor[Case](), defs)
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["title"] = "Dunlin case document " + DocumentName
	root["$defs"] = defs
	return root
}

func objectSchema(t reflect.Type, defs map[string]any) map[string]any {
	props := map[string]any{}
	var required []string
	for _, f := range fieldsOf(t).list {
		props[f.name] = typeSchema(f.typ, f.tag, defs)
		if f.tag.Get("req") != "" {
			required = append(required, f.name)
		}
	}
	s := map[string]any{"type": "object", "additionalProperties": false, "properties": props}
	if required != nil {
		s["required"] = required
	}
	return s
}

func typeSchema(t reflect.Type, tag reflect.StructTag, defs map[string]any) map[string]any {
	s := map[string]any{}
	if note := tag.Get("note"); note != "" {
		s["description"] = note
	}
	kind := "null" // every optional value may be null, which counts as absent
	switch {
	case t == dayType:
		kind, s["format"] = "string", "date"
	case t == gestationType:
		kind, s["pattern"] = "string", "^[0-9]{2}w[0-6]d$"
	case t == clockType:
		kind, s["pattern"] = "string", "^([01][0-9]|2[0-3]):[0-5][0-9]$"
	case t.Kind() == reflect.Pointer:
		return typeSchema(t.Elem(), tag, defs)
	case t.Kind() == reflect.Struct:
		name := t.Name()
		if _, done := defs[name]; !done {
			defs[name] = nil // a mark, against endless descent
			defs[name] = objectSchema(t, defs)
		}
		ref := map[string]any{"$ref": "#/$defs/" + name}
		if tag.Get("req") != "" {
			return ref
		}
		s["anyOf"] = []any{ref, map[string]any{"type": "null"}}
		return s
	case t.Kind() == reflect.Slice:
		kind, s["items"] = "array", typeSchema(t.Elem(), `req:"yes"`, defs)
	case t.Kind() == reflect.String:
		kind = "string"
	case t.Kind() == reflect.Bool:
		kind = "boolean"
	case t.Kind() == reflect.Int:
		kind = "integer"
	case t.Kind() == reflect.Float64:
		kind = "number"
	}
	if lo, err := strconv.ParseFloat(tag.Get("min"), 64); err == nil {
		s["minimum"] = lo
	}
	if hi, err := strconv.ParseFloat(tag.Get("max"), 64); err == nil {
		s["maximum"] = hi
	}
	if words := strings.Fields(tag.Get("enum")); len(words) > 0 {
		list := []any{}
		for _, w := range words {
			list = append(list, w)
		}
		if tag.Get("req") == "" {
			list = append(list, "", nil)
		}
		s["enum"] = list
	}
	if tag.Get("req") != "" {
		s["type"] = kind
	} else {
		s["type"] = []string{kind, "null"}
	}
	return s
}
