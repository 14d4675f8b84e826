package intake

import (
	"strconv"
	"strings"
	"unicode/utf8"
)

// Severity says what a problem does to the item it belongs to.
type Severity uint8

// The severities, from mild to grave.
const (
	Note  Severity = iota // worth knowing; nothing to do
	Check                 // the value is kept as text beside the case, to be checked
	Fault                 // a person decides before anything happens
)

// Problem is one thing wrong with a document, with its place and a plain sentence
// that says what to do. Segment, Occurrence, Field and Component place it in an
// HL7 message (all counted from 1); Row and Column place it in a line list.
type Problem struct {
	Severity   Severity `json:"severity"`
	Segment    string   `json:"segment,omitempty"`
	Occurrence int      `json:"occurrence,omitempty"`
	Field      int      `json:"field,omitempty"`
	Component  int      `json:"component,omitempty"`
	Row        int      `json:"row,omitempty"`
	Column     string   `json:"column,omitempty"`
	Value      string   `json:"value,omitempty"` // as it was sent, shortened
	Text       string   `json:"text"`
}

// Where names the place: "OBX[4]-5.1", "row 14, dob", or "" for the whole item.
func (p Problem) Where() string {
	switch {
	case p.Segment != "":
		var b strings.Builder
		b.WriteString(p.Segment)
		if p.Occurrence > 0 && p.Segment != "MSH" {
			b.WriteString("[" + strconv.Itoa(p.Occurrence) + "]")
		}
		if p.Field > 0 {
			b.WriteString("-" + strconv.Itoa(p.Field))
			if p.Component > 0 {
				b.WriteString("." + strconv.Itoa(p.Component))
			}
		}
		return b.String()
	case p.Row > 0 && p.Column != "":
		return "row " + strconv.Itoa(p.Row) + ", " + p.Column
	case p.Row > 0:
		return "row " + strconv.Itoa(p.Row)
	}
	return p.Column
}

// String gives the place, the value and the sentence on one line.
func (p Problem) String() string {
	s := p.Text
	if p.Value != "" && !strings.Contains(s, p.Value) {
		s += " (sent: " + strconv.Quote(p.Value) + ")"
	}
	if w := p.Where(); w != "" {
		s = w + ": " + s
	}
	return s
}

// Worst returns the gravest severity among problems.
func Worst(ps []Problem) Severity {
	w := Note
	for _, p := range ps {
		w = max(w, p.Severity)
	}
	return w
}

// Shorten cuts a value to a length that fits a sentence, at a character boundary, with
// single blanks and without control characters. It looks no further than it must.
func Shorten(s string) string {
	const most = 80
	var out []byte
	for word := range strings.FieldsSeq(s) {
		if len(out) > 0 {
			out = append(out, ' ')
		}
		out = append(out, word[:min(len(word), most+utf8.UTFMax)]...)
		if len(out) > most {
			break
		}
	}
	if len(out) <= most {
		return Plain(strings.ToValidUTF8(string(out), "\uFFFD"))
	}
	cut := most
	for cut > 0 && !utf8.RuneStart(out[cut]) {
		cut--
	}
	return Plain(strings.ToValidUTF8(string(out[:cut]), "\uFFFD")) + "…"
}
