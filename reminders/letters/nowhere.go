package letters

import "dunlin/cases"

// mayCall refuses a letter or message that calls a family to a booking to which nobody
// can come: its session was cancelled, or its site is closed that day.
func (p *Press) mayCall(r cases.Reader, c *cases.Case, kind, occasion string) error {
	b := c.Calls(kind, occasion)
	if b == nil || p.Nowhere == nil {
		return nil
	}
	why, err := p.Nowhere(r, b)
	if err == nil && why != "" {
		err = cases.Errorf(cases.Refused, "%s", why)
	}
	return err
}

// callsNowhere tells a case of which a letter that waits calls the family to such a booking.
func (p *Press) callsNowhere(r cases.Reader, c *cases.Case) (bool, error) {
	for i := range c.Letters {
		m := &c.Letters[i]
		if m.State != "to-print" && m.State != "printed" {
			continue
		}
		err := p.mayCall(r, c, m.Kind, m.Occasion)
		if cases.KindOf(err) == cases.Refused && err != nil {
			return true, nil
		}
		if err != nil {
			return false, err
		}
	}
	return false, nil
}

// holdCalls holds what calls the family to such a booking.
func (p *Press) holdCalls(w cases.Writer, c *cases.Case) (bool, error) {
	if p.Nowhere == nil {
		return false, nil
	}
	return cases.HoldCalls(w, c, func(b *cases.Booking) (string, error) { return p.Nowhere(w, b) })
}
