package web

import (
	"cmp"
	"slices"

	"dunlin/cases"
	"dunlin/templates"
)

// letterRows are all letters and messages of a case with each step, the newest first,
// after those that are due and not made, and those that wait for a person's release.
func (s *server) letterRows(c Ctx, r cases.Reader, k *cases.Case, a *cases.Assessment) ([]templates.InfantLetter, error) {
	var out []templates.InfantLetter
	for i := range a.LettersToRelease {
		l := &a.LettersToRelease[i]
		row := templates.InfantLetter{Name: cases.LetterKindOf(l.Kind).Word, To: toWords[l.To()], Language: "Not made", State: templates.Tag{Kind: "half", Text: "Waits for release"}, On: date(l.Due)}
		if can(c, sendLetters) {
			row.Release = releaseAt(k.Reference, l)
		}
		out = append(out, row)
	}
	for _, list := range [][]cases.LetterDue{a.LettersDue, a.DoctorLettersDue} {
		for i := range list {
			l := &list[i]
			row := templates.InfantLetter{Name: cases.LetterKindOf(l.Kind).Word, To: toWords[l.To()], Language: "Not made", State: letterTag("drafted"), On: date(l.Due)}
			if can(c, seeLetters) {
				row.Href = letterHref(stateDue, (&dueLetter{c: *k, due: *l}).key())
			}
			out = append(out, row)
		}
	}
	made, err := s.madeRows(c, r, k)
	return append(out, made...), err
}

// madeRows are the letters and messages of a case that were made, the newest first.
func (s *server) madeRows(c Ctx, r cases.Reader, k *cases.Case) ([]templates.InfantLetter, error) {
	type made struct {
		id  string
		row templates.InfantLetter
	}
	var list []made
	letters, err := r.LettersOf(k.ID)
	if err != nil {
		return nil, err
	}
	see := can(c, seeLetters)
	for i := range letters {
		l := &letters[i]
		row := templates.InfantLetter{Name: cases.LetterKindOf(l.Kind).Word, To: toWords[cases.LetterKindOf(l.Kind).To], Language: languageWord(l.Language), State: letterTag(l.State), On: date(l.Changed),
			Number: l.Number, Note: l.Tracking, Steps: s.stepRows(l.History)}
		if row.Note != "" {
			row.Note = "Tracking number " + row.Note
		}
		if l.Edited != nil {
			row.Edited = "Words changed by " + s.editedWords(l.Edited)
		}
		if see {
			row.Href, row.PDF = letterHref(l.State, l.ID), "/letters/"+l.ID+"/pdf"
		}
		list = append(list, made{l.ID, row})
	}
	messages, err := r.OutgoingOf(k.ID)
	if err != nil {
		return nil, err
	}
	for i := range messages {
		o := &messages[i]
		row := templates.InfantLetter{Name: messageKind(o.Kind) + ", by " + o.By, To: toWords[o.ToWhom], Language: languageWord(or(o.Language, "en")), State: messageTags[o.State], On: date(s.dayOf(o.Changed)),
			Number: o.Number, Note: o.Note, Steps: s.stepRows(o.History)}
		if see {
			row.Href = messagesPath + "?state=" + o.State + "&message=" + o.ID
		}
		list = append(list, made{o.ID, row})
	}
	slices.SortStableFunc(list, func(a, b made) int { return cmp.Compare(b.id, a.id) })
	out := make([]templates.InfantLetter, len(list))
	for i := range list {
		out[i] = list[i].row
	}
	return out, nil
}

// letterMark is a kind of letter in a word or two, for the time line.
func letterMark(kind string) string {
	if w, ok := letterMarks[kind]; ok {
		return w
	}
	return cases.LetterKindOf(kind).Word
}

var letterMarks = map[string]string{cases.LetterBooking: "Booking", cases.LetterReminder: "Reminder", cases.LetterRepeatNeeded: "Repeat needed", cases.LetterResult: "Result", cases.LetterCarrier: "Carrier",
	cases.LetterNoContact: "Not reached", cases.LetterReferral: "To doctor", cases.LetterDoctorResult: "To doctor", cases.LetterCannotReach: "To doctor"}
