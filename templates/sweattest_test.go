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
	arm := func(side, head string, values ...string) ArmForm {
		skin := Choice{ID: side + "-skin", Legend: "Skin after", Options: []Option{{Value: "none", Text: "Clear"}, {Value: "redness", Text: "Redness"}, {Value: "blister", Text: "Blister"}, {Value: "burn", Text: "Burn"}}}
		a := ArmForm{Side: side, Head: head, Before: Choice{ID: side + "-before", Legend: "Skin before", Hint: "Never over a rash", Options: []Option{{Value: "sound", Text: "Sound, no cream"}, {Value: "not-sound", Text: "Not sound"}}}, After: skin}
		for i, x := range [][4]string{{"began", "Collection began", "", "numeric"}, {"minutes", "Minutes collected", "min", "decimal"}, {"amount", "Amount of sweat", "µL", "decimal"},
			{"chloride", "Chloride", "mmol/L", "decimal"}, {"again", "Chloride again", "mmol/L", "decimal"}, {"conductivity", "Conductivity", "mmol/L", "decimal"}} {
			a.Fields = append(a.Fields, ArmField{Field: Field{ID: side + "-" + x[0], Label: x[1], Unit: x[2], InputMode: x[3], Value: values[i]}, ByCollector: x[0] == "amount", Screening: x[0] == "conductivity"})
		}
		return a
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
		Arms:      []ArmForm{arm("left", "Left arm", "09:11", "", "24", "46", "46", ""), arm("right", "Right arm", "", "", "11", "", "", "")},
		Told:      Field{ID: "told", Label: "Who was told", Optional: true, Width: "w20"}, Reported: Field{ID: "reported", Label: "Told on", Optional: true, Width: "w14"}, ToldAt: Field{ID: "told-at", Label: "Told at", Optional: true, Width: "w5"},
		NotDone: "/infants/AB-2026-0118/tests/not-done", Live: LiveFacts{Born: "2026-01-25", Today: "2026-03-05", Shifts: []string{}, Kinds: map[string]string{"heron-point": "tubing"}},
		Stopped: Choice{ID: "stopped", Legend: "Was the test stopped early?", Options: []Option{{Value: "no", Text: "No"}, {Value: "yes", Text: "Yes"}}}, StopWhy: Field{ID: "stop-why", Label: "When and why", Optional: true},
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
		p.Arms[0].Fields[4].Value, p.Arms[0].Fields[4].Error = "64", again
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
			To: Field{ID: "to", Label: "Reported to"}, On: Field{ID: "on", Label: "Day", Value: "today", Width: "w14"}, At: Field{ID: "at", Label: "Time", Optional: true, Width: "w5"}}
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

func init() {
	samples["not-done"] = func() Page {
		return &NotDonePage{Base: onePage("Not tested, AB-2026-0118", "schedule"), Head: "Marigold came and was not tested", Lead: "First test.", Action: "/infants/AB-2026-0118/tests/not-done", Back: "/schedule",
			On:    Field{ID: "on", Label: "Day of the visit", Value: "5 Mar 2026", Width: "w14"},
			Why:   Choice{ID: "why", Legend: "Why was no test made?", Down: true, Options: []Option{{Value: "weight", Text: "Too light"}, {Value: "unwell", Text: "Unwell: acute illness", Sub: "Puts the infant on hold", Chosen: true}}},
			Words: Field{ID: "words", Label: "In words", Optional: true, Kind: "area", Rows: 2}, Weight: Field{ID: "weight", Label: "Weight", Unit: "kg", Width: "w5", InputMode: "decimal"},
			Until: Field{ID: "until", Label: "First day without the reason", Optional: true}, Look: Field{ID: "look-again", Label: "Ask again on", Optional: true},
			Talk: Choice{ID: "talk", Legend: "Was it talked over with the family?", Options: []Option{{Value: "none", Text: "No talk"}}}, Person: Field{ID: "person", Label: "Who came with the infant", Optional: true},
			Booking: "Thu 5 Mar 2026, 09:30, Alder Bay CF Clinic", Cautions: []string{"Salt loss."}, MissedHint: "The family did not come? Mark the booking as missed.",
			GoOn: GoOn{Warnings: []Warning{{ID: "weight", Text: "That is 0.6 kg less.", Tick: "The weight is right"}}, Reason: Field{ID: "go-on-why", Label: "Why it is right all the same"}}}
	}
	samples["after-test"] = func() Page {
		return &AfterTestPage{Base: onePage("Next step, AB-2026-0118", "schedule"), Head: "Next for Marigold", Lead: "A named person decides.", Back: "/schedule", Drop: DropQNS, Word: "QNS", On: DateOf("2026-03-05"), Lines: []string{"Left arm: 8 µL is under 15 µL, so this arm is QNS."},
			Next:  NextStep{Do: "Book a repeat test", Because: "Both arms were under the least amount.", By: "Nurse, by Thu 12 Mar 2026", State: Tag{Kind: "ok", Text: "on time"}},
			Tasks: []Link{{Href: "/infants/AB-2026-0118/tests/0/reaction", Text: "Report the burn of 5 Mar 2026"}}, Also: []string{"Weigh again"}, Repeat: &RepeatPart{Head: "Repeat test", Cause: "QNS on 5 Mar 2026.", Window: "From 6 Mar 2026, due 12 Mar 2026.", Count: "Test 3.", Consider: "Besides the repeat:", Instead: []string{"Ask the doctor about fecal elastase"}},
			Places: &PlacesPart{Action: "/infants/AB-2026-0118/place", Button: "Book", Offers: []PlaceOffer{{Value: "alder-bay 2026-03-11 09:30", Say: "Wed 11 Mar 2026, 09:30, Alder Bay CF Clinic", Why: []string{"kept for repeats"}}}},
			ByHand: "/infants/AB-2026-0118/book", PutOff: &PutOff{Action: "/infants/AB-2026-0118/no-date", By: Field{ID: "by", Label: "Clinician who decided"}, Why: Field{ID: "reason", Label: "Why no date is set"}, Look: Field{ID: "look-again", Label: "Look again on"}},
			Notes: []Notice{{Kind: "warn", Text: "QNS gives no result."}}, Links: []Link{{Href: "/infants/AB-2026-0118", Text: "Open the infant"}}}
	}
}
