package intake

import (
	"regexp"
	"slices"
	"strings"

	"dunlin/cases"
)

// referenceForm is the form of a case reference: two letters, year, running number.
var referenceForm = regexp.MustCompile(`(?i)\b[A-Z]{2}-\d{4}-\d{4,6}\b`)

// printedNumber is the form of the number printed on a letter: eight signs of the
// store's alphabet, which leaves out 0, 1, I and O.
var printedNumber = regexp.MustCompile(`\b[2-9A-HJ-NP-Z]{8}\b`)

// most numbers and references that are looked up for one mail.
const maxLookups = 40

// subjects is what a mail is about, as far as the store knows it.
type subjects struct {
	letters []cases.Letter   // by Message-ID, envelope identifier or printed number
	sent    []cases.Outgoing // messages of ours, by Message-ID or envelope identifier
	cases   []cases.Case     // of those letters and messages, and by reference; each once
	unknown bool             // it names a letter that is not here
}

// one gives the single case that the mail is about.
func (s *subjects) one() (cases.Case, bool) {
	if len(s.cases) != 1 {
		return cases.Case{}, false
	}
	return s.cases[0], true
}

// letter gives the single letter that the mail is about.
func (s *subjects) letter() (cases.Letter, bool) {
	if len(s.letters) != 1 {
		return cases.Letter{}, false
	}
	return s.letters[0], true
}

// message gives the single message of ours that the mail is about.
func (s *subjects) message() (cases.Outgoing, bool) {
	if len(s.sent) != 1 {
		return cases.Outgoing{}, false
	}
	return s.sent[0], true
}

func (s *subjects) references() (out []string) {
	for _, c := range s.cases {
		out = append(out, c.Reference)
	}
	return out
}

// subjects looks up what a mail is about. With text, also the numbers and references
// that its subject, its text and the addresses it came to hold.
func (p *placer) subjects(m *Mail, text bool) (s subjects, err error) {
	var numbers, refs []string
	for _, id := range append(slices.Clone(m.About), m.Envelope) {
		if n, _, ok := cases.ParseLetterID(id); ok {
			numbers = append(numbers, n)
		}
	}
	sure := len(numbers)
	if text {
		all := m.Subject + "\n" + m.Text
		numbers = append(numbers, printedNumber.FindAllString(all, maxLookups)...)
		for _, r := range referenceForm.FindAllString(all+"\n"+strings.Join(m.To, "\n"), maxLookups) {
			refs = append(refs, strings.ToUpper(r))
		}
	}
	for i, n := range numbers[:min(len(numbers), maxLookups)] {
		if slices.Index(numbers, n) < i {
			continue
		}
		known, err := p.ours(n, &s)
		if err != nil {
			return s, err
		}
		s.unknown = s.unknown || !known && i < sure
	}
	for i, r := range refs {
		if slices.Index(refs, r) == i {
			if err := s.add(p.w.ByReference(r)); err != nil {
				return s, err
			}
		}
	}
	return s, nil
}

// ours finds the letter or the message that has a number, with its case.
func (p *placer) ours(number string, s *subjects) (known bool, err error) {
	l, err := p.w.LetterByNumber(number)
	if err == nil {
		s.letters = append(s.letters, l)
		return true, s.add(p.w.Case(l.Case))
	}
	if cases.KindOf(err) != cases.NotFound {
		return false, err
	}
	o, err := p.w.OutgoingByNumber(number)
	switch {
	case err != nil && cases.KindOf(err) == cases.NotFound:
		return false, nil
	case err != nil:
		return false, err
	}
	s.sent = append(s.sent, o)
	if o.Letter != "" {
		if l, err = p.w.Letter(o.Letter); err != nil {
			return true, err
		}
		s.letters = append(s.letters, l)
	}
	if o.Case == "" {
		return true, nil
	}
	return true, s.add(p.w.Case(o.Case))
}

// add keeps a case that was found, once.
func (s *subjects) add(c cases.Case, err error) error {
	switch {
	case cases.KindOf(err) == cases.NotFound && err != nil:
		return nil
	case err != nil:
		return err
	}
	if !slices.ContainsFunc(s.cases, func(o cases.Case) bool { return o.ID == c.ID }) {
		s.cases = append(s.cases, c)
	}
	return nil
}

// knownTo reports whether an address stands on a case, or is a confirmed sender's.
func (p *placer) knownTo(from string, c *cases.Case) bool {
	if from == "" {
		return false
	}
	for _, g := range guardians(c) {
		if strings.EqualFold(g.Email, from) {
			return true
		}
	}
	s, ok := p.job.set.SenderOf(from)
	return ok && s.ConfirmedBy != ""
}
