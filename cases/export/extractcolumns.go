package export

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// ageColumn is a column that holds an age in days.
func ageColumn(key, meaning string, day func(*cases.Milestones) cases.Day) extractColumn {
	return extractColumn{Column{Key: key + "_age", Name: "Age, " + strings.ReplaceAll(key, "_", " "), Meaning: meaning, Unit: "days", Type: isWhole}, age(day), Int}
}

// numberColumn is a column that holds a count of the case.
func numberColumn(key, meaning string, of func(*cases.Milestones) int) extractColumn {
	return extractColumn{Column{Key: key, Name: strings.ReplaceAll(key, "_", " "), Meaning: meaning, Type: isWhole},
		func(_ *Extract, m *cases.Milestones) (int, bool) { return of(m), true }, Int}
}

// visits counts appointments in a state.
func visits(state string) func(*cases.Milestones) int {
	return func(m *cases.Milestones) (n int) {
		for _, v := range m.Visits {
			if v.State == state {
				n++
			}
		}
		return n
	}
}

var extractColumns = []extractColumn{
	{Column{Key: "birth_year", Name: "Year of birth", Meaning: "The only date of a line.", Type: isWhole},
		func(_ *Extract, m *cases.Milestones) (int, bool) { y, _, _ := m.Born.Date(); return y, true }, Int},
	{Column{Key: "state", Name: "State", Meaning: "State or territory of the family's address, where it is one of the postal codes for them.", Type: isText, Allowed: strings.Join(states, " ")}, state, sayWord(states)},
	{Column{Key: "zip3", Name: "Postal area", Meaning: "First three digits of the postal code where the program's settings name the area as one of more than 20,000 people, else 000.", Type: isText, Allowed: "000 to 999"},
		area, func(n int) Value { return Text(fmt.Sprintf("%03d", n)) }},
	{Column{Key: "route", Name: "Referred by", Meaning: "How the infant reached the program.", Type: isText, Allowed: strings.Join(routes, ", ")},
		func(_ *Extract, m *cases.Milestones) (int, bool) { return word(routes, m.Route) }, sayWord(routes)},
	{Column{Key: "language", Name: "Language", Meaning: "Language of the family: English, Spanish, or another one.", Type: isText, Allowed: strings.Join(languages, ", ")}, language, sayWord(languages)},
	{Column{Key: "gestation_weeks", Name: "Gestation", Meaning: "Completed weeks of gestation at birth.", Unit: "weeks", Type: isWhole},
		func(_ *Extract, m *cases.Milestones) (int, bool) { return int(m.Gestation) / 7, m.Gestation > 0 }, Int},
	{Column{Key: "birth_weight_g", Name: "Birth weight", Meaning: "Birth weight to the nearest 100 g.", Unit: "g", Type: isWhole},
		func(_ *Extract, m *cases.Milestones) (int, bool) { return hundreds(m.BirthWeightG) }, Int},
	{Column{Key: "first_test_weight_g", Name: "Weight at the first test", Meaning: "Weight at the first chloride collection, or of the 7 days before, to the nearest 100 g.", Unit: "g", Type: isWhole},
		func(_ *Extract, m *cases.Milestones) (int, bool) {
			if len(m.Tests) == 0 {
				return 0, false
			}
			return hundreds(m.Tests[0].WeightG)
		}, Int},
	{Column{Key: "not_ready_by_day_28", Name: "Could not be ready by day 28", Meaning: "Age or corrected gestation did not allow a test by the protocol's day.", Type: isYesNo},
		func(_ *Extract, m *cases.Milestones) (int, bool) { return yesNo(m.Marks&cases.MarkException != 0) }, sayYes},
	{Column{Key: "presumptive_cf", Name: "Presumptive CF", Meaning: "Two or more CF-causing alleles are known. Not a diagnosis.", Type: isYesNo},
		func(_ *Extract, m *cases.Milestones) (int, bool) { return yesNo(m.Marks&cases.MarkPresumptive != 0) }, sayYes},
	numberColumn("alleles_cf_causing", "Alleles of the report that cause CF.", func(m *cases.Milestones) int { return m.Alleles.CFCausing }),
	numberColumn("alleles_varying", "Alleles of varying clinical consequence.", func(m *cases.Milestones) int { return m.Alleles.Varying }),
	numberColumn("alleles_unknown", "Alleles of unknown significance.", func(m *cases.Milestones) int { return m.Alleles.Unknown }),
	ageColumn("screen_collected", "The newborn screen was collected.", func(m *cases.Milestones) cases.Day { return m.Collected }),
	ageColumn("screen_reported", "The newborn screen was reported.", func(m *cases.Milestones) cases.Day { return m.Reported }),
	ageColumn("referral", "The program received the referral.", func(m *cases.Milestones) cases.Day { return m.Referred }),
	ageColumn("doctor_told", "Primary care was told.", func(m *cases.Milestones) cases.Day { return m.DoctorTold }),
	ageColumn("family_reached", "The family was reached.", func(m *cases.Milestones) cases.Day { return m.FamilyReached }),
	ageColumn("first_booking", "The first appointment was made, or was for where the day it was made is not known.", func(m *cases.Milestones) cases.Day { return m.FirstBooking }),
	ageColumn("first_test", "First chloride collection, QNS included.", func(m *cases.Milestones) cases.Day { return m.FirstTest }),
	ageColumn("first_sufficient", "First chloride collection with enough sweat.", func(m *cases.Milestones) cases.Day { return m.FirstSufficient }),
	ageColumn("last_result", "Latest collection that could be graded.", func(m *cases.Milestones) cases.Day { return m.LastResult }),
	ageColumn("determination", "Closed with a determination: what the infant has, or has not.", func(m *cases.Milestones) cases.Day { return m.Determined }),
	ageColumn("closure", "Closed for any reason.", func(m *cases.Milestones) cases.Day { return m.Closed }),
	ageColumn("death", "The infant died.", func(m *cases.Milestones) cases.Day { return m.Died }),
	ageColumn("followed_to", "The last thing recorded of the case: until then an open case is known to be open.", lastRecorded),
	{Column{Key: "closed_as", Name: "Closed as", Meaning: "The closure that stands, as a named person decided it; open without one.", Type: isText, Allowed: strings.Join(closures, ", ")},
		func(_ *Extract, m *cases.Milestones) (int, bool) {
			if m.Closed == 0 {
				return 0, true
			}
			return word(closures, m.ClosedAs)
		}, sayWord(closures)},
	{Column{Key: "first_outcome", Name: "First test", Meaning: "Reading of the first chloride collection by the protocol.", Type: isText, Allowed: strings.Join(outcomes, ", ")},
		func(_ *Extract, m *cases.Milestones) (int, bool) {
			if len(m.Tests) == 0 {
				return 0, false
			}
			return word(outcomes, string(m.Tests[0].Outcome))
		}, sayWord(outcomes)},
	{Column{Key: "last_outcome", Name: "Last test", Meaning: "Reading of the last chloride collection by the protocol.", Type: isText, Allowed: strings.Join(outcomes, ", ")},
		func(_ *Extract, m *cases.Milestones) (int, bool) {
			if len(m.Tests) == 0 {
				return 0, false
			}
			return word(outcomes, string(m.Tests[len(m.Tests)-1].Outcome))
		}, sayWord(outcomes)},
	numberColumn("tests", "Chloride collections, void ones left out.", func(m *cases.Milestones) int { return len(m.Tests) }),
	numberColumn("tests_qns", "Of these, with too little sweat.", func(m *cases.Milestones) (n int) {
		for _, t := range m.Tests {
			if t.Outcome == cases.QNS {
				n++
			}
		}
		return n
	}),
	numberColumn("appointments_kept", "Appointments kept.", visits("kept")),
	numberColumn("appointments_missed", "Appointments missed.", visits("missed")),
	numberColumn("family_tries", "Attempts to reach the family, by any means, since the referral.", func(m *cases.Milestones) int { return m.Calls.Family }),
	numberColumn("family_talks", "Of these, two-way.", func(m *cases.Milestones) int { return m.Calls.FamilyReached }),
}
