package letters

import (
	"errors"
	"fmt"
	"strings"

	"dunlin/cases"
	"dunlin/reminders/paper"
	"dunlin/templates"
)

// Compose makes a letter of a case that is due on the day of the assessment, to the
// family or to primary care. It is pure: the number is given when the letter is kept.
// An error says, for people, why this letter cannot be made; it concerns this letter
// only.
func Compose(c *cases.Case, a *cases.Assessment, due cases.LetterDue, texts *templates.LetterSet, p *Program) (Letter, error) {
	if err := p.Check(); err != nil {
		return Letter{}, fmt.Errorf("the program's own facts for letters are not complete: %w", err)
	}
	if err := maySend(c, due.Kind, a.On); err != nil {
		return Letter{}, err
	}
	m := maker{c: c, a: a, due: due, p: p}
	variant, err := m.variant()
	if err != nil {
		return Letter{}, err
	}
	family := cases.LetterKindOf(due.Kind).To == cases.ToFamily
	tag := "en"
	if family && c.Family != nil {
		tag = c.Family.Language
	}
	text := texts.Pick(tag, due.Kind, variant)
	if text == nil {
		return Letter{}, fmt.Errorf("there is no letter text %q", strings.TrimSpace(due.Kind+" "+variant))
	}
	m.start(texts.Words(text.Language), text.Language)
	if err := m.fill(); err != nil {
		return Letter{}, err
	}
	address, err := m.address(family)
	if err != nil {
		return Letter{}, err
	}
	return m.letter(text, address)
}

// maySend holds a letter back that must not go. The assessment names no such letter;
// this second look is for letters asked for by hand.
func maySend(c *cases.Case, kind string, on cases.Day) error {
	died := c.Infant.Died != 0 && c.Infant.Died <= on
	if cases.LetterKindOf(kind).To != cases.ToFamily {
		if died && kind != cases.LetterDoctorResult {
			return errors.New("the infant died")
		}
		return nil
	}
	for _, f := range c.Flags {
		stands := f.From <= on && (f.Until == 0 || on < f.Until)
		if stands && (f.Kind == "no-mail" || f.Kind == "custody" || f.Kind == "safety") {
			return fmt.Errorf("the flag %q forbids mail to this family", f.Kind)
		}
	}
	if died {
		return errors.New("the infant died")
	}
	return nil
}

// maker gathers what one letter says.
type maker struct {
	c    *cases.Case
	a    *cases.Assessment
	due  cases.LetterDue
	p    *Program
	on   cases.Day // the letter's own day
	say  dates
	lang string
	f    templates.LetterFields
	rows []templates.LetterFields
}

// start sets the language, and the fields that every letter has.
func (m *maker) start(w *templates.LetterWords, language string) {
	m.say, m.lang = dates{w}, language
	if m.a != nil {
		m.on = m.a.On
	}
	m.f = templates.LetterFields{
		"program": m.p.Name, "contact": m.p.Contact, "phone": m.p.Phone, "hours": m.hours(), "emergency": m.p.Emergency, "fax": m.p.Fax,
		"center": m.p.CFCenter, "center_phone": m.p.CFCenterPhone, "counseling": m.p.Counseling,
	}
}

// hours are the program's hours in the language of the letter; "" when it gives none.
func (m *maker) hours() string {
	if m.lang == "en" {
		return m.p.Hours
	}
	if h := m.p.HoursIn[m.lang]; h != "" {
		return h
	}
	return m.p.HoursIn[baseLanguage(m.lang)]
}

func (m *maker) address(family bool) ([]string, error) {
	if family {
		return addressee(m.c, m.p)
	}
	return doctorAddress(m.c, m.p)
}

// letter fills the text and sets it once, so that what cannot be set is found now.
func (m *maker) letter(text *templates.LetterText, address []string) (Letter, error) {
	blocks, err := text.Fill(m.f, m.rows...)
	if err != nil {
		return Letter{}, fmt.Errorf("the letter text cannot be filled: %w", err)
	}
	l := Letter{
		Format: dataFormat, Number: placeholder, Kind: m.due.Kind, Occasion: m.due.Occasion, Language: text.Language, MadeOn: m.on,
		Title:  text.Title,
		Source: Source{text.File, text.Version, text.Status, text.SHA256, paper.Fonts()},
		Sender: Sender{m.p.Name, nonEmpty(m.p.Return), m.p.Contact, m.p.Phone, m.hours()}, Address: address, Blocks: blocks, Envelope: m.p.Envelope,
	}
	l.finish(m.say.w)
	_, err = l.sheets()
	return l, err
}

// LanguageNote says that a letter to a family is not in the language on record; ""
// when it is.
func (l *Letter) LanguageNote(c *cases.Case) string {
	if !templates.ForFamily(l.Kind) || c.Family == nil || c.Family.Language == "" || strings.EqualFold(baseLanguage(c.Family.Language), baseLanguage(l.Language)) {
		return ""
	}
	return fmt.Sprintf("In English; the language on record is %s. Call the family with an interpreter.", c.Family.Language)
}

func baseLanguage(tag string) string {
	base, _, _ := strings.Cut(tag, "-")
	return base
}
