package templates

import (
	"maps"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf8"
)

var filled = map[string]string{"contact": "Wren Castellano", "phone": "555-555-0142", "hours": "Monday to Friday, from 8 in the morning to 4 in the afternoon",
	"day": "Wednesday, September 30", "time": "12:30 PM", "number": "ABCD2345"}

func TestShippedMessages(t *testing.T) {
	set, err := ParseMessages()
	if err != nil {
		t.Fatal(err)
	}
	if len(set.texts) != 7 {
		t.Errorf("%d texts", len(set.texts))
	}
	for _, x := range set.texts {
		m, err := set.Fill(x.Kind, x.Language, filled)
		if err != nil {
			t.Errorf("%s: %v", x.File, err)
			continue
		}
		if strings.ContainsAny(m.Subject+m.Email+m.Text, "{}") || strings.ContainsAny(m.Subject, "\r\n") || !strings.HasSuffix(m.Email, ".\n") {
			t.Errorf("%s: %+v", x.File, m)
		}
		if !strings.Contains(x.Status, "Draft") || x.Language == "es" && !strings.Contains(x.Status, "translator") {
			t.Errorf("%s: status %q", x.File, x.Status)
		}
		if m.Text == "" {
			continue
		}
		// Signs outside of GSM 03.38 cost more than half of the room: 67 each part instead
		// of 153 (3GPP TS 23.038, from memory).
		most := 160
		if x.Language == "es" {
			most = 3 * 67
		}
		if n := utf8.RuneCountInString(m.Text); n > most {
			t.Errorf("%s: the text message has %d signs, at most %d: %s", x.File, n, most, m.Text)
		}
		if regexp.MustCompile(`(?i)doctor|médico`).FindString(m.Email) == "" {
			t.Errorf("%s: it does not say to call the doctor when the baby is ill", x.File)
		}
	}
}

// What is filled in is held to the same words as the text.
func TestMessagesAreCheckedAsFilled(t *testing.T) {
	set, err := ParseMessages()
	if err != nil {
		t.Fatal(err)
	}
	odd := maps.Clone(filled)
	odd["contact"] = "the Cystic Fibrosis desk"
	for _, kind := range familyMessages {
		if _, err := set.Fill(kind, "en", odd); err == nil || !strings.Contains(err.Error(), `"Cystic"`) {
			t.Errorf("%s: %v", kind, err)
		}
	}
	if _, err := set.Fill("doctor", "en", odd); err != nil {
		t.Errorf("to a doctor: %v", err)
	}
}

func TestMessageLanguages(t *testing.T) {
	set, err := ParseMessages()
	if err != nil {
		t.Fatal(err)
	}
	for language, want := range map[string]string{"en": "en", "es": "es", "es-MX": "es", "vi": "en", "": "en"} {
		if m, err := set.Fill("nudge", language, filled); err != nil || m.Language != want {
			t.Errorf("%q: %q %v", language, m.Language, err)
		}
	}
	if _, err := set.Fill("gossip", "en", filled); err == nil {
		t.Error("an unknown kind")
	}
	if _, err := set.Fill("nudge", "en", map[string]string{"contact": "Wren", "hours": "always"}); err == nil || !strings.Contains(err.Error(), "phone") {
		t.Errorf("a field without a value: %v", err)
	}
}

const messageHead = "kind: nudge\nlanguage: en\nstatus: Agreed\nsubject: Please call us\n---\n"

func TestOwnMessages(t *testing.T) {
	own := fstest.MapFS{"mine/nudge.txt": {Data: []byte(messageHead + "Call {contact}, {phone}.\n---\nCall {phone}.\n")}}
	set, err := ParseMessages(own)
	if err != nil {
		t.Fatal(err)
	}
	if m, err := set.Fill("nudge", "en", filled); err != nil || m.Text != "Call 555-555-0142." || m.Email != "Call Wren Castellano, 555-555-0142.\n" {
		t.Errorf("%+v %v", m, err)
	}
	for text, want := range map[string]string{
		messageHead + "Call {infant}.\n---\nCall.":                                   "a.txt:6",
		messageHead + "Call us.\nIt is about the sweat test.\n---\nx":                "a.txt:7",
		messageHead + "Call us.\n---\nLa prueba del bebé.":                           "prueba",
		messageHead + "Su bebé y la fibrosis.\n---\nx":                               "fibrosis",
		messageHead + "Call us.\n---\nWe know {name.":                                "brace",
		messageHead + "Call us on {day}.\n---\nx":                                    "no field {day}",
		strings.Replace(messageHead, "nudge", "gossip", 1) + "a\n---\nb":             `no message of the kind "gossip"`,
		messageHead + "Call us.\n":                                                   "second line ---",
		messageHead + "\n":                                                           "no text",
		messageHead + "a\n---\nb\n---\nc":                                            "more than two",
		"kind: nudge\n" + messageHead + "a\n---\nb":                                  "each once",
		"color: red\n" + messageHead + "a\n---\nb":                                   "a.txt:1",
		"kind: nudge\nlanguage: en\nsubject: x\n---\na\n---\nb":                      "status",
		"subject: Your screen\nkind: nudge\nlanguage: en\nstatus: x\n---\na\n---\nb": "screen",
		messageHead + "\xff\n---\nb":                                                 "UTF-8",
	} {
		_, err := ParseMessages(fstest.MapFS{"a.txt": {Data: []byte(text)}})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}
