package templates

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
)

//go:embed letters
var letterFiles embed.FS

// LetterText is one letter in one language before its fields are filled. It is
// made by ParseLetterText, which has checked every mark and field in it.
type LetterText struct {
	File     string // where it was read, for messages
	Kind     string // of the letter: first-notice, booking, repeat-needed
	Variant  string // which text of the kind; "" when there is one only
	Language string // BCP 47 tag
	Version  string
	Title    string // what the letter is called on screens and in the PDF
	Status   string // who has read it, or that nobody has yet
	SHA256   string // of the file, in hex, so that a made letter names its text

	blocks []sourceBlock
}

// LetterBlock is a part of a letter whose text is final.
type LetterBlock struct {
	Mark LetterMark `json:"mark"`
	Text string     `json:"text"`
}

// LetterMark says how a block of a letter is set.
type LetterMark string

// The marks of a letter text. A paragraph has none.
const (
	LetterParagraph LetterMark = "paragraph"
	LetterHeading   LetterMark = "heading" // ## at the start of a line
	LetterStrong    LetterMark = "strong"  // ! at the start of a line
	LetterItem      LetterMark = "item"    // - at the start of a line
	LetterLine      LetterMark = "line"    // > at the start of a line: kept as a line of its own
)

// sourceBlock is a block with its fields still in it.
type sourceBlock struct {
	mark LetterMark
	only string // the block is left out when this field has no value
	text string
	line int
}

// LetterFields are the values that a letter's fields take, by name.
type LetterFields map[string]string

// Fill puts the values into the text. A field that has no value, or a value with
// a line end in it, is an error that names the file and the line; all faults come
// at once.
func (t *LetterText) Fill(f LetterFields) ([]LetterBlock, error) {
	var faults []error
	out := make([]LetterBlock, 0, len(t.blocks))
	for _, b := range t.blocks {
		if b.only != "" && f[b.only] == "" {
			continue
		}
		text, err := fillLetter(b.text, f)
		if err != nil {
			faults = append(faults, &LetterFault{t.File, b.line, err.Error()})
		}
		out = append(out, LetterBlock{b.mark, text})
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	return out, nil
}

func fillLetter(text string, f LetterFields) (string, error) {
	var b strings.Builder
	for {
		before, rest, found := strings.Cut(text, "{")
		b.WriteString(before)
		if !found {
			return b.String(), nil
		}
		name, after, _ := strings.Cut(rest, "}")
		v := f[name]
		switch {
		case strings.TrimSpace(v) == "":
			return "", fmt.Errorf("the field {%s} has no value: %s", name, letterFieldNames[name])
		case strings.ContainsAny(v, "\r\n"):
			return "", fmt.Errorf("the value of {%s} runs over more than one line", name)
		}
		b.WriteString(v)
		text = after
	}
}

// LetterFault is one fault of a letter text, with its place.
type LetterFault struct {
	File string
	Line int
	Text string
}

// Error gives file, line and what is wrong.
func (e *LetterFault) Error() string { return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Text) }

// LetterSet holds the letter texts by language, kind and variant.
type LetterSet struct{ texts map[letterKey]*LetterText }

type letterKey struct{ language, kind, variant string }

// ParseLetters reads the letter texts that are built into the program. A broken
// text stops the program at its start, with every fault named.
func ParseLetters() (*LetterSet, error) {
	sub, err := fs.Sub(letterFiles, "letters")
	if err != nil {
		return nil, err
	}
	return ParseLettersFS(sub)
}

// ParseLettersFS reads every <language>/<name>.txt below fsys.
func ParseLettersFS(fsys fs.FS) (*LetterSet, error) {
	names, err := fs.Glob(fsys, "*/*.txt")
	if err != nil {
		return nil, err
	}
	set := &LetterSet{texts: map[letterKey]*LetterText{}}
	var faults []error
	for _, name := range names {
		src, err := fs.ReadFile(fsys, name)
		if err != nil {
			return nil, err
		}
		t, err := ParseLetterText(name, src)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		key := letterKey{t.Language, t.Kind, t.Variant}
		if other := set.texts[key]; other != nil {
			faults = append(faults, &LetterFault{name, 1, "the same letter, language and variant as in " + other.File})
		} else if dir := path.Dir(name); dir != t.Language {
			faults = append(faults, &LetterFault{name, 1, fmt.Sprintf("language is %q, but the file lies in %q", t.Language, dir)})
		}
		set.texts[key] = t
	}
	return set, errors.Join(faults...)
}

// Text finds a letter's text; nil when there is none in this language.
func (s *LetterSet) Text(language, kind, variant string) *LetterText {
	return s.texts[letterKey{language, kind, variant}]
}

// All lists the texts by language, kind and variant.
func (s *LetterSet) All() []*LetterText {
	return slices.SortedFunc(maps.Values(s.texts), func(a, b *LetterText) int { return strings.Compare(a.File, b.File) })
}

// Plain is a letter's blocks as plain text, as it is shown for reading aloud and
// in previews without a style sheet.
func Plain(blocks []LetterBlock) string {
	var b strings.Builder
	for i, block := range blocks {
		if i > 0 {
			b.WriteByte('\n')
			if run := block.Mark == blocks[i-1].Mark && (block.Mark == LetterItem || block.Mark == LetterLine); !run {
				b.WriteByte('\n')
			}
		}
		if block.Mark == LetterItem {
			b.WriteString("- ")
		}
		b.WriteString(block.Text)
	}
	return b.String()
}

func hexSum(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}
