package fhir

import (
	"reflect"
	"strings"
	"unicode"
)

// tidy brings a resource into the form that FHIR allows: strings without control
// characters or blanks around them, and no empty strings, lists or objects (R4, 2.6.2
// "JSON representation": properties are never empty). v is a pointer.
func tidy(v any) { tidyValue(reflect.ValueOf(v).Elem()) }

func tidyValue(v reflect.Value) {
	switch v.Kind() {
	case reflect.String:
		v.SetString(clean(v.String()))
	case reflect.Struct:
		for i := range v.NumField() {
			tidyValue(v.Field(i))
		}
	case reflect.Pointer:
		if v.IsNil() || v.Elem().Kind() == reflect.Bool {
			return
		}
		if tidyValue(v.Elem()); v.Elem().IsZero() {
			v.SetZero()
		}
	case reflect.Slice:
		n := 0
		for i := range v.Len() {
			if tidyValue(v.Index(i)); !v.Index(i).IsZero() {
				v.Index(n).Set(v.Index(i))
				n++
			}
		}
		if v.SetLen(n); n == 0 {
			v.SetZero()
		}
	}
}

// clean drops what a FHIR string must not hold: bytes that are no UTF-8, control
// characters but line ends and tabs, and blanks around the text.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		if r != '\n' && r != '\r' && r != '\t' && unicode.IsControl(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	return strings.TrimSpace(s)
}
