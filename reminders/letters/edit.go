package letters

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"

	"dunlin/cases"
	"dunlin/reminders/paper"
	"dunlin/templates"
)

// Edited is the letter with other words, checked as a made one is: it can be set, names
// the infant and whom to call, and a letter to a family that is read alone names no
// result or condition. Its head, window and number stay. The error says for people what
// to change.
func (l *Letter) Edited(blocks []templates.LetterBlock, c *cases.Case) (Letter, error) {
	e := *l
	e.Blocks = make([]templates.LetterBlock, len(blocks))
	for i, b := range blocks {
		e.Blocks[i] = templates.LetterBlock{Mark: b.Mark, Text: paper.Tidy(b.Text)}
	}
	plain := templates.Plain(e.Blocks)
	if name := l.nameIn(c); name != "" && !strings.Contains(plain, name) {
		return e, fmt.Errorf("the letter must say whom it is about: %s", name)
	}
	if !strings.Contains(plain, l.Sender.Phone) {
		return e, fmt.Errorf("the letter must say which number to call: %s", l.Sender.Phone)
	}
	if templates.SaysNoResult(l.Kind) {
		if word := templates.NamesCondition(plain); word != "" {
			return e, fmt.Errorf("a letter of this kind names no result, variant or condition. Take out %q", word)
		}
	}
	_, err := e.sheets()
	return e, err
}

// nameIn is the infant's name as this letter says it; "" when it says none.
func (l *Letter) nameIn(c *cases.Case) string {
	if c == nil {
		return ""
	}
	plain := templates.Plain(l.Blocks)
	given, family := paper.Tidy(squeeze(c.Infant.Given)), paper.Tidy(squeeze(c.Infant.Family))
	for _, name := range []string{strings.TrimSpace(given + " " + family), family, given} {
		if name != "" && strings.Contains(plain, name) {
			return name
		}
	}
	return ""
}

// Doubts are what a person should look at again before changed words go out: sentences
// that are left out, among them cautions, words that alarm, and a text hard to read.
type Doubts struct {
	LeftOut []string
	Harsh   string
	Grade   string // how hard it reads, where that is above the gate; "" when it is not
}

// Any tells whether there is a doubt.
func (d Doubts) Any() bool { return len(d.LeftOut) > 0 || d.Harsh != "" || d.Grade != "" }

// Doubts compares changed words with those that were made.
func (l *Letter) Doubts(made *Letter) Doubts {
	d := Doubts{LeftOut: templates.LeftOut(made.Blocks, l.Blocks)}
	if !templates.ForFamily(l.Kind) {
		return d
	}
	d.Harsh = templates.SoundsHarsh(templates.Plain(l.Blocks))
	read := templates.ReadLetterIn(l.Language, l.Blocks)
	switch baseLanguage(l.Language) {
	case "en":
		if g := read.Grade(); g > templates.LetterGrade {
			d.Grade = fmt.Sprintf("It reads at grade %.1f; at most %.0f is wanted.", g, templates.LetterGrade)
		}
	case "es":
		if n := read.INFLESZ(); n < templates.LetterINFLESZ {
			d.Grade = fmt.Sprintf("It reads at INFLESZ %.0f; at least %.0f is wanted.", n, templates.LetterINFLESZ)
		}
	}
	return d
}

// DecodeOriginal reads the letter as it was made, before a person changed its words.
func DecodeOriginal(rec cases.Letter) (Letter, error) {
	if rec.Original != nil {
		rec.Data = rec.Original
	}
	return Decode(rec)
}

// Bytes is the letter as it is kept.
func (l *Letter) Bytes() (json.RawMessage, error) { return json.Marshal(l) }

// WordsSum tells one text of the letter from another: a tick under a text counts for
// that text only.
func (l *Letter) WordsSum() string {
	sum := sha256.Sum256([]byte(templates.MarkedWords(l.Blocks)))
	return hex.EncodeToString(sum[:8])
}
