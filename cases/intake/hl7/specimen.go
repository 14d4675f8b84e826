package hl7

import (
	"regexp"
	"strconv"
	"strings"

	"dunlin/cases/intake"
)

// sites maps codes of table 0163 (body site) to the side and the place. LLFA RLFA
// LUA RUA LT RT were seen in a machine-readable dictionary of version 2.5.1; the
// others are from memory.
var sites = map[string][2]string{
	"LLFA": {"left", "forearm"}, "RLFA": {"right", "forearm"}, "LMFA": {"left", "forearm"}, "RMFA": {"right", "forearm"},
	"LUFA": {"left", "forearm"}, "RUFA": {"right", "forearm"}, "LA": {"left", "forearm"}, "RA": {"right", "forearm"},
	"LUA": {"left", "other"}, "RUA": {"right", "other"},
	"LT": {"left", "upper-leg"}, "RT": {"right", "upper-leg"},
}

// places are words for where sweat was collected, the first that fits. A test is
// read from the lower arm or the upper leg only, never from head or trunk.
var places = []struct{ word, limb string }{
	{"upper arm", "other"}, {"deltoid", "other"}, {"hand", "other"}, {"wrist", "other"}, {"finger", "other"},
	{"lower leg", "other"}, {"calf", "other"}, {"foot", "other"}, {"ankle", "other"}, {"back", "other"}, {"chest", "other"},
	{"abdomen", "other"}, {"trunk", "other"}, {"head", "other"}, {"neck", "other"}, {"scalp", "other"}, {"shoulder", "other"},
	{"forearm", "forearm"}, {"arm", "forearm"}, {"thigh", "upper-leg"}, {"upper leg", "upper-leg"}, {"leg", "upper-leg"},
}

// sideOf reads the side and the place of a collection from its code, else from its
// words.
func sideOf(code, words string) (side, limb string) {
	if s, ok := sites[strings.ToUpper(code)]; ok {
		return s[0], s[1]
	}
	low := strings.ToLower(words)
	for _, p := range places {
		if hasWord(low, p.word) {
			limb = p.limb
			break
		}
	}
	return sideIn(low), limb
}

// sideIn finds the side in words of lower case. A side that is said in two ways is none.
func sideIn(low string) string {
	l := hasWord(low, "left") || hasWord(low, "lt")
	r := hasWord(low, "right") || hasWord(low, "rt")
	switch {
	case l && !r:
		return "left"
	case r && !l:
		return "right"
	}
	return ""
}

// hasWord finds a word that no other letter or digit touches.
func hasWord(s, word string) bool {
	for from := 0; ; {
		i := strings.Index(s[from:], word)
		if i < 0 {
			return false
		}
		i += from
		end := i + len(word)
		if (i == 0 || !alnum(s[i-1])) && (end == len(s) || !alnum(s[end])) {
			return true
		}
		from = end
	}
}

// placed sets where sweat was collected, as sent and as read.
func (rd *reading) placed(site *intake.Site, code, words string) {
	if code == "" && words == "" {
		return
	}
	side, limb := sideOf(code, strings.TrimSpace(code+" "+words))
	if site.Place = words; words == "" {
		site.Place = code
	}
	if side != "" {
		site.Side = side
	}
	if limb != "" {
		site.Limb = limb
	}
}

// amount sets how much sweat was collected: a volume in µL or a weight in mg. No
// other unit is converted.
func (rd *reading) amount(site *intake.Site, m intake.Measure) {
	if m.Text == "" {
		return
	}
	site.Amount = strings.TrimSpace(m.Text + " " + m.Unit)
	switch strings.ToLower(strings.ReplaceAll(m.Unit, " ", "")) {
	case "ul", "µl", "μl", "mcl", "microliter", "microliters", "microlitre":
		m.Unit = "uL"
	case "mg", "milligram", "milligrams":
		m.Unit = "mg"
	default:
		m.Value, m.Doubt = nil, "is not in µL or mg"
	}
	site.Quantity = m
}

// quantity reads an amount with its unit (CQ); some write both as one text.
func quantity(v Value) intake.Measure {
	m := intake.Measure{Text: v.Comp(1).Text(), Unit: v.Comp(2).Sub(1).Text(), At: v.At()}
	return withUnit(m)
}

var unitBehind = regexp.MustCompile(`^([<>]?=?\s*[\d.]+)\s*([a-zA-Zµμ]+)$`)

// withUnit reads the number of an amount, and takes a unit written behind it.
func withUnit(m intake.Measure) intake.Measure {
	if g := unitBehind.FindStringSubmatch(m.Text); g != nil && m.Unit == "" {
		m.Text, m.Unit = g[1], g[2]
	}
	if m.Text != "" {
		m.Value, m.Doubt = nil, ""
		var num string
		m.Comparator, num = intake.Comparator(m.Text)
		m.SetNumber(num)
	}
	return m
}

// sweatSpecimen completes the site of the order above: the first specimen is that of
// its first site, and so on, unless the side says otherwise.
func (rd *reading) sweatSpecimen(s *Segment) {
	r := rd.r
	if rd.site < 0 {
		rd.first, rd.subs = len(r.Sites), rd.subs[:0]
		rd.newSite()
	}
	code, words := s.First(8).Comp(1).Text(), s.First(8).Comp(2).Text()
	more := strings.TrimSpace(s.First(9).Comp(1).Text() + " " + s.First(9).Comp(2).Text())
	side, _ := sideOf(code, words+" "+more)
	at := rd.first + rd.specimens
	rd.specimens++
	for i := rd.first; side != "" && i < len(r.Sites); i++ {
		if r.Sites[i].Side == side {
			at = i
		}
	}
	if at >= len(r.Sites) {
		rd.newSite()
		at = len(r.Sites) - 1
	}
	rd.site = at
	site := &r.Sites[at]
	rd.placed(site, code, words)
	if site.Side == "" {
		site.Side = side
	}
	if m := quantity(s.First(12)); m.Text != "" {
		if o := site.Quantity; o.At.Segment == "OBX" && o.Text != m.Text {
			rd.problem(s.Field(12), intake.Fault, "The specimen gives "+m.Text+" as the amount of sweat, and a result gives "+o.Text+". Ask the laboratory which is right.")
		}
		rd.amount(site, m)
	}
	if b := Time(s.First(17)); b.Day != 0 {
		site.Began = b
		if e := Time(s.First(17).Comp(2)); minutesBetween(b, e) >= 1 { // many send the start twice
			site.Ended = e
		}
	}
	for _, f := range []int{21, 24} {
		if strings.EqualFold(s.First(f).Comp(1).Text(), "QS") || saysQNS(s.First(f).Comp(2).Text()) {
			site.QNS = true
		}
	}
}

// minutesLine reads the minutes of collection that are sent as a result.
func (rd *reading) minutesLine(s *Segment, name string) {
	m := Measured(s.Field(2).Text(), s.First(5))
	switch strings.ToLower(s.First(6).Comp(1).Text()) {
	case "min", "mins", "minute", "minutes", "":
	default:
		m.Value = nil
	}
	if m.Value == nil || m.Comparator != "" || *m.Value < 1 || *m.Value > longest {
		rd.r.Comments = append(rd.r.Comments, name+": "+text(s.Field(5)))
		return
	}
	site := rd.siteOf(s, name, func(o *intake.Site) bool { return o.Minutes != 0 })
	site.Minutes = *m.Value
}

// longest is the longest collection in minutes that the case document takes; a
// longer span is not that of the collection.
const longest = 120

// spans gives each site the minutes between the beginning and the end of its
// collection, where both have a time of day.
func (rd *reading) spans() {
	for i := range rd.r.Sites {
		s := &rd.r.Sites[i]
		if n := minutesBetween(s.Began, s.Ended); s.Minutes == 0 && n >= 1 && n <= longest {
			s.Minutes = n
		} else if n < 1 || n > longest {
			s.Ended = intake.Moment{}
		}
	}
}

func minutesBetween(a, b intake.Moment) float64 {
	if a.Clock == "" || b.Clock == "" {
		return 0
	}
	n := int(b.Day-a.Day)*24*60 + clockMinutes(string(b.Clock)) - clockMinutes(string(a.Clock))
	if a.Offset != "" && b.Offset != "" {
		n -= offsetMinutes(b.Offset) - offsetMinutes(a.Offset)
	}
	return float64(n)
}

func clockMinutes(c string) int {
	h, _ := strconv.Atoi(c[:2])
	m, _ := strconv.Atoi(c[3:])
	return h*60 + m
}

// offsetMinutes reads +hhmm or -hhmm.
func offsetMinutes(o string) int {
	h, _ := strconv.Atoi(o[1:3])
	m, _ := strconv.Atoi(o[3:])
	if o[0] == '-' {
		return -h*60 - m
	}
	return h*60 + m
}

func saysQNS(s string) bool {
	s = strings.ToLower(s)
	return s == "qns" || strings.Contains(s, "quantity not sufficient") || strings.Contains(s, "insufficient")
}
