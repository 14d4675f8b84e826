package letters

import (
	"errors"

	"dunlin/cases"
	"dunlin/reminders/paper"
	"dunlin/templates"
)

// CheckTexts finds what no sheet could be made of: characters and scripts that are not in
// the fonts, and texts that are too long, each with its file and line, so that it is found
// when the texts are loaded and not with the first letter.
func CheckTexts(texts *templates.LetterSet, p *Program) error {
	fits := func(text string) error { return paper.Check(paper.Tidy(text)) }
	var faults []error
	for _, language := range texts.Languages() {
		faults = append(faults, texts.Words(language).Try(fits)...)
	}
	for _, t := range texts.All() {
		bad := t.Try(fits)
		if len(bad) == 0 && t.Own {
			if err := trySample(texts, t, p); err != nil {
				bad = append(bad, &templates.LetterFault{File: t.File, Line: 1, Text: err.Error()})
			}
		}
		faults = append(faults, bad...)
	}
	return errors.Join(faults...)
}

// trySample lays a letter text out with invented values, in the program's envelope, and
// says why no sheet can be made of it; nil when one can.
func trySample(texts *templates.LetterSet, t *templates.LetterText, p *Program) error {
	f, rows := texts.Sample(t)
	blocks, err := t.Fill(f, rows...)
	if err != nil {
		return err
	}
	env := p.Envelope
	if env.Check() != nil { // said elsewhere
		env = No10()
	}
	l := Letter{
		Format: dataFormat, Number: placeholder, Kind: t.Kind, Language: t.Language, MadeOn: cases.MakeDay(2026, 3, 10), Title: t.Title,
		Source: Source{t.File, t.Version, t.Status, t.SHA256, paper.Fonts()}, Sender: Sender{Name: f["program"], Contact: f["contact"], Phone: f["phone"], Hours: f["hours"]},
		Address: []string{"1 Curlew Lane", "Alder Bay"}, Blocks: blocks, Envelope: env,
	}
	l.finish(texts.Words(t.Language))
	_, err = l.sheets()
	return err
}
