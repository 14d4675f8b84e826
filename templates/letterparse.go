package templates

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"
)

// letterFieldNames are the fields that a letter text may use, each with what it
// stands for. The program's letters fill all that they know; a text asks for what
// it needs.
var letterFieldNames = map[string]string{
	"infant":       "the infant's name, given name first",
	"infant_born":  "the infant's birth date in long form",
	"program":      "the name of the follow-up program",
	"contact":      "the person who answers the family's call",
	"phone":        "the phone number that the family is to call",
	"hours":        "when that phone is answered, in words",
	"emergency":    "the emergency number of the region",
	"doctor":       "the family's doctor as recorded",
	"site":         "the name of the place of the test",
	"site_address": "the street address of the place of the test",
	"site_phone":   "the phone number of the place of the test",
	"site_note":    "how to find the place: parking, entrance, desk",
	"visit_day":    "the day of the visit in long form",
	"visit_time":   "the time of the visit in words",
	"test_day":     "the day of the test that is to be repeated, in long form",
}

// LetterFieldNames lists the fields that letter texts may use, in order, and what
// each stands for.
func LetterFieldNames() (names []string, meaning map[string]string) {
	return slices.Sorted(maps.Keys(letterFieldNames)), maps.Clone(letterFieldNames)
}

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
// when the field has no value; "{field}" stands for its value. Every fault is a
// LetterFault with file and line; all come at once.
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
	seen := map[string]bool{}
	for i, line := range lines {
		line = strings.TrimSpace(line)
		if line == "---" {
			for _, key := range []string{"kind", "language", "version", "title", "status"} {
				if !seen[key] {
					p.fault(i+1, "the head has no %q line", key)
				}
			}
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
		case seen[key]:
			p.fault(i+1, "%q stands in the head twice", key)
		default:
			seen[key] = true
			*set(p.text) = strings.TrimSpace(value)
		}
	}
	p.fault(len(lines), "the head does not end: a line --- is missing")
	return len(lines)
}

func (p *letterParser) bodyLine(n int, line string) {
	if line == "" {
		p.end()
		return
	}
	only := ""
	if rest, found := strings.CutPrefix(line, "?"); found {
		only, line, _ = strings.Cut(rest, " ")
		if letterFieldNames[only] == "" {
			p.fault(n, "unknown field %q after the question mark; known: %s", only, knownFields())
		}
		p.end()
	}
	mark, text := letterMark(line)
	if mark != LetterParagraph || p.open == nil {
		p.end()
		p.open = &sourceBlock{mark: mark, only: only, line: n}
	}
	p.checkFields(n, text)
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
		if letterFieldNames[name] == "" {
			p.fault(n, "unknown field {%s}; known: %s", name, knownFields())
		}
		text = after
	}
}

func knownFields() string { return strings.Join(slices.Sorted(maps.Keys(letterFieldNames)), ", ") }
