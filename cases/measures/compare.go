package measures

import (
	"fmt"
	"math"
)

// Comparison sets the same interval of two cohorts against each other, A first, such
// as those of two half-years.
type Comparison struct {
	A Question `json:"a"`
	B Question `json:"b"`
	// LogRank asks whether the whole curves differ.
	LogRank *LogRank `json:"log_rank"`
	// Day is the day whose shares are compared.
	Day    int   `json:"day"`
	ShareA Share `json:"share_a"`
	ShareB Share `json:"share_b"`
	// Share is the share of A less that of B, with limits from those of both (the
	// method of Newcombe, Stat Med 1998;17:873-890, put to limits of curves by Zou and
	// Donner, Stat Med 2008;27:1693-1702); undefined when a share is not known, and
	// without limits when one has none.
	Share DifferenceOf `json:"share_difference"`
	// Tau is the last day observed in both cohorts; the means are of the days up to
	// it, and Mean is that of A less that of B with normal limits.
	Tau   Number         `json:"tau"`
	MeanA RestrictedMean `json:"mean_a"`
	MeanB RestrictedMean `json:"mean_b"`
	Mean  DifferenceOf   `json:"mean_difference"`
	Says  []string       `json:"says"`

	a, b IntervalReport
}

// DifferenceOf is a difference with 95 % limits; what is not defined is null.
type DifferenceOf struct {
	Value Number `json:"value"`
	Lower Number `json:"lower"`
	Upper Number `json:"upper"`
}

// CompareCohorts compares two reports of the same interval.
func CompareCohorts(a, b IntervalReport) Comparison {
	c := Comparison{A: a.Question, B: b.Question, Day: ShareDays[0], a: a, b: b, Tau: undefined}
	ca, cb := a.All.Curve, b.All.Curve
	c.LogRank = CompareCurves(ca, cb)
	c.ShareA, c.ShareB = ca.DoneBy(c.Day), cb.DoneBy(c.Day)
	c.Share = shareDifference(c.ShareA, c.ShareB)
	c.Mean = DifferenceOf{undefined, undefined, undefined}
	c.MeanA, c.MeanB = RestrictedMean{undefined, undefined, undefined}, RestrictedMean{undefined, undefined, undefined}
	if len(ca) > 0 && len(cb) > 0 {
		c.means(float64(min(ca[len(ca)-1].Day, cb[len(cb)-1].Day)))
	}
	c.Says = c.Publish(SmallNumbers{}).Says
	return c
}

// means compares the restricted means up to tau.
func (c *Comparison) means(tau float64) {
	if tau <= 0 {
		return
	}
	c.Tau, c.MeanA, c.MeanB = Number(tau), c.a.All.Curve.RestrictedMean(tau), c.b.All.Curve.RestrictedMean(tau)
	d := float64(c.MeanA.Value - c.MeanB.Value)
	w := z975 * math.Hypot(float64(c.MeanA.SE), float64(c.MeanB.SE))
	c.Mean = DifferenceOf{Number(d), Number(d - w), Number(d + w)}
}

func shareDifference(a, b Share) DifferenceOf {
	d := DifferenceOf{undefined, undefined, undefined}
	if !a.Known || !b.Known {
		return d
	}
	p, q := a.Share, b.Share
	d.Value = Number(p - q)
	if a.Limits != nil && b.Limits != nil {
		d.Lower = Number(p - q - math.Hypot(p-a.Limits.Lower, b.Limits.Upper-q))
		d.Upper = Number(p - q + math.Hypot(a.Limits.Upper-p, q-b.Limits.Lower))
	}
	return d
}

// PublishedComparison is a comparison as it may leave the program. Hidden: one of the
// cohorts is too small, and nothing is compared.
type PublishedComparison struct {
	A           PublishedInterval `json:"a"`
	B           PublishedInterval `json:"b"`
	Hidden      bool              `json:"hidden,omitempty"`
	LogRank     *LogRank          `json:"log_rank"`
	Day         int               `json:"day"`
	ShareA      PublishedShare    `json:"share_a"`
	ShareB      PublishedShare    `json:"share_b"`
	ShareHidden bool              `json:"share_hidden,omitempty"`
	Share       DifferenceOf      `json:"share_difference"`
	Tau         Number            `json:"tau"`
	MeanA       RestrictedMean    `json:"mean_a"`
	MeanB       RestrictedMean    `json:"mean_b"`
	Mean        DifferenceOf      `json:"mean_difference"`
	Says        []string          `json:"says"`
}

// Publish hides what the rule hides.
func (c Comparison) Publish(rule SmallNumbers) PublishedComparison {
	none := DifferenceOf{undefined, undefined, undefined}
	p := PublishedComparison{A: c.a.Publish(rule), B: c.b.Publish(rule), Day: c.Day, Share: none, Mean: none, Tau: undefined}
	p.ShareA, p.ShareB = p.A.All.By(c.Day), p.B.All.By(c.Day)
	p.Hidden = len(p.A.All.Curve) == 0 && c.a.Cases > 0 || len(p.B.All.Curve) == 0 && c.b.Cases > 0
	if p.ShareHidden = p.ShareA.Hidden || p.ShareB.Hidden; !p.ShareHidden {
		p.Share = c.Share.round(rule, 1000)
	}
	if !p.Hidden {
		p.LogRank = c.LogRank.round(rule)
		if rule.below() > 0 && len(p.A.All.Curve) > 0 && len(p.B.All.Curve) > 0 {
			c.means(float64(min(p.A.All.RMean.Tau, p.B.All.RMean.Tau)))
		}
		p.Tau, p.MeanA, p.MeanB, p.Mean = c.Tau, c.MeanA.round(rule), c.MeanB.round(rule), c.Mean.round(rule, 10)
	}
	p.Says = p.says()
	return p
}

func (d DifferenceOf) round(rule SmallNumbers, parts float64) DifferenceOf {
	if rule.below() == 0 {
		return d
	}
	r := func(n Number) Number { return Number(rounded(float64(n), parts)) }
	return DifferenceOf{r(d.Value), r(d.Lower), r(d.Upper)}
}

func (p *PublishedComparison) says() (out []string) {
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	switch {
	case p.Hidden:
		say("The two cohorts are not compared, because one of them is too small to show.")
		return out
	case p.A.All.Cases == Cell{} || p.B.All.Cases == Cell{}:
		say("The two cohorts cannot be compared: one of them has no case to count.")
		return out
	}
	if d := p.Share; d.Value.Defined() {
		say("By day %d, %s of the first cohort were done and %s of the second: a difference of %s.", p.Day, percent(p.ShareA.Share.Share), percent(p.ShareB.Share.Share), d.words(100, "percentage points"))
	}
	if d := p.Mean; d.Value.Defined() {
		say("Of the first %s, a case of the first cohort waited %.1f days on average and one of the second %.1f: a difference of %s.", daysWords(float64(p.Tau)), p.MeanA.Value, p.MeanB.Value, d.words(1, "days"))
	}
	switch l := p.LogRank; {
	case l == nil:
		say("Whether the cohorts differ cannot be tested yet: too few cases are done.")
	case l.P < 0.05:
		say("The cohorts differ by more than chance would usually give (log-rank test, %s). The figures do not say why.", pWords(l.P))
	default:
		say("The cohorts do not differ by more than chance would usually give (log-rank test, %s). With few cases a difference can go unseen.", pWords(l.P))
	}
	return out
}

func (d DifferenceOf) words(times float64, unit string) string {
	value, lower, upper := d.Tenths(times)
	s := fmt.Sprintf("%.1f %s", value, unit)
	if d.Lower.Defined() && d.Upper.Defined() {
		s += fmt.Sprintf(" (95 %% limits %.1f to %.1f)", lower, upper)
	}
	return s
}

// Tenths gives the difference and its limits, each times a factor and to a tenth. What
// rounds to zero has no sign: "-0.0" reads as a limit on one side of none.
func (d DifferenceOf) Tenths(times float64) (value, lower, upper float64) {
	tenth := func(n Number) float64 {
		if x := math.Round(times*float64(n)*10) / 10; x != 0 {
			return x
		}
		return 0
	}
	return tenth(d.Value), tenth(d.Lower), tenth(d.Upper)
}
