package letters

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// ClinicDay is what a test site is told of one day.
type ClinicDay struct {
	Site    string    // key of the site
	On      cases.Day // the day of the tests
	MadeOn  cases.Day
	Infants []ClinicInfant
	// Before is the number of the list of that site and day which this one, of changed
	// bookings, takes the place of; Nth is which list this one is, from 1.
	Before string
	Nth    int
}

// ClinicInfant is one infant booked on that day; At is the time of the booking.
type ClinicInfant struct {
	At         cases.Clock
	Case       *cases.Case
	Assessment *cases.Assessment // of the day on which the list is made
}

// Occasion names the list: its site and day.
func (d *ClinicDay) Occasion() string {
	if d.Nth > 1 {
		return cases.NextOccasion(d.base(), d.Nth-1)
	}
	return d.base()
}

func (d *ClinicDay) base() string { return d.Site + " " + d.On.String() }

// ComposeClinicDay makes the list of the day for a test site, in the order of the
// times. It is pure, and belongs to no case.
func ComposeClinicDay(d ClinicDay, texts *templates.LetterSet, p *Program) (Letter, error) {
	if err := p.Check(); err != nil {
		return Letter{}, fmt.Errorf("the program's own facts for letters are not complete: %w", err)
	}
	site, known := p.Sites[d.Site]
	switch {
	case !known:
		return Letter{}, fmt.Errorf("the test site %q is not described in the program's settings", d.Site)
	case len(d.Infants) == 0 && d.Before == "":
		return Letter{}, errors.New("no infant is booked at the site on that day")
	}
	text := texts.Pick("en", cases.LetterClinicDay, "")
	if text == nil {
		return Letter{}, fmt.Errorf("there is no letter text %q", cases.LetterClinicDay)
	}
	m := maker{due: cases.LetterDue{Kind: cases.LetterClinicDay, Occasion: d.Occasion()}, p: p, on: d.MadeOn}
	m.start(texts.Words(text.Language), text.Language)
	m.f["site"], m.f["visit_day"], m.f["count"] = site.Name, m.say.weekDay(d.On), plural(len(d.Infants), "infant", "infants")
	infants := slices.Clone(d.Infants)
	slices.SortStableFunc(infants, func(a, b ClinicInfant) int { return strings.Compare(string(a.At), string(b.At)) })
	for i := range infants {
		row, err := m.row(&infants[i], &d)
		if err != nil {
			return Letter{}, err
		}
		m.rows = append(m.rows, row)
	}
	address, err := siteAddress(&site, p)
	if err != nil {
		return Letter{}, err
	}
	l, err := m.letter(text, address)
	if err != nil || d.Before == "" {
		return l, err
	}
	changed := templates.LetterBlock{Mark: "strong", Text: changedList + d.Before + ", which must not be used any more."}
	l.Blocks = slices.Insert(l.Blocks, min(1, len(l.Blocks)), changed)
	_, err = l.sheets()
	return l, err
}

// changedList begins the line that marks a list of changed bookings.
const changedList = "Changed list. It takes the place of list "

// sameList tells whether two lists say the same of the day, whichever list they replace.
func sameList(a, b *Letter) bool {
	return slices.Equal(withoutMark(a), withoutMark(b))
}

func withoutMark(l *Letter) []templates.LetterBlock {
	return slices.DeleteFunc(slices.Clone(l.Blocks), func(b templates.LetterBlock) bool { return strings.HasPrefix(b.Text, changedList) })
}

// row says of one infant what the site needs.
func (m *maker) row(x *ClinicInfant, d *ClinicDay) (templates.LetterFields, error) {
	c, a := x.Case, x.Assessment
	name := infantName(&c.Infant, m.say.w)
	if name == "" {
		return nil, fmt.Errorf("the infant at %s has no name on record", x.At)
	}
	row := templates.LetterFields{
		"row_time": string(x.At), "row_infant": name, "row_born": m.say.day(c.Infant.Born), "row_why": "First test",
		"row_age": plural(int(d.On-c.Infant.Born), "day", "days"), "row_language": languageOf(c), "row_care": care(c, a, d),
	}
	if row["row_time"] == "" {
		row["row_time"] = "No time:"
	}
	if r := a.Repeat; r != nil {
		row["row_why"] = "Repeat, test " + strconv.Itoa(r.Attempt) + ", after: " + cases.Outcome(r.Because).Word()
	} else if len(a.Tests) > 0 {
		row["row_why"] = "Further test"
	}
	if w := a.Readiness.Latest; w.On != 0 {
		row["row_weight"] = grams(w.G) + " on " + m.say.day(w.On)
	}
	return row, nil
}

// languageOf names the family's language where it is not English, and the wish for an
// interpreter.
func languageOf(c *cases.Case) string {
	if c.Family == nil {
		return ""
	}
	var out []string
	if tag := c.Family.Language; tag != "" && baseLanguage(strings.ToLower(tag)) != "en" {
		out = append(out, cases.LanguageWord(tag))
	}
	if c.Family.Interpreter {
		out = append(out, "interpreter needed")
	}
	return strings.Join(out, ", ")
}

// care lists what the site must heed before it begins.
func care(c *cases.Case, a *cases.Assessment, d *ClinicDay) string {
	var out []string
	if c.Infant.Plurality > 1 {
		out = append(out, "twin or more, check which infant it is")
	}
	if x := c.Declined; x != nil && x.On <= d.MadeOn && (x.WithdrawnOn == 0 || x.WithdrawnOn > d.MadeOn) {
		out = append(out, "the family declined the test, call us before the day")
	}
	for _, h := range c.Holds {
		if h.From <= d.On && (h.Until == 0 || d.On < h.Until) {
			out = append(out, "on hold: "+cases.HoldWord(h.Reason))
		}
	}
	if w := a.Readiness.Weight.State; w == cases.WeightShort || w == cases.WeightUnknown {
		out = append(out, "weight not known to be enough, weigh first")
	}
	for _, b := range c.Bookings {
		if b.State == "booked" && b.On == d.On && b.OverrideBy != "" {
			out = append(out, "booked before ready on the word of "+squeeze(b.OverrideBy))
		}
	}
	return strings.Join(out, "; ")
}
