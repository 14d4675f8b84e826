// Package htmlcheck checks a rendered page as a person with a keyboard or a
// screen reader would meet it: language, headings, labels, tables, ids, titles.
// It is used by tests only.
//
// The rules are those of the Web Content Accessibility Guidelines 2.2 that can
// be read off the markup, and the project's own: no inline script or style,
// and a token in each form that posts.
package htmlcheck

import (
	"bytes"
	"fmt"
	"strings"

	"golang.org/x/net/html"
)

// Page parses a rendered page and returns each fault in words; nil is a good page.
func Page(page []byte) []string {
	doc, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		return []string{"does not parse: " + err.Error()}
	}
	c := &checker{ids: map[string]int{}, labels: map[string]bool{}}
	Walk(doc, c.collect)
	Walk(doc, c.check)
	c.whole()
	return c.faults
}

// Walk calls f for each element under n, n included.
func Walk(n *html.Node, f func(*html.Node)) {
	if n.Type == html.ElementNode {
		f(n)
	}
	for k := n.FirstChild; k != nil; k = k.NextSibling {
		Walk(k, f)
	}
}

// Attr is the value of an attribute and whether it is there.
func Attr(n *html.Node, name string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val, true
		}
	}
	return "", false
}

// Text is the text under n with white space folded.
func Text(n *html.Node) string {
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.TextNode {
			b.WriteString(n.Data)
			b.WriteByte(' ')
		}
		for k := n.FirstChild; k != nil; k = k.NextSibling {
			walk(k)
		}
	}
	walk(n)
	return strings.Join(strings.Fields(b.String()), " ")
}

type checker struct {
	faults  []string
	ids     map[string]int
	labels  map[string]bool // ids named by a label's for
	h1      int
	level   int // of the last heading
	title   string
	summary bool
	lang    string
}

func (c *checker) fault(n *html.Node, format string, args ...any) {
	id, _ := Attr(n, "id")
	c.faults = append(c.faults, fmt.Sprintf("<%s id=%q>: ", n.Data, id)+fmt.Sprintf(format, args...))
}

func (c *checker) collect(n *html.Node) {
	if id, ok := Attr(n, "id"); ok {
		c.ids[id]++
	}
	if n.Data == "label" {
		if f, ok := Attr(n, "for"); ok {
			c.labels[f] = true
		}
	}
}

func (c *checker) check(n *html.Node) {
	if id, ok := Attr(n, "id"); ok && (id == "" || c.ids[id] > 1) {
		c.fault(n, "id is empty or used %d times", c.ids[id])
	}
	c.references(n)
	c.inline(n)
	switch n.Data {
	case "html":
		c.lang, _ = Attr(n, "lang")
	case "title":
		if n.Namespace == "" {
			c.title = Text(n)
		}
	case "h1", "h2", "h3", "h4":
		c.heading(n)
	case "input", "select", "textarea":
		c.control(n)
	case "button", "a":
		if name(n) == "" {
			c.fault(n, "has no words")
		}
	case "table":
		c.table(n)
	case "th":
		if s, _ := Attr(n, "scope"); s == "" {
			c.fault(n, "heading cell without scope: %q", Text(n))
		}
	case "form":
		c.form(n)
	case "fieldset":
		if first(n, "legend") == nil {
			c.fault(n, "fieldset without legend")
		}
	case "svg":
		c.picture(n)
	case "img":
		if _, ok := Attr(n, "alt"); !ok {
			c.fault(n, "picture without alt")
		}
	}
	if cl, _ := Attr(n, "class"); strings.Contains(" "+cl+" ", " summary ") {
		c.summary = true
	}
}

// references checks that attributes which name other elements name some.
func (c *checker) references(n *html.Node) {
	for _, a := range []string{"aria-describedby", "aria-labelledby", "aria-controls", "for"} {
		v, ok := Attr(n, a)
		if !ok {
			continue
		}
		for _, id := range strings.Fields(v) {
			if c.ids[id] == 0 {
				c.fault(n, "%s names %q, which is not there", a, id)
			}
		}
		if strings.TrimSpace(v) == "" {
			c.fault(n, "%s is empty", a)
		}
	}
	if h, _ := Attr(n, "href"); strings.HasPrefix(h, "#") && c.ids[h[1:]] == 0 {
		c.fault(n, "links to %q, which is not there", h)
	}
}

func (c *checker) inline(n *html.Node) {
	for _, a := range n.Attr {
		if a.Key == "style" || strings.HasPrefix(a.Key, "on") {
			c.fault(n, "inline %s", a.Key)
		}
	}
	switch n.Data {
	case "style":
		c.fault(n, "inline style")
	case "script":
		if _, ok := Attr(n, "src"); !ok {
			c.fault(n, "inline script")
		}
	}
}

func (c *checker) heading(n *html.Node) {
	l := int(n.Data[1] - '0')
	if l == 1 {
		c.h1++
	}
	if c.level != 0 && l > c.level+1 {
		c.fault(n, "heading level jumps from %d: %q", c.level, Text(n))
	}
	if Text(n) == "" {
		c.fault(n, "empty heading")
	}
	c.level = l
}

func (c *checker) control(n *html.Node) {
	t, _ := Attr(n, "type")
	if t == "hidden" {
		return
	}
	if _, ok := Attr(n, "required"); ok {
		c.fault(n, "browser validation (required) is off everywhere")
	}
	id, _ := Attr(n, "id")
	aria, _ := Attr(n, "aria-label")
	by, _ := Attr(n, "aria-labelledby")
	if !(c.labels[id] && id != "") && aria == "" && by == "" && under(n, "label") == nil {
		nm, _ := Attr(n, "name")
		c.fault(n, "control %q without label", nm)
	}
	if v, _ := Attr(n, "aria-invalid"); v == "true" {
		if d, _ := Attr(n, "aria-describedby"); d == "" {
			c.fault(n, "marked wrong without a description")
		}
	}
}

func (c *checker) table(n *html.Node) {
	_, by := Attr(n, "aria-labelledby")
	_, label := Attr(n, "aria-label")
	if first(n, "caption") == nil && !by && !label {
		c.fault(n, "table without caption or name")
	}
	if first(n, "th") == nil {
		c.fault(n, "table without heading cells")
	}
}

func (c *checker) form(n *html.Node) {
	m, _ := Attr(n, "method")
	if strings.ToLower(m) != "post" {
		return
	}
	found := false
	Walk(n, func(k *html.Node) {
		if nm, _ := Attr(k, "name"); k.Data == "input" && nm == "csrf" {
			v, _ := Attr(k, "value")
			found = v != ""
		}
	})
	if !found {
		a, _ := Attr(n, "action")
		c.fault(n, "form to %q posts without a token", a)
	}
}

// picture wants each drawing hidden or named; pieces of a drawing are skipped.
func (c *checker) picture(n *html.Node) {
	if h, _ := Attr(n, "aria-hidden"); h == "true" {
		return
	}
	_, label := Attr(n, "aria-label")
	_, by := Attr(n, "aria-labelledby")
	if r, _ := Attr(n, "role"); r != "img" || !label && !by {
		c.fault(n, "drawing neither hidden nor named")
	}
}

func (c *checker) whole() {
	add := func(ok bool, text string) {
		if !ok {
			c.faults = append(c.faults, text)
		}
	}
	add(c.lang != "", "page without language")
	add(c.h1 == 1, fmt.Sprintf("page with %d h1", c.h1))
	add(strings.HasSuffix(c.title, " - Dunlin"), fmt.Sprintf("title %q", c.title))
	add(c.summary == strings.HasPrefix(c.title, "Error: "), "title and error summary do not agree")
	add(c.ids["main"] == 1, "page without main")
}

// name is the accessible name of a button or link, near enough.
func name(n *html.Node) string {
	if l, _ := Attr(n, "aria-label"); l != "" {
		return l
	}
	return Text(n)
}

func first(n *html.Node, tag string) *html.Node {
	var found *html.Node
	Walk(n, func(k *html.Node) {
		if found == nil && k.Data == tag {
			found = k
		}
	})
	return found
}

func under(n *html.Node, tag string) *html.Node {
	for p := n.Parent; p != nil; p = p.Parent {
		if p.Type == html.ElementNode && p.Data == tag {
			return p
		}
	}
	return nil
}
