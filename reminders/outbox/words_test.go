package outbox_test

import (
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/reminders/outbox"
	"dunlin/templates"
)

func words(t *testing.T) *outbox.Words {
	t.Helper()
	texts, err := templates.ParseMessages()
	if err != nil {
		t.Fatal(err)
	}
	return &outbox.Words{Texts: texts, Contact: "Wren Castellano", Phone: "555-0142", Hours: "Monday to Friday"}
}

// TestMessagesNameNobody words each message to a family in each language and by each
// channel, and each to an office: the store takes it, and nothing of the infant, the
// family or the place stands in it.
func TestMessagesNameNobody(t *testing.T) {
	c := willing()
	c.Bookings[0].Site = "heron-point"
	w := words(t)
	var all []cases.Outgoing
	for _, language := range []string{"en", "es", "es-MX", "vi", ""} {
		c.Family.Language = language
		for _, due := range []cases.MessageDue{{Kind: cases.MessageReminder, Occasion: "2026-03-21 13:05"}, {Kind: cases.MessageNudge, Occasion: "2026-03-08 phone 2"}} {
			for _, by := range []string{cases.ByEmail, cases.ByText} {
				due.By = by
				o, err := w.Message(&c, due)
				if err != nil {
					t.Errorf("%q %v: %v", language, due, err)
				}
				o.To = map[string]string{cases.ByEmail: "ina@family.example", cases.ByText: "555-555-0101"}[by]
				all = append(all, o)
			}
		}
	}
	for _, attached := range []bool{true, false} {
		w.Attached = attached
		for _, kind := range []string{cases.LetterReferral, cases.LetterDoctorResult, cases.LetterCannotReach} {
			o, ok := w.Along(&c, &cases.Letter{ID: "x", Number: "ABCD2345", Kind: kind, Occasion: "2026-03-08", MadeOn: cases.DayOf(noon)})
			if !ok || !strings.Contains(o.Subject, "ABCD2345") || strings.Contains(o.Subject, "on its way") == attached {
				t.Errorf("%s: %v %+v", kind, ok, o)
			}
			o.To = c.PrimaryCare.Email
			all = append(all, o)
		}
	}
	o, ok := w.Clinic(&cases.Letter{Kind: cases.LetterClinicDay, Occasion: "heron-point 2026-03-23"}, "desk@heron.example")
	if !ok {
		t.Error("no word to the test site")
	}
	all = append(all, o)
	for _, o := range all {
		if err := o.Check(); err != nil {
			t.Errorf("%s: %v", o.Kind, err)
		}
		for _, name := range []string{"Ada", "Wren,", "Heron", "heron", "2026-03", "AB-", "cystic", "CF"} {
			if strings.Contains(o.Subject+o.Body, name) {
				t.Errorf("%s says %q:\n%s\n%s", o.Kind, name, o.Subject, o.Body)
			}
		}
		if !strings.Contains(o.Body, "555-0142") {
			t.Errorf("%s says not whom to call:\n%s", o.Kind, o.Body)
		}
	}
	if len(all) != 27 {
		t.Errorf("%d messages", len(all))
	}
}

func TestMessageSaysDayAndTime(t *testing.T) {
	w := words(t)
	c := willing()
	for language, x := range map[string][2]string{"en": {"Saturday, March 21", "9:30 AM"}, "es": {"sábado 21 de marzo", "9:30 de la mañana"}, "so": {"Saturday, March 21", "9:30 AM"}} {
		c.Family.Language = language
		o, err := w.Message(&c, cases.MessageDue{Kind: cases.MessageReminder, Occasion: tomorrow, By: cases.ByText})
		if err != nil || !strings.Contains(o.Body, x[0]) || !strings.Contains(o.Body, x[1]) {
			t.Errorf("%s: %v %s", language, err, o.Body)
		}
	}
	if _, err := w.Message(&c, cases.MessageDue{Kind: cases.MessageReminder, Occasion: "2026-03-21", By: cases.ByText}); err == nil {
		t.Error("a reminder without a time")
	}
	for at, want := range map[string]string{"00:05": "12:05 AM", "12:00": "12:00 PM", "19:30": "7:30 PM"} {
		c.Family.Language = "en"
		if o, err := w.Message(&c, cases.MessageDue{Kind: cases.MessageReminder, Occasion: "2026-03-21 " + at, By: cases.ByText}); err != nil || !strings.Contains(o.Body, want) {
			t.Errorf("%s: %v %s", at, err, o.Body)
		}
	}
	if _, ok := w.Along(&c, &cases.Letter{Kind: cases.LetterBooking}); ok {
		t.Error("an e-mail to the doctor goes along with a letter to the family")
	}
}
