package intake_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// drawnSite is one site of a drawn result.
type drawnSite struct {
	side     string
	amount   int
	minutes  int
	chloride int // mmol/L; below 0 for QNS
}

func drawSites(t *rapid.T) []drawnSite {
	sides := rapid.Permutation([]string{"left", "right"}).Draw(t, "sides")
	sides = sides[:rapid.IntRange(1, 2).Draw(t, "number of sites")]
	minutes := rapid.SampledFrom([]int{25, 30, 40}).Draw(t, "minutes")
	var out []drawnSite
	for _, side := range sides {
		s := drawnSite{side: side, amount: rapid.IntRange(1, 80).Draw(t, "amount"), minutes: minutes, chloride: rapid.IntRange(-30, 160).Draw(t, "chloride")}
		if s.chloride < 0 {
			s.amount = rapid.IntRange(1, 14).Draw(t, "too little")
		}
		out = append(out, s)
	}
	return out
}

// sweatMessage writes a result about the infant of a number, in one of two shapes.
func sweatMessage(n int, control string, unit string, perSite bool, sites []drawnSite) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "MSH|^~\\&|LIS|Marlow Creek Laboratory|||20260323161500||ORU^R01|%s|P|2.5.1\r", control)
	fmt.Fprintf(&b, "PID|1||H%d^^^Marlow Creek^MR~CARD%d^^^^SNBSN||KESTREL%d^ADA||20260301|F|||||||||||||||||N\r", n, n, n)
	order := func(i int) {
		fmt.Fprintf(&b, "OBR|%d|S%d|SW%d-%d|86964003^Cystic fibrosis sweat test^SCT|||202603231330|202603231500||||||||||||||202603231600|||F\r", i+1, n, n, i)
	}
	result := func(i int, s drawnSite) {
		value, state := fmt.Sprint(s.chloride), "F"
		if s.chloride < 0 {
			value, state = "", "X"
		}
		fmt.Fprintf(&b, "OBX|%d|NM|2077-6^Chloride in Sweat^LN|%d|%s|mmol/L|<30||||%s\r", i+1, i+1, value, state)
	}
	specimen := func(i int, s drawnSite) {
		code := map[string]string{"left": "LLFA", "right": "RLFA"}[s.side]
		fmt.Fprintf(&b, "SPM|%d|||122569007^Sweat specimen^SCT||||%s||||%d^%s|||||202603231310^20260323%02d%02d\r", i+1, code, s.amount, unit, 13+(10+s.minutes)/60, (10+s.minutes)%60)
	}
	if perSite {
		for i, s := range sites {
			order(i)
			result(i, s)
			specimen(i, s)
		}
		return []byte(b.String())
	}
	order(0)
	for i, s := range sites {
		result(i, s)
	}
	for i, s := range sites {
		specimen(i, s)
	}
	return []byte(b.String())
}

// TestSweatProperties: attaching twice is attaching once; the order of the sites and
// the shape of the message change nothing; what stands on the case is what was sent;
// and the reading is the protocol's.
func TestSweatProperties(t *testing.T) {
	b := newBench(t, intake.Settings{})
	n := 0
	infant := func(nurse []drawnSite, unit string) cases.ID {
		n++
		c := cases.Case{Document: cases.DocumentName, Infant: cases.Infant{Given: "ADA", Family: fmt.Sprintf("KESTREL%d", n), Sex: "female",
			Born: cases.MakeDay(2026, 3, 1), Plurality: 1, Records: []cases.RecordNo{{Number: fmt.Sprintf("CARD%d", n), Authority: "newborn screen card"}}},
			Referral: cases.Referral{On: cases.MakeDay(2026, 3, 8), Route: "screen", Screen: &cases.Screen{CardSerial: fmt.Sprintf("CARD%d", n)}}}
		if nurse != nil {
			test := cases.SweatTest{On: march23, Collector: map[string]string{"uL": "tubing", "mg": "pad"}[unit]}
			for _, s := range nurse {
				arm := cases.Arm{Side: s.side, Minutes: float64(s.minutes), AmountUL: num(float64(s.amount))}
				if unit == "mg" {
					arm.AmountUL, arm.AmountMg = nil, arm.AmountUL
				}
				test.Arms = append(test.Arms, arm)
			}
			c.SweatTests = append(c.SweatTests, test)
		}
		c, err := cases.NewDesk(b.db, cases.DefaultProtocol()).Open(t.Context(), coordinator, c, cases.Event{Kind: "test"})
		if err != nil {
			t.Fatal(err)
		}
		return c.ID
	}
	at := func(id cases.ID) (c cases.Case) {
		b.view(func(r cases.Reader) (err error) { c, err = r.Case(id); return err })
		return c
	}
	rapid.Check(t, func(t *rapid.T) {
		sites := drawSites(t)
		other := append([]drawnSite(nil), sites...)
		if len(other) == 2 {
			other[0], other[1] = other[1], other[0]
		}
		unit := rapid.SampledFrom([]string{"uL", "mg"}).Draw(t, "unit")
		if unit == "mg" {
			for i := range sites { // 75 mg are needed where 15 µL are
				sites[i].amount *= 5
				other[len(sites)-1-i].amount *= 5
			}
		}
		var nurse []drawnSite
		if rapid.Bool().Draw(t, "the nurse recorded it") {
			nurse = sites
		}
		perSite := rapid.Bool().Draw(t, "an order for each site")

		id := infant(nurse, unit)
		it := b.receive("one", sweatMessage(n, fmt.Sprintf("A%d", n), unit, perSite, sites)).Items[0]
		if it.Outcome != "attached" {
			t.Fatalf("%s: %v", it.Outcome, it.Reasons)
		}
		c := at(id)
		if len(c.SweatTests) != 1 || len(c.SweatTests[0].Arms) != len(sites) {
			t.Fatalf("%d tests, %s", len(c.SweatTests), armsText(&c.SweatTests[0]))
		}
		for _, s := range sites {
			for _, arm := range c.SweatTests[0].Arms {
				if arm.Side == s.side && arm.Minutes != float64(s.minutes) {
					t.Fatalf("%+v became %s", s, armsText(&c.SweatTests[0]))
				}
				if arm.Side == s.side && (s.chloride < 0) != (arm.Chloride == nil) || arm.Side == s.side && s.chloride >= 0 && *arm.Chloride != float64(s.chloride) {
					t.Fatalf("%+v became %s", s, armsText(&c.SweatTests[0]))
				}
			}
		}
		again := b.receive("again", sweatMessage(n, fmt.Sprintf("B%d", n), unit, !perSite, other)).Items[0]
		if again.Outcome != "duplicate" || at(id).Rev != c.Rev {
			t.Fatalf("again: %s, revision %d then %d: %v", again.Outcome, c.Rev, at(id).Rev, again.Reasons)
		}
		twin := infant(nurse, unit)
		b.receive("permuted", sweatMessage(n, fmt.Sprintf("C%d", n), unit, !perSite, other))
		plain := func(c cases.Case) cases.SweatTest {
			s := c.SweatTests[0]
			for i := range s.Arms {
				s.Arms[i].Accession = ""
			}
			return s
		}
		if d := cmp.Diff(plain(c), plain(at(twin))); d != "" {
			t.Fatalf("another order or shape makes another test:\n%s", d)
		}
	})
}
