package web

import (
	"bytes"
	"fmt"
	"net/http"
	"strings"

	"dunlin/cases"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

const textsPath = "/settings/letter-texts"

// letterTextsPage answers GET /settings/letter-texts: every letter text by kind and
// language, with who has read it and how it reads. It changes nothing.
func (s *server) letterTextsPage(c Ctx) error {
	p := &templates.LetterTextsPage{Base: templates.Base{Name: "Letter texts", Current: "settings"}, Links: settingsTabs(c, "letter-texts"), Envelope: s.letterFacts().Envelope.Name, Sheet: textsPath + "/envelope.pdf",
		Lead: "What letters say, by kind and language. This page changes none: a program lays its own folder of texts over those that ship, and checks it with “dunlin letters check”.",
		Gate: fmt.Sprintf("Letters to families are held to reading grade %.0f in English and INFLESZ %.0f in Spanish.", templates.LetterGrade, templates.LetterINFLESZ)}
	for _, t := range s.LetterTexts.All() {
		row := templates.LetterTextRow{Kind: cases.LetterKindOf(t.Kind).Word, Variant: variantWord(t.Variant), To: toWords[cases.LetterKindOf(t.Kind).To], Language: languageWord(t.Language), Title: t.Title, Lang: t.Language,
			Version: t.Version, Status: t.Status, Source: "Ships with Dunlin", File: t.File, Sample: textsPath + "/" + t.Language + "/" + strings.TrimSuffix(t.Kind+"~"+t.Variant, "~") + "/sample.pdf"}
		if t.Own {
			row.Source = "The program’s own"
		}
		score, err := s.LetterTexts.Score(t)
		switch {
		case err != nil:
			row.Reads, row.State = "Cannot be filled: "+err.Error(), templates.Tag{Kind: "late", Text: "Fault"}
		case !score.Gated:
			row.Reads, row.State = or(templates.ReadingLine(t.Language, score.Blocks()), "Not counted"), templates.Tag{Kind: "blank", Text: "No gate"}
		case score.Passes:
			row.Reads, row.State = templates.ReadingLine(t.Language, score.Blocks()), templates.Tag{Kind: "done", Text: "Easy enough"}
		default:
			row.Reads, row.State = templates.ReadingLine(t.Language, score.Blocks()), templates.Tag{Kind: "late", Text: "Too hard"}
		}
		p.Rows = append(p.Rows, row)
	}
	for _, m := range s.LetterTexts.Missing() {
		p.Faults = append(p.Faults, m.Error())
	}
	if err := letters.CheckTexts(s.LetterTexts, s.letterFacts()); err != nil {
		p.Faults = append(p.Faults, strings.Split(err.Error(), "\n")...)
	}
	for _, language := range s.LetterTexts.Languages() {
		if language != "en" && s.letterFacts().HoursIn[language] == "" {
			p.Faults = append(p.Faults, fmt.Sprintf("The settings say no hours in %s: letters in it leave out when the phone is answered.", languageWord(language)))
		}
	}
	return s.render(c, http.StatusOK, p)
}

// letterSample answers GET /settings/letter-texts/:lang/:text/sample.pdf: a text with
// invented values.
func (s *server) letterSample(c Ctx) error {
	kind, variant, _ := strings.Cut(c.Param("text"), "~")
	t := s.LetterTexts.Text(c.Param("lang"), kind, variant)
	if t == nil {
		return cases.Errorf(cases.NotFound, "There is no such letter text.")
	}
	l, err := letters.Sample(s.LetterTexts, t, s.letterFacts())
	if err != nil {
		return cases.Errorf(cases.Refused, "This sample cannot be set: %s.", err)
	}
	var b bytes.Buffer
	if err := l.WritePDF(&b); err != nil {
		return cases.Errorf(cases.Refused, "This sample cannot be set: %s.", err)
	}
	return sendPDF(c, "sample-"+t.Language+"-"+strings.TrimSuffix(t.Kind+"-"+t.Variant, "-"), b.Bytes())
}

// envelopeSheet answers GET /settings/letter-texts/envelope.pdf: the sheet to proof the
// program's envelopes with.
func (s *server) envelopeSheet(c Ctx) error {
	var b bytes.Buffer
	if err := s.letterFacts().Envelope.WriteTestSheet(&b); err != nil {
		return cases.Errorf(cases.Refused, "The sheet cannot be set: %s.", err)
	}
	return sendPDF(c, "envelope-test-sheet", b.Bytes())
}

// variantWord is which text of its kind a letter takes, in words.
func variantWord(v string) string {
	if o := cases.Outcome(v); o.Word() != "" && (o.Graded() || o == cases.QNS) {
		return o.Word()
	}
	switch v {
	case "presumptive":
		return "Presumptive CF"
	case "unclear":
		return "Any other reason"
	}
	return v
}
