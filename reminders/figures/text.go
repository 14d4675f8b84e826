package figures

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"dunlin/cases/measures"
	"dunlin/templates"
)

// The words for figures that are not there.
const (
	hiddenWord  = "hidden"
	fewWord     = "too few to show"
	unknownWord = "not known yet"
	notReached  = "not reached"
)

// percent writes a share as a whole percentage.
func percent(share float64) string { return templates.Percent(share) }

// oneDecimal writes a share as a percentage with one decimal, none where it is whole.
func oneDecimal(share float64) string {
	return strconv.FormatFloat(math.Round(share*1000)/10, 'f', -1, 64) + "%"
}

// number writes a number with at most one decimal.
func number(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

func cell(c measures.Cell) string {
	if c.Hidden {
		return hiddenWord
	}
	return templates.Thousands(c.N)
}

func chance(p float64) string {
	if p < 0.001 {
		return "under 0.001"
	}
	return fmt.Sprintf("%.3f", p)
}

func sentence(s string) string {
	if s == "" {
		return ""
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

func limitsWord(l *measures.Interval) string {
	if l == nil {
		return "none"
	}
	return percent(l.Lower) + " to " + percent(l.Upper)
}

// shareLimits is a share with its limits: "62% (55% to 70%)".
func shareLimits(v float64, l *measures.Interval) string {
	if l == nil {
		return percent(v)
	}
	return percent(v) + " (" + limitsWord(l) + ")"
}

func shareWord(s measures.PublishedShare) string {
	switch {
	case s.Hidden:
		return sentence(fewWord)
	case !s.Known:
		return sentence(unknownWord)
	}
	return percent(s.Share.Share)
}

func shareWithLimits(s measures.PublishedShare) string {
	switch {
	case s.Hidden:
		return fewWord
	case !s.Known:
		return unknownWord
	}
	return shareLimits(s.Share.Share, s.Limits)
}

func limitsNote(s measures.PublishedShare) string {
	if s.Hidden || !s.Known || s.Limits == nil {
		return ""
	}
	return "95% limits " + limitsWord(s.Limits)
}

// plainDay is the day of a quantile as a number.
func plainDay(q measures.PublishedQuantile) string {
	switch {
	case q.Hidden && q.Between != nil:
		return q.BetweenWords("")
	case q.Hidden:
		return fewWord
	case q.Day == nil:
		return notReached
	}
	return number(*q.Day)
}

// dayWord is the day of a quantile in words: "29 days".
func dayWord(q measures.PublishedQuantile) string {
	if q.Hidden && q.Between != nil {
		return q.BetweenWords(" days")
	}
	if t := plainDay(q); q.Hidden || q.Day == nil {
		return t
	} else if t == "1" {
		return "1 day"
	} else {
		return t + " days"
	}
}

// quantileWord is a day with its limits: "29 (23 to 34)".
func quantileWord(q measures.Quantile) string {
	if q.Day == nil && q.Lower == nil {
		return notReached
	}
	if q.Lower == nil && q.Upper == nil {
		return dayOr(q.Day)
	}
	return dayOr(q.Day) + " (" + dayOr(q.Lower) + " to " + dayOr(q.Upper) + ")"
}

func dayOr(d *float64) string {
	if d == nil {
		return notReached
	}
	return number(*d)
}

func medianLimits(q measures.PublishedQuantile) string {
	switch {
	case q.Hidden:
		return plainDay(q)
	case q.LimitsHidden:
		return dayOr(q.Day)
	}
	return quantileWord(q.Quantile)
}

func middleHalf(g *measures.PublishedGroup) string {
	if g.Quarter.Hidden && g.ThreeQuarters.Hidden {
		return fewWord
	}
	if !g.Quarter.Hidden && g.Quarter.Day == nil {
		return notReached
	}
	end := func(q measures.PublishedQuantile) string {
		if q.Hidden {
			return "(" + fewWord + ")"
		}
		return plainDay(q)
	}
	return end(g.Quarter) + " to " + end(g.ThreeQuarters)
}

// halfNote names the middle half, where there is one.
func halfNote(g *measures.PublishedGroup) string {
	if g.Quarter.Hidden || g.Quarter.Day == nil {
		return ""
	}
	return "middle half " + middleHalf(g)
}

// ofWord is a count of its total: "12 of 131".
func ofWord(r measures.HiddenRate) string {
	if r.Count.Hidden && r.Of.Hidden {
		return hiddenWord
	}
	return cell(r.Count) + " of " + cell(r.Of)
}

func rateWord(r measures.HiddenRate) string {
	switch {
	case r.Rate != nil:
		return oneDecimal(*r.Rate)
	case !r.Of.Hidden && r.Of.N == 0:
		return "None yet"
	}
	return sentence(hiddenWord)
}

func rateLimits(r measures.HiddenRate) string {
	if r.Rate == nil {
		return strings.ToLower(rateWord(r))
	}
	if r.Limits == nil {
		return oneDecimal(*r.Rate)
	}
	return oneDecimal(*r.Rate) + " (" + oneDecimal(r.Limits.Lower) + " to " + oneDecimal(r.Limits.Upper) + ")"
}

func benchmarkNote(r measures.PublishedRate) string {
	if r.Benchmark == nil {
		return ""
	}
	return ". Benchmark " + oneDecimal(*r.Benchmark) + " or less"
}
