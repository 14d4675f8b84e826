package intake_test

import (
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

func num(v float64) *float64 { return &v }

var march23 = cases.MakeDay(2026, 3, 23)

// bedside is what a nurse records at the collection: no value yet.
func bedside(left, right float64) func(c *cases.Case) {
	return func(c *cases.Case) {
		c.Bookings = append(c.Bookings, cases.Booking{On: march23, At: "13:00", Site: "alder-bay", State: "booked"})
		c.SweatTests = append(c.SweatTests, cases.SweatTest{On: march23, At: "13:20", Collector: "tubing", By: "Nora Wren", Arms: []cases.Arm{
			{Side: "left", Minutes: 30, AmountUL: num(left), Reaction: "redness"}, {Side: "right", Minutes: 30, AmountUL: num(right)}}})
	}
}

func booked(state string) func(c *cases.Case) {
	return func(c *cases.Case) {
		b := cases.Booking{On: march23, At: "13:00", Site: "alder-bay", State: state}
		if state != "booked" {
			b.Changed = march23
		}
		c.Bookings = append(c.Bookings, b)
	}
}

func closed(c *cases.Case) {
	c.Genotype = nil
	c.Closures = append(c.Closures, cases.Closure{On: march23 - 1, As: "other-diagnosis", By: "A", AgreedBy: "B", AgreedOn: march23 - 1, Reason: "seen elsewhere"})
}

// spans of the made-up messages, to be changed.
const (
	orderTimes = "|20260323133000-0500|20260323140000-0500|"
	specTimes  = "|20260323133000-0500^20260323140000-0500|"
	leftValue  = "||14|mmol/L^millimole per liter^UCUM|<30|N|||F|"
	rightValue = "||16|mmol/L^millimole per liter^UCUM|<30|N|||F|"
	leftArm    = "LLFA^Left Lower Forearm^HL70163"
	rightArm   = "RLFA^Right Lower Forearm^HL70163"
)

// TestSweatRules: each rule of attaching with the reason that a person reads. The
// rules are those of the exchange page of this project (sections 1.6, 8.2, 9) and of
// its fault model.
func TestSweatRules(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(c *cases.Case)
		file   string
		pairs  []string
		want   string // outcome, and "top"
		says   string // part of the reasons
		arms   string // of the test afterwards; "" for no test
	}{
		{"fills what the nurse recorded", bedside(42, 38), normal, nil, "attached", "left 14 mmol/L, right 16 mmol/L", "left 42uL 30min 14, right 38uL 30min 16"},
		{"amounts differ by rounding", bedside(42.4, 38), normal, nil, "attached", "CF unlikely", "left 42.4uL 30min 14, right 38uL 30min 16"},
		{"amounts differ", bedside(24, 38), normal, nil, "review", "24 µL is on file for the left side, and the message says 42 uL", "left 24uL 30min none, right 38uL 30min none"},
		{"minutes differ, and nothing hangs on them", bedside(42, 38), normal, []string{"140000-0500|2026", "140500-0500|2026", orderTimes, "|20260323133000-0500||"}, "attached", "35 minutes in the message, 30 on file", "left 42uL 30min 14, right 38uL 30min 16"},
		{"minutes decide whether it was enough", bedside(16, 38), normal, []string{"|42^uL", "|16^uL", "140000-0500|2026", "140500-0500|2026", orderTimes, "|20260323133000-0500||"}, "review", "enough for only one of them", "left 16uL 30min none, right 38uL 30min none"},
		{"the nurse's arms have side, minutes and amount", bedside(42, 38), normal, []string{orderTimes, "|20260323133000-0500||", specTimes, "||", "|42^uL&microliter&UCUM", "|", "|38^uL&microliter&UCUM", "|"}, "attached", "", "left 42uL 30min 14, right 38uL 30min 16"},
		{"no minutes anywhere", nil, normal, []string{orderTimes, "|20260323133000-0500||", specTimes, "||"}, "review", "how many minutes sweat was collected on the left side", ""},
		{"no side", nil, normal, []string{leftArm, ""}, "review", "does not say on which side", ""},
		{"no amount", nil, normal, []string{"|42^uL&microliter&UCUM", "|"}, "review", "how much sweat was collected on the left side", ""},
		{"an amount in another unit", nil, normal, []string{"|42^uL&microliter&UCUM", "|0.042^mL"}, "review", `the amount "0.042 mL" is not a number of µL or mg`, ""},
		{"a volume and a weight", nil, normal, []string{"|42^uL&microliter&UCUM", "|42^mg"}, "review", "one amount is a volume and another a weight", ""},
		{"two of one side", nil, normal, []string{rightArm, leftArm}, "review", "sites are never pooled", ""},
		{"the upper arm", nil, normal, []string{leftArm, "LUA^Left Upper Arm^HL70163"}, "review", "forearm or the upper leg", ""},
		{"the thighs", nil, normal, []string{leftArm, "LT^Left Thigh^HL70163", rightArm, "RT^Right Thigh^HL70163"}, "attached", "", "left 42uL 30min 14, right 38uL 30min 16"},
		{"a comparator", nil, asText, nil, "review", "only said to be < 10 mmol/L", ""},
		{"a screening method", nil, normal, []string{"2077-6^Chloride [Moles/volume] in Sweat^LN", "56448-4^Chloride in Sweat by Screen method^LN"}, "review", "screening method", ""},
		{"meq/L is the same number", nil, normal, []string{"mmol/L^millimole per liter^UCUM", "mEq/L^^UCUM"}, "attached", "", "left 42uL 30min 14, right 38uL 30min 16"},
		{"not plausible", nil, normal, []string{leftValue, strings.Replace(leftValue, "14", "170", 1)}, "review", "170 mmol/L is not plausible", ""},
		{"preliminary", nil, normal, []string{"|N|||F|", "|N|||P|"}, "review", "preliminary. More is to come", ""},
		{"no state", nil, normal, []string{"|N|||F|", "|N||||", "160000-0500|||F", "160000-0500|||"}, "review", "no state", ""},
		{"taken back, nothing on file", nil, normal, []string{"|N|||F|", "|N|||D|"}, "review", "took back a result", ""},
		{"taken back, a test on file", bedside(42, 38), normal, []string{"|N|||F|", "|N|||D|"}, "review top", "A value on file may be wrong", "left 42uL 30min none, right 38uL 30min none"},
		{"of another patient", nil, normal, []string{"|N|||F|", "|N|||W|"}, "review", "belongs to another patient", ""},
		{"called QNS, but enough by the protocol", nil, neither, []string{"|9^uL", "|19^uL"}, "review", "the amount, 19 µL, is enough by the protocol", ""},
		{"QNS and a value", nil, normal, []string{"140000-0500|20260323141500-0500||||||", "140000-0500|20260323141500-0500|||QS^Quantity not sufficient^HL70490|||"}, "review", "QNS and gives 14 mmol/L as well", ""},
		{"QNS without an amount, no collector known", nil, qnsText, nil, "review", "no amount of sweat in µL or mg", ""},
		{"QNS as text, amounts on file", bedside(9, 8), qnsText, nil, "attached", "left QNS", "left 9uL 30min none, right 8uL 30min none"},
		{"the booking was missed", booked("missed"), normal, nil, "review", "is marked missed", ""},
		{"the booking was cancelled", booked("cancelled"), normal, nil, "review", "is marked cancelled", ""},
		{"another test waits for its result", func(c *cases.Case) {
			bedside(42, 38)(c)
			c.SweatTests[0].On--
		}, normal, nil, "review", "the test of 2026-03-22 waits for its result", "left 42uL 30min none, right 38uL 30min none"},
		{"another value on file", func(c *cases.Case) {
			bedside(42, 38)(c)
			c.SweatTests[0].Arms[0].Chloride = num(41)
		}, normal, nil, "review", "41 mmol/L is on file for the left side, and the message says 14 mmol/L", "left 42uL 30min 41, right 38uL 30min none"},
		{"a closed case", closed, normal, nil, "review top", "Adding the test reopens the case", ""},
		{"a real result for a test message's case", nil, normal, []string{"|T|2.5.1", "|P|2.5.1"}, "review", "marked as a test (MSH-11)", ""},
		{"collected before birth", nil, normal, []string{"20260323133000", "20260223133000", "20260323140000", "20260223140000"}, "review", "is before the birth", ""},
		{"collected in the future", nil, normal, []string{"20260323133000", "20260423133000", "20260323140000", "20260423140000"}, "review", "is in the future", ""},
		{"two days of collection", nil, normal, []string{specTimes + "20260323141500-0500||||||\rORC", "|20260322133000-0500^20260322140000-0500|20260323141500-0500||||||\rORC"}, "review", "one day of collection", ""},
		{"another sex than the case", nil, normal, []string{"20260301041500-0600|F|", "20260301041500-0600|M|"}, "review", "AB-2026-0001", ""},
		{"another birth date than the case", nil, normal, []string{"20260301041500-0600|F|", "20260305041500-0600|F|"}, "review", "AB-2026-0001", ""},
		{"corrected, nothing on file", nil, corrected, nil, "review", "ask for the earlier result", ""},
		{"an order that only heads the others", nil, normal, []string{"\rORC|RE|S001", "\rOBR|9|||SWEAT^Sweat test^L|||20260323133000-0500\rORC|RE|S001"}, "attached", "", "left 42uL 30min 14, right 38uL 30min 16"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := referred(t, c.change)
			r := b.receive("sweat", sweat(t, c.file, c.pairs...))
			it := r.Items[0]
			eq(t, "items", len(r.Items), 1)
			got := it.Outcome
			if it.Top {
				got += " top"
				eq(t, "due", it.Due, cases.DayOf(today))
			}
			eq(t, "outcome", got, c.want)
			if text := strings.Join(it.Reasons, "\n"); !strings.Contains(strings.ToLower(text), strings.ToLower(c.says)) {
				t.Errorf("nothing says %q in\n%s", c.says, text)
			}
			k := b.of("AB-2026-0001")
			arms := ""
			if len(k.SweatTests) == 1 {
				arms = armsText(&k.SweatTests[0])
			}
			eq(t, "arms", arms, c.arms)
			if it.Outcome == "review" && it.FromRev+it.ToRev != 0 {
				t.Error("revisions although nothing was added")
			}
			if t.Failed() {
				t.Log(strings.Join(it.Reasons, "\n"))
			}
		})
	}
}

// TestSweatLeavesTheRestAlone: what goes with a result, and what it does not touch.
func TestSweatLeavesTheRestAlone(t *testing.T) {
	b := referred(t, bedside(42, 38))
	before := b.of("AB-2026-0001")
	it := b.receive("sweat", sweat(t, normal)).Items[0]
	c, test, _ := b.one()
	eq(t, "booking", c.Bookings[0].State+" "+c.Bookings[0].Changed.String(), "kept 2026-03-30")
	eq(t, "weights", len(c.Infant.Weights), len(before.Infant.Weights))
	eq(t, "the nurse's own", test.By+" "+string(test.At)+" "+test.Arms[0].Reaction, "Nora Wren 13:20 redness")
	eq(t, "numbers", test.Arms[0].Accession+" "+test.Arms[1].Accession, "SW26032301 SW26032302")
	eq(t, "the hospital's number", c.Infant.Records[len(c.Infant.Records)-1].Number, "CH778899")
	eq(t, "laboratory", test.Laboratory.Range+" "+test.Laboratory.Flag+" "+test.Laboratory.Reported.String(), "<30 N 2026-03-23")
	eq(t, "entries waiting", len(b.waiting()), 0)
	b.view(func(r cases.Reader) error {
		h, err := r.History(c.ID)
		last := h[len(h)-1]
		if last.FromRev > last.ToRev || h[0].ToRev > last.ToRev {
			last = h[0]
		}
		eq(t, "audit", last.Event.Kind, "result-attached")
		eq(t, "revisions", last.FromRev*1000+last.ToRev, it.FromRev*1000+it.ToRev)
		return err
	})
}

// TestSameSweatResultAgain: the same result by another way changes nothing.
func TestSameSweatResultAgain(t *testing.T) {
	b := referred(t, nil)
	b.receive("sweat", sweat(t, normal))
	c, _, _ := b.one()
	for _, pairs := range [][]string{
		{"D08-0001", "AGAIN-1"}, // another message number: the same clinical key
		{"D08-0001", "AGAIN-2", "|TESTFAMILY^BABYGIRL", "|TESTFAMILY^BABY GIRL"}, // another key: the case has it already
		{"D08-0001", "AGAIN-3", "160000-0500|||F", "170000-0500|||F", "42^uL&microliter&UCUM", "42^uL"},
	} {
		it := b.receive(pairs[1], sweat(t, normal, pairs...)).Items[0]
		eq(t, pairs[1], it.Outcome, "duplicate")
		eq(t, "belongs to", it.Reference, "AB-2026-0001")
	}
	now, _, _ := b.one()
	eq(t, "revision", now.Rev, c.Rev)
	eq(t, "waiting", len(b.waiting()), 0)
}

// TestOneSideAtATime: two messages, one for each side, make one test.
func TestOneSideAtATime(t *testing.T) {
	whole := string(sweat(t, normal))
	head, rest, _ := strings.Cut(whole, "ORC|")
	first, second, _ := strings.Cut(rest, "\rORC|")
	b := referred(t, nil)
	eq(t, "left", outcomes(b.receive("left", []byte(head+"ORC|"+first+"\r"))), "attached")
	_, test, rd := b.one()
	eq(t, "one side", armsText(&test)+" "+string(rd.Outcome), "left 42uL 30min 14 unlikely")
	eq(t, "right", outcomes(b.receive("right", []byte(strings.Replace(head, "D08-0001", "D08-0002", 1)+"ORC|"+second+"\r"))), "attached")
	_, test, rd = b.one()
	eq(t, "both sides", armsText(&test)+" "+string(rd.Outcome), "left 42uL 30min 14, right 38uL 30min 16 unlikely")
	eq(t, "flag", test.Laboratory.Flag, "N")
	eq(t, "tests", len(b.of("AB-2026-0001").SweatTests), 1)
}

// TestOtherTwin: a result for the twin without a case never goes on the other's.
func TestOtherTwin(t *testing.T) {
	b := newBench(t, intake.Settings{})
	b.receive("twin a", d01(t, "BABYGIRL^", "BABYGIRL A^", "||N|", "||Y|1", "LA12411-7^Singleton^LN", "LA12412-5^Twins^LN"))
	raw := string(load(t, normal))
	for name, pairs := range map[string][]string{
		"order and name":                    {"^BABYGIRL^", "^BABYGIRL B^", "|||||||||||||N|", "|||||||||||||Y|2", "20260301041500-0600|F", "20260301044000-0600|F"},
		"sex":                               {"-0600|F|", "-0600|M|", "|||||||||||||N|", "|||||||||||||Y|2"},
		"order, with the first twin's card": {"^BABYGIRL^", "^BABYGIRL B^", "|||||||||||||N|", "|||||||||||||Y|2", "^MR|", "^MR~EX2026000123^^^^SNBSN|", "D08", "D09"},
	} {
		it := b.receive(name, []byte(strings.NewReplacer(pairs...).Replace(raw))).Items[0]
		eq(t, name, it.Outcome, "review")
		if len(it.Related) == 0 {
			t.Errorf("%s: the case on file is not named: %v", name, it.Reasons)
		}
	}
	eq(t, "tests", len(b.of("AB-2026-0001").SweatTests), 0)
}
