package templates

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

//go:embed messages
var messageFiles embed.FS

// messageFields are the kinds of messages with the fields that the text of each may use:
// those that always have a value. None names an infant, a place or a test.
var messageFields = map[string][]string{
	"nudge": {"contact", "phone", "hours"}, "reminder": {"contact", "phone", "hours", "day", "time"},
	"doctor": {"contact", "phone", "hours", "day", "number"}, "doctor-attached": {"contact", "phone", "hours", "day", "number"},
	"clinic": {"contact", "phone", "hours", "day"},
}

// MessageText is one notice in one language: an e-mail, and where it has one a text
// message.
type MessageText struct {
	File, Kind, Language, Status string
	Subject, Email, Text         string
}

// MessageSet holds the texts by kind and language.
type MessageSet struct{ texts []*MessageText }

// familyMessages are the kinds that go to families.
var familyMessages = []string{"nudge", "reminder"}

// tellsTooMuch are words that must not stand in a message to a family, in the languages
// that ship: what the visit is for, and what it may find.
var tellsTooMuch = regexp.MustCompile(`(?i)\b(cystic|fibrosis|cf|cftr|sweat|sudor|screen\w*|tamiz\w*|cribado|pesquisa|test\w*|prueba\w*|examen\w*|result\w*|positiv\w*|abnormal\w*|anormal\w*|gen(e|es|etic\w*|ético|ética)|gen|mutaci\w*|mutation\w*|variant\w*|diagnos\w*|carrier|portador\w*|disease|enfermedad\w*|clinic\w*|clínica\w*|hospital\w*|newborn|recién)(?:$|[^\p{L}\p{N}])`)

// TellsTooMuch gives the first word of a text that must not stand in a message to a
// family; "" for none.
func TellsTooMuch(text string) string {
	return strings.TrimRight(tellsTooMuch.FindString(text), " .,;:!?@-/()")
}

// ParseMessages reads the texts that ship, and those of folders that follow, whose texts
// replace them by kind and language. All faults come at once, each with file and line.
func ParseMessages(own ...fs.FS) (*MessageSet, error) {
	shipped, err := fs.Sub(messageFiles, "messages")
	if err != nil {
		return nil, err
	}
	s := &MessageSet{}
	var faults []error
	for _, from := range append([]fs.FS{shipped}, own...) {
		faults = append(faults, s.read(from))
	}
	for _, kind := range slices.Sorted(maps.Keys(messageFields)) {
		if s.find(kind, "en") == nil {
			faults = append(faults, fmt.Errorf("messages: there is no text %q in English, which every other language falls back to", kind))
		}
	}
	return s, errors.Join(faults...)
}

func (s *MessageSet) read(from fs.FS) error {
	var faults []error
	err := fs.WalkDir(from, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !isText(name) {
			return err
		}
		src, err := readText(from, name)
		if err != nil {
			faults = append(faults, err)
			return nil
		}
		t, err := parseMessage(name, src)
		if err != nil {
			faults = append(faults, err)
			return nil
		}
		s.texts = slices.DeleteFunc(s.texts, func(o *MessageText) bool { return o.Kind == t.Kind && o.Language == t.Language })
		s.texts = append(s.texts, t)
		return nil
	})
	return errors.Join(append(faults, err)...)
}

// parseMessage reads one file: a head of "key: value" lines and comments (#), a line of
// three hyphens, the e-mail, and after a further such line the text message.
func parseMessage(file string, src []byte) (*MessageText, error) {
	t := &MessageText{File: file}
	keys := map[string]*string{"kind": &t.Kind, "language": &t.Language, "status": &t.Status, "subject": &t.Subject}
	var faults []error
	fault := func(line int, format string, args ...any) {
		faults = append(faults, &LetterFault{file, line, fmt.Sprintf(format, args...)})
	}
	if !utf8.Valid(src) {
		fault(1, "the file is not UTF-8 text")
	}
	part, starts := 0, [3]int{1, 1, 1}
	var bodies [3][]string
	for i, line := range strings.Split(strings.ReplaceAll(string(src), "\r\n", "\n"), "\n") {
		line = strings.TrimRight(line, " \t")
		switch {
		case line == "---" && part == 2:
			fault(i+1, "there are more than two parts after the head")
		case line == "---":
			part++
			starts[part] = i + 2
		case part > 0:
			bodies[part] = append(bodies[part], line)
		case line == "" || strings.HasPrefix(line, "#"):
		default:
			key, value, ok := strings.Cut(line, ":")
			if at := keys[key]; ok && at != nil && *at == "" {
				*at = strings.TrimSpace(value)
			} else {
				fault(i+1, "expected one of kind, language, status, subject, each once, with a colon and a value")
			}
		}
	}
	t.Email, t.Text = joinMessage(bodies[1]), strings.TrimSpace(strings.Join(bodies[2], " "))
	for key, at := range keys {
		if *at == "" {
			fault(1, "the head has no %q line", key)
		}
	}
	if t.Kind != "" && messageFields[t.Kind] == nil {
		fault(1, "there is no message of the kind %q; the kinds: %s", t.Kind, strings.Join(slices.Sorted(maps.Keys(messageFields)), ", "))
	}
	if t.Email == "" {
		fault(starts[1], "the message has no text after its head")
	}
	if slices.Contains(familyMessages, t.Kind) && t.Text == "" {
		fault(starts[1], "a message to families needs a text message after a second line ---")
	}
	for n, text := range []string{t.Subject, strings.Join(bodies[1], "\n"), strings.Join(bodies[2], "\n")} {
		for i, line := range strings.Split(text, "\n") {
			checkMessageLine(t, line, func(format string, args ...any) { fault(starts[n]+i, format, args...) })
		}
	}
	return t, errors.Join(faults...)
}

// joinMessage is the e-mail's text with one line break at its end.
func joinMessage(lines []string) string {
	s := strings.Trim(strings.Join(lines, "\n"), "\n")
	if s == "" {
		return ""
	}
	return s + "\n"
}

var messageField = regexp.MustCompile(`\{([^{}]*)\}`)

func checkMessageLine(t *MessageText, line string, fault func(string, ...any)) {
	for _, m := range messageField.FindAllStringSubmatch(line, -1) {
		if known := messageFields[t.Kind]; known != nil && !slices.Contains(known, m[1]) {
			fault("a message of this kind has no field {%s}; it has %s", m[1], strings.Join(known, ", "))
		}
	}
	if strings.ContainsAny(messageField.ReplaceAllString(line, ""), "{}") {
		fault("a brace without its other one")
	}
	if slices.Contains(familyMessages, t.Kind) {
		if w := TellsTooMuch(line); w != "" {
			fault("%q must not stand in a message to a family: nobody knows who else reads it", w)
		}
	}
}

func (s *MessageSet) find(kind, language string) *MessageText {
	for _, t := range s.texts {
		if t.Kind == kind && strings.EqualFold(t.Language, language) {
			return t
		}
	}
	return nil
}

// Fill gives the text of a kind in a language, its base language, or else English, with
// its fields filled. A field without a value that the text uses is an error.
func (s *MessageSet) Fill(kind, language string, fields map[string]string) (MessageText, error) {
	base, _, _ := strings.Cut(language, "-")
	var t *MessageText
	for _, l := range []string{language, base, "en"} {
		if t = s.find(kind, l); t != nil {
			break
		}
	}
	if t == nil {
		return MessageText{}, fmt.Errorf("there is no message text %q", kind)
	}
	out := *t
	var missing []string
	for _, part := range []*string{&out.Subject, &out.Email, &out.Text} {
		*part = messageField.ReplaceAllStringFunc(*part, func(f string) string {
			name := strings.Trim(f, "{}")
			value := strings.Join(strings.Fields(fields[name]), " ")
			if value == "" && !slices.Contains(missing, name) {
				missing = append(missing, name)
			}
			return value
		})
	}
	if len(missing) > 0 {
		return out, fmt.Errorf("the message text %q needs %s, which is not set", kind, strings.Join(missing, ", "))
	}
	if slices.Contains(familyMessages, kind) {
		if w := TellsTooMuch(out.Subject + "\n" + out.Email + "\n" + out.Text); w != "" {
			return out, fmt.Errorf("%q must not stand in a message to a family; it came with a value filled in, such as the name of whom to call", w)
		}
	}
	return out, nil
}
