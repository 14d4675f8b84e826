package web

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// sweatSites is how many sides of a collection the form takes: a test has two.
const sweatSites = 2

var (
	sweatSides  = []word{{"", "Not said"}, {"left", "Left"}, {"right", "Right"}}
	sweatPlaces = []word{{"", "Not said"}, {"forearm", "Forearm"}, {"upper-leg", "Upper leg"}}
	sweatUnits  = []word{{"uL", "µL"}, {"mg", "mg"}}
)

// siteCount is how many sites the form of an item shows.
func siteCount(v *itemView) int { return max(sweatSites, len(v.rec.Referral.Sites)) }

// filledSweat is the sweat result as read, as the values of the form.
func filledSweat(r *intake.Referral) []string {
	if !r.SweatTest {
		return nil
	}
	var out []string
	if d := r.SweatDay(); d != 0 {
		out = append(out, "sweat-day", date(d).String())
	}
	for i := range r.Sites {
		x, n := &r.Sites[i], fmt.Sprintf("-%d", i+1)
		out = append(out, "side"+n, x.Side, "unit"+n, or(x.Quantity.Unit, "uL"))
		if x.Limb == "forearm" || x.Limb == "upper-leg" {
			out = append(out, "place"+n, x.Limb)
		}
		if x.Minutes > 0 {
			out = append(out, "minutes"+n, plainNumber(x.Minutes))
		}
		if q := x.Quantity.Value; q != nil {
			out = append(out, "amount"+n, plainNumber(*q))
		}
		if m := x.Chloride; m.Value != nil && m.Comparator == "" && !x.QNS {
			out = append(out, "chloride"+n, plainNumber(*m.Value))
		}
	}
	return out
}

// sweatEntry is the sweat result as read, to be corrected; nil for other items.
func sweatEntry(v *itemView, f *form) *templates.SweatEntry {
	if !isSweat(v) {
		return nil
	}
	r := &v.rec.Referral
	e := &templates.SweatEntry{Day: f.field(templates.Field{ID: "sweat-day", Label: "Day of collection", Hint: "Like 5 Mar 2026", Width: "w14"})}
	for i := range siteCount(v) {
		n := fmt.Sprintf("-%d", i+1)
		site := templates.SweatSite{Head: fmt.Sprintf("Site %d", i+1), As: "nothing; leave it empty when there was no such site"}
		if i < len(r.Sites) {
			site.As = siteWords(&r.Sites[i])
		}
		site.Side = f.group(templates.Choice{ID: "side" + n, Legend: "Side", Options: optionsOf(sweatSides)})
		site.Place = f.group(templates.Choice{ID: "place" + n, Legend: "Place", Options: optionsOf(sweatPlaces)})
		site.Minutes = f.field(templates.Field{ID: "minutes" + n, Label: "Minutes collected", Width: "w5", InputMode: "decimal"})
		site.Amount = f.field(templates.Field{ID: "amount" + n, Label: "Amount of sweat", Width: "w5", InputMode: "decimal"})
		site.Unit = f.group(templates.Choice{ID: "unit" + n, Legend: "Unit of the amount", Options: optionsOf(sweatUnits)})
		site.Chloride = f.field(templates.Field{ID: "chloride" + n, Label: "Chloride", Unit: "mmol/L", Hint: "Empty: not enough sweat (QNS)", Width: "w5", InputMode: "decimal"})
		e.Sites = append(e.Sites, site)
	}
	return e
}

// siteWords is one site as it was sent.
func siteWords(x *intake.Site) string {
	chloride := strings.TrimSpace(x.Chloride.Comparator + strings.TrimPrefix(x.Chloride.Text, x.Chloride.Comparator) + " " + x.Chloride.Unit)
	if x.QNS {
		chloride = strings.TrimSuffix("QNS, "+chloride, ", ")
	}
	minutes := ""
	if x.Minutes > 0 {
		minutes = templates.Count(int(x.Minutes), "minute", "minutes")
	}
	var out []string
	for _, t := range []string{or(x.Place, x.Side), x.Amount, minutes, momentWords(x.Began), chloride, x.Reads} {
		if t = strings.TrimSpace(t); t != "" {
			out = append(out, shown(t))
		}
	}
	return or(strings.Join(out, "; "), "nothing")
}

// typedSite is one site as a person left it.
type typedSite struct {
	side, place, unit string
	minutes           float64
	amount, chloride  *float64
}

// readSweat reads the corrected sweat result and gives the change of what was read. A
// site that was not touched stays as it was sent, with all that makes it doubtful.
func readSweat(v *itemView, f *form) func(*intake.Referral) {
	was := map[string]string{}
	for list := filledSweat(&v.rec.Referral); len(list) > 1; list = list[2:] {
		was[list[0]] = list[1]
	}
	day := f.needDay("sweat-day", "Day of collection")
	if day > f.today {
		f.fail("sweat-day", "Day of collection must be today or in the past")
	}
	typed := map[int]typedSite{}
	for i := range siteCount(v) {
		n := fmt.Sprintf("-%d", i+1)
		touched, empty := false, true
		for _, name := range []string{"side", "place", "minutes", "amount", "unit", "chloride"} {
			now := strings.TrimSpace(f.typed(name + n))
			touched = touched || now != was[name+n] && !(name == "unit" && was[name+n] == "")
			empty = empty && (now == "" || name == "unit")
		}
		if touched && !(empty && i >= len(v.rec.Referral.Sites)) {
			typed[i] = f.readSite(n, i+1)
		}
	}
	return func(r *intake.Referral) {
		if day != r.SweatDay() {
			r.EnterSweatDay(day)
		}
		for i := range siteCount(v) {
			t, ok := typed[i]
			if !ok {
				continue
			}
			if i >= len(r.Sites) {
				r.Sites = append(r.Sites, intake.Site{Began: dayMoment(day)})
			}
			r.Sites[min(i, len(r.Sites)-1)].Enter(t.side, t.place, t.minutes, t.amount, t.unit, t.chloride)
		}
	}
}

func dayMoment(d cases.Day) intake.Moment {
	return intake.Moment{Text: d.String(), Day: d, Precision: "day"}
}

// readSite reads one site of the form.
func (f *form) readSite(n string, number int) (t typedSite) {
	label := func(what string) string { return fmt.Sprintf("Site %d: %s", number, what) }
	t.side = f.pick("side"+n, label("select left or right"), "left", "right")
	t.place = f.pick("place"+n, "", "forearm", "upper-leg")
	t.unit = f.pick("unit"+n, label("select the unit"), valuesOf(sweatUnits)...)
	var ok bool
	if t.minutes, ok = f.number("minutes"+n, label("minutes")); (!ok || t.minutes <= 0 || t.minutes > 120) && f.errs["minutes"+n] == "" {
		f.fail("minutes"+n, "%s", label("minutes must be a number above 0, like 30"))
	}
	number0 := func(name, what string) *float64 {
		if x, ok := f.number(name+n, label(what)); ok {
			return &x
		}
		return nil
	}
	t.amount, t.chloride = number0("amount", "amount"), number0("chloride", "chloride")
	if t.chloride != nil && t.amount == nil && f.errs["amount"+n] == "" {
		f.fail("amount"+n, "%s", label("enter the amount of sweat; a value can be read only with it"))
	}
	return t
}

var sitePath = regexp.MustCompile(`^sites\[(\d+)\]\.(\w+)$`)

// sweatField gives the field of the form for a path of the sweat result.
func sweatField(path string) string {
	if path == "collected" {
		return "sweat-day"
	}
	m := sitePath.FindStringSubmatch(path)
	if m == nil {
		return ""
	}
	i, _ := strconv.Atoi(m[1])
	name := map[string]string{"quantity": "amount", "status": "chloride"}[m[2]]
	return fmt.Sprintf("%s-%d", or(name, m[2]), i+1)
}
