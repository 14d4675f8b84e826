package export

import (
	"fmt"

	"dunlin/cases/measures"
)

// IntervalBook holds how long an interval took: figures by group, curves, closings by
// class, and what the figures say in words.
func IntervalBook(p measures.PublishedInterval, m Made) Book {
	title := "Closure times: " + p.Interval()
	how := "Kaplan-Meier, those who still wait counted; limits 95 %, log-log for shares, of Brookmeyer and Crowley for days."
	if p.To == measures.Determination {
		how = "Aalen-Johansen, closings of other kinds competing with a determination; limits 95 %, log-log for shares, of Brookmeyer and Crowley for days."
	}
	b := Book{Title: title, About: m.about(Pair{"Interval", "From " + p.From.Name() + " to " + p.To.Name()}, Pair{"Method", how}),
		Tables: []Table{figuresTable(&p), curveTable(&p)}}
	if p.To.IsClosing() {
		b.Tables = append(b.Tables, reasonsTable(&p), incidenceTable(&p))
	}
	b.Tables = append(b.Tables, saysTable(p.Says), milestonesTable(p.From, p.To))
	return b
}

// eachGroup gives all cases, then the groups, then the classes of readiness.
func eachGroup(p *measures.PublishedInterval, f func(division string, g *measures.PublishedGroup) error) error {
	if err := f("all", &p.All); err != nil {
		return err
	}
	for i := range p.Groups {
		if err := f(p.Group, &p.Groups[i]); err != nil {
			return err
		}
	}
	for i := range p.Classes {
		if err := f("class", &p.Classes[i]); err != nil {
			return err
		}
	}
	return nil
}

var groupColumns = []Column{
	{Key: "division", Name: "Division", Meaning: "What the cases are divided by: all for none, class for whether the infant could be ready for a test by day 28, else what the report is grouped by.", Type: isText},
	{Key: "group", Name: "Group", Meaning: "Name of the group.", Type: isText},
}

// group are the cells that name a group.
func group(division string, g *measures.PublishedGroup) []Value {
	if division == "all" {
		return []Value{Text(division), Text(division)}
	}
	return []Value{Text(division), Text(g.Name)}
}

// figure is a number that may not be defined.
func figure(n measures.Number) Value {
	if !n.Defined() {
		return Value{}
	}
	return Num(float64(n))
}

// quantile are the cells of a day with its limits.
func quantile(q measures.PublishedQuantile) []Value {
	if q.Hidden {
		return []Value{Hidden, Hidden, Hidden}
	}
	if q.LimitsHidden {
		return []Value{Maybe(q.Day), Hidden, Hidden}
	}
	return []Value{Maybe(q.Day), Maybe(q.Lower), Maybe(q.Upper)}
}

const orNot = "0 and up, or “" + hiddenWord + "”; empty where not reached"

func figuresTable(p *measures.PublishedInterval) Table {
	t := Table{Name: "figures", Columns: append(append([]Column(nil), groupColumns...),
		Column{Key: "cases", Name: "Cases", Meaning: "Cases with the first milestone.", Type: isWhole, Allowed: orHidden},
		Column{Key: "done", Name: "Done", Meaning: "Reached the second milestone by the day of the report.", Type: isWhole, Allowed: orHidden},
		Column{Key: "waiting", Name: "Waiting", Meaning: "Still wait on the day of the report.", Type: isWhole, Allowed: orHidden},
		Column{Key: "left", Name: "Left", Meaning: "Closed, or died, without the second milestone.", Type: isWhole, Allowed: orHidden})}
	for _, q := range []struct{ key, name string }{{"quarter", "a quarter"}, {"median", "half"}, {"three_quarters", "three quarters"}, {"ninth", "nine tenths"}} {
		t.Columns = append(t.Columns,
			Column{Key: q.key, Name: "Day by which " + q.name + " were done", Meaning: "Those who still wait counted.", Unit: "days", Type: isNumber, Allowed: orNot},
			Column{Key: q.key + "_low", Name: "Lower limit", Meaning: "Lower 95 % limit of the day.", Unit: "days", Type: isNumber, Allowed: orNot},
			Column{Key: q.key + "_high", Name: "Upper limit", Meaning: "Upper 95 % limit of the day.", Unit: "days", Type: isNumber, Allowed: orNot})
	}
	t.Columns = append(t.Columns,
		Column{Key: "mean", Name: "Restricted mean", Meaning: "Mean number of days without the second milestone, of the days up to mean_to.", Unit: "days", Type: isNumber},
		Column{Key: "mean_se", Name: "Standard error", Meaning: "Of the restricted mean.", Unit: "days", Type: isNumber},
		Column{Key: "mean_to", Name: "Mean up to", Meaning: "Day up to which the mean is taken.", Unit: "days", Type: isNumber})
	for _, d := range measures.ShareDays {
		t.Columns = append(t.Columns,
			Column{Key: fmt.Sprintf("share_by_%d", d), Name: fmt.Sprintf("Share done by day %d", d), Meaning: "Of all cases of the group, those who still wait counted; empty where nobody was observed so long.", Type: isNumber, Allowed: "0 to 1, or “" + hiddenWord + "”"},
			Column{Key: fmt.Sprintf("share_by_%d_low", d), Name: "Lower limit", Meaning: "Lower 95 % limit of the share.", Type: isNumber, Allowed: "0 to 1, or “" + hiddenWord + "”"},
			Column{Key: fmt.Sprintf("share_by_%d_high", d), Name: "Upper limit", Meaning: "Upper 95 % limit of the share.", Type: isNumber, Allowed: "0 to 1, or “" + hiddenWord + "”"})
	}
	t.Rows = func(add func([]Value) error) error {
		return eachGroup(p, func(division string, g *measures.PublishedGroup) error {
			row := append(group(division, g), count(g.Cases), count(g.Done), count(g.Waiting), count(g.Left))
			for _, q := range []measures.PublishedQuantile{g.Quarter, g.Median, g.ThreeQuarters, g.Ninth} {
				row = append(row, quantile(q)...)
			}
			row = append(row, mean(g)...)
			for _, d := range measures.ShareDays {
				row = append(row, share(g, d)...)
			}
			return add(row)
		})
	}
	return t
}

// mean is empty for a group that is named only: its zero value is no figure.
func mean(g *measures.PublishedGroup) []Value {
	if len(g.Curve) == 0 {
		return []Value{{}, {}, {}}
	}
	return []Value{figure(g.RMean.Value), figure(g.RMean.SE), figure(g.RMean.Tau)}
}

func share(g *measures.PublishedGroup, day int) []Value {
	s := g.By(day)
	switch {
	case s.Hidden:
		return []Value{Hidden, Hidden, Hidden}
	case !s.Known:
		return []Value{{}, {}, {}}
	}
	low, high := limits(s.Limits)
	return []Value{Num(s.Share.Share), low, high}
}

func curveTable(p *measures.PublishedInterval) Table {
	t := Table{Name: "curve", Columns: append(append([]Column(nil), groupColumns...),
		Column{Key: "day", Name: "Day", Meaning: "Days since the first milestone. Where small numbers are hidden, only days since the row before which enough happened.", Unit: "days", Type: isWhole},
		Column{Key: "at_risk", Name: "Still waiting before", Meaning: "Cases that wait just before the first day that the row stands for.", Type: isWhole},
		Column{Key: "done", Name: "Done", Meaning: "Since the row before.", Type: isWhole},
		Column{Key: "ended", Name: "Ended otherwise", Meaning: "Closed in a way that competes with the second milestone, since the row before.", Type: isWhole},
		Column{Key: "left", Name: "Left", Meaning: "Observed no longer without the second milestone, since the row before: still waiting on the day of the report, closed or died.", Type: isWhole},
		Column{Key: "waiting_share", Name: "Share waiting", Meaning: "Share without the second milestone after this day.", Type: isNumber, Allowed: "0 to 1"},
		Column{Key: "waiting_low", Name: "Lower limit", Meaning: "Lower 95 % limit of the share.", Type: isNumber, Allowed: "0 to 1"},
		Column{Key: "waiting_high", Name: "Upper limit", Meaning: "Upper 95 % limit of the share.", Type: isNumber, Allowed: "0 to 1"})}
	t.Rows = func(add func([]Value) error) error {
		return eachGroup(p, func(division string, g *measures.PublishedGroup) error {
			for _, x := range g.Curve {
				low, high := limits(x.Limits)
				if err := add(append(group(division, g), Int(x.Day), Int(x.AtRisk), Int(x.Events), Int(x.Ended), Int(x.Censored), Num(x.Waiting), low, high)); err != nil {
					return err
				}
			}
			return nil
		})
	}
	return t
}

func reasonsTable(p *measures.PublishedInterval) Table {
	t := Table{Name: "closings", Columns: append(append([]Column(nil), groupColumns...),
		Column{Key: "closed_as", Name: "Closed as", Meaning: "Class of closing.", Type: isText},
		Column{Key: "cases", Name: "Cases", Meaning: "Cases closed so by the day of the report.", Type: isWhole, Allowed: orHidden})}
	t.Rows = func(add func([]Value) error) error {
		return eachGroup(p, func(division string, g *measures.PublishedGroup) error {
			for _, x := range g.Reasons {
				if err := add(append(group(division, g), Text(x.As), count(x.N))); err != nil {
					return err
				}
			}
			return nil
		})
	}
	return t
}

func incidenceTable(p *measures.PublishedInterval) Table {
	t := Table{Name: "closed_shares", Columns: append(append([]Column(nil), groupColumns...),
		Column{Key: "closed_as", Name: "Closed as", Meaning: "Class of closing.", Type: isText},
		Column{Key: "day", Name: "Day", Meaning: "Days since the first milestone.", Unit: "days", Type: isWhole},
		Column{Key: "share", Name: "Share closed so", Meaning: "Share of all cases of the group closed so by this day, the other classes competing (Aalen-Johansen). Classes that are hidden have no rows.", Type: isNumber, Allowed: "0 to 1"},
		Column{Key: "se", Name: "Standard error", Meaning: "Of the share.", Type: isNumber})}
	t.Rows = func(add func([]Value) error) error {
		return eachGroup(p, func(division string, g *measures.PublishedGroup) error {
			for _, x := range g.Incidence {
				for _, s := range x.Steps {
					if err := add(append(group(division, g), Text(x.As), figure(s.Time), figure(s.Value), figure(s.SE))); err != nil {
						return err
					}
				}
			}
			return nil
		})
	}
	return t
}

// saysTable has the sentences of a report.
func saysTable(says []string) Table {
	return Table{Name: "in_words", Apart: true, Columns: []Column{{Key: "text", Name: "What the figures say", Meaning: "One sentence a row.", Type: isText}},
		Rows: func(add func([]Value) error) error {
			for _, s := range says {
				if err := add([]Value{Text(s)}); err != nil {
					return err
				}
			}
			return nil
		}}
}

// milestonesTable says what the two days of an interval are.
func milestonesTable(keys ...measures.Milestone) Table {
	return Table{Name: "definitions", Apart: true, Columns: []Column{{Key: "milestone", Name: "Milestone", Meaning: "Its name.", Type: isText}, {Key: "meaning", Name: "Meaning", Meaning: "Which day it is.", Type: isText}},
		Rows: func(add func([]Value) error) error {
			for _, m := range measures.MilestoneList() {
				for _, k := range keys {
					if m.Key != k {
						continue
					}
					if err := add([]Value{Text(m.Name), Text(m.What)}); err != nil {
						return err
					}
				}
			}
			return nil
		}}
}
