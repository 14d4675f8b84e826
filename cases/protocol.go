package cases

import "fmt"

// Protocol holds the program's own values. They are the program's to sign: the
// defaults carry their source in ProtocolNotes, and several are choices of this
// project. Race and sex never change a value.
type Protocol struct {
	MinAgeDays                 int         `json:"min_age_days"`
	MinWeightG                 float64     `json:"min_weight_g"`
	WeightStrictlyAbove        bool        `json:"weight_strictly_above"`
	MinCorrectedGestation      Gestation   `json:"min_corrected_gestation"`
	RequireBothArms            bool        `json:"require_both_arms"`
	MinAmountUL                float64     `json:"min_amount_ul"`
	MinAmountMg                float64     `json:"min_amount_mg"`
	AmountBaseMin              float64     `json:"amount_base_min"`
	AmountScalesDown           bool        `json:"amount_scales_down"`
	MaxCollectionMin           float64     `json:"max_collection_min"`
	IntermediateFrom           float64     `json:"intermediate_from"`
	CFFrom                     float64     `json:"cf_from"`
	CFStrictlyAbove            bool        `json:"cf_strictly_above"`
	OlderFromDays              *int        `json:"older_from_days"`
	OlderIntermediateFrom      float64     `json:"older_intermediate_from"`
	ImplausibleAbove           float64     `json:"implausible_above"`
	AgreeWithinLow             float64     `json:"agree_within_low"`
	AgreeWithinHigh            float64     `json:"agree_within_high"`
	AgreeSplitAt               float64     `json:"agree_split_at"`
	FirstTestByDays            int         `json:"first_test_by_days"`
	AlertUntestedDays          int         `json:"alert_untested_days"`
	DeterminationByDays        int         `json:"determination_by_days"`
	TellPrimaryCareWorkingDays int         `json:"tell_primary_care_working_days"`
	ReachFamilyWorkingDays     int         `json:"reach_family_working_days"`
	BookWithinDays             int         `json:"book_within_days"`
	QNSRepeatDays              int         `json:"qns_repeat_days"`
	QNSEscalateAfter           int         `json:"qns_escalate_after"`
	IntermediateRepeatDays     int         `json:"intermediate_repeat_days"`
	IntermediateFromDays       int         `json:"intermediate_from_days"`
	IntermediateUntilDays      int         `json:"intermediate_until_days"`
	GenotypeWaitDays           int         `json:"genotype_wait_days"`
	ConductivityReferFrom      float64     `json:"conductivity_refer_from"`
	LostMinAttempts            int         `json:"lost_min_attempts"`
	LostMinRoutes              int         `json:"lost_min_routes"`
	LostMinDays                int         `json:"lost_min_days"`
	CRMSRetestMonths           []int       `json:"crms_retest_months"`
	LostLookMonths             []int       `json:"lost_look_months"`
	QNSBenchmarkYoung          float64     `json:"qns_benchmark_young"`
	QNSBenchmarkOlder          float64     `json:"qns_benchmark_older"`
	SmallNumberBelow           int         `json:"small_number_below"`
	Holidays                   []Day       `json:"holidays"` // null: the federal days as observed
	Matching                   Matching    `json:"matching"`
	Planning                   Planning    `json:"planning"`
	ContactPlan                ContactPlan `json:"contact_plan"`
	Mailing                    Mailing     `json:"mailing"`

	calendar Calendar
}

// DefaultProtocol returns the defaults; see ProtocolNotes for where each is from.
func DefaultProtocol() *Protocol {
	return &Protocol{
		MinAgeDays: 14, MinWeightG: 2000, MinCorrectedGestation: 36 * 7,
		RequireBothArms: true, MinAmountUL: 15, MinAmountMg: 75, AmountBaseMin: 30, MaxCollectionMin: 30,
		IntermediateFrom: 30, CFFrom: 60, OlderIntermediateFrom: 40,
		ImplausibleAbove: 160, AgreeWithinLow: 10, AgreeWithinHigh: 15, AgreeSplitAt: 60,
		FirstTestByDays: 28, AlertUntestedDays: 58, DeterminationByDays: 60,
		TellPrimaryCareWorkingDays: 1, ReachFamilyWorkingDays: 2, BookWithinDays: 7,
		QNSRepeatDays: 7, QNSEscalateAfter: 2, IntermediateRepeatDays: 28, IntermediateFromDays: 14, IntermediateUntilDays: 60, GenotypeWaitDays: 14,
		ConductivityReferFrom: 50, LostMinAttempts: 3, LostMinRoutes: 2, LostMinDays: 30,
		// Months of age: 6, 12, then yearly to age 8.
		CRMSRetestMonths: []int{6, 12, 24, 36, 48, 60, 72, 84, 96}, LostLookMonths: []int{6, 12},
		QNSBenchmarkYoung: 0.10, QNSBenchmarkOlder: 0.05, SmallNumberBelow: 11,
		Matching: defaultMatching(), Planning: defaultPlanning(), ContactPlan: defaultContactPlan(), Mailing: defaultMailing(),
	}
}

// Calendar gives the working days of the program.
func (p *Protocol) Calendar() Calendar {
	if p.Holidays == nil {
		return Calendar{}
	}
	if _, own := p.calendar.Days(); !own {
		return NewCalendar(p.Holidays)
	}
	return p.calendar
}

// prepare fixes the calendar after the values were read or changed.
func (p *Protocol) prepare() {
	p.calendar = Calendar{}
	if p.Holidays != nil {
		p.calendar = NewCalendar(p.Holidays)
	}
}

// ParseProtocol reads a JSON object that holds only the values that differ from
// the defaults. Unknown names and nonsense are refused, all at once.
func ParseProtocol(data []byte) (*Protocol, error) {
	p := DefaultProtocol()
	faults := readStrict(data, p)
	if len(faults) == 0 {
		faults = p.Faults()
	}
	if len(faults) > 0 {
		return nil, &Error{Kind: Invalid, Text: "The protocol cannot be used.", Faults: faults}
	}
	p.prepare()
	return p, nil
}

// Faults lists values that make no sense, alone or together.
func (p *Protocol) Faults() []Fault {
	var fs []Fault
	bad := func(ok bool, path, format string, args ...any) {
		if !ok {
			fs = append(fs, Fault{path, fmt.Sprintf(format, args...)})
		}
	}
	between := func(path string, v, lo, hi float64) {
		bad(v >= lo && v <= hi, path, "must be between %g and %g, not %g", lo, hi, v)
	}
	between("min_age_days", float64(p.MinAgeDays), 0, 365)
	between("min_weight_g", p.MinWeightG, 500, 10000)
	bad(p.MinCorrectedGestation >= 22*7 && p.MinCorrectedGestation <= 50*7, "min_corrected_gestation", "must be between 22w0d and 50w0d")
	between("min_amount_ul", p.MinAmountUL, 1, 200)
	between("min_amount_mg", p.MinAmountMg, 1, 500)
	between("amount_base_min", p.AmountBaseMin, 1, 120)
	between("max_collection_min", p.MaxCollectionMin, 1, 120)
	between("intermediate_from", p.IntermediateFrom, 1, 200)
	between("cf_from", p.CFFrom, 1, 200)
	bad(p.IntermediateFrom < p.CFFrom, "intermediate_from", "must be below cf_from (%g)", p.CFFrom)
	if p.OlderFromDays != nil {
		between("older_from_days", float64(*p.OlderFromDays), 1, 20000)
	}
	bad(p.OlderIntermediateFrom > 0 && p.OlderIntermediateFrom < p.CFFrom, "older_intermediate_from", "must be above 0 and below cf_from (%g)", p.CFFrom)
	bad(p.ImplausibleAbove > p.CFFrom && p.ImplausibleAbove <= 400, "implausible_above", "must be above cf_from (%g) and at most 400", p.CFFrom)
	between("agree_within_low", p.AgreeWithinLow, 0, 400)
	between("agree_within_high", p.AgreeWithinHigh, 0, 400)
	between("agree_split_at", p.AgreeSplitAt, 0, 400)
	for _, v := range []struct {
		path   string
		n      int
		lo, hi float64
	}{
		{"first_test_by_days", p.FirstTestByDays, 1, 730}, {"alert_untested_days", p.AlertUntestedDays, 1, 730},
		{"determination_by_days", p.DeterminationByDays, 1, 1460},
		{"tell_primary_care_working_days", p.TellPrimaryCareWorkingDays, 0, 60},
		{"reach_family_working_days", p.ReachFamilyWorkingDays, 0, 60}, {"book_within_days", p.BookWithinDays, 0, 365},
		{"qns_repeat_days", p.QNSRepeatDays, 1, 365}, {"qns_escalate_after", p.QNSEscalateAfter, 1, 20},
		{"intermediate_repeat_days", p.IntermediateRepeatDays, 1, 730},
		{"intermediate_from_days", p.IntermediateFromDays, 1, 730}, {"intermediate_until_days", p.IntermediateUntilDays, 1, 730}, {"genotype_wait_days", p.GenotypeWaitDays, 1, 365},
		{"lost_min_attempts", p.LostMinAttempts, 1, 100}, {"lost_min_routes", p.LostMinRoutes, 1, 8},
		{"lost_min_days", p.LostMinDays, 0, 730}, {"small_number_below", p.SmallNumberBelow, 0, 1000},
	} {
		between(v.path, float64(v.n), v.lo, v.hi)
	}
	between("conductivity_refer_from", p.ConductivityReferFrom, 1, 400)
	between("qns_benchmark_young", p.QNSBenchmarkYoung, 0, 1)
	between("qns_benchmark_older", p.QNSBenchmarkOlder, 0, 1)
	p.Matching.faults(bad)
	p.Planning.faults(bad)
	p.Mailing.faults(bad)
	fs = append(fs, p.ContactPlan.Faults()...)
	fs = append(fs, risingMonths("crms_retest_months", p.CRMSRetestMonths)...)
	return append(fs, risingMonths("lost_look_months", p.LostLookMonths)...)
}

func risingMonths(path string, ms []int) []Fault {
	last := 0
	for i, m := range ms {
		if m <= last || m > 240 {
			return []Fault{{fmt.Sprintf("%s[%d]", path, i), "months must rise and lie between 1 and 240"}}
		}
		last = m
	}
	if len(ms) == 0 {
		return []Fault{{path, "must name at least one month"}}
	}
	return nil
}
