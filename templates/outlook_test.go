package templates

import (
	"strings"
	"testing"
)

func sampleOutlookInfant() OutlookInfant {
	return OutlookInfant{Who: sampleWho("KOVALENKO, Mila", "AB-2026-0109", "2026-01-19", "45 days", ""), For: "First test", From: "Thu 12 Mar 2026", Why: "2000 g are expected between 10 Mar 2026 and 15 Mar 2026: estimate, weigh on the day", Due: "16 Feb 2026", Late: Tag{"late", "17 days late"}, Href: "/infants/AB-2026-0109/book"}
}

func sampleOutlook() *OutlookPage {
	p := &OutlookPage{Base: sampleBase("Capacity outlook", "schedule"), Lead: "Who becomes ready in the next 8 weeks.", MayBook: true, Terms: []string{"This plans and books nobody."},
		Chart: WeekChart{ID: "outlook", Title: "From the week of 12 Mar on places are too few: 3 infants would still wait after 8 weeks", Description: "Bars for each of 8 weeks."}}
	all := OutlookTable{ID: "all", Name: "All test sites", State: Tag{"late", "3 too few"}, Finding: "Places are too few from the week of 12 Mar on: 3 infants would still wait after 8 weeks. Add sessions.", Sum: OutlookWeek{Ready: 15, Free: 12, Kept: 2, Waiting: 3}}
	for i, n := range []WeekBar{{"", 7, 6, 1, 1}, {"", 4, 2, 0, 3}, {"", 0, 0, 0, 3}, {"", 1, 4, 1, 0}, {"", 0, 0, 0, 0}, {"", 3, 0, 0, 3}, {"", 0, 0, 0, 3}, {"", 0, 0, 0, 3}} {
		from := DateOf("2026-03-05").AddDays(7 * i)
		n.Label = from.Short()
		p.Chart.Weeks = append(p.Chart.Weeks, n)
		w := OutlookWeek{From: from, To: from.AddDays(6), Ready: n.Ready, Free: n.Free, Kept: n.Kept, Waiting: n.Waiting}
		if n.Ready > 0 {
			w.ReadyAt = "/schedule/outlook/infants?site=&week=1&what=ready"
		}
		if n.Waiting > 0 {
			w.WaitingAt = "/schedule/outlook/infants?site=&week=1&what=waiting"
		}
		all.Weeks = append(all.Weeks, w)
	}
	one := all
	one.ID, one.Name, one.Sessions = "site-alder-bay", "Alder Bay Sweat Laboratory", Link{"/settings/sites/alder-bay/sessions/new", "Add sessions"}
	p.All, p.Sites = all, []OutlookTable{one}
	p.Nowhere = []OutlookInfant{sampleOutlookInfant()}
	return p
}

func init() {
	samples["outlook"] = func() Page { return sampleOutlook() }
	samples["outlook-none"] = func() Page {
		return &OutlookPage{Base: sampleBase("Capacity outlook", "schedule"), Chart: WeekChart{ID: "outlook", Title: "Nobody becomes ready in the next 8 weeks"}, All: OutlookTable{ID: "all", Name: "All test sites", State: Tag{Text: "Nobody waits"}}}
	}
	samples["outlook-infants"] = func() Page {
		return &OutlookInfantsPage{Base: sampleBase("Infants of a week", "schedule"), Head: "Become ready in the week of 5 Mar 2026, all test sites", Back: "/schedule/outlook", MayBook: true, Rows: []OutlookInfant{sampleOutlookInfant()}}
	}
}

func TestWeekChart(t *testing.T) {
	c := sampleOutlook().Chart
	for size, svg := range map[string]string{"wide": string(c.WideSVG()), "thin": string(c.ThinSVG())} {
		has(t, svg, []string{`role="img"`, `<title id="outlook`, "places are too few", "<desc", "Become ready", "kept for repeats", "stroke-dasharray", "<circle", `>5 Mar<`}, nil)
		if n := strings.Count(svg, `font-weight="700"`); n != 6 {
			t.Errorf("%s: %d numbers of those waiting, want 6", size, n)
		}
		if n := strings.Count(svg, "<circle"); n != 9 {
			t.Errorf("%s: %d circles, want 8 weeks and the key", size, n)
		}
	}
	c.Title = `<script>"`
	has(t, string(c.WideSVG()), []string{"&lt;script&gt;&#34;"}, []string{"<script>"})
	has(t, string(WeekChart{ID: "x", Title: "Nobody"}.WideSVG()), []string{"Nobody"}, []string{"NaN"})
}

func TestWholeStep(t *testing.T) {
	for most, want := range map[int]int{1: 1, 5: 1, 6: 2, 10: 2, 11: 5, 25: 5, 26: 10, 50: 10, 51: 20, 2000: 500} {
		if got := wholeStep(most); got != want {
			t.Errorf("up to %d in steps of %d, want %d", most, got, want)
		}
	}
}
