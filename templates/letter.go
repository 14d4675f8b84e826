package templates

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
)

// LetterText is one letter in one language before its fields are filled. It is
// made by ParseLetterText, which has checked every mark and field in it.
type LetterText struct {
	File     string // where it was read, for messages
	Kind     string // of the letter: first-notice, booking, repeat-needed ...
	Variant  string // which text of the kind; "" when there is one only
	Language string // BCP 47 tag
	Version  string
	Title    string // what the letter is called on screens and in the PDF
	Status   string // who has read it, or that nobody has yet
	SHA256   string // of the file, in hex, so that a made letter names its text
	Own      bool   // from the program's own folder

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
	when []condition // the block is left out unless all hold
	each bool        // repeated for each infant of a list
	text string
	line int
}

// condition asks whether a field has a value.
type condition struct {
	field   string
	without bool // holds when the field has none
}

func (b *sourceBlock) holds(f, row LetterFields) bool {
	for _, c := range b.when {
		if (f.value(c.field, row) != "") == c.without {
			return false
		}
	}
	return true
}

// LetterFields are the values that a letter's fields take, by name.
type LetterFields map[string]string

// value is a field's value, of a row where it has one.
func (f LetterFields) value(name string, row LetterFields) string {
	if v, has := row[name]; has {
		return strings.TrimSpace(v)
	}
	return strings.TrimSpace(f[name])
}

// Fill puts the values into the text; blocks that are repeated stand once for each
// row. A field that has no value, or a value with a line end in it, is an error that
// names the file and the line; all faults come at once.
func (t *LetterText) Fill(f LetterFields, rows ...LetterFields) ([]LetterBlock, error) {
	var faults []error
	out := make([]LetterBlock, 0, len(t.blocks))
	add := func(b *sourceBlock, row LetterFields) {
		if !b.holds(f, row) {
			return
		}
		text, err := fillLetter(b.text, f, row)
		if err != nil {
			faults = append(faults, &LetterFault{t.File, b.line, err.Error()})
		}
		out = append(out, LetterBlock{b.mark, text})
	}
	for i := 0; i < len(t.blocks); i++ {
		if !t.blocks[i].each {
			add(&t.blocks[i], nil)
			continue
		}
		end := i
		for end < len(t.blocks) && t.blocks[end].each {
			end++
		}
		for _, row := range rows {
			for j := i; j < end; j++ {
				add(&t.blocks[j], row)
			}
		}
		i = end - 1
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	return out, nil
}

func fillLetter(text string, f, row LetterFields) (string, error) {
	var b strings.Builder
	for {
		before, rest, found := strings.Cut(text, "{")
		b.WriteString(before)
		if !found {
			return b.String(), nil
		}
		name, after, _ := strings.Cut(rest, "}")
		v := f.value(name, row)
		switch {
		case v == "":
			return "", fmt.Errorf("the field {%s} has no value: %s", name, fieldMeaning(name))
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
