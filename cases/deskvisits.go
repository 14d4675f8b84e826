package cases

import "context"

// SetVisits replaces what the family said about coming to a test: places outside of it
// are not offered. The zero value sets no limit.
func (d *Desk) SetVisits(ctx context.Context, a Actor, id ID, rev Rev, v Visits) (Case, error) {
	ev := Event{Kind: "visits-changed", Text: "How the family can come"}
	return d.Change(ctx, a, BookTests, id, rev, ev, func(c *Case, _ Day) error {
		if v.NotBefore != "" && v.NotAfter != "" && v.NotAfter < v.NotBefore {
			return FieldError("not_after", "The latest start must not be before the earliest, %s", v.NotBefore)
		}
		f := Family{}
		if c.Family != nil {
			f = *c.Family
		}
		f.Visits = &v
		if v.MaxKm == 0 && len(v.Weekdays) == 0 && v.NotBefore == "" && v.NotAfter == "" && v.Note == "" {
			f.Visits = nil
		}
		c.Family = &f
		return nil
	})
}
