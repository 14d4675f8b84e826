package templates

import (
	"fmt"
	"html/template"
)

// Tag is a state in a shape and words; its color comes last.
type Tag struct {
	Kind string // key of tagKinds; "" is a case on its way
	Text string
}

// tagKinds gives each kind its glyph and its color class.
var tagKinds = map[string]struct{ glyph, class string }{
	"":      {"g-short", ""},
	"late":  {"g-over", "late"},
	"soon":  {"g-at", "soon"},
	"ready": {"g-in", "ready"},
	"hold":  {"g-before", "hold"},
	"done":  {"g-tick", ""},
	"book":  {"g-book", "ready"},
	"out":   {"g-out", ""},
	"back":  {"g-back", "late"},
	"page":  {"g-page", "soon"},
	"blank": {"g-blank", "hold"},
	"half":  {"g-half", "soon"},
	"two":   {"g-two", "soon"},
	"plus":  {"g-plus", "ready"},
	"into":  {"g-into", ""},
	"cross": {"g-ne", "late"},
	"drop":  {"drop-none", ""},
}

// HTML is the tag's markup. An unknown kind is shown as the plain one.
func (t Tag) HTML() template.HTML {
	if t.Text == "" {
		return ""
	}
	k := tagKinds[t.Kind]
	if k.glyph == "" {
		k = tagKinds[""]
	}
	class := "tag"
	if k.class != "" {
		class += " " + k.class
	}
	return template.HTML(fmt.Sprintf(`<span class="%s">%s%s</span>`, class, Icon(k.glyph), template.HTMLEscapeString(t.Text)))
}

// Drop is the result of a sweat test as a drop: how full it is says how much
// chloride.
type Drop string

// The drops.
const (
	DropNone         Drop = "none" // no result yet
	DropQNS          Drop = "qns"
	DropUnlikely     Drop = "low"
	DropIntermediate Drop = "mid"
	DropCFRange      Drop = "high"
	DropUnclear      Drop = "none" // arms disagree, value not plausible, void: no class to show
)

// HTML is the drop as a small drawing that screen readers skip; its word stands
// beside it.
func (k Drop) HTML() template.HTML { return Icon("drop-" + string(k.known())) }

func (k Drop) known() Drop {
	switch k {
	case DropQNS, DropUnlikely, DropIntermediate, DropCFRange:
		return k
	}
	return DropNone
}

// Icon is a glyph of the page's sprite, hidden from screen readers.
func Icon(name string) template.HTML {
	return template.HTML(fmt.Sprintf(`<svg class="ico" aria-hidden="true"><use href="#%s"/></svg>`, template.HTMLEscapeString(name)))
}
