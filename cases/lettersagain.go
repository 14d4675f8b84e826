package cases

import (
	"encoding/json"
	"strconv"
	"strings"
)

// A letter that came back, or that the program held, is owed again once it may go and
// there is an address for it, while what it is about still holds. The new one has the
// occasion of the first with a count after it, so that a letter stays unique by case,
// kind and occasion; it is composed anew from what is on record then.
const againMark = " again "

// BaseOccasion is what a letter is about: its occasion without the count of one that
// was made again.
func BaseOccasion(occasion string) string {
	base, _ := splitAgain(occasion)
	return base
}

// LetterCount is which letter about a matter an occasion names, from 1.
func LetterCount(occasion string) int {
	_, n := splitAgain(occasion)
	return n
}

// splitAgain gives the occasion of the first letter, and which one this is, from 1.
func splitAgain(occasion string) (base string, n int) {
	i := strings.LastIndex(occasion, againMark)
	if i < 0 {
		return occasion, 1
	}
	if n, err := strconv.Atoi(occasion[i+len(againMark):]); err == nil && n > 1 {
		return occasion[:i], n
	}
	return occasion, 1
}

// countOf is which letter of a matter an occasion names, from 1; 0: of another matter.
func countOf(occasion, base string) int {
	if occasion == base {
		return 1
	}
	if !strings.HasPrefix(occasion, base) {
		return 0
	}
	if b, n := splitAgain(occasion); b == base {
		return n
	}
	return 0
}

// owedOccasion is the occasion under which a letter about a matter is owed on a day,
// and from when: the matter itself while no letter about it was made, and then only
// once the last one is to be made again. "" when none is owed.
func (c *Case) owedOccasion(kind, base string, on Day) (occasion string, from Day) {
	last, again := 0, Day(0)
	for i := range c.Letters {
		l := &c.Letters[i]
		if l.Kind != kind || l.MadeOn > on {
			continue
		}
		if n := countOf(l.Occasion, base); n > last {
			last, again = n, l.AgainFrom
		}
	}
	switch {
	case last == 0:
		return base, 0
	case again == 0 || again > on:
		return "", 0
	}
	return NextOccasion(base, last), again
}

// NextOccasion is the occasion of the letter about a matter that follows the n-th.
func NextOccasion(base string, n int) string { return base + againMark + strconv.Itoa(n+1) }

// inPlace says why one of several letters about a matter must not go: another of them
// does. "" when none does.
func (c *Case) inPlace(kind, occasion string) string {
	base, n := splitAgain(occasion)
	for i := range c.Letters {
		l := &c.Letters[i]
		if l.Kind == kind && l.Occasion == occasion && l.Outdated {
			return "what it says, or where it went, has changed; another goes in its place"
		}
		if l.Kind != kind || l.State == "held" || l.State == "came-back" || l.Outdated {
			continue
		}
		if m := countOf(l.Occasion, base); m != 0 && m != n {
			return "letter " + l.Number + " about the same goes or went"
		}
	}
	return ""
}

// madeAgain tells a letter that another one takes the place of, as soon as it is made.
func (c *Case) madeAgain(l *Letter) bool {
	again := false
	c.eachLine(l, func(m *LetterMade) { again = m.AgainFrom != 0 })
	return again
}

// readyAgain writes on the lines of letters that did not arrive from when they are owed
// again, in a case that is about to be written.
func (s *state) readyAgain() {
	for i := range s.c.Letters {
		if m := &s.c.Letters[i]; s.mayGoAgain(m) {
			m.AgainFrom = s.on
		}
	}
}

// mayGoAgain tells a letter that did not arrive, that may go now and has an address.
func (s *state) mayGoAgain(m *LetterMade) bool {
	return m.Unsent && m.AgainFrom == 0 && s.c.hasAddress(LetterKindOf(m.Kind).To) && s.goStop(m.Kind, m.Occasion) == ""
}

// LettersStale tells that time alone has changed what may become of a letter: one that
// waits must not go any more, or one that did not arrive is owed again.
func (p *Protocol) LettersStale(c *Case, on Day) bool {
	if len(c.Letters) == 0 {
		return false
	}
	s := p.derive(c, on)
	for i := range c.Letters {
		m := &c.Letters[i]
		if (m.State == "to-print" || m.State == "printed") && s.goStop(m.Kind, m.Occasion) != "" || s.mayGoAgain(m) {
			return true
		}
	}
	return false
}

// hasAddress tells whether mail to the family or to primary care has an address from
// which none came back.
func (c *Case) hasAddress(to string) bool {
	for _, a := range c.addresses(to) {
		if a.good() {
			return true
		}
	}
	return false
}

func (a *Address) good() bool { return a != nil && len(a.Lines) > 0 && !a.Bad }

// addresses are those to which a letter may go: of the guardians who get letters, where
// some were chosen, and of all where none was.
func (c *Case) addresses(to string) (out []*Address) {
	switch {
	case to == ToPrimaryCare && c.PrimaryCare != nil:
		return []*Address{c.PrimaryCare.Address}
	case to != ToFamily || c.Family == nil:
		return nil
	}
	for _, chosen := range []bool{true, false} {
		for i := range c.Family.Guardians {
			if g := &c.Family.Guardians[i]; g.Letters == chosen {
				out = append(out, g.Address)
			}
		}
		if len(out) > 0 {
			break
		}
	}
	return out
}

// addressOn is the good address on record that stands on a letter; nil when none does.
func (c *Case) addressOn(l *Letter) *Address {
	sent := sentTo(l)
	for _, a := range c.addresses(LetterKindOf(l.Kind).To) {
		if a.good() && a.isOn(sent) {
			return a
		}
	}
	return nil
}

// sentTo is the window of a letter, folded; "" when it cannot be read.
func sentTo(l *Letter) string {
	var on struct {
		Address []string `json:"address"`
	}
	if json.Unmarshal(l.Data, &on) != nil {
		return ""
	}
	return foldAddress(strings.Join(on.Address, " "))
}

// isOn tells whether an address stands in a folded window.
func (a *Address) isOn(sent string) bool {
	return sent != "" && len(a.Lines) > 0 && strings.Contains(sent, foldAddress(a.Lines[0])) && strings.Contains(sent, foldAddress(a.Postal))
}

// outdated says why a letter that waits is not to go after a change of its case: to
// another address, in another language, or with an identity that was corrected. It compares with the case before the change,
// for the words of a letter say no more than they did.
func outdated(old, c *Case, l *Letter) string {
	to := LetterKindOf(l.Kind).To
	if old.addressOn(l) != nil && c.addressOn(l) == nil {
		return "the address on it is not on record any more, or mail came back from it"
	}
	if to == ToFamily && languageBase(old) != languageBase(c) {
		return "the language of the family was changed"
	}
	if was, is := IdentityOf(old), IdentityOf(c); saysCorrected(l.Kind, &was, &is) {
		return "what it says of the infant's identity was corrected"
	}
	if namesPlace(l.Kind) && placeMoved(old, c, BaseOccasion(l.Occasion)) {
		return "the test is at another place at the same time"
	}
	return ""
}

func languageBase(c *Case) string {
	if c.Family == nil {
		return ""
	}
	base, _, _ := strings.Cut(strings.ToLower(c.Family.Language), "-")
	return base
}

// mayList refuses to print a list of the day in whose place another goes or went.
func mayList(w Writer, l *Letter, x *LetterChange) error {
	if x.State == "mailed" {
		return nil
	}
	all, err := w.LettersOf("")
	if err != nil {
		return err
	}
	base, n := splitAgain(l.Occasion)
	for i := range all {
		if o := &all[i]; o.Kind == l.Kind && countOf(o.Occasion, base) > n {
			return Errorf(Refused, "List %s must not go out: the bookings changed, and list %s takes its place.", l.Number, o.Number)
		}
	}
	return nil
}
