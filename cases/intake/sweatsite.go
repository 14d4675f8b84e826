package intake

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases"
)

// Site is one place of a sweat collection as sent. Place, Amount and the texts
// inside the measures are the laboratory's own words; what stands beside them was
// read from them.
type Site struct {
	Place     string  `json:"place,omitempty"` // Left Lower Forearm
	Side      string  `json:"side,omitempty"`  // left, right or ""
	Limb      string  `json:"limb,omitempty"`  // forearm, upper-leg, other, or "" when not said
	Amount    string  `json:"amount,omitempty"`
	Quantity  Measure `json:"quantity,omitzero"` // the amount as a number; unit uL or mg
	Minutes   float64 `json:"minutes,omitempty"` // of collection; 0 when not said
	Began     Moment  `json:"began,omitzero"`
	Ended     Moment  `json:"ended,omitzero"`
	Chloride  Measure `json:"chloride"`
	Screening bool    `json:"screening,omitempty"` // a screening method, not the diagnostic chloride
	QNS       bool    `json:"qns,omitempty"`
	Accession string  `json:"accession,omitempty"`
	Order     string  `json:"order,omitempty"`
	Status    string  `json:"status,omitempty"` // OBX-11; C also where only the order says so
	Reads     string  `json:"reads,omitempty"`  // the laboratory's own interpretation
}

// The units of the amount of a site.
const (
	microliters = "uL"
	milligrams  = "mg"
)

// Enter puts what a person entered in place of what was sent: the side (left or
// right), the place (forearm, upper-leg or "" for the default), the minutes, the
// amount with its unit (uL or mg; nil when none was measured), and the chloride in
// mmol/L (nil for quantity not sufficient). The state of the result stays.
func (s *Site) Enter(side, place string, minutes float64, amount *float64, unit string, chloride *float64) {
	s.Side, s.Limb, s.Minutes, s.Screening = side, place, minutes, false
	s.Quantity = Measure{Value: amount, Unit: unit}
	s.Amount = ""
	if amount != nil {
		s.Quantity.Text = number(*amount)
		s.Amount = s.Quantity.Text + " " + unit
	}
	s.QNS = chloride == nil
	s.Chloride.Value, s.Chloride.Comparator, s.Chloride.Doubt, s.Chloride.Text = chloride, "", "", ""
	if chloride != nil {
		s.Chloride.Text, s.Chloride.Unit = number(*chloride), "mmol/L"
	}
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// SweatDay is the day on which sweat was collected; 0 when it is not said, or not
// the same for all sites.
func (r *Referral) SweatDay() cases.Day {
	day := cases.Day(0)
	for i := range r.Sites {
		switch d := r.Sites[i].Began.Day; {
		case d == 0:
		case day != 0 && day != d:
			return 0
		default:
			day = d
		}
	}
	if day == 0 {
		day = r.Collected.Day
	}
	return day
}

// EnterSweatDay puts the day a person entered in place of what was sent.
func (r *Referral) EnterSweatDay(day cases.Day) {
	r.Collected = Moment{Text: day.String(), Day: day, Precision: "day"}
	for i := range r.Sites {
		s := &r.Sites[i]
		s.Began, s.Ended = Moment{Text: day.String(), Day: day, Clock: s.Began.Clock, Precision: "day"}, Moment{}
	}
}

// name calls a site for a sentence: by its side, else by its number.
func (s *Site) name(i int) string {
	if s.Side != "" {
		return s.Side + " side"
	}
	return fmt.Sprintf("site %d", i+1)
}

// corrected reports a result that the laboratory put right.
func (s *Site) corrected() bool { return s.Status == "C" }

// siteLines writes down each site of a sweat result.
func siteLines(r *Referral) (out []string) {
	for i := range r.Sites {
		s := &r.Sites[i]
		what := "no value"
		switch {
		case s.QNS:
			what = "QNS (quantity not sufficient)"
		case s.Chloride.Text != "":
			what = "chloride " + strings.TrimSpace(s.Chloride.Text+" "+s.Chloride.Unit)
		}
		line := what
		switch {
		case s.Place != "":
			line = s.Place + ": " + line
		case s.Side != "":
			line = s.Side + ": " + line
		}
		if s.Amount != "" {
			line += ", collected " + s.Amount
		}
		if s.Minutes != 0 {
			line += " in " + number(s.Minutes) + " minutes"
		}
		if s.corrected() {
			line += ", corrected"
		}
		if s.Reads != "" {
			line += fmt.Sprintf("; the laboratory says %q", Shorten(s.Reads))
		}
		out = append(out, line+".")
	}
	if r.LabReads != "" {
		out = append(out, fmt.Sprintf("The laboratory says %q.", Shorten(r.LabReads)))
	}
	return out
}

// sweatKey writes the sites for the clinical key, as written and whatever their order.
func sweatKey(r *Referral, b *strings.Builder) {
	if len(r.Sites) == 0 && r.LabReads == "" {
		return
	}
	lines := []string{"sweat as a whole\x1f" + r.LabReads}
	for i := range r.Sites {
		s := &r.Sites[i]
		lines = append(lines, strings.Join([]string{"sweat", s.Accession, s.Place, s.Side, s.Amount, number(s.Minutes), s.Began.Text,
			s.Chloride.Comparator + s.Chloride.Text, s.Chloride.Unit, s.Chloride.Flag, s.Status, s.Reads, strconv.FormatBool(s.QNS)}, "\x1f"))
	}
	slices.Sort(lines)
	b.WriteString(strings.Join(lines, "\n") + "\n")
}
