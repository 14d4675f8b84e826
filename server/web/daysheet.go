package web

import (
	"bytes"
	"fmt"
	"net/http"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/reminders/daysheet"
	"dunlin/templates"
)

// postponeTicks are the reasons to wait or to ask first (UK guideline of 2014 as its
// reviewers teach it, and the revision of CLSI C34 of 2024; cream on the day is what
// hospital leaflets ask). The words are ours.
var postponeTicks = []string{"unwell", "dehydrated, or feeding badly", "swollen", "on steroids", "eczema or sore skin at the site", "on oxygen", "implanted device", "seizures", "cream on the skin"}

// siteTicks are what the person who collects looks at before each arm.
var siteTicks = []string{"skin sound", "no cream", "inner forearm", "one limb at a time", "current never across the chest", "no electrode on bare skin"}

// dayCare are the lines of the box of a day sheet. The values are the protocol's.
func dayCare(p *cases.Protocol, collectors []string) []string {
	least := fmt.Sprintf("%s µL (tubing) or %s mg (pad)", plainNumber(p.MinAmountUL), plainNumber(p.MinAmountMg))
	switch unitOf(collectors) {
	case "µL":
		least = plainNumber(p.MinAmountUL) + " µL"
	case "mg":
		least = plainNumber(p.MinAmountMg) + " mg"
	}
	return []string{
		"Local protocol and licensed practice come first. This sheet decides nothing: a named person does.",
		"Ask the parent for full name and birth date. Twins: one infant in the room at a time; label before you leave the cot.",
		"Weigh the infant today. A projected weight is an estimate and makes nobody ready.",
		"Inner forearm, left and right, one limb at a time. Sound, clean skin; never over a cut, a rash or a burn.",
		"Both electrodes on the same limb, never on bare skin, the current never across the chest. None in an oxygen-rich enclosure. Stop if the infant is in pain.",
		fmt.Sprintf("Induction about 5 minutes (common practice). Collect for %s minutes, no longer; least amount %s for each arm in %s minutes. Never pool arms.",
			plainNumber(p.MaxCollectionMin), least, plainNumber(p.AmountBaseMin)),
		"Keep the infant warm and fed. Look at the skin before and after: a blister or burn is written down, seen by a clinician the same day, and reported.",
		"Poor feeding, vomiting, listlessness or wheeze: medical care today, whatever becomes of the test.",
	}
}

// unitOf is the unit of an amount by the collectors of a site.
func unitOf(collectors []string) string {
	tubing, pad := len(collectors) == 0, len(collectors) == 0
	for _, k := range collectors {
		tubing, pad = tubing || k == "tubing", pad || k == "pad"
	}
	switch {
	case tubing && pad:
		return "µL or mg"
	case pad:
		return "mg"
	}
	return "µL"
}

// daySheetPage answers GET /sessions/:site/:day/:id/day-sheet.
func (s *server) daySheetPage(c Ctx) error {
	x, err := s.loadClinic(c, false)
	if err != nil {
		return err
	}
	p := &templates.DaySheetPage{Base: templates.Base{Name: "Day sheet, " + shown(s.siteName(x.site.Key)) + ", " + date(x.session.On).String(), Current: "schedule"},
		Back: x.at, PDF: x.at + "/day-sheet.pdf", Sheet: s.daySheet(c, &x)}
	return s.render(c, http.StatusOK, p)
}

// daySheetPDF answers GET /sessions/:site/:day/:id/day-sheet.pdf.
func (s *server) daySheetPDF(c Ctx) error {
	x, err := s.loadClinic(c, false)
	if err != nil {
		return err
	}
	sheet := s.daySheet(c, &x)
	var buf bytes.Buffer
	if err := daysheet.Write(&buf, &sheet, x.session.On.Time()); err != nil {
		return fmt.Errorf("web: day sheet: %w", err)
	}
	return sendPDF(c, "day-sheet-"+x.session.On.String(), buf.Bytes())
}

// daySheet sets out what the page and the PDF hold.
func (s *server) daySheet(c Ctx, x *clinic) templates.DaySheet {
	now := s.Now()
	out := templates.DaySheet{Title: "Day sheet: " + date(x.session.On).Long(), Where: s.clinicPlace(x), Count: templates.Count(len(x.visits), "infant", "infants"),
		Made: "Printed " + date(cases.DayOf(now)).String() + ", " + s.clock(now) + ", by " + userOf(c).Name,
		Care: dayCare(s.protocol(), x.site.Accepts.Collectors), None: "Nobody is booked.",
		Enter: "Enter each test under Schedule, Record test, from this session's list.", Keep: "Health information: keep locked, shred after entry."}
	if x.byHand {
		out.Title += ", booked by hand"
	} else {
		out.Title += ", " + spanWords(&x.session)
	}
	if _, state := s.clinicWords(x); state.Text != "" {
		out.Warning = "This session does not take place: " + state.Text + ". The bookings have to be moved."
	}
	for i := range x.visits {
		out.Infants = append(out.Infants, s.sheetInfant(x, &x.visits[i]))
	}
	return out
}

// clinicPlace says where a session is and with what it collects.
func (s *server) clinicPlace(x *clinic) string {
	k, _ := s.siteOf(x.site.Key)
	parts := []string{shown(or(k.Name, x.site.Key))}
	for _, t := range []string{k.Address, k.Phone} {
		if t != "" {
			parts = append(parts, shown(t))
		}
	}
	out := strings.Join(parts, ", ") + "."
	if x.session.Note != "" {
		out += " " + strings.TrimSuffix(sentence(shown(x.session.Note)), ".") + "."
	}
	if kinds := x.site.Accepts.Collectors; len(kinds) > 0 {
		out += " Collector: " + strings.Join(words(collectorWords, kinds), " or ") + "."
	}
	return out
}

// sheetInfant is one infant's box.
func (s *server) sheetInfant(x *clinic, v *booking.Visit) templates.SheetInfant {
	k, b, in := &v.Case, v.Booking(), &v.Case.Infant
	a := s.protocol().Assess(k, s.today())
	out := templates.SheetInfant{Time: or(string(b.At), "No time"), Name: shown(infantName(in)), Twin: twinWords(in), Born: date(in.Born).String(),
		Age: templates.Age(ageOn(in, b.On)) + " that day", Reference: k.Reference, Why: sheetWhy(&a, b.On), Interpreter: interpreterWords(k),
		Postpone: postponeTicks, Checks: siteTicks, Unit: unitOf(x.site.Accepts.Collectors), Override: overrideWords(b)}
	out.Corrected = "gestation not known"
	if in.Gestation != 0 {
		out.Corrected = "corrected " + gestationWords(in.Gestation+cases.Gestation(ageOn(in, b.On)))
	}
	out.Weight, out.Projected = s.sheetWeight(k, b.On)
	if b.State == "booked" {
		out.Stop = notHolds(booking.Against(s.protocol(), k, &x.site, b.On))
	}
	for i := range k.Holds {
		if h := &k.Holds[i]; h.From <= b.On && (h.Until == 0 || b.On < h.Until) {
			text := cases.HoldWord(h.Reason) + ", since " + date(h.From).String()
			if h.Note != "" {
				text += " (" + shown(h.Note) + ")"
			}
			out.Holds = append(out.Holds, text)
		}
	}
	return out
}

// notHolds leaves out the holds, which a day sheet says by themselves.
func notHolds(list []string) []string {
	var out []string
	for _, t := range list {
		if !strings.HasPrefix(t, "on hold since") {
			out = append(out, t)
		}
	}
	return out
}

// sheetWhy says which visit it is: first, repeat with its number and cause, re-test,
// or what came of it.
func sheetWhy(a *cases.Assessment, on cases.Day) string {
	if t := testedOn(a, on); t != "" {
		return t
	}
	switch r := a.Repeat; {
	case a.Closed:
		return "Re-test"
	case r != nil:
		return fmt.Sprintf("Repeat, attempt %d: %s on %s", r.Attempt, within(repeatCause(r.Because)), date(r.After))
	case len(a.Tests) == 0:
		return "First test"
	}
	return fmt.Sprintf("Test %d", len(a.Tests)+1)
}

// sheetWeight is the last measured weight, and what is projected for the day.
func (s *server) sheetWeight(k *cases.Case, on cases.Day) (weight, projected string) {
	r := s.protocol().Readiness(k, min(on, s.today()))
	if r.Latest.On == 0 {
		return "No weight is known: weigh first", ""
	}
	weight = fmt.Sprintf("Last weighed %s on %s", templates.Kg(int(r.Latest.G)), date(r.Latest.On))
	if e, ok := k.Infant.WeightOn(on, s.today()); ok {
		projected = fmt.Sprintf("About %s that day: %s", templates.Kg(int(e.G)), estimateWords)
	}
	return weight, projected
}
