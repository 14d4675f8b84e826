package measures

import (
	"fmt"
	"slices"

	"dunlin/cases"
)

// Definition says what a rate counts. It is printed with the rate, so that two
// reports can be compared word by word.
type Definition struct {
	Key         string `json:"key"`
	Name        string `json:"name"`
	Numerator   string `json:"numerator"`
	Denominator string `json:"denominator"`
	Note        string `json:"note,omitempty"`
	// ByDay tells what is counted by the day of a test or an appointment as well; the
	// others belong to infants, and are counted by the day of referral alone.
	ByDay bool `json:"by_day,omitempty"`
}

// YoungUntil is the last age in days, at the test, of the benchmark for infants
// "up to 3 months"; the number of days is a choice of this project.
const YoungUntil = 90

// The keys of the rates.
const (
	QNSTestsYoung   = "qns-tests-up-to-3-months"
	QNSTestsOlder   = "qns-tests-older"
	QNSInfants      = "qns-infants"
	QNSFirstYoung   = "qns-first-tests-up-to-3-months"
	MissedVisits    = "missed-appointments"
	DoctorInTime    = "doctor-told-in-time"
	FamilyInTime    = "family-reached-in-time"
	LostClosures    = "closed-as-lost"
	NoResolution90  = "no-resolution-90-days"
	NoResolution180 = "no-resolution-6-months"
	NoResolution365 = "no-resolution-12-months"
	PredictsCF      = "screen-predicts-cf"
	PredictsEither  = "screen-predicts-cf-or-crms"
	Complete        = "complete-data"
)

// TestedAges are the ages in days by which a report gives the share of infants with a
// sufficient test.
var TestedAges = []int{28, 35, 42, 56, 58, 60}

// TestedBy is the key of the share tested by an age of TestedAges.
func TestedBy(days int) string { return fmt.Sprintf("tested-by-%d-days", days) }

// ReadyBefore is by how many days before an age an infant must have been ready to
// count among those who could be tested by it: the days to find a place, a choice of
// this project.
const ReadyBefore = 5

const oneTest = "One visit is one collection, whether from one arm or two; it counts as QNS only when no arm gave enough sweat by the protocol. Void collections and conductivity are left out."

const grownOnly = "A final resolution is a closure as CF, CRMS/CFSPID, carrier, not affected or another diagnosis. Infants who died or moved, or were referred in error, before that age are left out."

const inArea = "Infants who died or moved, or were referred in error, before that age are left out."

const predicts = "Cases still open, lost or declined stay in the denominator, so the share can only rise until all are closed. Programs define the positive predictive value in either way; both are given."

// Definitions lists every rate in the order of a report.
var Definitions = slices.Concat([]Definition{
	{QNSTestsYoung, "QNS, infants up to 3 months", "Collections with too little sweat", fmt.Sprintf("Collections at an age of %d days or less", YoungUntil), oneTest, true},
	{QNSTestsOlder, "QNS, infants over 3 months", "Collections with too little sweat", fmt.Sprintf("Collections at an age over %d days", YoungUntil), oneTest, true},
	{QNSInfants, "Infants whose first test was QNS", "Infants whose first collection gave too little sweat", "Infants with a collection",
		"Each infant counts once, by the first collection that is not void, at any age.", true},
	{QNSFirstYoung, "First tests QNS, infants up to 3 months", "Infants whose first collection gave too little sweat", fmt.Sprintf("Infants whose first collection was at an age of %d days or less", YoungUntil),
		"Each infant counts once, so that the tests are independent, as exact limits and tests ask for. The benchmark is the one of collections at that age.", true},
	{MissedVisits, "Missed appointments", "Appointments missed", "Appointments missed or kept", "Cancelled and moved appointments and those still ahead are left out.", true},
}, testedDefinitions(), []Definition{
	{DoctorInTime, "Primary care told in time", "Infants whose primary care was told within the protocol's working days of the referral", "Infants referred for whom these days are over", toldNote, false},
	{FamilyInTime, "Family reached in time", "Infants whose family was reached within the protocol's working days of the referral", "Infants referred for whom these days are over", toldNote, false},
	{LostClosures, "Closed as lost to follow-up", "Cases closed as lost to follow-up", "Cases closed", "", false},
	{NoResolution90, "No final resolution at 90 days", "Infants without a final resolution by 90 days of age", "Infants who reached 90 days of age", grownOnly, false},
	{NoResolution180, "No final resolution at 6 months", "Infants without a final resolution by 180 days of age", "Infants who reached 180 days of age", grownOnly, false},
	{NoResolution365, "Lost to follow-up at 12 months", "Infants without a final resolution by 365 days of age", "Infants who reached 365 days of age",
		grownOnly + " Whether the case is open or closed as lost makes no difference.", false},
	{PredictsCF, "Positive screens that were CF", "Cases closed as CF", "Infants referred by the screen", predicts, false},
	{PredictsEither, "Positive screens that were CF or CRMS/CFSPID", "Cases closed as CF or CRMS/CFSPID", "Infants referred by the screen", predicts, false},
	{Complete, "Data recorded", "Cases in which the fact is recorded", "Cases to which it applies", "Facts about tests apply to infants with a collection.", false},
})

const toldNote = "Days count from the day after the referral; weekends and holidays are not working days. Infants who died, or whose case was closed, within these days are left out."

// testedDefinitions are the shares tested by each age, with their two denominators.
func testedDefinitions() []Definition {
	out := make([]Definition, len(TestedAges))
	for i, days := range TestedAges {
		note := fmt.Sprintf("%s Given for all, and for those who were old enough, with their corrected gestational age, %d days before.", inArea, ReadyBefore)
		if i > 0 {
			note = fmt.Sprintf("As by %d days.", TestedAges[0])
		}
		out[i] = Definition{TestedBy(days), fmt.Sprintf("Tested by %d days", days),
			fmt.Sprintf("Infants with a collection that gave enough sweat by %d days of age", days),
			fmt.Sprintf("Infants who reached %d days of age, tested or not", days), note, false}
	}
	return out
}

// DefinitionOf finds a definition by its key; ok is false when there is none.
func DefinitionOf(key string) (d Definition, ok bool) {
	for _, d := range Definitions {
		if d.Key == key {
			return d, true
		}
	}
	return d, false
}

// bands are half-open: the first holds what lies under the first bound.
type bands struct {
	bounds []int
	names  []string
}

func newBands(unit string, bounds ...int) bands {
	b := bands{bounds: bounds, names: []string{fmt.Sprintf("under %d %s", bounds[0], unit)}}
	for i, n := range bounds[1:] {
		b.names = append(b.names, fmt.Sprintf("%d to %d %s", bounds[i], n-1, unit))
	}
	b.names = append(b.names, fmt.Sprintf("%d %s or more", bounds[len(bounds)-1], unit))
	return b
}

func (b *bands) name(n int) string {
	for i, bound := range b.bounds {
		if n < bound {
			return b.names[i]
		}
	}
	return b.names[len(b.bounds)]
}

// notKnown names the band of a value that is not recorded.
const notKnown = "not recorded"

var (
	testAges     = newBands("days", 14, 28, 42, YoungUntil+1)
	testWeights  = newBands("g", 2000, 2500, 3000, 3500)
	birthWeights = newBands("g", 1000, 1500, 2500)
	pretermWeeks = newBands("weeks", 28, 32, 37)
)

// AgeBand names the band of an age at a test, in days.
func AgeBand(days int) string { return testAges.name(days) }

// WeightBand names the band of a weight at a test, in grams; 0 is not recorded.
func WeightBand(g int) string {
	if g <= 0 {
		return notKnown
	}
	return testWeights.name(g)
}

// BirthWeightBand names the band of a birth weight in grams; 0 is not recorded. The
// bounds are those usual for low, very low and extremely low birth weight.
func BirthWeightBand(g int) string {
	if g <= 0 {
		return notKnown
	}
	return birthWeights.name(g)
}

// GestationBand names the band of a gestational age; 0 is not recorded. The bounds
// are those usual for preterm, very preterm and extremely preterm birth.
func GestationBand(g cases.Gestation) string {
	if g == 0 {
		return notKnown
	}
	return pretermWeeks.name(int(g) / 7)
}

// fact is something that can be missing, and the cases it applies to.
type fact struct {
	bit  cases.Lacks
	name string
	to   func(*cases.Milestones) bool
}

var facts = []fact{
	{cases.LacksGestation, "gestation", everyCase},
	{cases.LacksBirthWeight, "birth weight", everyCase},
	{cases.LacksCollected, "day of the screen's collection", screened},
	{cases.LacksReported, "day of the screen's report", screened},
	{cases.LacksGenotype, "genotype report", everyCase},
	{cases.LacksLanguage, "language", everyCase},
	{cases.LacksPostal, "postal code", everyCase},
	{cases.LacksPhone, "telephone", everyCase},
	{cases.LacksPrimaryCare, "primary care", everyCase},
	{cases.LacksTestSite, "site of each test", tested},
	{cases.LacksTestWeight, "weight at each test", tested},
	{cases.LacksAmount, "amount of sweat of each arm", tested},
}

func everyCase(*cases.Milestones) bool  { return true }
func screened(m *cases.Milestones) bool { return m.Route == "screen" }
func tested(m *cases.Milestones) bool   { return len(m.Tests) > 0 }
