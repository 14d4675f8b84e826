package measures

import "fmt"

// Sentences say in plain words what published figures say. They never name a cause,
// and never blame: that a group differs is a reason to look.

func says(p *PublishedInterval) []string {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	all := &p.All
	from, to := p.From.Name(), p.To.Name()
	switch {
	case !p.Cases.Hidden && p.Cases.N == 0:
		say("No case is in this cohort, so there is nothing to measure.")
		return out
	case all.Few:
		say("Fewer than %d cases are in this cohort, so their figures are not shown. Choose a longer window or fewer filters.", p.Below)
	case all.Cases == Cell{}:
		say("No case of this cohort can be counted: none has a day of %s with a later day to count to.", from)
	default:
		out = append(out, all.says(p)...)
	}
	out = append(out, p.outside(from, to)...)
	return append(out, p.saysGroups()...)
}

// outside says which cases are not counted.
func (p *PublishedInterval) outside(from, to string) (out []string) {
	if p.NotStarted != (Cell{}) {
		out = append(out, fmt.Sprintf("Not counted: %s without a day of %s, or over before it.", someCases(p.NotStarted), from))
	}
	if p.Refused != (Cell{}) {
		out = append(out, fmt.Sprintf("Not counted: %s with %s dated before %s. The days are wrong, or the order was unusual; see Data faults.", someCases(p.Refused), to, from))
	}
	return out
}

// says describes one group.
func (g *PublishedGroup) says(p *PublishedInterval) (out []string) {
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	from, to := p.From.Name(), p.To.Name()
	if g.Cases.Hidden {
		say("The figures of all cases are not shown, since a small group could be worked out from them.")
		return out
	}
	if g.Cases.N == 1 {
		say("There is one case; it says nothing about how long others wait.")
	}
	if g.Done == (Cell{}) {
		say("None of %s has reached %s yet, so no day can be given by which half are done.", countCases(g.Cases.N), to)
		return append(out, g.saysOpen(p)...)
	}
	switch m := g.Median; {
	case m.Hidden && m.Between != nil:
		say("Half of the cases reached %s %s of %s; the day itself is not shown.", to, m.withinWords(), from)
	case m.Hidden:
		say("Too few cases are done to say by which day half were.")
	case m.Day == nil:
		say("The day by which half of the cases have reached %s cannot be given yet: too few have.", to)
	default:
		say("Half of the cases reached %s within %s of %s%s.", to, daysWords(*m.Day), from, m.limits())
	}
	switch m := g.Ninth; {
	case m.Hidden:
	case m.Day == nil:
		say("How long the slowest tenth take cannot be said yet.")
	default:
		say("The slowest tenth took longer than %s%s.", daysWords(*m.Day), m.limits())
	}
	if s := g.By(28); !s.Hidden && s.Known {
		say("By day 28 after %s, %s were done%s.", from, percent(s.Share.Share), shareLimits(s.Limits))
	}
	if p.Below == 0 {
		out = append(out, g.saysShape(to)...)
	}
	return append(out, g.saysOpen(p)...)
}

// saysShape explains what looks odd in full figures.
func (g *PublishedGroup) saysShape(to string) (out []string) {
	days, day := 0, 0
	for _, x := range g.Curve {
		if x.Events > 0 {
			days++
			day = x.Day
		}
	}
	if days == 1 && g.Done.N > 1 {
		out = append(out, fmt.Sprintf("All %d that are done reached %s on the same day, day %d, so the curve has one step.", g.Done.N, to, day))
	}
	if len(g.Curve) > 0 && g.Curve[0].Events == 0 {
		out = append(out, fmt.Sprintf("The first to go out of observation, on day %d, did so before any was done; up to then it counts.", g.Curve[0].Day))
	}
	return out
}

// saysOpen says how many wait and how many left.
func (g *PublishedGroup) saysOpen(p *PublishedInterval) (out []string) {
	switch {
	case g.Waiting.Hidden:
		out = append(out, "Some cases may still wait; they are counted until "+p.AsOf.String()+".")
	case g.Waiting.N > 0:
		out = append(out, fmt.Sprintf("%d of %s still wait; they are counted until %s.", g.Waiting.N, countCases(g.Cases.N), p.AsOf))
	}
	if g.Left.Hidden || g.Left.N == 0 {
		return out
	}
	if p.To == Determination {
		return append(out, fmt.Sprintf("%d of %s were closed in another way; they count as never determined.", g.Left.N, countCases(g.Cases.N)))
	}
	return append(out, fmt.Sprintf("%d of %s closed, or the infant died, without %s; they count as waiting until then.", g.Left.N, countCases(g.Cases.N), p.To.Name()))
}

// saysGroups compares the groups.
func (p *PublishedInterval) saysGroups() (out []string) {
	if p.Group == "" || len(p.Groups) == 0 {
		return nil
	}
	few := 0
	for i := range p.Groups {
		if p.Groups[i].Few {
			few++
		}
	}
	if few > 0 {
		out = append(out, fmt.Sprintf("%s fewer than %d cases: named, with no figures.", countWord(few, "group has", "groups have"), p.Below))
	}
	switch l := p.LogRank; {
	case len(p.Groups) == 1:
		out = append(out, "All cases are in one group, so there is nothing to compare.")
	case l != nil && l.P < 0.05:
		out = append(out, fmt.Sprintf("The groups differ by more than chance would usually give (log-rank test, %s). The figures do not say why.", pWords(l.P)))
	case l != nil:
		out = append(out, fmt.Sprintf("The groups do not differ by more than chance would usually give (log-rank test, %s). With few cases a difference can go unseen.", pWords(l.P)))
	case p.Below > 0:
		out = append(out, "The groups are not compared, because some are too small to show.")
	default:
		out = append(out, "The groups cannot be compared yet: too few cases are done.")
	}
	return out
}

func someCases(c Cell) string {
	if c.Hidden {
		return "a few cases"
	}
	return countCases(c.N)
}

func countCases(n int) string { return countWord(n, "case", "cases") }

func countWord(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func daysWords(d float64) string {
	if d == 1 {
		return "1 day"
	}
	return Days(&d) + " days"
}

// withinWords are the days within which a hidden quantile is reached.
func (q PublishedQuantile) withinWords() string {
	if b := q.Between; b[0] < b[1] {
		return fmt.Sprintf("within %d to %d days", b[0], b[1])
	}
	day := float64(q.Between[1])
	return "within " + daysWords(day)
}

func (q PublishedQuantile) limits() string {
	switch {
	case q.LimitsHidden:
		return ""
	case q.Lower == nil && q.Upper == nil:
		return " (no 95 % limits can be given)"
	}
	return fmt.Sprintf(" (95 %% limits %s to %s)", Days(q.Lower), Days(q.Upper))
}

func percent(x float64) string { return fmt.Sprintf("%.1f %%", 100*x) }

func shareLimits(l *Interval) string {
	if l == nil {
		return ""
	}
	return fmt.Sprintf(" (95 %% limits %.1f to %.1f)", 100*l.Lower, 100*l.Upper)
}

// pWords gives a probability as far as it is worth reading.
func pWords(p float64) string {
	if p < 0.001 {
		return "p below 0.001"
	}
	return fmt.Sprintf("p %.3f", p)
}
