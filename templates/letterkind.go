package templates

import (
	"slices"
	"strings"
)

// letterKind is a kind of letter as its texts see it.
type letterKind struct {
	kind string
	// family tells that it goes to a family: written in the family's language where
	// there is a text in it, and held to the reading grade.
	family   bool
	variants []string // the texts of the kind; one without a name when there is one only
	// plain tells that no result, variant or condition may be named in it.
	plain bool
}

var letterKinds = []letterKind{
	{"first-notice", true, []string{""}, true},
	{"booking", true, []string{""}, true},
	{"reminder", true, []string{""}, true},
	{"missed", true, []string{""}, true},
	{"repeat-needed", true, []string{"intermediate", "qns", "unclear"}, true},
	{"result", true, []string{""}, false},
	{"carrier", true, []string{""}, false},
	{"no-contact", true, []string{""}, true},
	{"doctor-referral", false, []string{"", "presumptive"}, false},
	{"doctor-result", false, []string{"consistent-with-cf", "intermediate", "unlikely"}, false},
	{"doctor-cannot-reach", false, []string{""}, false},
	{"clinic-day", false, []string{""}, false},
}

func findLetterKind(kind string) *letterKind {
	i := slices.IndexFunc(letterKinds, func(k letterKind) bool { return k.kind == kind })
	if i < 0 {
		return nil
	}
	return &letterKinds[i]
}

// LetterKindNames lists the kinds of letter texts in the order in which a case meets
// them.
func LetterKindNames() []string {
	out := make([]string, len(letterKinds))
	for i, k := range letterKinds {
		out[i] = k.kind
	}
	return out
}

// LetterVariants lists the texts of a kind: one without a name when there is one only.
func LetterVariants(kind string) []string {
	if k := findLetterKind(kind); k != nil {
		return slices.Clone(k.variants)
	}
	return nil
}

// ForFamily tells whether letters of the kind are written to the family.
func ForFamily(kind string) bool {
	k := findLetterKind(kind)
	return k != nil && k.family
}

// SaysNoResult tells whether letters of the kind must name no result, variant or
// condition.
func SaysNoResult(kind string) bool {
	k := findLetterKind(kind)
	return k != nil && k.plain
}

// baseLanguage is the language of a tag such as es-MX, in lower case.
func baseLanguage(tag string) string {
	base, _, _ := strings.Cut(strings.ToLower(tag), "-")
	return base
}
