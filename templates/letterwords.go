package templates

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// wordsFile is the name of the file that says how dates and times read in a language.
const wordsFile = "words.txt"

// LetterWords say how dates, times and the few fixed lines of a letter read in one
// language. They come from <language>/words.txt: "key: value" lines and comments (#).
type LetterWords struct {
	File     string
	months   []string // 12, from January
	weekdays []string // 7, from Sunday
	values   map[string]string
	evening  int // the first hour of the evening
}

// wordKeys are the keys of a words file with the fields that their value must hold.
// A key in brackets may be absent.
var wordKeys = map[string][]string{
	"months": nil, "weekdays": nil, "evening-from": nil, "noon": nil, "midnight": nil, "questions": nil,
	"day": {"day", "month", "year"}, "weekday": {"weekday", "day", "month", "year"},
	"morning": {"clock"}, "afternoon": {"clock"}, "evening": {"clock"},
	"[morning-one]": {"clock"}, "[afternoon-one]": {"clock"},
	"baby": {"family"}, "foot": {"number"}, "foot-pages": {"number", "page", "pages"},
}

func parseLetterWords(file string, src []byte) (*LetterWords, error) {
	w := &LetterWords{File: file, values: map[string]string{}}
	var faults []error
	fault := func(line int, format string, args ...any) {
		faults = append(faults, &LetterFault{file, line, fmt.Sprintf(format, args...)})
	}
	if !utf8.Valid(src) {
		return nil, &LetterFault{file, 1, "the file is not UTF-8 text"}
	}
	lines := strings.Split(strings.ReplaceAll(string(src), "\r\n", "\n"), "\n")
	for i, line := range lines {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		key, value, found := strings.Cut(line, ":")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		fields, known := wordKeys[key]
		if optional, also := wordKeys["["+key+"]"]; also {
			fields, known = optional, true
		}
		switch {
		case !found || !known:
			fault(i+1, "expected one of %s and a colon", wordKeyNames())
		case value == "":
			fault(i+1, "%q has no value", key)
		case w.values[key] != "":
			fault(i+1, "%q stands there twice", key)
		default:
			w.values[key] = value
			if err := w.take(key, value, fields); err != nil {
				fault(i+1, "%v", err)
			}
		}
	}
	for _, key := range slices.Sorted(maps.Keys(wordKeys)) {
		if key[0] != '[' && w.values[key] == "" {
			fault(len(lines), "there is no %q line", key)
		}
	}
	return w, errors.Join(faults...)
}

// take checks one value and keeps lists and numbers apart.
func (w *LetterWords) take(key, value string, fields []string) error {
	list := strings.Split(value, ",")
	for i := range list {
		if list[i] = strings.TrimSpace(list[i]); list[i] == "" && (key == "months" || key == "weekdays") {
			return fmt.Errorf("%q has an empty name", key)
		}
	}
	switch key {
	case "months":
		if w.months = list; len(list) != 12 {
			return fmt.Errorf("%q has %d names, and there are 12", key, len(list))
		}
	case "weekdays":
		if w.weekdays = list; len(list) != 7 {
			return fmt.Errorf("%q has %d names, and there are 7, from Sunday", key, len(list))
		}
	case "evening-from":
		n, err := strconv.Atoi(value)
		if err != nil || n < 13 || n > 23 {
			return fmt.Errorf("%q must be an hour from 13 to 23", key)
		}
		w.evening = n
	}
	left := value
	for _, f := range fields {
		if !strings.Contains(left, "{"+f+"}") {
			return fmt.Errorf("%q must hold {%s}", key, f)
		}
		left = strings.ReplaceAll(left, "{"+f+"}", "")
	}
	if strings.ContainsAny(left, "{}") {
		return fmt.Errorf("%q holds a field that it cannot have; it may hold {%s}", key, strings.Join(fields, "}, {"))
	}
	return nil
}

func wordKeyNames() string {
	var out []string
	for key := range wordKeys {
		out = append(out, strings.Trim(key, "[]"))
	}
	slices.Sort(out)
	return strings.Join(out, ", ")
}

// Date is a day in long form; month runs from 1.
func (w *LetterWords) Date(year, month, day int) string {
	return w.date("day", "", year, month, day)
}

// WeekDate is a day in long form with its day of the week, from 0 Sunday.
func (w *LetterWords) WeekDate(weekday, year, month, day int) string {
	return w.date("weekday", w.weekdays[weekday], year, month, day)
}

func (w *LetterWords) date(key, weekday string, year, month, day int) string {
	return strings.NewReplacer("{weekday}", weekday, "{year}", strconv.Itoa(year),
		"{month}", w.months[month-1], "{day}", strconv.Itoa(day)).Replace(w.values[key])
}

// Time is a time of day in words.
func (w *LetterWords) Time(hour, minute int) string {
	switch {
	case hour == 12 && minute == 0:
		return w.values["noon"]
	case hour == 0 && minute == 0:
		return w.values["midnight"]
	}
	key := "morning"
	switch {
	case hour >= w.evening:
		key = "evening"
	case hour >= 12:
		key = "afternoon"
	}
	clock := strconv.Itoa((hour+11)%12 + 1)
	if one := key + "-one"; clock == "1" && w.values[one] != "" {
		key = one
	}
	if minute != 0 {
		clock += fmt.Sprintf(":%02d", minute)
	}
	return strings.ReplaceAll(w.values[key], "{clock}", clock)
}

// Baby names an infant that has a family name only.
func (w *LetterWords) Baby(family string) string {
	return strings.ReplaceAll(w.values["baby"], "{family}", family)
}

// Questions is the line over the number to call.
func (w *LetterWords) Questions() string { return w.values["questions"] }

// FootLines are the lines at the foot of a sheet with their fields {number}, {page} and
// {pages} unfilled: of a letter on one sheet, and on several. A letter keeps them.
func (w *LetterWords) FootLines() (one, several string) {
	return w.values["foot"], w.values["foot-pages"]
}

// Foot is the line at the foot of a sheet: the letter's number, and the page where
// there is more than one.
func (w *LetterWords) Foot(number string, page, pages int) string {
	key := "foot"
	if pages > 1 {
		key = "foot-pages"
	}
	return strings.NewReplacer("{number}", number, "{pages}", strconv.Itoa(pages), "{page}", strconv.Itoa(page)).Replace(w.values[key])
}
