package letters

import (
	"encoding/json"
	"fmt"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// dataFormat is the version of Letter as data, and of its layout. Setting a letter
// again needs the format, the fonts and the layout that it was made with, so each
// layout stays in the program; firstFormat is that of layout1.go.
const (
	dataFormat  = "dunlin-letter/2"
	firstFormat = "dunlin-letter/1"
)

// Letter is a composed letter as data. Whatever changes later, in the case or in the
// program, the letter says what it said.
type Letter struct {
	Format   string                  `json:"format"`
	Number   string                  `json:"-"` // printed; the letter's own, given by the store
	Kind     string                  `json:"kind"`
	Occasion string                  `json:"occasion"`
	Language string                  `json:"language"`
	MadeOn   cases.Day               `json:"made_on"`
	Title    string                  `json:"title"`
	Source   Source                  `json:"source"`
	Sender   Sender                  `json:"sender"`
	Words    Words                   `json:"words,omitzero"`
	Address  []string                `json:"address"` // the lines in the window
	Blocks   []templates.LetterBlock `json:"blocks"`
	Envelope Profile                 `json:"envelope"`
}

// Source names the letter text and the fonts.
type Source struct {
	File    string   `json:"file"`
	Version string   `json:"version"`
	Status  string   `json:"status"` // who has read the text
	SHA256  string   `json:"sha256"`
	Fonts   []string `json:"fonts"` // SHA-256 of regular and bold
}

// Sender is what the head of the sheet says.
type Sender struct {
	Name    string   `json:"name"`
	Return  []string `json:"return,omitempty"`
	Contact string   `json:"contact"`
	Phone   string   `json:"phone"`
	Hours   string   `json:"hours"`
}

// Decode reads a kept letter back.
func Decode(rec cases.Letter) (Letter, error) {
	var l Letter
	if err := json.Unmarshal(rec.Data, &l); err != nil {
		return l, fmt.Errorf("letter %s cannot be read: %w", rec.Number, err)
	}
	if l.Format != dataFormat && l.Format != firstFormat {
		return l, fmt.Errorf("letter %s has the format %q; this release sets %q", rec.Number, l.Format, dataFormat)
	}
	l.Number = rec.Number
	return l, nil
}

// Record is the letter as it is kept for a case. The store gives it its identifier and
// the number that is printed on it, which tells nothing about the case.
func (l Letter) Record(c cases.ID) (cases.Letter, error) {
	data, err := json.Marshal(l)
	return cases.Letter{
		Case: c, Kind: l.Kind, Occasion: l.Occasion, Language: l.Language,
		MadeOn: l.MadeOn, State: "to-print", Changed: l.MadeOn, Data: data,
	}, err
}

// placeholder stands for the number until the letter is kept; it is as wide as any.
const placeholder = "WWWWWWWW"

// Preview is the letter as plain text in reading order, for the browser.
func (l *Letter) Preview() string {
	head := append([]string{l.Sender.Name}, l.Sender.Return...)
	return strings.Join(head, "\n") + "\n\n" + strings.Join(l.Address, "\n") + "\n\n" + longDay(l.MadeOn) + "\n\n" +
		templates.Plain(l.Blocks) + "\n\nLetter " + l.Number
}
