package templates

// Field is a labelled text input with its hint and error. Render it with the
// part "field".
type Field struct {
	ID    string // also the target of the summary's link
	Name  string // name in the form; default ID
	Label string
	Hint  string
	Value string // what was typed, kept as it was
	Error string

	Optional  bool
	Unit      string // shown after the input: kg, µL
	Width     string // class: w4, w5, w14, w20 or "" for full
	InputMode string // decimal, numeric, tel, email
	Kind      string // "" text, "password", "search", "file", "area" (text area)
	Complete  string // autocomplete; default off
	NoSpell   bool   // names and codes
	Rows      int    // lines of a text area
	Accept    string // of a file input
	Multiple  bool   // of a file input
}

// Choice is a group of radio buttons, of tick boxes, or a select. Render it
// with the part "radios", "ticks" or "select".
type Choice struct {
	ID      string // of the group; options are ID-0, ID-1, ...
	Name    string // default ID
	Legend  string
	Hint    string
	Error   string
	Down    bool // options below one another
	Width   string
	Options []Option
}

// Option is one of the options of a Choice.
type Option struct {
	Value, Text string
	Sub         string // explaining line; not in selects
	Chosen      bool
}

// InputName is the name under which the input is sent.
func (f Field) InputName() string { return or(f.Name, f.ID) }

// InputName is the name under which the choice is sent.
func (c Choice) InputName() string { return or(c.Name, c.ID) }

// Choose returns the choice with the option of this value chosen and no other.
func (c Choice) Choose(value string) Choice {
	opts := make([]Option, len(c.Options))
	for i, o := range c.Options {
		o.Chosen = o.Value == value
		opts[i] = o
	}
	c.Options = opts
	return c
}

// DescribedBy is the ids of hint and error, for aria-describedby.
func (f Field) DescribedBy() string { return describedBy(f.ID, f.Hint, f.Error) }

// DescribedBy is the ids of hint and error, for aria-describedby.
func (c Choice) DescribedBy() string { return describedBy(c.ID, c.Hint, c.Error) }

// AutoComplete is the autocomplete value; infants' data are never the user's own.
func (f Field) AutoComplete() string { return or(f.Complete, "off") }

func describedBy(id, hint, err string) string {
	s := ""
	if hint != "" {
		s = id + "-h"
	}
	if err != "" {
		if s != "" {
			s += " "
		}
		s += id + "-e"
	}
	return s
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// Fact is a row of a facts list.
type Fact struct {
	Name, Text string
	On         Date   // shown instead of Text when set
	Phone      string // shown as a number that dials
	Note       string // second line
}
