package cases

import (
	"errors"
	"slices"
)

// Lines between sites: a nurse who is bound to test sites sees the infants of those
// sites, and those of no site yet, so that nobody falls between two. Looking at another
// infant takes a typed reason, which holds for an hour and is reviewed.

// SitesOf gives the test sites of a case: of its bookings, cancelled ones too, and of its
// tests. An infant that moved to another site stays in sight of the first, which knows
// what happened there.
func (c *Case) SitesOf() (sites []string) {
	add := func(site string) {
		if site != "" && !slices.Contains(sites, site) {
			sites = append(sites, site)
		}
	}
	for i := range c.Bookings {
		add(c.Bookings[i].Site)
	}
	for i := range c.SweatTests {
		add(c.SweatTests[i].Site)
	}
	return sites
}

// MaySee tells whether a person whose account is bound to sites may see a case without
// giving a reason. The role's own right to see cases is another question.
func (a *Account) MaySee(c *Case) bool {
	if !a.Bound() {
		return true
	}
	sites := c.SitesOf()
	return len(sites) == 0 || slices.ContainsFunc(sites, a.AtSite)
}

// MayCount tells whether a case, by its milestones, is among the figures of a person
// whose account is bound to sites: the rule of MaySee.
func (a *Account) MayCount(m *Milestones) bool {
	if !a.Bound() || m.Site != "" && a.AtSite(m.Site) {
		return true
	}
	none := m.Site == ""
	for i := range m.Tests {
		if a.AtSite(m.Tests[i].Site) {
			return true
		}
		none = none && m.Tests[i].Site == ""
	}
	for i := range m.Visits {
		if a.AtSite(m.Visits[i].Site) {
			return true
		}
		none = none && m.Visits[i].Site == ""
	}
	return none
}

// Bound tells whether the account sees the infants of some sites only.
func (a *Account) Bound() bool { return a.Role == Nurse && len(a.Sites) > 0 }

// Elsewhere is a look at an infant outside of a person's sites. It names the case and
// nothing else of it.
type Elsewhere struct{ Reference string }

func (e *Elsewhere) Error() string { return "case " + e.Reference + " is of another test site" }

// IsElsewhere tells an error that says that a case is of another site.
func IsElsewhere(err error) bool {
	var e *Elsewhere
	return errors.As(err, &e)
}

// BreakGlassMinutes is how long a look for a reason lasts.
const BreakGlassMinutes = 60

// BreakGlassLeast is the least length of the reason, in characters.
const BreakGlassLeast = 20
