package outbox

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/templates"
)

// Words makes the texts of messages. What they say is fixed and names no infant, no
// place and no test.
type Words struct {
	Texts                 *templates.MessageSet
	Contact, Phone, Hours string // whom to call, at what number, and when it is answered
	// Attached tells that letters to doctors go with their messages, by the program's
	// choice; otherwise a message only says that there is one.
	Attached bool
}

// Message words a message that is due to a family, by the channel and in the language
// of the family where there is a text. It is for letters.Press.
func (w *Words) Message(c *cases.Case, due cases.MessageDue) (cases.Outgoing, error) {
	language := ""
	if c.Family != nil {
		language = c.Family.Language
	}
	fields := w.fields()
	if due.Kind == cases.MessageReminder {
		day, clock, ok := occasion(due.Occasion)
		if !ok {
			return cases.Outgoing{}, errors.New("the appointment has no time of day; call the family")
		}
		spanish := strings.EqualFold(language, "es") || strings.HasPrefix(strings.ToLower(language), "es-")
		fields["day"], fields["time"] = dayWords(day, spanish), timeWords(clock, spanish)
	}
	m, err := w.Texts.Fill(due.Kind, language, fields)
	if err != nil {
		return cases.Outgoing{}, err
	}
	o := cases.Outgoing{Kind: due.Kind, Occasion: due.Occasion, By: due.By, ToWhom: cases.ToFamily, Language: m.Language, Body: m.Email, Subject: m.Subject}
	if due.By == cases.ByText {
		o.Subject, o.Body = "", m.Text
	}
	return o, nil
}

// Along words the e-mail to the infant's doctor that goes with a letter; false when the
// letter goes to somebody else, or cannot be worded. It is for letters.Press.
func (w *Words) Along(c *cases.Case, l *cases.Letter) (cases.Outgoing, bool) {
	if cases.LetterKindOf(l.Kind).To != cases.ToPrimaryCare || c.PrimaryCare == nil || c.PrimaryCare.Email == "" {
		return cases.Outgoing{}, false
	}
	kind := "doctor"
	if w.Attached {
		kind = "doctor-attached"
	}
	fields := w.fields()
	fields["day"], fields["number"] = dayWords(l.MadeOn, false), l.Number
	return w.toOffice(kind, fields, cases.Outgoing{Letter: l.ID, Kind: l.Kind, Occasion: l.Occasion, ToWhom: cases.ToPrimaryCare})
}

// Clinic words the e-mail to a test site about its list of a day; to is the site's
// address. It is of no case, and the list never goes with it.
func (w *Words) Clinic(l *cases.Letter, to string) (cases.Outgoing, bool) {
	_, day, _ := strings.Cut(cases.BaseOccasion(l.Occasion), " ")
	on, err := cases.ParseDay(day)
	if err != nil || to == "" {
		return cases.Outgoing{}, false
	}
	fields := w.fields()
	fields["day"] = dayWords(on, false)
	return w.toOffice("clinic", fields, cases.Outgoing{Letter: l.ID, Kind: l.Kind, Occasion: l.Occasion, ToWhom: cases.ToClinic, To: to})
}

func (w *Words) toOffice(kind string, fields map[string]string, o cases.Outgoing) (cases.Outgoing, bool) {
	m, err := w.Texts.Fill(kind, "en", fields)
	if err != nil {
		return o, false
	}
	o.By, o.Language, o.Subject, o.Body = cases.ByEmail, m.Language, m.Subject, m.Email
	return o, true
}

func (w *Words) fields() map[string]string {
	return map[string]string{"contact": w.Contact, "phone": w.Phone, "hours": w.Hours}
}

// occasion reads the day and time of an appointment out of cases.BookingOccasion.
func occasion(s string) (day cases.Day, at time.Time, ok bool) {
	d, t, ok := strings.Cut(s, " ")
	if !ok {
		return 0, at, false
	}
	day, derr := cases.ParseDay(d)
	at, terr := time.Parse("15:04", t)
	return day, at, derr == nil && terr == nil
}

var (
	weekdaysES = [...]string{"domingo", "lunes", "martes", "miércoles", "jueves", "viernes", "sábado"}
	monthsES   = [...]string{"enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre"}
)

// dayWords is a day as "Friday, March 20" or "viernes 20 de marzo".
func dayWords(d cases.Day, spanish bool) string {
	t := d.Time()
	if !spanish {
		return t.Format("Monday, January 2")
	}
	return fmt.Sprintf("%s %d de %s", weekdaysES[t.Weekday()], t.Day(), monthsES[t.Month()-1])
}

// timeWords is a time of day as "9:30 AM", or "9:30 de la mañana".
func timeWords(at time.Time, spanish bool) string {
	h, part := at.Hour(), "AM"
	switch {
	case spanish && h >= 19:
		part = "de la noche"
	case spanish && h >= 12:
		part = "de la tarde"
	case spanish:
		part = "de la mañana"
	case h >= 12:
		part = "PM"
	}
	return strconv.Itoa((h+11)%12+1) + fmt.Sprintf(":%02d ", at.Minute()) + part
}
