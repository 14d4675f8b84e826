package web

import (
	"dunlin/cases/intake"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

// Services are what the form pages need beside the store.
type Services struct {
	LetterFacts func() *letters.Program // the program's own facts, with the test sites
	LetterTexts *templates.LetterSet    // to say why a letter that is due could not be made
	Press       *letters.Press          // makes letters that are due; nil offers no button
	Intake      *intake.Intake          // takes documents in, and carries out what a person decides on an item
}
