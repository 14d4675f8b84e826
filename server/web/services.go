package web

import (
	"context"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

// Services are what the form pages need beside the store.
type Services struct {
	LetterFacts func() *letters.Program // the program's own facts, with the test sites
	LetterTexts *templates.LetterSet    // to say why a letter that is due could not be made
	Press       *letters.Press          // makes letters that are due; nil offers no button
	Intake      Receiver                // takes in an uploaded file
}

// Receiver takes in a document and says what became of each item in it.
type Receiver interface {
	Receive(ctx context.Context, a cases.Actor, d intake.Document) (intake.Result, error)
}
