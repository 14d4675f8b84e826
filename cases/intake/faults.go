package intake

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// settle takes out of a new case every value that the case document refuses and
// keeps it as text beside the case. It gives the faults that it could not settle.
func settle(c *cases.Case, today cases.Day, p *cases.Protocol) []cases.Fault {
	for range 4 {
		faults := append(c.Faults(today, p), c.FutureFaults(today)...)
		if len(faults) == 0 {
			return nil
		}
		var left []cases.Fault
		for _, f := range faults {
			text, ok := clear(c, f.Path, today)
			if !ok {
				left = append(left, f)
				continue
			}
			if text != "" {
				c.ToCheck = append(c.ToCheck, cases.ToCheck{Field: f.Path, Text: text, Reason: "The value " + f.Reason + ". It was not taken over."})
			}
		}
		if len(left) > 0 {
			return left
		}
	}
	return c.Faults(today, p)
}

// clear empties one optional field and gives what stood there; a field that was
// already emptied gives no text.
func clear(c *cases.Case, path string, today cases.Day) (string, bool) {
	day := func(d *cases.Day) (string, bool) {
		t := d.String()
		*d = 0
		return t, true
	}
	in := &c.Infant
	switch {
	case path == "infant.birth_weight_g":
		t := fmt.Sprintf("%g", in.BirthWeightG)
		in.BirthWeightG = 0
		return t, true
	case path == "infant.gestation":
		t := in.Gestation.String()
		in.Gestation = 0
		return t, true
	case strings.HasPrefix(path, "infant.weights"):
		if len(in.Weights) == 0 {
			return "", true
		}
		t := fmt.Sprintf("%g g on %s", in.Weights[0].G, in.Weights[0].On)
		in.Weights = nil
		return t, true
	case path == "infant.died":
		t := in.Died.String()
		in.Died = today
		return t, t != today.String()
	case path == "infant.died_reported":
		t := in.DiedReported.String()
		in.DiedReported = today
		return t, t != today.String()
	case path == "referral.on":
		t := c.Referral.On.String()
		c.Referral.On = today
		return t, t != today.String()
	case path == "referral.screen.collected":
		return day(&c.Referral.Screen.Collected)
	case path == "referral.screen.reported":
		return day(&c.Referral.Screen.Reported)
	case path == "genotype.reported" && c.Genotype != nil:
		t := c.Genotype.Reported.String()
		c.Genotype.Reported = c.Referral.On
		return t, t != c.Referral.On.String()
	case path == "family.mother_born" && c.Family != nil:
		return day(&c.Family.MotherBorn)
	}
	return "", false
}
