package measures

import "dunlin/cases"

// Milestone is a day in the follow-up of an infant between which intervals are taken.
type Milestone string

// The milestones.
const (
	Birth           Milestone = "birth"
	ScreenCollected Milestone = "screen-collected"
	ScreenReported  Milestone = "screen-reported"
	Referral        Milestone = "referral"
	DoctorTold      Milestone = "doctor-told"
	FamilyReached   Milestone = "family-reached"
	FirstBooking    Milestone = "first-booking"
	FirstTest       Milestone = "first-test"
	FirstSufficient Milestone = "first-sufficient"
	LastResult      Milestone = "last-result"
	Determination   Milestone = "determination"
	Closure         Milestone = "closure"
)

// MilestoneInfo names a milestone.
type MilestoneInfo struct {
	Key  Milestone `json:"key"`
	Name string    `json:"name"`
	// What says what the day is, for the definitions of a report.
	What string `json:"what"`
	day  func(*cases.Milestones) cases.Day
}

var milestoneList = []MilestoneInfo{
	{Birth, "birth", "The day of birth.", func(m *cases.Milestones) cases.Day { return m.Born }},
	{ScreenCollected, "screen collected", "The day the specimen of the newborn screen was collected.", func(m *cases.Milestones) cases.Day { return m.Collected }},
	{ScreenReported, "screen reported", "The day the result of the newborn screen was reported.", func(m *cases.Milestones) cases.Day { return m.Reported }},
	{Referral, "referral", "The day the referral was received; one made before birth counts from birth.", func(m *cases.Milestones) cases.Day { return m.Referred }},
	{DoctorTold, "doctor told", "The day primary care was told.", func(m *cases.Milestones) cases.Day { return m.DoctorTold }},
	{FamilyReached, "family reached", "The day the family was first reached, two-way.", func(m *cases.Milestones) cases.Day { return m.FamilyReached }},
	{FirstBooking, "first booking", "The day the first appointment was made; where that is not recorded, the earliest day one was made for.", func(m *cases.Milestones) cases.Day { return m.FirstBooking }},
	{FirstTest, "first test", "The day of the first chloride collection, QNS included.", func(m *cases.Milestones) cases.Day { return m.FirstTest }},
	{FirstSufficient, "first sufficient test", "The day of the first chloride collection with enough sweat.", func(m *cases.Milestones) cases.Day { return m.FirstSufficient }},
	{LastResult, "last result", "The day of the latest collection that could be graded.", func(m *cases.Milestones) cases.Day { return m.LastResult }},
	{Determination, "determination", "The day the case was closed with what the infant has, or has not.", func(m *cases.Milestones) cases.Day { return m.Determined }},
	{Closure, "closure", "The day the case was closed, for any reason.", func(m *cases.Milestones) cases.Day { return m.Closed }},
}

// MilestoneList lists the milestones in the order in which they usually come.
func MilestoneList() []MilestoneInfo { return append([]MilestoneInfo(nil), milestoneList...) }

// place is the milestone's place in the list, -1 for none.
func (m Milestone) place() int {
	for i := range milestoneList {
		if milestoneList[i].Key == m {
			return i
		}
	}
	return -1
}

// Name is the milestone in words; the key itself for one that does not exist.
func (m Milestone) Name() string {
	if i := m.place(); i >= 0 {
		return milestoneList[i].Name
	}
	return string(m)
}

// IsClosing tells the milestones at which a case closes: the reasons of closure
// compete for them.
func (m Milestone) IsClosing() bool { return m == Closure || m == Determination }

// ShareDays are the days whose shares an interval gives: day 28 of the protocol, and
// the cut points of published guidance (35 and 58 days are European, 42, 56 and 60
// of US reports).
var ShareDays = []int{28, 35, 42, 56, 58, 60}
