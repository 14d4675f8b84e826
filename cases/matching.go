package cases

import (
	"fmt"
	"math"
)

// Matching holds the values by which an item that arrives is matched with the
// infants on file: probabilities of agreement in the form of Fellegi and Sunter
// (J Am Stat Assoc 1969;64:1183-1210), and where the sum of their weights leads.
// The probabilities are illustrative until the program measures its own. No score
// ever joins two infants of one birth; see cases/intake.
type Matching struct {
	CertainFrom      float64 `json:"certain_from"`          // sum of weights that may attach by itself
	ReviewFrom       float64 `json:"review_from"`           // sum of weights that a person looks at
	NameAgreesFrom   float64 `json:"name_agrees_from"`      // Jaro-Winkler similarity of names that agree
	NameDiffersBelow float64 `json:"name_differs_below"`    // and of names that differ
	WeightWithinG    float64 `json:"birth_weight_within_g"` // birth weights that agree

	BirthDate   Chance `json:"birth_date"`
	Sex         Chance `json:"sex"`
	Surname     Chance `json:"surname"`
	MotherName  Chance `json:"mother_surname"`
	MotherGiven Chance `json:"mother_given_name"`
	MotherBorn  Chance `json:"mother_birth_date"`
	Phone       Chance `json:"phone"`
	Facility    Chance `json:"birth_facility"`
	BirthOrder  Chance `json:"birth_order"`
	BirthWeight Chance `json:"birth_weight"`
	Postal      Chance `json:"postal_code"`
}

// Chance says how often a field agrees: M in records of one infant, U in records of
// two infants who have nothing to do with each other.
type Chance struct {
	M float64 `json:"m"`
	U float64 `json:"u"`
}

// Agree is the weight of agreement, log2(m/u).
func (c Chance) Agree() float64 { return math.Log2(c.M / c.U) }

// Differ is the weight of disagreement, log2((1-m)/(1-u)).
func (c Chance) Differ() float64 { return math.Log2((1 - c.M) / (1 - c.U)) }

// Partly is the weight of names that agree in part, share of the way from Differ
// to Agree; 1 is full agreement.
func (c Chance) Partly(share float64) float64 {
	return c.Differ() + share*(c.Agree()-c.Differ())
}

// NameShare places a Jaro-Winkler similarity between names that differ (0) and
// names that agree (1).
func (m *Matching) NameShare(similarity float64) float64 {
	switch {
	case similarity >= m.NameAgreesFrom:
		return 1
	case similarity < m.NameDiffersBelow:
		return 0
	}
	return (similarity - m.NameDiffersBelow) / (m.NameAgreesFrom - m.NameDiffersBelow)
}

// defaultMatching: m and u are illustrative. The birth date has one day in a year
// of births, the mother's one in 22 years. Twelve is even odds among 4,000 infants
// on file, thirty is 2^18 to one among them.
func defaultMatching() Matching {
	return Matching{
		CertainFrom: 30, ReviewFrom: 12, NameAgreesFrom: 0.92, NameDiffersBelow: 0.80, WeightWithinG: 50,
		BirthDate: Chance{0.98, 1 / 365.25}, Sex: Chance{0.985, 0.5},
		Surname: Chance{0.85, 0.004}, MotherName: Chance{0.92, 0.004}, MotherGiven: Chance{0.90, 0.01},
		MotherBorn: Chance{0.93, 1 / (365.25 * 22)}, Phone: Chance{0.75, 1e-6}, Facility: Chance{0.95, 0.03},
		BirthOrder: Chance{0.99, 0.95}, BirthWeight: Chance{0.90, 0.06}, Postal: Chance{0.80, 0.01},
	}
}

// faults lists values of matching that make no sense.
func (m *Matching) faults(bad func(ok bool, path, format string, args ...any)) {
	bad(m.ReviewFrom >= 0 && m.ReviewFrom <= 100, "matching.review_from", "must be between 0 and 100, not %g", m.ReviewFrom)
	bad(m.CertainFrom >= 20 && m.CertainFrom <= 200 && m.CertainFrom > m.ReviewFrom, "matching.certain_from",
		"must be between 20 and 200 and above review_from (%g), not %g", m.ReviewFrom, m.CertainFrom)
	bad(m.NameAgreesFrom >= 0.85 && m.NameAgreesFrom <= 1, "matching.name_agrees_from", "must be between 0.85 and 1, not %g", m.NameAgreesFrom)
	bad(m.NameDiffersBelow >= 0.5 && m.NameDiffersBelow < m.NameAgreesFrom, "matching.name_differs_below",
		"must be between 0.5 and name_agrees_from (%g), not %g", m.NameAgreesFrom, m.NameDiffersBelow)
	bad(m.WeightWithinG >= 0 && m.WeightWithinG <= 500, "matching.birth_weight_within_g", "must be between 0 and 500, not %g", m.WeightWithinG)
	for _, c := range []struct {
		name string
		Chance
	}{
		{"birth_date", m.BirthDate}, {"sex", m.Sex}, {"surname", m.Surname}, {"mother_surname", m.MotherName},
		{"mother_given_name", m.MotherGiven}, {"mother_birth_date", m.MotherBorn}, {"phone", m.Phone},
		{"birth_facility", m.Facility}, {"birth_order", m.BirthOrder}, {"birth_weight", m.BirthWeight}, {"postal_code", m.Postal},
	} {
		bad(c.U > 0 && c.M < 1 && c.M > c.U, "matching."+c.name,
			"must have m below 1 and above u, and u above 0: m %g, u %g would let agreement speak against the same infant", c.M, c.U)
	}
}

// String gives both probabilities and their weights.
func (c Chance) String() string {
	return fmt.Sprintf("m %g, u %.3g (agrees %+.1f, differs %+.1f)", c.M, c.U, c.Agree(), c.Differ())
}
