package intake

import "dunlin/cases"

// CaseByHand is the case that a waiting item would open, after a person has
// corrected it: everything that was read, then correct's changes. What the case
// document still refuses and may be left out is kept as text beside the case, as
// at intake; the rest is for the writer to refuse. today is the day of entry.
func CaseByHand(rec Record, s Settings, p *cases.Protocol, today cases.Day, correct func(*cases.Case)) cases.Case {
	it := &Item{Kind: rec.Kind, Referral: rec.Referral, Problems: rec.Problems}
	v := Decide(it, s)
	c := toCase(it, &v, 0, today)
	correct(&c)
	settle(&c, today, p)
	return c
}
