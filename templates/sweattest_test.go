package templates

import (
	"encoding/json"
	"html"
	"strings"
	"testing"
)

func sampleArms() ArmTable {
	return ArmTable{Caption: "Both arms", Rows: []ArmLine{{"Left", "30", "24 µL", "46 mmol/L", "Enough sweat", "Clear"}, {"Right", "30", "11 µL", "None", "QNS", "Redness"}}}
}

func sampleRecord() *RecordTestPage {
	arm := func(row, label, unit, mode, l, r string) ArmRow {
		return ArmRow{Label: label, Unit: unit, Left: Field{ID: "left-" + row, Label: "Left arm: " + strings.ToLower(label), Value: l, InputMode: mode, Unit: unit},
			Right: Field{ID: "right-" + row, Label: "Right arm: " + strings.ToLower(label), Value: r, InputMode: mode, Unit: unit}}
	}
	skin := func(id, legend string) Choice {
		return Choice{ID: id, Legend: legend, Options: []Option{{Value: "none", Text: "Clear"}, {Value: "redness", Text: "Redness"}, {Value: "blister", Text: "Blister"}, {Value: "burn", Text: "Burn"}}}
	}
	return &RecordTestPage{
		Base: onePage("Record sweat test 2, AB-2026-0118", "schedule"), Head: "Record sweat test 2 for Marigold", Lead: "Repeat after an intermediate result.",
		Action: "/infants/AB-2026-0118/tests/new", Back: "/infants/AB-2026-0118",
		Identity: Field{ID: "identity", Label: "I asked the parent for the infant’s full name and birth date, and both match the banner"},
		On:       Field{ID: "on", Label: "Day of the test", Value: "5 Mar 2026", Width: "w14"}, At: Field{ID: "at", Label: "Time", Optional: true, Width: "w5"},
		Site:   Choice{ID: "site", Legend: "Test site", Options: []Option{{Value: "heron-point", Text: "Heron Point", Chosen: true}}},
		Weight: Field{ID: "weight", Label: "Weight today", Unit: "kg", Width: "w5", InputMode: "decimal"}, By: Field{ID: "by", Label: "Collected by", Width: "w20"},
		Collector: Choice{ID: "collector", Legend: "Collector", Options: []Option{{Value: "tubing", Text: "Tubing, amount in µL"}, {Value: "pad", Text: "Pad, amount in mg"}}},
		Analyte:   Choice{ID: "analyte", Legend: "Measured", Options: []Option{{Value: "chloride", Text: "Chloride", Chosen: true}, {Value: "conductivity", Text: "Conductivity only"}}},
		Rows: []ArmRow{arm("began", "Collection began", "", "numeric", "09:11", ""), arm("minutes", "Minutes collected", "min", "decimal", "", ""),
			arm("amount", "Amount", "", "decimal", "24", "11"), arm("chloride", "Chloride", "mmol/L", "decimal", "46", ""), arm("again", "Chloride again", "mmol/L", "decimal", "46", "")},
		Left: skin("left-skin", "Left arm after the test"), Right: skin("right-skin", "Right arm after the test"),
		Reported: Field{ID: "reported", Label: "A blister or burn was reported on", Optional: true, Width: "w14"},
		Stopped:  Choice{ID: "stopped", Legend: "Was the test stopped early?", Options: []Option{{Value: "no", Text: "No"}, {Value: "yes", Text: "Yes"}}}, StopWhy: Field{ID: "stop-why", Label: "When and why", Optional: true},
		Protocol: Limits{MinUL: 15, MinMg: 75, BaseMin: 30, MaxMin: 30, IntermediateFrom: 30, CFFrom: 60, Implausible: 160, AgreeLow: 10, AgreeHigh: 15, AgreeSplit: 60},
		Earlier:  []EarlierTest{{Title: "Test 1", On: DateOf("2026-02-16"), Facts: []Fact{{Name: "Left", Text: "41 mmol/L, 22 µL"}}, Drop: DropIntermediate, Word: "Intermediate"}},
		Cautions: []string{"No collection over injured skin."},
	}
}

func init() {
	samples["record-test"] = func() Page { return sampleRecord() }
	samples["record-test-error"] = func() Page {
		p := sampleRecord()
		const again = "Left arm: the two chloride entries must match. They are 46 and 64"
		p.Problems = []Problem{{"left-again", again}, {"collector-0", "Select the collector"}, {"identity", "Tick that you asked for name and birth date"}}
		p.Rows[4].Left.Value, p.Rows[4].Left.Error = "64", again
		p.Collector.Error, p.Identity.Error = "Select the collector", "Tick that you asked for name and birth date"
		p.Why = &Field{ID: "why", Label: "Why it is changed", Kind: "area"}
		return p
	}
	samples["check-test"] = func() Page {
		return &CheckTestPage{Base: onePage("Check sweat test 2, AB-2026-0118", "schedule"), Head: "Check sweat test 2 for Marigold", Lead: "Nothing is saved yet.",
			Action: "/infants/AB-2026-0118/tests/new", Button: "Save test", Drop: DropIntermediate, Word: "Intermediate", Deciding: "Chloride 46 mmol/L.", Arms: sampleArms(),
			Lines: []string{"Left arm: 24 µL is enough. Chloride 46 mmol/L.", "Right arm: 11 µL is under 15 µL, so this arm is QNS."}, Next: "Decide and close, due Thu 12 Mar 2026", Because: "Two intermediate tests.",
			Cautions: []Notice{{Kind: "warn", Head: "Not a diagnosis", Text: "A named clinician decides."}}, Limits: "Limits: QNS under 15 µL.", Entered: []Fact{{Name: "Day", On: DateOf("2026-03-05")}},
			Kept: []Hidden{{"left-amount", "24"}}}
	}
	samples["check-test-stop"] = func() Page {
		return &CheckTestPage{Base: onePage("Stop and check sweat test 2, AB-2026-0118", "schedule"), Head: "Stop: the arms disagree", Lead: "Nothing is saved yet.",
			Action: "/infants/AB-2026-0118/tests/new", Button: "Save test", Stop: true, StopText: "Left 22 and right 44 mmol/L differ by 22, more than 10.", Word: "Arms disagree", Arms: sampleArms(),
			GoOn:     GoOn{Warnings: []Warning{{ID: "collection-long", Text: "Left arm: 42 minutes, over 30.", Tick: "Save it all the same"}}, Reason: Field{ID: "go-on-why", Label: "Why it is saved all the same"}},
			Evidence: &Field{ID: "evidence", Label: "Who read both values again from the laboratory sheet?", Width: "w20"}}
	}
	samples["verify-test"] = func() Page {
		return &VerifyTestPage{Base: onePage("Check a test, AB-2026-0118", "infants"), Head: "Check the test of 5 Mar 2026", Lead: "The arms disagree.", Action: "/x", Back: "/infants/AB-2026-0118", Arms: sampleArms(), Word: "Arms disagree", Drop: DropNone, Why: "Left 22 and right 44 differ by more than 10.",
			As: Choice{ID: "as", Legend: "What did the check show?", Down: true, Options: []Option{{Value: "stands", Text: "The values stand"}, {Value: "void", Text: "The test is void"}}},
			By: Field{ID: "by", Label: "Checked by"}, Reason: Field{ID: "reason", Label: "What was checked", Kind: "area"}}
	}
	samples["report-reaction"] = func() Page {
		return &ReportReactionPage{Base: onePage("Report a burn, AB-2026-0118", "infants"), Head: "Report a burn", Lead: "Test of 5 Mar 2026.", Action: "/x", Back: "/infants/AB-2026-0118", Arms: sampleArms(),
			To: Field{ID: "to", Label: "Reported to"}}
	}
}

func TestRecordTestCarriesTheLimits(t *testing.T) {
	page := render(t, sampleRecord())
	_, rest, ok := strings.Cut(page, `data-protocol="`)
	if !ok {
		t.Fatal("the form carries no limits")
	}
	text, _, _ := strings.Cut(rest, `"`)
	var got Limits
	if err := json.Unmarshal([]byte(html.UnescapeString(text)), &got); err != nil {
		t.Fatal(err)
	}
	if want := sampleRecord().Protocol; got != want {
		t.Errorf("limits on the page %+v, want %+v", got, want)
	}
}

func TestCheckPageKeepsWhatWasTypedAndOffersBothWays(t *testing.T) {
	page := render(t, samples["check-test"]())
	for _, part := range []string{`name="left-amount" value="24"`, `name="do" value="save"`, `name="do" value="edit"`, "Nothing is saved yet", "It is not a diagnosis"} {
		if !strings.Contains(page, part) {
			t.Errorf("page lacks %s", part)
		}
	}
}
