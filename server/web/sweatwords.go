package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// outcomeWord is the outcome of a sweat test in the words of the screen.
func outcomeWord(o cases.Outcome) string { return o.Word() }

// outcomeDrop is the drop that goes with an outcome.
func outcomeDrop(o cases.Outcome) templates.Drop {
	switch o {
	case cases.Unlikely:
		return templates.DropUnlikely
	case cases.Intermediate:
		return templates.DropIntermediate
	case cases.ConsistentCF:
		return templates.DropCFRange
	case cases.QNS:
		return templates.DropQNS
	}
	return templates.DropNone
}

// plainNumber writes a measured number as it was given, without trailing zeros.
func plainNumber(v float64) string {
	return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64)
}

// mmol writes a chloride with its unit.
func mmol(v float64) string { return plainNumber(v) + "\u00a0mmol/L" }

// amountUnit is the unit of an amount of sweat by collector.
func amountUnit(collector string) string {
	if collector == "pad" {
		return "mg"
	}
	return "µL"
}

// armAmount is the amount of an arm, and whether one was recorded.
func armAmount(a *cases.Arm) (float64, bool) {
	switch {
	case a.AmountUL != nil:
		return *a.AmountUL, true
	case a.AmountMg != nil:
		return *a.AmountMg, true
	}
	return 0, false
}

// armTable sets out both arms of a test with the reading of each.
func armTable(t *cases.SweatTest, r *cases.TestReading) templates.ArmTable {
	table := templates.ArmTable{Caption: "Both arms of the test"}
	for i := range t.Arms {
		a := &t.Arms[i]
		line := templates.ArmLine{Side: sideWord(a.Side), Minutes: plainNumber(a.Minutes), Amount: "Not known", Chloride: "None yet", Skin: skinWord(a)}
		if v, ok := armAmount(a); ok {
			line.Amount = plainNumber(v) + "\u00a0" + amountUnit(t.Collector)
		}
		switch {
		case a.Chloride != nil:
			line.Chloride = mmol(*a.Chloride)
		case a.Conductivity != nil:
			line.Chloride = mmol(*a.Conductivity) + " (conductivity)"
		}
		if read, ok := armReading(r, a.Side); ok {
			line.Reading = "Enough sweat"
			if !read.Usable {
				line.Reading = "QNS, not enough sweat"
				if a.Chloride == nil && a.Conductivity == nil {
					line.Chloride = "Not analyzed"
				}
			}
		}
		table.Rows = append(table.Rows, line)
	}
	return table
}

func armReading(r *cases.TestReading, side string) (cases.ArmRead, bool) {
	for _, a := range r.Arms.Slice() {
		if a.Side == side {
			return a, true
		}
	}
	return cases.ArmRead{}, false
}

// armSentences says of each arm, in one sentence, whether it had enough sweat
// and what chloride it gave.
func armSentences(t *cases.SweatTest, r *cases.TestReading) []string {
	unit := amountUnit(t.Collector)
	var out []string
	for i := range t.Arms {
		a := &t.Arms[i]
		read, _ := armReading(r, a.Side)
		amount, known := armAmount(a)
		need := plainNumber(read.Needed) + "\u00a0" + unit
		var s string
		switch {
		case !known:
			s = "no amount is recorded, so this arm is not read."
		case !read.Usable:
			s = fmt.Sprintf("%s %s is under %s, so this arm is QNS.", plainNumber(amount), unit, need)
			if a.Chloride != nil {
				s += fmt.Sprintf(" Its chloride of %s is kept and not used.", mmol(*a.Chloride))
			}
		case a.Chloride != nil:
			s = fmt.Sprintf("%s %s is enough (%s needed). Chloride %s.", plainNumber(amount), unit, need, mmol(*a.Chloride))
		default:
			s = fmt.Sprintf("%s %s is enough (%s needed). No chloride yet.", plainNumber(amount), unit, need)
		}
		out = append(out, sideWord(a.Side)+" arm: "+s)
	}
	return out
}

func sideWord(side string) string {
	if side == "right" {
		return "Right"
	}
	return "Left"
}

func skinWord(a *cases.Arm) string {
	var s string
	switch a.Reaction {
	case "none":
		s = "Clear"
	case "redness":
		s = "Redness"
	case "blister":
		s = "Blister"
	case "burn":
		s = "Burn"
	default:
		return "Not recorded"
	}
	if a.SkinBefore == "not-sound" {
		s += ", not sound before"
	}
	if a.ReportedOn != 0 {
		s += ", reported " + shortDay(a.ReportedOn)
		if a.ReportedTo != "" {
			s += " to " + a.ReportedTo
		}
	}
	return s
}

// testFlagSentences says what is unusual about a test.
func testFlagSentences(f cases.TestFlags, p *cases.Protocol) []string {
	all := []struct {
		flag cases.TestFlags
		text string
	}{
		{cases.FlagStraddle, "The arms lie in different classes within the agreement limit. The higher arm counts."},
		{cases.FlagArmsApart, "The arms are far apart. The reading stands; look at the technique."},
		{cases.FlagOneArm, "Only one arm was collected. The protocol asks for both."},
		{cases.FlagOneArmShort, "One of two arms had too little sweat. The other arm counts."},
		{cases.FlagCollectionLong, fmt.Sprintf("A collection took longer than %s minutes. Evaporation can raise the value.", plainNumber(p.MaxCollectionMin))},
		{cases.FlagReaction, "There was a blister or burn. Record when it was reported, and to whom."},
		{cases.FlagBeforeReady, "The test was made before the infant was ready. A value in the lowest class then supports no determination until a person says that it stands."},
		{cases.FlagDuringHold, "The test was made during a hold. A value in the lowest class then supports no determination until a person says that it stands."},
	}
	var out []string
	for _, x := range all {
		if f.Has(x.flag) {
			out = append(out, x.text)
		}
	}
	return out
}

// limitsText says which limits read a test of this infant's age.
func limitsText(p *cases.Protocol, collector string) string {
	least := plainNumber(p.MinAmountUL) + " µL"
	if collector == "pad" {
		least = plainNumber(p.MinAmountMg) + " mg"
	}
	from := "from"
	if p.CFStrictlyAbove {
		from = "above"
	}
	return fmt.Sprintf("Limits: QNS under %s in %s minutes. Below %s mmol/L CF unlikely, %s up to %s intermediate, %s %s in the CF range. With two good arms the higher one counts.",
		least, plainNumber(p.AmountBaseMin), plainNumber(p.IntermediateFrom), plainNumber(p.IntermediateFrom), plainNumber(p.CFFrom), from, plainNumber(p.CFFrom))
}

// stopSentence says why a test needs a second look before it is saved, or "".
func stopSentence(t *cases.SweatTest, r *cases.TestReading, p *cases.Protocol) string {
	var values []string
	for i := range t.Arms {
		if c := t.Arms[i].Chloride; c != nil {
			values = append(values, strings.ToLower(sideWord(t.Arms[i].Side))+" "+mmol(*c))
		}
	}
	switch r.Outcome {
	case cases.ArmsDisagree:
		return fmt.Sprintf("The arms disagree: %s. Check that both are this infant's, and read them again from the laboratory sheet. The test gives no result until a person has checked it or a repeat is made.", strings.Join(values, ", "))
	case cases.Unverified:
		return fmt.Sprintf("A value is not plausible: %s; above %s. Read it again from the laboratory sheet. It is kept, and the test gives no result until a person has checked it.", strings.Join(values, ", "), mmol(p.ImplausibleAbove))
	}
	return ""
}
