package web_test

import (
	"net/url"
	"strings"
	"testing"

	"dunlin/cases"
)

// fillTest fills the form of a sweat test: left and right amount and chloride.
func fillTest(f *filled, leftUL, leftCl, rightUL, rightCl string) *filled {
	f.set("identity", "yes").set("collector", "tubing").set("site", "heron-point").set("stopped", "no").set("weight", "3.64")
	for _, a := range [][3]string{{"left", leftUL, leftCl}, {"right", rightUL, rightCl}} {
		f.set(a[0]+"-began", "09:11").set(a[0]+"-ended", "09:41").set(a[0]+"-amount", a[1]).set(a[0]+"-before", "sound").set(a[0]+"-skin", "none")
		f.set(a[0]+"-chloride", a[2]).set(a[0]+"-again", a[2])
	}
	return f
}

func TestRecordATestWithAQNSArm(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	nurse := s.as("dagny")
	path := "/infants/" + k.Reference + "/tests/new"
	p := nurse.get(path).wants(200, "Record sweat test 2 for Tobias", "1. Check who this is", "2. Both arms", "3. Blister, burn, or stopped early")
	p = fillTest(p.form(path), "24", "46", "11", "").send()
	p.wants(200, "Nothing is saved yet", "Intermediate", "Left arm: 24 µL is enough (15 µL needed). Chloride 46 mmol/L.", "Right arm: 11 µL is under 15 µL, so this arm is QNS.",
		"One of two arms had too little sweat", "It is not a diagnosis")
	if n := len(s.read(k.Reference).SweatTests); n != 1 {
		t.Fatalf("%d tests are saved before Save", n)
	}
	p = p.form(path).set("do", "save").send()
	p.wants(200, "Test saved", "Intermediate", "Next: Book a repeat test")
	tests := s.read(k.Reference).SweatTests
	if len(tests) != 2 || tests[1].Collector != "tubing" || *tests[1].Arms[0].Chloride != 46 || tests[1].Arms[1].Chloride != nil || tests[1].Arms[0].Minutes != 30 {
		t.Errorf("test saved as %+v", tests)
	}
	if w := s.read(k.Reference).Infant.Weights; w[len(w)-1].G != 3640 {
		t.Errorf("weights %+v", w)
	}
}

func TestGoBackAndChangeKeepsEverything(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	path := "/infants/" + k.Reference + "/tests/new"
	p := fillTest(s.as("dagny").get(path).form(path), "24", "46", "11", "").send()
	p = p.form(path).set("do", "edit").send()
	got := p.wants(200, "Record sweat test 2").form(path).values
	for name, want := range map[string]string{"left-amount": "24", "left-again": "46", "right-amount": "11", "collector": "tubing", "weight": "3.64", "identity": "yes", "left-skin": "none", "stopped": "no"} {
		if got.Get(name) != want {
			t.Errorf("%s is %q after going back, was %q", name, got.Get(name), want)
		}
	}
}

func TestTestFormNamesEachFault(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	nurse := s.as("dagny")
	path := "/infants/" + k.Reference + "/tests/new"
	for _, c := range []struct {
		name, field, value, want string
	}{
		{"chloride twice", "left-again", "64", "Left arm: the two chloride entries must match. They are 46 and 64"},
		{"chloride of 600", "", "", "Left arm: chloride must be between 0 and 400 mmol/L. It is 600"},
		{"weight in g", "weight", "3640", "Weight must be in kilograms. 3640 grams are 3.64 kg"},
		{"weight of 36 kg", "weight", "36.4", "Weight is 36.4 kg"},
		{"before birth", "on", "20 Jan 2026", "Day of the test must be on or after 21 Jan 2026, the birth date"},
		{"future", "on", "tomorrow", "Day of the test must be today or in the past"},
		{"four hours", "left-ended", "13:11", "Left arm: collection must be between 1 and 120 minutes. It is 240"},
		{"end before start", "right-ended", "09:05", "Right arm: collection ended must be after 09:11, when it began"},
		{"other unit", "left-amount", "80 mg", "Left arm: 80 mg is in mg, but the collector is tubing"},
		{"no skin before", "left-before", "", "Select how the left arm looked before"},
		{"no unit", "collector", "", "Left arm: 24 has no unit. Select the collector"},
		{"induction after", "left-induced", "09:20", "Left arm: induction must begin before 09:11"},
		{"weight of 3.1 g", "weight", "3.1 g", "Weight is 3.1 g, which no infant weighs. Was it 3.1 kg?"},
		{"no amount", "left-amount", "", "Left arm: enter the amount of sweat"},
		{"no collector", "collector", "", "Select the collector. The unit of the amount follows from it"},
		{"no identity", "identity", "", "Tick that you asked"},
		{"no skin", "right-skin", "", "Select how the right arm looked"},
		{"stopped", "stopped", "", "Select yes if the test was stopped early"},
		{"stray report", "reported", "today", "is only for a blister or burn"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := fillTest(nurse.get(path).form(path), "24", "46", "19", "44")
			if c.field == "" {
				f.set("left-chloride", "600").set("left-again", "600")
			} else {
				f.set(c.field, c.value)
			}
			p := f.send().wants(422, "There is a problem", c.want)
			if got := p.form(path).values; got.Get("left-minutes") != "" || got.Get("right-chloride") != "44" {
				t.Errorf("what was typed is lost: %v", got)
			}
			if !strings.HasPrefix(p.title(), "Error: ") {
				t.Errorf("title %q", p.title())
			}
		})
	}
	if n := len(s.read(k.Reference).SweatTests); n != 1 {
		t.Errorf("%d tests are saved", n)
	}
}

func TestStopWhenTheArmsDisagreeOrAValueIsNotPlausible(t *testing.T) {
	for _, c := range []struct{ name, left, right, head string }{
		{"arms disagree", "22", "44", "Stop and check: arms disagree"}, {"not plausible", "180", "20", "Stop and check: value not plausible"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newSite(t)
			k := s.open(docQNS)
			path := "/infants/" + k.Reference + "/tests/new"
			p := fillTest(s.as("dagny").get(path).form(path), "24", c.left, "21", c.right).send()
			p = p.wants(200, c.head).form(path).set("do", "save").send()
			p = p.wants(422, "Enter who read the values again from the laboratory sheet").form(path).set("do", "save").set("evidence", "J. Pell").send()
			p.wants(200, "Test saved", "Next: Check the value, then repeat")
			tests := s.read(k.Reference).SweatTests
			if !strings.Contains(tests[1].Note, "Values read again by J. Pell") {
				t.Errorf("note %q", tests[1].Note)
			}
		})
	}
}

func TestWarningsOfATestNeedATickAndAReason(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docQNS, `"flags"`, `"holds":[{"reason":"oxygen","from":"2026-03-01"}],"flags"`))
	path := "/infants/" + k.Reference + "/tests/new"
	f := fillTest(s.as("dagny").get(path).form(path), "24", "20", "21", "18").set("left-ended", "09:53")
	p := f.send().wants(200, "A hold was open on that day", "Left arm: collection must be 30 minutes or less. It is 42", "A collection took longer than 30 minutes")
	p = p.form(path).set("do", "save").set("confirm", "during-hold").send()
	p = p.wants(422, "collection must be 30 minutes or less", "Enter why you go on")
	p = p.form(path).set("do", "save").set("confirm", "during-hold", "long-left").set("go-on-why", "Short of staff").send()
	p.wants(200, "Test saved")
	if n := s.read(k.Reference).SweatTests[1].Note; !strings.Contains(n, "Saved in spite of: during hold, long left. Short of staff") {
		t.Errorf("note %q", n)
	}
}

// Times past midnight and skin that was not sound are accepted with a word, and kept.
func TestAnOddCollectionIsKeptWithItsReason(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	path := "/infants/" + k.Reference + "/tests/new"
	f := fillTest(s.as("dagny").get(path).form(path), "24", "20", "21", "18").set("on", "4 Mar 2026").set("right-before", "not-sound").set("left-began", "2350").set("left-ended", "0020").set("left-induced", "2340")
	p := f.send().wants(200, "Left arm: collection ended at 0020, past midnight", "Right arm: the skin was not sound before")
	p = p.form(path).set("do", "save").set("confirm", "past-midnight-left", "skin-right").set("go-on-why", "Seen with the nurse").send()
	p.wants(200, "Test saved", "CF unlikely")
	x := s.read(k.Reference).SweatTests[1]
	if a := x.Arms[0]; a.Began != "23:50" || a.Ended != "" || a.Minutes != 30 || a.Induced != "23:40" || !strings.Contains(x.Note, "Left arm: collection ended at 00:20, past midnight.") {
		t.Errorf("test %+v", x)
	}
	if x.Arms[1].SkinBefore != "not-sound" || !strings.Contains(x.Note, "past midnight left, skin right. Seen with the nurse") {
		t.Errorf("test %+v", x)
	}
	change := "/infants/" + k.Reference + "/tests/1/change"
	p = s.as("dagny").get(change).form(change).set("identity", "yes").set("why", "Read again").send().wants(200, "Save the change")
	p.form(change).set("do", "save").send().wants(200, "Test saved")
	if y := s.read(k.Reference).SweatTests[1]; strings.Count(y.Note, "past midnight.") != 1 || y.Arms[0].Minutes != 30 {
		t.Errorf("changed to %+v", y)
	}
}

func TestAResultThatComesLaterIsACorrection(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	nurse := s.as("dagny")
	path := "/infants/" + k.Reference + "/tests/new"
	p := fillTest(nurse.get(path).form(path), "24", "", "19", "").send()
	p.wants(200, "No result yet").form(path).set("do", "save").send().wants(200, "Test saved", "No result yet", "Ask the site for the result")
	change := "/infants/" + k.Reference + "/tests/1/change"
	f := nurse.get(change).wants(200, "Why the record is changed").form(change)
	if f.values.Get("left-amount") != "24" || f.values.Get("why") != "Result reported by the laboratory" {
		t.Errorf("the form starts with %v", f.values)
	}
	f.set("identity", "yes").set("left-chloride", "17").set("left-again", "17").set("right-chloride", "19").set("right-again", "19")
	p = f.send().wants(200, "CF unlikely", "Save the change")
	p.form(change).set("do", "save").send().wants(200, "Test saved", "CF unlikely")
	c := s.read(k.Reference)
	if len(c.SweatTests) != 2 || *c.SweatTests[1].Arms[0].Chloride != 17 {
		t.Errorf("tests %+v", c.SweatTests)
	}
	wren := s.as("wren")
	wren.get("/infants/"+k.Reference).wants(200, "Result reported by the laboratory")
}

func TestVerifyATestAndReportABurn(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docQNS, `"amount_ul":8}`, `"amount_ul":24,"chloride":22,"reaction":"burn"}`, `"amount_ul":11}`, `"amount_ul":21,"chloride":44}`))
	nurse := s.as("dagny")
	verify := "/infants/" + k.Reference + "/tests/0/verify"
	p := nurse.get(verify).wants(200, "The arms disagree", "left 22 mmol/L, right 44 mmol/L").form(verify).send()
	p = p.wants(422, "Select what the check showed", "Enter who checked it", "Enter what was checked")
	p.form(verify).set("as", "stands").set("by", "Dr. H. Lindqvist").set("reason", "Sheet and labels").send().wants(200, "Check saved", "Next for")
	reaction := "/infants/" + k.Reference + "/tests/0/reaction"
	p = nurse.get(reaction).form(reaction).send().wants(422, "Enter to whom it was reported")
	p.form(reaction).set("to", "Dr. H. Lindqvist").send().wants(200, "Report saved")
	x := s.read(k.Reference).SweatTests[0]
	if x.Verified == nil || x.Verified.As != "stands" || x.Verified.By != "Dr. H. Lindqvist" || x.Arms[0].ReportedOn != cases.MakeDay(2026, 3, 5) {
		t.Errorf("test %+v", x)
	}
}

func TestOnlyTheNurseRecordsTests(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	path := "/infants/" + k.Reference + "/tests/new"
	for _, who := range []string{"wren", "ines", "theo"} {
		s.as(who).get(path).wants(403, "Only a nurse can do this")
	}
	if p := s.client().post(path, url.Values{"do": {"save"}}); p.status == 200 && len(s.read(k.Reference).SweatTests) != 1 {
		t.Error("a stranger recorded a test")
	}
}
