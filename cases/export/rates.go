package export

import (
	"dunlin/cases/measures"
)

// Types of columns, for the dictionary.
const (
	isText   = "text"
	isWhole  = "whole number"
	isNumber = "number"
	isDay    = "day, YYYY-MM-DD"
	isYesNo  = "yes or no"
	orHidden = "0 and up, or “" + hiddenWord + "”"
)

// count is a count as it may be shown.
func count(c measures.Cell) Value {
	if c.Hidden {
		return Hidden
	}
	return Int(c.N)
}

// limits are the two cells of an interval.
func limits(i *measures.Interval) (low, high Value) {
	if i == nil {
		return Value{}, Value{}
	}
	return Num(i.Lower), Num(i.Upper)
}

// RatesBook holds the rates of a window, their breakdowns and definitions, and the
// ages at the first test, made by the same rule for small numbers.
func RatesBook(p measures.PublishedRates, ages []measures.QuarterAges, m Made) Book {
	return Book{Title: "Rates", About: m.about(Pair{"Limits", "95 %, by Wilson's method. Exact p: binomial, one-sided, of so many or more at the benchmark."}),
		Tables: []Table{ratesTable(p), waitsTable(p), firstTestsTable(ages), definitionsTable(p.Definitions)}}
}

func ratesTable(p measures.PublishedRates) Table {
	t := Table{Name: "rates", Columns: []Column{
		{Key: "measure", Name: "Rate", Meaning: "Which rate, as in the sheet of definitions.", Type: isText},
		{Key: "measure_name", Name: "Rate in words", Meaning: "The same in words.", Type: isText},
		{Key: "grouped_by", Name: "Grouped by", Meaning: "What the rate is broken down by; empty for all.", Type: isText},
		{Key: "group", Name: "Group", Meaning: "The group; empty for all.", Type: isText},
		{Key: "count", Name: "Count", Meaning: "Numerator, as the definition says.", Type: isWhole, Allowed: orHidden},
		{Key: "of", Name: "Of", Meaning: "Denominator, as the definition says.", Type: isWhole, Allowed: orHidden},
		{Key: "rate", Name: "Rate", Meaning: "Count divided by Of; empty where either is hidden, or Of is 0.", Type: isNumber, Allowed: "0 to 1"},
		{Key: "rate_low", Name: "Lower limit", Meaning: "Lower 95 % limit of the rate (Wilson).", Type: isNumber, Allowed: "0 to 1"},
		{Key: "rate_high", Name: "Upper limit", Meaning: "Upper 95 % limit of the rate (Wilson).", Type: isNumber, Allowed: "0 to 1"},
		{Key: "benchmark", Name: "Benchmark", Meaning: "The protocol's benchmark, where it has one.", Type: isNumber, Allowed: "0 to 1"},
		{Key: "p_so_many_or_more", Name: "Exact p", Meaning: "Chance of so many or more if the true rate were the benchmark (binomial, one-sided, not corrected for looking at several groups).", Type: isNumber, Allowed: "0 to 1"},
		{Key: "p_holm", Name: "Adjusted p", Meaning: "The same, adjusted by Holm's method for the groups of this breakdown that are shown.", Type: isNumber, Allowed: "0 to 1"},
	}}
	t.Rows = func(add func([]Value) error) error {
		for _, r := range p.Rates {
			if err := add(rateRow(r.Measure, "", r)); err != nil {
				return err
			}
		}
		for _, b := range p.Breakdowns {
			for _, r := range b.Rows {
				if err := add(rateRow(b.Measure, b.By, r)); err != nil {
					return err
				}
			}
		}
		return nil
	}
	return t
}

func rateRow(measure, by string, r measures.PublishedRate) []Value {
	d, _ := measures.DefinitionOf(measure)
	low, high := limits(r.Limits)
	p := Value{}
	if r.Test != nil {
		p = Num(r.Test.Greater)
	}
	return []Value{Text(measure), Text(d.Name), Text(by), Text(r.Name), count(r.Count), count(r.Of), Maybe(r.Rate), low, high, Maybe(r.Benchmark), p, Maybe(r.Holm)}
}

// waitsTable has the waits for a repeat, by Kaplan-Meier.
func waitsTable(p measures.PublishedRates) Table {
	t := Table{Name: "waits", Columns: []Column{
		{Key: "wait", Name: "Wait", Meaning: "From what to what.", Type: isText},
		{Key: "cases", Name: "Cases", Meaning: "Cases that began to wait.", Type: isWhole, Allowed: orHidden},
		{Key: "median", Name: "Median", Meaning: "Days by which half were done, those that still wait counted (Kaplan-Meier); empty where hidden or not reached.", Unit: "days", Type: isNumber},
		{Key: "median_low", Name: "Lower limit", Meaning: "Lower 95 % limit of the median.", Unit: "days", Type: isNumber},
		{Key: "median_high", Name: "Upper limit", Meaning: "Upper 95 % limit of the median; empty where not reached.", Unit: "days", Type: isNumber},
	}}
	t.Rows = func(add func([]Value) error) error {
		for _, x := range []struct {
			name string
			of   measures.PublishedWait
		}{{"QNS test to next test", p.RepeatTest}, {"first test QNS or intermediate to graded repeat", p.RepeatGrade}} {
			row := []Value{Text(x.name), count(x.of.Cases), {}, {}, {}}
			if q := x.of.Median; q != nil {
				row[2], row[3], row[4] = Maybe(q.Day), Maybe(q.Lower), Maybe(q.Upper)
			}
			if err := add(row); err != nil {
				return err
			}
		}
		return nil
	}
	return t
}

// definitionsTable says of each rate what it counts.
func definitionsTable(list []measures.Definition) Table {
	t := Table{Name: "definitions", Apart: true, Columns: []Column{
		{Key: "measure", Name: "Rate", Meaning: "Which rate.", Type: isText},
		{Key: "name", Name: "Rate in words", Meaning: "The same in words.", Type: isText},
		{Key: "numerator", Name: "Numerator", Meaning: "What the count counts.", Type: isText},
		{Key: "denominator", Name: "Denominator", Meaning: "Of what.", Type: isText},
		{Key: "note", Name: "Note", Meaning: "What is left out, and whose definition it is.", Type: isText},
	}}
	t.Rows = func(add func([]Value) error) error {
		for _, d := range list {
			if err := add([]Value{Text(d.Key), Text(d.Name), Text(d.Numerator), Text(d.Denominator), Text(d.Note)}); err != nil {
				return err
			}
		}
		return nil
	}
	return t
}
