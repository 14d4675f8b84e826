package web_test

import (
	"testing"

	"dunlin/cases"
)

func TestAHoldIsPlacedAndEnded(t *testing.T) {
	s := newSite(t)
	k := s.open(docBooked)
	at := "/infants/" + k.Reference
	nurse := s.as("dagny")
	p := nurse.get(at+"/holds/new").form(at+"/holds/new").set("from", "tomorrow").send()
	p = p.wants(422, "Select the reason", "From must be today or in the past").form(at+"/holds/new").set("reason", "oxygen").set("from", "4 Mar 2026").send()
	p.wants(200, "Hold placed", "Next: Ask whether the hold is over")
	end := at + "/holds/0/end"
	p = nurse.get(end).form(end).set("until", "1 Mar 2026").send().wants(422, "must be on or after 4 Mar 2026")
	p.form(end).set("until", "today").send().wants(200, "Hold ended")
	if h := s.read(k.Reference).Holds; len(h) != 1 || h[0].Until != cases.MakeDay(2026, 3, 5) {
		t.Errorf("holds %+v", h)
	}
	nurse.get(at + "/holds/7/end").wants(404)
}

func TestAReportOfTwoVariantsIsPresumptiveCF(t *testing.T) {
	s := newSite(t)
	k := s.open(docNew)
	path := "/infants/" + k.Reference + "/genotype"
	wren := s.as("wren")
	p := wren.get(path).wants(200, "a homozygous variant is entered twice").form(path).set("variant-1", "F508del").set("variant-2", "G542X").send()
	p.wants(422, "Enter why it is entered").form(path).set("reason", "New report").send().wants(200, "Report saved", "Call the CF center and primary care")
	c := s.read(k.Reference)
	if a := s.protocol.Assess(&c, cases.DayOf(s.now)); !a.PresumptiveCF {
		t.Errorf("genotype %+v", c.Genotype)
	}
	f := wren.get(path).form(path)
	if f.values.Get("variant-2") != "G542X" || f.values.Get("phase-1") != "unknown" {
		t.Errorf("the form starts with %v", f.values)
	}
	f.set("scope", "none").set("reason", "Entered in error").send().wants(422, "Remove the variants, or select what was tested")
	s.as("dagny").get(path).wants(403)
}

func TestARefusalStopsRemindersAndMayBeWithdrawn(t *testing.T) {
	s := newSite(t)
	k := s.open(docBooked)
	at := "/infants/" + k.Reference
	wren := s.as("wren")
	p := wren.get(at+"/decline").wants(200, "Salt loss").form(at+"/decline").send().wants(422, "Enter who declined", "Enter who explained what declining means")
	p.form(at+"/decline").set("by-whom", "The mother").set("explained-by", "Dr. Santangelo").send().wants(200, "Refusal recorded", "Decide and close")
	wren.get(at+"/decline/withdraw").form(at+"/decline/withdraw").send().wants(200, "Refusal withdrawn")
	if d := s.read(k.Reference).Declined; d == nil || d.ByWhom != "The mother" || d.WithdrawnOn == 0 {
		t.Errorf("declined %+v", d)
	}
	wren.get(at+"/decline/withdraw").wants(409, "No refusal is recorded")
}

func TestHandOverFlagOrderAndNote(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docQNS, `"amount_ul":8}`, `"amount_ul":24,"chloride":41}`, `"amount_ul":11}`, `"amount_ul":21,"chloride":39}`))
	at := "/infants/" + k.Reference
	wren := s.as("wren")
	wren.get(at+"/repeat-order").form(at+"/repeat-order").set("by", "Dr. H. Lindqvist").send().wants(200, "Order saved")
	wren.get(at+"/flags/new").form(at+"/flags/new").set("kind", "custody").set("note", "County social work").send().wants(200, "Flag set")
	wren.get(at+"/notes/new").form(at+"/notes/new").set("text", "Moves in April").send().wants(200, "Note added")
	wren.get(at+"/handover").form(at+"/handover").set("to", "Program of the next state").send().wants(200, "Hand-over recorded")
	wren.get(at+"/handover/accept").form(at+"/handover/accept").set("by", "A. Fenwick").send().wants(200, "Acceptance recorded", "Decide and close")
	c := s.read(k.Reference)
	if c.RepeatOrdered == nil || len(c.Notes) != 1 || len(c.Flags) != 2 || c.Handover.AcceptedBy != "A. Fenwick" {
		t.Errorf("recorded %+v %+v %+v %+v", c.RepeatOrdered, c.Notes, c.Flags, c.Handover)
	}
	s.as("ines").get(at + "/notes/new").wants(403)
}
