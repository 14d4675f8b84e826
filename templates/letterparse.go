package templates

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"
)

var letterKeys = map[string]func(*LetterText) *string{
	"kind":     func(t *LetterText) *string { return &t.Kind },
	"variant":  func(t *LetterText) *string { return &t.Variant },
	"language": func(t *LetterText) *string { return &t.Language },
	"version":  func(t *LetterText) *string { return &t.Version },
	"title":    func(t *LetterText) *string { return &t.Title },
	"status":   func(t *LetterText) *string { return &t.Status },
}

// ParseLetterText reads a letter text: a head of "key: value" lines and comments
// (#), a line of three hyphens, and the body. In the body an empty line ends a
// paragraph; "## " starts a heading, "! " a strong paragraph, "- " a list item and
// "> " a line kept by itself; "?field " before any of these leaves the block out
// when the field has no value, "?!field " when it has one; "*" before all that
// repeats the block for each infant of a list; "{field}" stands for a value. A field
// that a letter of the kind cannot have, or may lack, is found here and not when a
// letter is made. Every fault is a LetterFault with file and line; all come at once.
func ParseLetterText(file string, src []byte) (*LetterText, error) {
	p := letterParser{text: &LetterText{File: file, SHA256: hexSum(src)}}
	if !utf8.Valid(src) {
		return nil, &LetterFault{file, 1, "the file is not UTF-8 text"}
	}
	lines := strings.Split(strings.ReplaceAll(string(src), "\r\n", "\n"), "\n")
	body := p.head(lines)
	for i := body; i < len(lines); i++ {
		p.bodyLine(i+1, strings.TrimSpace(lines[i]))
	}
	p.end()
	if body > 0 && len(p.text.blocks) == 0 {
		p.fault(body, "the letter has no text after its head")
	}
	if err := errors.Join(p.faults...); err != nil {
		return nil, err
	}
	return p.text, nil
}

type letterParser struct {
	text   *LetterText
	open   *sourceBlock
	faults []error
}

func (p *letterParser) fault(line int, format string, args ...any) {
	p.faults = append(p.faults, &LetterFault{p.text.File, line, fmt.Sprintf(format, args...)})
}

// head reads the key lines and returns the index of the first line of the body.
func (p *letterParser) head(lines []string) int {
	seen := map[string]int{} // the line of each key
	for i, line := range lines {
		line = strings.TrimSpace(line)
		if line == "---" {
			for _, key := range []string{"kind", "language", "version", "title", "status"} {
				if seen[key] == 0 {
					p.fault(i+1, "the head has no %q line", key)
				}
			}
			p.checkKind(seen)
			return i + 1
		}
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		key, value, found := strings.Cut(line, ":")
		key = strings.TrimSpace(key)
		set := letterKeys[key]
		switch {
		case !found || set == nil:
			p.fault(i+1, "expected one of %s and a colon, or --- before the letter", strings.Join(slices.Sorted(maps.Keys(letterKeys)), ", "))
		case seen[key] > 0:
			p.fault(i+1, "%q stands in the head twice", key)
		default:
			seen[key] = i + 1
			value = strings.TrimSpace(value)
			if *set(p.text) = value; value == "" && key != "variant" {
				p.fault(i+1, "%q has no value", key)
			}
			if strings.ContainsAny(value, "{}") {
				p.fault(i+1, "%q takes no field: it is the same for every letter", key)
			}
		}
	}
	p.fault(len(lines), "the head does not end: a line --- is missing")
	return len(lines)
}

// checkKind refuses a kind that no letter has, and a variant that its kind does not.
func (p *letterParser) checkKind(lines map[string]int) {
	if lines["kind"] == 0 {
		return
	}
	k := findLetterKind(p.text.Kind)
	if k == nil {
		p.fault(lines["kind"], "there is no letter of the kind %q; the kinds: %s", p.text.Kind, strings.Join(LetterKindNames(), ", "))
		return
	}
	if slices.Contains(k.variants, p.text.Variant) {
		return
	}
	at := max(lines["variant"], lines["kind"])
	switch {
	case len(k.variants) == 1:
		p.fault(at, "the kind %q has one text, so it takes no variant", k.kind)
	case p.text.Variant == "":
		p.fault(at, "the kind %q needs a variant: %s", k.kind, strings.Join(k.variants, ", "))
	default:
		p.fault(at, "the kind %q has no variant %q; it has: %s", k.kind, p.text.Variant, strings.TrimPrefix(strings.Join(k.variants, ", "), ", "))
	}
}

func (p *letterParser) bodyLine(n int, line string) {
	if line == "" {
		p.end()
		return
	}
	line, each := strings.CutPrefix(line, "*")
	var when []condition
	for strings.HasPrefix(line, "?") {
		var c condition
		name, rest, _ := strings.Cut(line[1:], " ")
		c.field, c.without = strings.CutPrefix(name, "!")
		if _, err := fieldOf(p.text.Kind, p.text.Language, c.field); err != nil {
			p.fault(n, "after the question mark: %v", err)
		}
		when, line = append(when, c), strings.TrimSpace(rest)
	}
	mark, text := letterMark(strings.TrimSpace(line))
	if mark != LetterParagraph || p.open == nil || each || when != nil {
		p.end()
		p.open = &sourceBlock{mark: mark, when: when, each: each, line: n}
	}
	p.checkFields(n, text)
	if word := NamesCondition(text); word != "" && findLetterKind(p.text.Kind) != nil && SaysNoResult(p.text.Kind) {
		p.fault(n, "%q must not stand in a letter of this kind: it is read alone, at home, and names no result, variant or condition", word)
	}
	p.open.text = strings.TrimSpace(p.open.text + " " + text)
	if mark == LetterHeading || mark == LetterLine {
		p.end()
	}
}

func letterMark(line string) (LetterMark, string) {
	for prefix, mark := range map[string]LetterMark{"## ": LetterHeading, "! ": LetterStrong, "- ": LetterItem, "> ": LetterLine} {
		if rest, found := strings.CutPrefix(line, prefix); found {
			return mark, strings.TrimSpace(rest)
		}
	}
	return LetterParagraph, line
}

func (p *letterParser) end() {
	if p.open == nil {
		return
	}
	if p.open.text == "" {
		p.fault(p.open.line, "a mark without text")
	}
	if p.open.each && !strings.Contains(p.open.text, "{row_") {
		p.fault(p.open.line, "a line that begins with * is repeated for each infant of a list and must name a field of it, such as {row_infant}; a list item begins with -")
	}
	p.text.blocks = append(p.text.blocks, *p.open)
	p.open = nil
}

func (p *letterParser) checkFields(n int, text string) {
	for text != "" {
		i := strings.IndexAny(text, "{}")
		if i < 0 {
			return
		}
		if text[i] == '}' {
			p.fault(n, "a closing brace without its opening one")
			return
		}
		name, after, found := strings.Cut(text[i+1:], "}")
		if !found {
			p.fault(n, "the brace of {%s is not closed on this line", name)
			return
		}
		p.checkField(n, name)
		text = after
	}
}

// checkField refuses a field that would be found empty, or would mean nothing, only
// when a letter is made.
func (p *letterParser) checkField(n int, name string) {
	f, err := fieldOf(p.text.Kind, p.text.Language, name)
	switch {
	case err != nil:
		p.fault(n, "%v", err)
	case f.Maybe && !slices.Contains(p.open.when, condition{field: name}):
		p.fault(n, "the field {%s} may have no value: begin the block with ?%s, so that it is left out then", name, name)
	case f.Row && !p.open.each:
		p.fault(n, "the field {%s} belongs to one infant of the list: begin the block with *", name)
	case slices.Contains(p.open.when, condition{field: name, without: true}):
		p.fault(n, "the field {%s} stands in a block that is only there without it", name)
	}
}
