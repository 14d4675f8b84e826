package cases

// Planning holds the values by which places are proposed to infants that wait: how
// urgent each is, and what waiting, lateness and the way cost beside each other. They
// are choices for the program's medical director to set; none is published.
type Planning struct {
	TwoVariants float64 `json:"urgency_two_variants"` // two alleles that may cause disease
	Repeat      float64 `json:"urgency_repeat"`       // a repeat of a test
	OneVariant  float64 `json:"urgency_one_variant"`
	None        float64 `json:"urgency_no_variant"`

	DayWaited  float64 `json:"cost_day_waited"`   // times urgency, for each day after the first one possible
	DayLate    float64 `json:"cost_day_late"`     // times urgency, for each day past the due day
	Unplaced   float64 `json:"cost_unplaced"`     // times urgency, for staying without a place
	KmPerPoint float64 `json:"cost_km_per_point"` // km that weigh as much as a cost of 1
}

func defaultPlanning() Planning {
	return Planning{TwoVariants: 3, Repeat: 2, OneVariant: 1.5, None: 1, DayWaited: 10, DayLate: 100, Unplaced: 2000, KmPerPoint: 10}
}

// faults lists values of planning that make no sense.
func (v *Planning) faults(bad func(ok bool, path, format string, args ...any)) {
	for _, x := range []struct {
		name   string
		v      float64
		lo, hi float64
	}{
		{"urgency_two_variants", v.TwoVariants, 0.1, 10}, {"urgency_repeat", v.Repeat, 0.1, 10},
		{"urgency_one_variant", v.OneVariant, 0.1, 10}, {"urgency_no_variant", v.None, 0.1, 10},
		{"cost_day_waited", v.DayWaited, 0, 1000}, {"cost_day_late", v.DayLate, 0, 10000},
		{"cost_unplaced", v.Unplaced, 1, 1e6}, {"cost_km_per_point", v.KmPerPoint, 0.01, 1e6},
	} {
		bad(x.v >= x.lo && x.v <= x.hi, "planning."+x.name, "must be between %g and %g, not %g", x.lo, x.hi, x.v)
	}
	bad(v.TwoVariants >= v.OneVariant && v.TwoVariants >= v.None, "planning.urgency_two_variants",
		"must not be below the urgency of one variant (%g) or none (%g)", v.OneVariant, v.None)
}
