package letters

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"dunlin/cases"
	"dunlin/reminders/paper"
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

// Compose makes the letter that is due on the day of the assessment. It is pure: the
// number is given when the letter is kept. An error says, for people, why this letter
// cannot be made; it concerns this letter only.
func Compose(c *cases.Case, a *cases.Assessment, due cases.LetterDue, texts *templates.LetterSet, p *Program) (Letter, error) {
	if err := p.Check(); err != nil {
		return Letter{}, fmt.Errorf("the program's own facts for letters are not complete: %w", err)
	}
	if err := mayMail(c, a.On); err != nil {
		return Letter{}, err
	}
	fields := templates.LetterFields{
		"infant": infantName(&c.Infant), "infant_born": longDay(c.Infant.Born),
		"program": p.Name, "contact": p.Contact, "phone": p.Phone, "hours": p.Hours, "emergency": p.Emergency,
	}
	if fields["infant"] == "" {
		return Letter{}, errors.New("the infant has no name on record")
	}
	if c.PrimaryCare != nil {
		fields["doctor"] = squeeze(c.PrimaryCare.Name)
	}
	variant, err := occasionFields(c, a, due, p, fields)
	if err != nil {
		return Letter{}, err
	}
	text := pickText(texts, c, due.Kind, variant)
	if text == nil {
		return Letter{}, fmt.Errorf("there is no letter text %q", strings.TrimSpace(due.Kind+" "+variant))
	}
	blocks, err := text.Fill(fields)
	if err != nil {
		return Letter{}, fmt.Errorf("the letter text cannot be filled: %w", err)
	}
	address, err := addressee(c, p)
	if err != nil {
		return Letter{}, err
	}
	l := Letter{
		Format: dataFormat, Number: placeholder, Kind: due.Kind, Occasion: due.Occasion, Language: text.Language, MadeOn: a.On,
		Title:  text.Title,
		Source: Source{text.File, text.Version, text.Status, text.SHA256, paper.Fonts()},
		Sender: Sender{p.Name, nonEmpty(p.Return), p.Contact, p.Phone, p.Hours}, Address: address, Blocks: blocks, Envelope: p.Envelope,
	}
	l.finish(texts.Words(l.Language))
	_, err = l.sheets()
	return l, err
}

// mayMail holds a letter back under a flag. The assessment names no such letter; this
// second look is for letters asked for by hand.
func mayMail(c *cases.Case, on cases.Day) error {
	for _, f := range c.Flags {
		stands := f.From <= on && (f.Until == 0 || on < f.Until)
		if stands && (f.Kind == "no-mail" || f.Kind == "custody") {
			return fmt.Errorf("the flag %q forbids mail to this family", f.Kind)
		}
	}
	if c.Infant.Died != 0 && c.Infant.Died <= on {
		return errors.New("the infant died")
	}
	return nil
}

// occasionFields adds what the occasion knows and picks the variant of the text.
func occasionFields(c *cases.Case, a *cases.Assessment, due cases.LetterDue, p *Program, f templates.LetterFields) (variant string, err error) {
	switch due.Kind {
	case cases.LetterFirstNotice:
		return "", nil
	case cases.LetterBooking:
		return "", bookingFields(c, a.On, due.Occasion, p, f)
	case cases.LetterRepeatNeeded:
		if a.Repeat == nil {
			return "", errors.New("no repeat is open any more")
		}
		f["test_day"] = weekDay(a.Repeat.After)
		switch a.Repeat.Because {
		case string(cases.QNS), string(cases.Intermediate):
			return a.Repeat.Because, nil
		}
		return "unclear", nil
	}
	return "", fmt.Errorf("letters of the kind %q are not made yet", due.Kind)
}

func bookingFields(c *cases.Case, on cases.Day, occasion string, p *Program, f templates.LetterFields) error {
	for _, b := range c.Bookings {
		if b.State != "booked" || b.On < on || cases.BookingOccasion(&b) != occasion {
			continue
		}
		site, known := p.Sites[b.Site]
		switch {
		case b.At == "":
			return errors.New("the booking has no time")
		case b.Site == "":
			return errors.New("the booking has no test site")
		case !known:
			return fmt.Errorf("the test site %q is not described in the program's settings", b.Site)
		}
		f["visit_day"], f["visit_time"] = weekDay(b.On), timeInWords(b.At)
		f["site"], f["site_address"], f["site_phone"], f["site_note"] = site.Name, site.Address, site.Phone, site.Note
		return nil
	}
	return errors.New("the booking is not there any more")
}

// pickText takes the family's language, and English where a letter has no agreed text
// in it.
func pickText(texts *templates.LetterSet, c *cases.Case, kind, variant string) *templates.LetterText {
	if c.Family != nil {
		if t := texts.Text(strings.ToLower(c.Family.Language), kind, variant); t != nil {
			return t
		}
	}
	return texts.Text("en", kind, variant)
}

// LanguageNote says that the letter is not in the language on record; "" when it is.
func (l *Letter) LanguageNote(c *cases.Case) string {
	if c.Family == nil || c.Family.Language == "" || strings.EqualFold(baseLanguage(c.Family.Language), l.Language) {
		return ""
	}
	return fmt.Sprintf("In English; the language on record is %s. Call the family with an interpreter.", c.Family.Language)
}

func baseLanguage(tag string) string {
	base, _, _ := strings.Cut(tag, "-")
	return base
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
