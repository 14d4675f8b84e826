package demo

import (
	"fmt"

	"dunlin/cases"
)

// stray is a message that opens no case.
type stray struct {
	on     cases.Day
	text   string
	broken bool // comes in a file of its own
}

// makeStrays makes the results in range, spread over the year, and those that a
// person has to look at, from the last days.
func (w *world) makeStrays() []stray {
	var out []stray
	add := func(age, ago int, change func(*screen)) {
		w.n++
		born := w.today - cases.Day(age+ago)
		s := w.screenOf(newPerson(w.n, born), w.n, w.today-cases.Day(ago))
		s.variants = nil
		change(&s)
		out = append(out, stray{on: s.sent, text: s.message()})
	}
	for i := range 28 {
		add(5+i%3, 3+i*12, func(s *screen) {
			s.answer, s.irt, s.comment = inRange, 14+float64(i), "IRT in range."
		})
	}
	for i, c := range []struct {
		answer  answer
		comment string
	}{
		{borderline, "IRT close to the cut-off. Second test on the same card under way."},
		{inconclusive, "Variant panel failed twice. Please send a new card."},
		{secondTier, "IRT raised. Variant panel under way; a second report follows."},
		{furtherCard, "IRT raised, no variant found, 31 weeks. Repeat card requested."},
	} {
		add(6, 1+i, func(s *screen) { s.answer, s.comment = c.answer, c.comment })
	}
	// Two alleles are said and not named: first on the review list.
	add(6, 1, func(s *screen) {
		s.variants, s.answer = []string{"F508del, homozygous"}, urgentReferral
		s.comment = "IRT raised. Refer for sweat chloride testing."
	})
	for i := range 2 {
		add(5, 2+3*i, func(s *screen) {
			s.badCard, s.answer, s.comment = true, unsatisfactory, "Card soaked unevenly. New card needed."
		})
	}
	// One message broke off on the way: it ends in the middle of a segment.
	w.n++
	s := w.screenOf(newPerson(w.n, w.today-9), w.n, w.today-1)
	text := s.message()
	out = append(out, stray{on: w.today - 1, text: text[:len(text)*2/5], broken: true})
	return out
}

// fileName names a file of the laboratory.
func fileName(day cases.Day, part int) string {
	return fmt.Sprintf("nbs-%s-%d.hl7", stamp(day, ""), part)
}
