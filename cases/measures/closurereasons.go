package measures

import "slices"

// ClosureReasons are the classes of closure that compete, in the order of their
// codes from 1.
var ClosureReasons = []string{"determined", "lost to follow-up", "died or moved", "declined or referred in error"}

// reasonCodes is one more than the number of reasons: 0 is no closure.
const reasonCodes = 5

// ReasonCode gives the class of a closure, from 1; 0 for a case that is open. All
// closures that name what the infant has, or has not, are determinations.
func ReasonCode(closedAs string) uint8 {
	switch closedAs {
	case "":
		return 0
	case "lost":
		return 2
	case "died", "moved":
		return 3
	case "refused", "duplicate":
		return 4
	}
	return 1
}

// ClosureData gives the times in days from referral to closure, with the class of
// the closure, of the cases of a window; cases open on its day wait until then. The
// groups are named by group, in order of name; a nil group puts all into one.
func ClosureData(records []Record, w Window, group func(Record) string) Data {
	var d Data
	var names []string
	for _, r := range records {
		if !w.holds(r) {
			continue
		}
		o := Observation{Time: float64(r.toClosure(r.Referred, w.AsOf).Days)}
		if !r.open(w.AsOf) {
			o.Reason = ReasonCode(r.ClosedAs)
		}
		name := "all"
		if group != nil {
			name = group(r)
		}
		names = append(names, name)
		d.Observations = append(d.Observations, o)
	}
	d.Groups = slices.Compact(slices.Sorted(slices.Values(names)))
	for i, name := range names {
		g, _ := slices.BinarySearch(d.Groups, name)
		d.Observations[i].Group = uint32(g)
	}
	return d
}

// holds tells whether a case is in the cohort: referred in the window, and born, by
// its day.
func (w Window) holds(r Record) bool {
	return r.Referred <= w.AsOf && r.Born <= w.AsOf && (w.From == 0 || r.Referred >= w.From) && (w.To == 0 || r.Referred <= w.To)
}
