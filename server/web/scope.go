package web

import (
	"errors"
	"iter"
	"time"

	"dunlin/cases"
)

// scoped is the store as a person sees it who is bound to test sites: cases of other
// sites are left out of lists, and refused where one is asked for, unless the person
// opened it for a reason within the hour.
type scoped struct {
	cases.Reader
	v *visit
}

// openNow gives the cases that a person has open for a reason.
func openNow(r cases.Reader, person string) (map[string]cases.Access, error) {
	from := r.Now().Add(-cases.BreakGlassMinutes * time.Minute)
	list, _, err := r.Accesses(cases.AccessQuery{Person: person, Act: cases.ActBreakGlass, From: from})
	out := map[string]cases.Access{}
	for _, a := range list {
		if r.Now().Before(a.Until) && a.Outcome() == "done" && len(a.Infants) == 1 {
			out[a.Infants[0]] = a
		}
	}
	return out, err
}

// sees tells whether the person may see a case.
func (s scoped) sees(c *cases.Case) bool {
	_, open := s.v.open[c.Reference]
	return open || s.v.who.MaySee(c)
}

func (s scoped) one(c cases.Case, err error) (cases.Case, error) {
	if err == nil && !s.sees(&c) {
		return cases.Case{}, &cases.Elsewhere{Reference: c.Reference}
	}
	return c, err
}

func (s scoped) some(list []cases.Case, err error) ([]cases.Case, error) {
	out := list[:0:0]
	for i := range list {
		if s.sees(&list[i]) {
			out = append(out, list[i])
		}
	}
	return out, err
}

func (s scoped) each(seq iter.Seq2[cases.Case, error]) iter.Seq2[cases.Case, error] {
	return func(yield func(cases.Case, error) bool) {
		for c, err := range seq {
			if err == nil && !s.sees(&c) {
				continue
			}
			if !yield(c, err) {
				return
			}
		}
	}
}

// about tells whether a record of a case may be seen; one of no case, such as the list
// of a test site, may not.
func (s scoped) about(id cases.ID) (bool, error) {
	if id == "" {
		return false, nil
	}
	_, err := s.Case(id)
	if cases.IsElsewhere(err) {
		return false, nil
	}
	return err == nil, err
}

// ownSite refuses the sessions of another site to a person bound to test sites: their
// lists name who is booked there.
func ownSite(c Ctx, site string) error {
	if who := userOf(c); who.Bound() && !who.AtSite(site) {
		return cases.Errorf(cases.Forbidden, "These sessions are of another test site, and your account is bound to yours. Ask the coordinator.")
	}
	return nil
}

// whole is the store as nobody's view narrows it, for what is kept for everybody.
func whole(r cases.Reader) cases.Reader {
	if s, bound := r.(scoped); bound {
		return s.Reader
	}
	return r
}

// Milestones leaves out the cases of other sites, so that figures are of the person's
// own sites.
func (s scoped) Milestones(from, to cases.Day) iter.Seq2[cases.Milestones, error] {
	return func(yield func(cases.Milestones, error) bool) {
		for m, err := range s.Reader.Milestones(from, to) {
			if err == nil && !s.v.who.MayCount(&m) {
				continue
			}
			if !yield(m, err) {
				return
			}
		}
	}
}

func (s scoped) Case(id cases.ID) (cases.Case, error) { return s.one(s.Reader.Case(id)) }

func (s scoped) ByReference(ref string) (cases.Case, error) { return s.one(s.Reader.ByReference(ref)) }

func (s scoped) ByExternal(source, id string) (cases.Case, error) {
	return s.one(s.Reader.ByExternal(source, id))
}

func (s scoped) ByAccession(n string) ([]cases.Case, error) { return s.some(s.Reader.ByAccession(n)) }

func (s scoped) ByRecord(n string) ([]cases.Case, error) { return s.some(s.Reader.ByRecord(n)) }

func (s scoped) ByMatchKeys(keys []string) ([]cases.Case, error) {
	return s.some(s.Reader.ByMatchKeys(keys))
}

// Find leaves out cases of other sites and remembers which they were, so that the page
// can offer to open one for a reason.
func (s scoped) Find(q cases.Query) ([]cases.Case, error) {
	list, err := s.Reader.Find(q)
	for i := range list {
		if !s.sees(&list[i]) {
			s.v.elsewhere = append(s.v.elsewhere, list[i].Reference)
		}
	}
	return s.some(list, err)
}

func (s scoped) BornBetween(from, to cases.Day) iter.Seq2[cases.Case, error] {
	return s.each(s.Reader.BornBetween(from, to))
}

func (s scoped) DueThrough(d cases.Day) iter.Seq2[cases.Case, error] {
	return s.each(s.Reader.DueThrough(d))
}

func (s scoped) RetestsThrough(d cases.Day) iter.Seq2[cases.Case, error] {
	return s.each(s.Reader.RetestsThrough(d))
}

func (s scoped) Open() iter.Seq2[cases.Case, error] { return s.each(s.Reader.Open()) }

func (s scoped) All() iter.Seq2[cases.Case, error] { return s.each(s.Reader.All()) }

func (s scoped) ClosedBetween(from, to cases.Day) iter.Seq2[cases.Case, error] {
	return s.each(s.Reader.ClosedBetween(from, to))
}

func (s scoped) letter(l cases.Letter, err error) (cases.Letter, error) {
	if err != nil {
		return l, err
	}
	switch ok, err := s.about(l.Case); {
	case err != nil:
		return cases.Letter{}, err
	case !ok:
		return cases.Letter{}, cases.Errorf(cases.Forbidden, "This letter is about an infant of another test site.")
	}
	return l, nil
}

func (s scoped) Letter(id string) (cases.Letter, error) { return s.letter(s.Reader.Letter(id)) }

func (s scoped) LetterByNumber(n string) (cases.Letter, error) {
	return s.letter(s.Reader.LetterByNumber(n))
}

func (s scoped) letters(list []cases.Letter, err error) ([]cases.Letter, error) {
	out := list[:0:0]
	for i := range list {
		ok, aerr := s.about(list[i].Case)
		if aerr != nil {
			return nil, aerr
		}
		if ok {
			out = append(out, list[i])
		}
	}
	return out, err
}

func (s scoped) LatestLetters(state string, fits func(string) bool, most int) ([]cases.Letter, int, error) {
	list, n, err := s.Reader.LatestLetters(state, fits, most)
	all := len(list)
	list, err = s.letters(list, err)
	if all == n {
		n = len(list)
	}
	return list, n, err
}

func (s scoped) LettersOfRun(run string) ([]cases.Letter, error) {
	return s.letters(s.Reader.LettersOfRun(run))
}

func (s scoped) LettersTracked(n string) ([]cases.Letter, error) {
	return s.letters(s.Reader.LettersTracked(n))
}

func (s scoped) Letters(state string) iter.Seq2[cases.Letter, error] {
	return func(yield func(cases.Letter, error) bool) {
		for l, err := range s.Reader.Letters(state) {
			if err == nil {
				ok, aerr := s.about(l.Case)
				if aerr == nil && !ok {
					continue
				}
				err = aerr
			}
			if !yield(l, err) {
				return
			}
		}
	}
}

func (s scoped) Outgoing(id string) (cases.Outgoing, error) {
	o, err := s.Reader.Outgoing(id)
	if err == nil {
		if ok, aerr := s.about(o.Case); aerr != nil || !ok {
			return cases.Outgoing{}, errors.Join(aerr, cases.Errorf(cases.Forbidden, "This message is about an infant of another test site."))
		}
	}
	return o, err
}

func (s scoped) Outgoings(state string) iter.Seq2[cases.Outgoing, error] {
	return func(yield func(cases.Outgoing, error) bool) {
		for o, err := range s.Reader.Outgoings(state) {
			if err == nil {
				ok, aerr := s.about(o.Case)
				if aerr == nil && !ok {
					continue
				}
				err = aerr
			}
			if !yield(o, err) {
				return
			}
		}
	}
}
