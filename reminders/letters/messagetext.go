package letters

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/templates"
)

// messageText is one message to a family. It names neither the infant, nor the program,
// nor the test, nor the place: others may read the screen. Every text is a draft for
// review by the program, and the Spanish one by a qualified translator too.
type messageText struct{ subject, body string }

// messageTexts by language and kind. %[1]s is whom to call, %[2]s the telephone number,
// %[3]s the hours, %[4]s the day and %[5]s the time of the appointment.
var messageTexts = map[string]map[string]messageText{
	"en": {
		cases.MessageReminder: {"Your appointment tomorrow", "Your appointment is tomorrow, %[4]s, at %[5]s. The letter we sent tells you where to come. If you cannot come, please call %[1]s at %[2]s."},
		cases.MessageNudge:    {"Please call us", "We tried to call you. Please call %[1]s at %[2]s. We answer %[3]s. An interpreter is free."},
	},
	"es": {
		cases.MessageReminder: {"Su cita de mañana", "Su cita es mañana, %[4]s, a %[5]s. La carta que le enviamos dice adónde ir. Si no puede venir, llame a %[1]s al %[2]s."},
		cases.MessageNudge:    {"Por favor, llámenos", "Tratamos de llamarle. Por favor, llame a %[1]s al %[2]s. Hay un intérprete gratis."},
	},
}

// WordMessage words the messages to families with the program's facts as they are, in
// the family's language where there is a text in it and in English otherwise.
func WordMessage(texts *templates.LetterSet, program func() *Program) func(*cases.Case, cases.MessageDue) (cases.Outgoing, error) {
	return func(c *cases.Case, due cases.MessageDue) (cases.Outgoing, error) {
		p := program()
		if err := p.Check(); err != nil {
			return cases.Outgoing{}, fmt.Errorf("the program's own facts for letters are not complete: %w", err)
		}
		language := "en"
		if c.Family != nil {
			if base := strings.ToLower(baseLanguage(c.Family.Language)); messageTexts[base] != nil {
				language = base
			}
		}
		t, ok := messageTexts[language][due.Kind]
		if !ok {
			return cases.Outgoing{}, fmt.Errorf("there is no text of a message %q", due.Kind)
		}
		out := cases.Outgoing{Language: language, Subject: t.subject}
		var on, at string
		if due.Kind == cases.MessageReminder {
			_, clock, timed := strings.Cut(due.Occasion, " ")
			d := cases.OccasionDay(due.Occasion)
			when, err := time.Parse("15:04", clock)
			w := texts.Words(language)
			if d == 0 || !timed || err != nil || w == nil {
				return out, errors.New("the booking has no time")
			}
			year, month, n := d.Date()
			on, at = w.WeekDate(int(d.Weekday()), year, int(month), n), w.Time(when.Hour(), when.Minute())
		}
		out.Body = fmt.Sprintf(t.body, p.Contact, p.Phone, p.Hours, on, at)
		return out, nil
	}
}
