package web

import (
	"context"

	"dunlin/cases"
	"dunlin/templates"
)

// protocol is the program's values; callers do not change them.
func (s *server) protocol() *cases.Protocol { return s.Protocol }

// scale is the days that strips and time lines mark.
func (s *server) scale() templates.Scale {
	return templates.Scale{From: s.Protocol.MinAgeDays, By: s.Protocol.FirstTestByDays, Span: max(templates.DefaultScale.Span, s.Protocol.FirstTestByDays+7)}
}

// page is the common part of a page about one infant.
func (s *server) page(c Ctx, k *cases.Case, name string) templates.Base {
	b := templates.Base{Name: name + ", " + k.Reference, Current: "infants", Rev: uint64(k.Rev), Banner: s.banner(c, k)}
	if !can(c, seeCases) {
		b.Current = ""
	}
	if a, open := s.openFor(c, k.Reference); open {
		b.Notices = append(b.Notices, templates.Notice{Kind: "warn", Head: "Opened for a reason until " + s.clock(a.Until) + ".", Text: "What you look at is in the access log, and another person reviews why."})
	}
	return b
}

// banner says who a page is about.
func (s *server) banner(c Ctx, k *cases.Case) *templates.Banner {
	i, today := &k.Infant, s.today()
	b := &templates.Banner{Name: infantName(i), Born: date(i.Born), Age: templates.Age(ageOn(i, today)), Sex: sexWord(i.Sex),
		Reference: k.Reference, Gestation: gestationWords(i.Gestation), Test: k.TestMessage}
	if k.Referral.Screen != nil {
		b.Accession = k.Referral.Screen.Accession
	}
	if t := twinWords(i); t != "" || len(k.Siblings) > 0 {
		b.Twin = &templates.Twin{Text: or(t, "Has a sibling here"), Siblings: s.siblings(c.Request().Context(), k)}
	}
	return b
}

// siblings names the cases of the infant's siblings; one that cannot be read
// is named by its reference alone.
func (s *server) siblings(ctx context.Context, k *cases.Case) []templates.Sibling {
	out := make([]templates.Sibling, len(k.Siblings))
	for i, ref := range k.Siblings {
		out[i] = templates.Sibling{Name: "case", Reference: ref}
	}
	if len(out) == 0 {
		return nil
	}
	_ = s.Store.View(ctx, func(r cases.Reader) error {
		for i := range out {
			if o, err := r.ByReference(out[i].Reference); err == nil {
				out[i].Name = infantName(&o.Infant)
			}
		}
		return nil
	})
	return out
}

// who names an infant in a row of a list.
func (s *server) who(k *cases.Case) templates.Who {
	i := &k.Infant
	return templates.Who{Name: infantName(i), Reference: k.Reference, Born: date(i.Born), Age: templates.Age(ageOn(i, s.today())), Twin: twinWords(i), Test: k.TestMessage}
}

// strip draws the age of an infant with its tests and its nearest booking.
func (s *server) strip(k *cases.Case, a *cases.Assessment) templates.Strip {
	st := templates.Strip{Scale: s.scale(), Age: ageOn(&k.Infant, s.today())}
	for _, t := range a.Tests {
		st.Tests = append(st.Tests, templates.Mark{Day: ageOn(&k.Infant, t.On), Drop: outcomeDrop(t.Outcome), Word: outcomeWord(t.Outcome)})
	}
	if p := placesOf(k, s.today()); p.ahead >= 0 {
		st.Booked = ageOn(&k.Infant, k.Bookings[p.ahead].On)
	}
	return st
}
