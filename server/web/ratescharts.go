package web

import (
	"fmt"
	"strings"

	"dunlin/cases/measures"
	"dunlin/templates"
)

// funnel draws the sites whose counts are shown about the benchmark.
func (x *ratesView) funnel(b measures.PublishedBreakdown, main measures.PublishedRate) templates.FunnelFigure {
	fig := templates.FunnelFigure{Note: "No site has enough tests whose number can be shown, so nothing is drawn."}
	c := templates.Funnel{ID: "funnel", Title: "QNS by size of site", Axis: "Infants tested at the site"}
	if x.q.measure != measures.QNSFirstYoung {
		c.Axis = "Collections at the site"
	}
	if main.Benchmark != nil {
		c.Center, c.CenterLabel = *main.Benchmark, "Benchmark "+templates.Percent(*main.Benchmark)
	}
	most := 0
	drawn := map[string]bool{}
	for _, p := range b.Funnel {
		if p.Funnel == nil {
			continue
		}
		out := p.Place == measures.FunnelAlert || p.Place == measures.FunnelAlarm || p.Place == measures.FunnelBelow
		c.Marks = append(c.Marks, templates.FunnelMark{Name: x.groupName("site", p.Name), Of: p.Of, Rate: *p.Rate, Out: out})
		most, drawn[p.Name] = max(most, p.Of), true
	}
	for n := measures.FunnelLeast; len(c.Marks) > 0 && n <= max(20, most+most/10); n = n + max(1, n/25) {
		f := measures.FunnelAt(c.Center, n)
		c.Limits = append(c.Limits, templates.FunnelLimit{Of: n, Low95: f.Alert.Lower, High95: f.Alert.Upper, Low998: f.Alarm.Lower, High998: f.Alarm.Upper})
	}
	var left []string
	for _, r := range b.Rows {
		if !drawn[r.Name] {
			left = append(left, x.groupName("site", r.Name))
		}
	}
	if len(left) > 0 {
		fig.Left = fmt.Sprintf("Not drawn, with fewer than %d or a hidden count: %s.", measures.FunnelLeast, strings.Join(left, ", "))
	}
	high, low := x.outside(b.Funnel, measures.FunnelAlert, measures.FunnelAlarm), x.outside(b.Funnel, measures.FunnelBelow)
	switch {
	case len(c.Marks) == 0:
	case len(high) > 0:
		c.Title = isAre(high, "above") + " the limits for QNS"
	case len(low) > 0:
		c.Title = isAre(low, "below") + " the limits for QNS"
	default:
		c.Title = "No site is outside of the limits for QNS"
	}
	c.Description = fmt.Sprintf("%s by QNS rate and number tested, between limits about the benchmark. %s. The table below has the numbers.", templates.Count(len(c.Marks), "site", "sites"), c.Title)
	fig.Lead = definitionName(x.q.measure) + ". Solid lines: 95% limits about the benchmark; dashed: 99.8%. Circle: inside the limits; diamond: outside."
	if alert, alarm := measures.FalseFlags(c.Center, b.Funnel); len(c.Marks) > 0 {
		fig.Lead += fmt.Sprintf(" With all sites at the benchmark, chance puts at least one above the 95%% limit %s, above the 99.8%% limit %s.", times(alert), times(alarm))
	}
	fig.Chart = c
	return fig
}

// mostQuarters is how many quarters the chart of ages draws, the latest ones.
const mostQuarters = 8

// leastForBox is the number tested from which the middle half is drawn.
const leastForBox = 10

// agesFigure draws the ages at the first test by quarter of birth. The box is that of
// all infants, those not yet tested counted.
func (s *server) agesFigure(quarters []measures.QuarterAges) *templates.AgesFigure {
	p := s.protocol()
	fig := &templates.AgesFigure{Lead: "One dot for each infant, where single infants may be shown. Box: middle half; thick line: median; both count infants not tested yet (Kaplan-Meier). Shaded: the days in which the first test is wanted."}
	c := templates.AgesChart{ID: "ages", Title: "Ages at the first test", Axis: "Age at first test, days", Mark: p.FirstTestByDays, WindowFrom: p.MinAgeDays}
	var medians []string
	for _, q := range quarters[max(0, len(quarters)-mostQuarters):] {
		name := measures.QuarterWords(q.From)
		n := templates.AgesNumbers{Quarter: name, Tested: cellText(q.Tested), Untested: cellText(q.Untested), Median: "Hidden", Middle: "Hidden"}
		row := templates.AgesRow{Name: name}
		if !q.Tested.Hidden {
			n.Median, n.Middle = daysText(q.Median.Day), middleDays(q.Quarter.Day, q.ThreeQuarters.Day)
			for _, a := range q.Ages {
				row.Dots = append(row.Dots, templates.AgeDots{Age: a.Age, N: a.N})
			}
			if q.Tested.N >= leastForBox {
				row.Quarter, row.Median, row.ThreeQuarter = q.Quarter.Day, q.Median.Day, q.ThreeQuarters.Day
				if q.Median.Day != nil {
					medians = append(medians, fmt.Sprintf("%s for those born %s", daysText(q.Median.Day), name))
				}
			}
		}
		fig.Rows = append(fig.Rows, n)
		if row.Dots != nil || row.Quarter != nil {
			c.Rows = append(c.Rows, row)
		}
	}
	switch len(medians) {
	case 0:
	case 1:
		c.Title = "Median age at first test: " + medians[0]
	default:
		c.Title = "Median age at first test: " + medians[0] + ", " + medians[len(medians)-1]
	}
	c.Description = fmt.Sprintf("A row for each of %s of births, against age in days. %s. The table below has the numbers.", templates.Count(len(c.Rows), "quarter", "quarters"), c.Title)
	fig.Chart = c
	return fig
}

func middleDays(quarter, threeQuarters *float64) string {
	if quarter == nil {
		return "Not reached"
	}
	return measures.Days(quarter) + " to " + measures.Days(threeQuarters) + " days"
}
