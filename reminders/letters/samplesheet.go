package letters

import (
	"dunlin/cases"
	"dunlin/reminders/paper"
	"dunlin/templates"
)

// Sample sets a letter text with invented values, as a letter of the program: what it
// looks like on paper. It is of no case and is never kept.
func Sample(texts *templates.LetterSet, text *templates.LetterText, p *Program) (Letter, error) {
	f, rows := texts.Sample(text)
	blocks, err := text.Fill(f, rows...)
	if err != nil {
		return Letter{}, err
	}
	l := Letter{
		Format: dataFormat, Number: "SAMPLE00", Kind: text.Kind, Language: text.Language, MadeOn: cases.MakeDay(2026, 3, 9), Title: text.Title,
		Source: Source{text.File, text.Version, text.Status, text.SHA256, paper.Fonts()},
		Sender: Sender{p.Name, nonEmpty(p.Return), p.Contact, p.Phone, p.Hours}, Blocks: blocks, Envelope: p.Envelope,
		Address: []string{"Parent or guardian", "14 Curlew Lane", "Alder Bay"},
	}
	l.finish(texts.Words(text.Language))
	_, err = l.sheets()
	return l, err
}
