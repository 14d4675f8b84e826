package templates

// Who names an infant in a row of a list: name first, then birth date, age and
// case number. Render it with the part "who".
type Who struct {
	Name      string // "WREN, Ada"
	Lang      string // language of the name when it is not English; may be empty
	Reference string
	Born      Date
	Age       string // "43 days"
	Twin      string // "Twin A"; empty for a single birth
	Test      bool   // opened from a test message
}

// Warning is something unusual that a named person may accept. Ticked keeps
// what was chosen when the page is shown again.
type Warning struct {
	ID     string // short key, sent as a value of "confirm"
	Text   string // what is unusual, with its date or limit
	Tick   string // words of the tick box, like "Book it all the same"
	Ticked bool
	Error  string
}

// GoOn is the part of a form that asks for a tick at each warning and for one
// reason. It shows nothing without warnings. Render it with the part "goon".
type GoOn struct {
	Warnings []Warning
	Reason   Field
}

// Met is one condition with what it is today: of readiness, or of a closing.
type Met struct {
	Met   bool
	Name  string // "Age"
	Value string // "16 days"
	Note  string // limit and date: "14 days or more, since 15 Mar 2026"
	Glyph string // default g-tick when met, g-before when not
}

// Icon is the glyph of the condition.
func (m Met) Icon() string {
	switch {
	case m.Glyph != "":
		return m.Glyph
	case m.Met:
		return "g-tick"
	}
	return "g-before"
}
