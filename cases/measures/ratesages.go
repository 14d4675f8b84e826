package measures

import "dunlin/cases"

// The groups of a share tested by an age.
const (
	CouldBeReady = "old enough in time"
	NotYetReady  = "not old enough in time"
)

// grown tells whether an infant was alive, in the area and referred rightly when it
// reached an age in days, and has reached it by the day of the report.
func (t *RatesTally) grown(m *cases.Milestones, days int) (at cases.Day, ok bool) {
	at = m.Born + cases.Day(days)
	out := m.ClosedAs == "moved" || m.ClosedAs == "died" || m.ClosedAs == "duplicate"
	return at, at <= t.w.AsOf && (m.Died == 0 || m.Died > at) && !(out && m.Closed <= at)
}

// resolution counts an infant who reached an age in days.
func (t *RatesTally) resolution(m *cases.Milestones, measure string, days int) {
	if at, ok := t.grown(m, days); ok {
		t.of[measure].all.count(m.Determined == 0 || m.Determined > at)
	}
}

// tested counts an infant at each age by which the share tested is given. Whether it
// was ready is read from age and gestation alone: an unknown gestation holds nobody
// back, as in the protocol.
func (t *RatesTally) tested(m *cases.Milestones) {
	ready := t.p.MinAgeDays
	if m.Gestation != 0 {
		ready = max(ready, int(t.p.MinCorrectedGestation-m.Gestation))
	}
	for i, days := range TestedAges {
		at, ok := t.grown(m, days)
		if !ok {
			break
		}
		c, yes := t.aged[i], m.FirstSufficient != 0 && m.FirstSufficient <= at
		c.all.count(yes)
		if ready <= days-ReadyBefore {
			c.group(byReadiness, CouldBeReady, yes)
		} else {
			c.group(byReadiness, NotYetReady, yes)
		}
	}
}

// told counts whether primary care and the family were told in time, once the days
// for it are over.
func (t *RatesTally) told(m *cases.Milestones) {
	for _, x := range []struct {
		measure string
		days    int
		on      cases.Day
	}{{DoctorInTime, t.p.TellPrimaryCareWorkingDays, m.DoctorTold}, {FamilyInTime, t.p.ReachFamilyWorkingDays, m.FamilyReached}} {
		due := t.cal.Add(m.Referred, x.days)
		yes := x.on != 0 && x.on <= due
		ended := m.Died != 0 && m.Died <= due || m.Closed != 0 && m.Closed <= due
		if due < t.w.AsOf && (yes || !ended) {
			t.of[x.measure].all.count(yes)
		}
	}
}
