package schedule

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"

	"dunlin/cases"
)

// Together gives the lines of a plan as they are booked: one by one, and those of
// twins as one. They stand in the order of the plan, twins at the first of them.
func (p *Plan) Together() [][]*Line {
	var out [][]*Line
	at := map[string]int{} // the group of an infant
	for i := range p.Lines {
		l := &p.Lines[i]
		if n, ok := at[l.Wait.Reference]; ok {
			out[n] = append(out[n], l)
			continue
		}
		for _, ref := range l.With {
			at[ref] = len(out)
		}
		out = append(out, []*Line{l})
	}
	return out
}

// Ask is what books a line of a plan, for the case as it was read when planning.
func (l *Line) Ask() Ask {
	return Ask{Case: l.Wait.ID, Rev: l.Wait.Rev, Site: l.Place.Site.Key, On: l.Place.On(), At: l.Place.At}
}

// Against lists in words what speaks against testing an infant at a site on a day, from
// what is known now; booking it then needs an Override. It is empty when nothing does.
func (d *Desk) Against(c *cases.Case, site *Site, on cases.Day) []string {
	return Against(d.protocol, c, site, on)
}

// SeenOf is a short mark of what speaks against a day, for Override.Seen.
func SeenOf(against []string) string {
	sum := sha256.Sum256([]byte(strings.Join(against, "\n")))
	return hex.EncodeToString(sum[:6])
}
