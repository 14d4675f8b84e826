package web_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/server/web"

	"github.com/chromedp/chromedp"
)

// The reading while a test is typed is the server's: a few thousand made-up forms,
// for several protocols, give the same outcome, deciding value and flags in the
// page's script as in the server, or are called incomplete by both.
func TestTheLiveReadingIsTheServers(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	b := &tab{t, browser(t), s.url}
	b.signIn("dagny")
	b.do(chromedp.Navigate(s.url + "/infants/" + k.Reference + "/tests/new"))
	script, err := os.ReadFile("../../templates/static/sweattest.js")
	if err != nil {
		t.Fatal(err)
	}
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 7, 15, 10, 0, 0, 0, zone)
	seen := map[string]int{}
	for n, v := range liveVariants() {
		p := cases.DefaultProtocol()
		v.change(p)
		l := web.NewLiveReader(p, now, liveCase(t, p, v.verified, cases.DayOf(now)), v.index())
		g := &formMaker{rand.New(rand.NewPCG(20260715, uint64(n))), p}
		var sent []map[string]string
		var days []cases.Day
		for range 500 {
			f, on := g.form()
			sent, days = append(sent, f), append(days, on)
		}
		protocol, facts := l.Attributes()
		got := b.live(protocol, facts, string(script), sent)
		for i, f := range sent {
			values := url.Values{}
			for name, value := range f {
				values.Set(name, value)
			}
			want := l.Read(values)
			if l.Shifted(days[i]) && f["left-began"]+f["right-began"] != "" {
				want = web.LiveSays{} // left to the server
			}
			if got[i].Outcome != want.Outcome || got[i].Deciding != want.Deciding || got[i].Flags != want.Flags {
				t.Errorf("%s: %v\nscript: %+v\nserver: %+v", v.name, f, got[i], want)
			}
			if want.Outcome == "" {
				seen["asked for more"]++
				continue
			}
			seen[want.Outcome]++
			for _, flag := range strings.Fields(want.Flags) {
				seen["flag "+flag]++
			}
			if word := cases.Outcome(want.Outcome).Word(); !endsWith(got[i].Head, word) {
				t.Errorf("%s: the script says %q of %s", v.name, got[i].Head, word)
			}
		}
	}
	for _, o := range []string{"unlikely", "intermediate", "consistent-with-cf", "qns", "arms-disagree", "unverified", "not-resulted", "screening-only", "void", "asked for more",
		"flag one-arm", "flag straddle", "flag arms-apart", "flag collection-long", "flag one-arm-short"} {
		if seen[o] < 20 {
			t.Errorf("only %d forms with %s", seen[o], o)
		}
	}
	t.Logf("forms by what they say: %v", seen)
}

func endsWith(text, end string) bool {
	return len(text) >= len(end) && text[len(text)-len(end):] == end
}

type liveSays struct{ Outcome, Deciding, Flags, Head string }

// live fills each form into the page and gives what the script makes of it. The form
// is copied first, so that the script of the round before no longer listens.
func (b *tab) live(protocol, facts, script string, sent []map[string]string) []liveSays {
	b.t.Helper()
	arg := func(v any) string {
		data, err := json.Marshal(v)
		if err != nil {
			b.t.Fatal(err)
		}
		return string(data)
	}
	b.js(fmt.Sprintf(`(() => { const f = document.querySelector("#test-form"), c = f.cloneNode(true); c.dataset.protocol = %s; c.dataset.facts = %s; f.replaceWith(c); })()`, arg(protocol), arg(facts)))
	b.js("(() => {" + script + "})()")
	text := b.js(fmt.Sprintf(`JSON.stringify(%s.map(v => {
		const f = document.querySelector("#test-form"), box = document.querySelector("#reading");
		for (const i of f.querySelectorAll("input[type=text]")) { i.value = v[i.name] || ""; }
		for (const i of f.querySelectorAll("input[type=radio]")) { i.checked = v[i.name] === i.value; }
		f.dispatchEvent(new Event("input", {bubbles: true}));
		return {Outcome: box.dataset.outcome, Deciding: box.dataset.deciding, Flags: box.dataset.flags, Head: document.querySelector("#reading-head").textContent};
	}))`, arg(sent)))
	var out []liveSays
	if err := json.Unmarshal([]byte(text), &out); err != nil || len(out) != len(sent) {
		b.t.Fatalf("%d answers to %d forms: %v", len(out), len(sent), err)
	}
	return out
}

// liveVariant is one protocol, and what a person said of the test that is changed.
type liveVariant struct {
	name, verified string
	change         func(*cases.Protocol)
}

func (v liveVariant) index() int {
	if v.verified != "" {
		return 0
	}
	return -1
}

func liveVariants() []liveVariant {
	same := func(*cases.Protocol) {}
	return []liveVariant{
		{"default", "", same},
		{"default, stands", "stands", same},
		{"default, void", "void", same},
		{"strictly above, scaled down", "", func(p *cases.Protocol) { p.CFStrictlyAbove, p.AmountScalesDown = true, true }},
		{"age split", "", func(p *cases.Protocol) { n := 180; p.OlderFromDays = &n }},
		{"18 µL, 25 minutes, one arm will do", "", func(p *cases.Protocol) {
			p.MinAmountUL, p.AmountBaseMin, p.MaxCollectionMin, p.RequireBothArms, p.ImplausibleAbove = 18, 25, 25, false, 150
		}},
		{"other limits", "", func(p *cases.Protocol) {
			p.IntermediateFrom, p.CFFrom, p.AgreeWithinLow, p.AgreeWithinHigh, p.AgreeSplitAt = 40, 59.5, 5, 20, 50
		}},
	}
}

// liveCase is an infant with a test on file where one was verified.
func liveCase(t *testing.T, p *cases.Protocol, verified string, today cases.Day) cases.Case {
	t.Helper()
	test := ""
	if verified != "" {
		test = `,"sweat_tests":[{"on":"2025-10-20","collector":"tubing","arms":[{"side":"left","minutes":30,"amount_ul":20,"chloride":22}],"verified":{"on":"2026-07-15","by":"Dr. H. Lindqvist","as":"` + verified + `"}}]`
	}
	c, err := cases.ParseCase([]byte(`{"document":"dunlin-case/1","infant":{"born":"2025-10-01"},"referral":{"on":"2025-10-06","route":"screen"}`+test+`}`), today, p)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// formMaker makes up forms around the limits, with slips of typing among them.
type formMaker struct {
	*rand.Rand
	p *cases.Protocol
}

func (g *formMaker) of(list ...string) string { return list[g.IntN(len(list))] }

func (g *formMaker) form() (map[string]string, cases.Day) {
	f := map[string]string{"collector": "tubing", "analyte": "chloride"}
	if g.IntN(3) == 0 {
		f["collector"] = "pad"
	}
	if g.IntN(40) == 0 {
		f["collector"] = ""
	}
	if g.IntN(12) == 0 {
		f["analyte"] = "conductivity"
	}
	on := cases.MakeDay(2025, 10, 12) + cases.Day(g.IntN(275))
	y, m, d := on.Date()
	f["on"] = g.of(on.String(), fmt.Sprintf("%d %s %d", d, time.Month(m).String()[:3], y), fmt.Sprintf("%d %s %d", d, time.Month(m), y))
	if g.IntN(15) == 0 {
		on, f["on"] = cases.MakeDay(2026, 7, 15), "today"
	}
	middle := []float64{g.p.IntermediateFrom, g.p.CFFrom, 20, 45, 80, 158, 42}[g.IntN(7)]
	for _, side := range []string{"left", "right"} {
		if g.IntN(8) > 0 {
			g.arm(f, side, middle)
		}
	}
	return f, on
}

func (g *formMaker) arm(f map[string]string, side string, middle float64) {
	minutes := []int{30, 30, 30, 30, 30, 30, 25, 25, 20, 31, 40, 60, 15, 120}[g.IntN(14)]
	if g.IntN(50) == 0 {
		minutes = 121
	}
	from := 9*60 + g.IntN(60)
	if g.IntN(20) == 0 {
		from = 23*60 + 30 + g.IntN(30)
	}
	clock := func(m int) string {
		m %= 24 * 60
		return fmt.Sprintf(g.of("%02d:%02d", "%d:%02d", "%02d.%02d", "%02d%02d"), m/60, m%60)
	}
	switch g.IntN(5) {
	case 0:
		f[side+"-minutes"] = g.slip(fmt.Sprint(minutes))
	case 1:
		f[side+"-minutes"] = fmt.Sprint(minutes + max(0, g.IntN(16)-14))
		fallthrough
	default:
		f[side+"-began"], f[side+"-ended"] = g.slip(clock(from)), g.slip(clock(from+minutes))
	}
	if g.IntN(3) == 0 {
		f[side+"-induced"] = clock(from - 8 + max(0, g.IntN(40)-30))
	}
	least, unit := g.p.MinAmountUL, g.of("", "", "", "", " µL", "µl", "ul")
	if f["collector"] == "pad" {
		least, unit = g.p.MinAmountMg, g.of("", "", "", "", " mg", "mg", "MG")
	}
	if g.IntN(40) == 0 {
		unit = g.of(" mg", " µL", " g")
	}
	need := least
	if float64(minutes) > g.p.AmountBaseMin {
		need = least * float64(minutes) / g.p.AmountBaseMin
	}
	amount := []float64{need, need - 0.1, need + 0.1, need + 8, need + 20, need + 5, need + 3, need, least, 0, need * 0.7, 1000}[g.IntN(12)]
	if g.IntN(60) == 0 {
		amount = 1000.5
	}
	f[side+"-amount"] = g.slip(g.decimal(amount)) + unit
	if f["analyte"] == "conductivity" && g.IntN(6) > 0 {
		f[side+"-conductivity"] = g.decimal(middle)
		return
	}
	if g.IntN(10) == 0 {
		return // no value yet
	}
	v := g.slip(g.decimal(max(0, middle+[]float64{0, -0.1, 0.1, 5, -5, 9.9, 10, 10.1, -10, 15, -15.1, 30, -30, 300}[g.IntN(14)])))
	f[side+"-chloride"], f[side+"-again"] = v, v
	if g.IntN(25) == 0 {
		f[side+"-again"] = g.of("", "7", v+"0")
	}
	if g.IntN(60) == 0 {
		f[side+"-conductivity"] = "40"
	}
}

func (g *formMaker) decimal(v float64) string {
	text := fmt.Sprint(float64(int(v*10+0.5)) / 10)
	if g.IntN(6) == 0 {
		for i := range text {
			if text[i] == '.' {
				return text[:i] + "," + text[i+1:]
			}
		}
	}
	return text
}

// slip spoils a typed value now and then.
func (g *formMaker) slip(v string) string {
	switch g.IntN(120) {
	case 0:
		return v + "x"
	case 1:
		return ""
	case 2:
		return "-" + v
	case 3, 4, 5:
		return " " + v + " "
	}
	return v
}
