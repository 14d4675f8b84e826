package main

import (
	"fmt"
	"log/slog"
	"os"
	"strings"

	"dunlin/reminders/letters"
	"dunlin/templates"
)

// letterTexts reads the letter texts: those of the program, under those of the folder
// that the settings name. Every fault is named with file and line.
func (c *config) letterTexts() (*templates.LetterSet, error) {
	if c.LettersFolder == "" {
		return templates.ParseLetters()
	}
	info, err := os.Stat(c.LettersFolder)
	if err == nil && !info.IsDir() {
		err = fmt.Errorf("%s is no folder", c.LettersFolder)
	}
	if err != nil {
		return nil, fmt.Errorf("letters_folder: %w", err)
	}
	texts, err := templates.LoadLetters(os.DirFS(c.LettersFolder))
	if err != nil {
		return nil, fmt.Errorf("letter texts in %s:\n%w", c.LettersFolder, err)
	}
	if err := letters.CheckTexts(texts, &c.Letters); err != nil {
		return nil, fmt.Errorf("letter texts in %s:\n%w", c.LettersFolder, err)
	}
	return texts, nil
}

// letterWarnings says what families will get in other words than the program may
// expect: letters without a translation, hours left out.
func (c *config) letterWarnings(texts *templates.LetterSet) []string {
	var out []string
	for _, m := range texts.Missing() {
		out = append(out, m.Error())
	}
	for _, t := range texts.All() {
		if unsaid := t.Unsaid(); len(unsaid) > 0 {
			out = append(out, fmt.Sprintf("%s:1: the letter never says %s", t.File, strings.Join(unsaid, ", ")))
		}
	}
	for _, language := range texts.Languages() {
		if language != "en" && c.Letters.HoursIn[language] == "" {
			out = append(out, fmt.Sprintf("letters.hours_in has no %q: letters in this language leave out when the phone is answered", language))
		}
	}
	return out
}

// logLetterTexts puts the warnings into the log when the program starts to serve.
func (c *config) logLetterTexts(texts *templates.LetterSet, log *slog.Logger) {
	if log == nil {
		return
	}
	for _, w := range c.letterWarnings(texts) {
		log.Warn("letter texts", "what", w)
	}
}
