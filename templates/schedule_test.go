package templates

import (
	"strings"
	"testing"
)

func sampleWho(name, ref, born, age, twin string) Who {
	return Who{Name: name, Reference: ref, Born: DateOf(born), Age: age, Twin: twin}
}

func marigold() *Banner {
	return &Banner{Name: "FENWICK-ADE, Marigold", Born: DateOf("2026-01-25"), Age: "39 days", Sex: "Girl", Reference: "AB-2026-0118", Accession: "AB26-00118", Gestation: "39 weeks 1 day"}
}

func onePage(name, current string) Base {
	b := sampleBase(name, current)
	b.Rev, b.Banner = 7, marigold()
	return b
}

func sampleSchedule() *SchedulePage {
	tobias := sampleWho("OYELARAN, Tobias", "AB-2026-0112", "2026-01-21", "43 days", "Twin A")
	return &SchedulePage{
		Base: sampleBase("Schedule, 3 infants without a booking", "schedule"), Today: DateOf("2026-03-05"), Waiting: 3, MayBook: true, MayTest: true,
		Repeat: []ToBook{{Who: tobias, Strip: Strip{Age: 43, Tests: []Mark{{24, DropQNS, "QNS"}}}, Why: "QNS on 14 Feb, due 21 Feb", Weight: "3.59 kg",
			WeightNote: "estimate, weigh on the day", Earliest: "Now", Waits: "repeat from 21 Feb", Late: "12 days late", Button: "Book", Href: "/infants/AB-2026-0112/bookings/new"}},
		Ready: []ToBook{{Who: sampleWho("PASCOE, Rafferty", "AB-2026-0137", "2026-02-08", "25 days", ""), Strip: Strip{Age: 25}, Weight: "3.62 kg",
			WeightNote: "measured 1 Mar", Earliest: "Now", Button: "Book", Href: "/infants/AB-2026-0137/bookings/new"}},
		NotReady: []ToBook{{Who: sampleWho("KOVALENKO, Mila", "AB-2026-0109", "2026-01-19", "45 days", ""), Strip: Strip{Age: 45}, Weight: "1.74 kg",
			WeightNote: "measured 16 Feb", Earliest: "Weigh first", Waits: "waits for weight", Button: "Book", Href: "/infants/AB-2026-0109/bookings/new"}},
		Day: []Appointment{
			{Who: sampleWho("FENWICK-ADE, Marigold", "AB-2026-0118", "2026-01-25", "39 days", ""), On: DateOf("2026-03-05"), At: "09:00", Site: "Heron Point", Why: "Repeat, intermediate on 16 Feb",
				State: Tag{"soon", "Not recorded yet"}, Open: true, Path: "/infants/AB-2026-0118/bookings/2026-03-05T0900", Record: "/infants/AB-2026-0118/tests/new?on=2026-03-05", Rev: 4},
			{Who: sampleWho("LOMBARDI, Nell", "AB-2026-0121", "2026-02-01", "32 days", ""), On: DateOf("2026-03-05"), At: "10:20", Site: "Heron Point", Why: "First test", State: Tag{"done", "Kept"}, Rev: 2},
		},
		Booked: []Appointment{{Who: sampleWho("ABERNATHY-OSEI, Jonah", "AB-2026-0123", "2026-01-29", "35 days", ""), On: DateOf("2026-03-09"), At: "13:00", Site: "Alder Bay", Why: "First test",
			State: Tag{"book", "Booked"}, Open: true, Path: "/infants/AB-2026-0123/bookings/2026-03-09T1300", Rev: 3}},
	}
}

func sampleBook() *BookPage {
	return &BookPage{
		Base: onePage("Book a sweat test, AB-2026-0118", "schedule"), Head: "Book a sweat test for Marigold", Lead: "Repeat after QNS on 16 Feb, due Mon 23 Feb 2026.",
		Action: "/infants/AB-2026-0118/bookings/new", Back: "/infants/AB-2026-0118", Button: "Book", State: Tag{"hold", "Waits for weight"},
		Mets:     []Met{{true, "Age", "39 days", "14 days or more, since 8 Feb 2026", ""}, {false, "Weight", "1.92 kg", "2.00 kg or more; measured 4 Mar 2026", ""}},
		Estimate: "2.01 kg on Thu 12 Mar 2026 (10 to 15 Mar): estimate, weigh on the day.",
		On:       Field{ID: "on", Label: "Day", Hint: "Like 12 Mar 2026 or +2d", Width: "w14"}, At: Field{ID: "at", Label: "Time", Hint: "24-hour clock", Width: "w5"},
		Site:     Choice{ID: "site", Legend: "Test site", Options: []Option{{Value: "alder-bay", Text: "Alder Bay"}, {Value: "heron-point", Text: "Heron Point"}}},
		Sibling:  &SiblingBooking{Name: "FENWICK-ADE, Basil", Reference: "AB-2026-0119", Note: "Ready now.", At: Field{ID: "sibling-at", Label: "Time for FENWICK-ADE, Basil", Width: "w5"}, Rev: 3},
		Cautions: []string{"Weigh the infant on the day."}, Scheduled: []string{"Mon 16 Feb 2026, 09:00, Heron Point: kept"},
	}
}

func init() {
	samples["schedule"] = func() Page {
		p := sampleSchedule()
		p.MayWeigh = true
		p.Repeat[0].Repeat = &RepeatPart{Head: "Repeat test", Cause: "QNS on 14 Feb 2026.", Window: "From 15 Feb 2026, due 21 Feb 2026.", State: Tag{"late", "12 days late"}, Count: "Test 3.",
			Consider: "2 tests gave no result. Consider, besides or instead of one more:", Instead: []string{"Ask the doctor about fecal elastase", "Tell the supervisor"}}
		p.Weigh = []WeighRow{{Who: p.NotReady[0].Who, Weight: "1.74 kg", Measured: "measured 2 Mar 2026", Expected: "2.00 kg about 12 Mar 2026 (10 Mar 2026 to 15 Mar 2026)", Basis: "from its own gain of 26 g a day", By: DateOf("2026-03-09"), State: Tag{Text: "on time"}, Href: "/infants/AB-2026-0109/weights/new?from=schedule"},
			{Who: sampleWho("HALLORAN, Wren", "AB-2026-0141", "2026-02-20", "13 days", ""), Weight: "Not known", Booked: "Booked Mon 9 Mar 2026: weigh before the test", By: DateOf("2026-03-04"), State: Tag{"late", "1 day late"}, Href: "/infants/AB-2026-0141/weights/new?from=schedule"}}
		p.Retests = []RetestRow{{Who: sampleWho("TREMAYNE, Ida", "AB-2025-0031", "2025-09-05", "26 weeks", ""), On: DateOf("2026-03-05"), State: Tag{"soon", "due today"}, Last: "Intermediate on 2 Oct 2025", Next: "After it the protocol lists 5 Sep 2026.", Href: "/infants/AB-2025-0031/book?from=schedule",
			Series: []RetestMark{{"6 months", DateOf("2026-03-05"), Tag{}}, {"12 months", DateOf("2026-09-05"), Tag{}}}},
			{Who: sampleWho("ADEYEMI, Pim", "AB-2024-0017", "2025-03-10", "51 weeks", ""), On: DateOf("2026-03-10"), State: Tag{"book", "Booked"}, Last: "CF unlikely on 8 Sep 2025", Booked: "Tue 10 Mar 2026, 09:00, Heron Point", Next: "After it the protocol lists 10 Mar 2027.",
				Series: []RetestMark{{"6 months", DateOf("2025-09-10"), Tag{"done", "tested 8 Sep 2025"}}, {"12 months", DateOf("2026-03-10"), Tag{}}}}}
		p.Clinics = []ClinicDay{{DateOf("2026-03-06"), "09:30 to 12:10", "Alder Bay", "2 of 4 free, 1 kept for repeats", "/settings/sites/alder-bay/sessions"}}
		return p
	}
	samples["schedule-empty"] = func() Page {
		return &SchedulePage{Base: sampleBase("Schedule, nobody waits", "schedule"), Today: DateOf("2026-03-05")}
	}
	samples["book"] = func() Page { return sampleBook() }
	samples["book-early"] = func() Page {
		p := sampleBook()
		const text = "AB-2026-0118 is not ready on Fri 6 Mar 2026: last weighed 1920 g on Wed 4 Mar 2026, 2000 g are needed; weigh again. Select a later day, or enter who decided to book all the same, and why."
		p.Problems = []Problem{{"override-by", text}}
		p.On.Value, p.At.Value, p.Sibling = "6 Mar 2026", "09:00", nil
		p.Over = &OverridePart{Refused: text, By: Field{ID: "override-by", Label: "Who decided", Width: "w20"}, Reason: Field{ID: "override-reason", Label: "Why it is booked all the same", Width: "w20"}}
		p.GoOn = GoOn{Warnings: []Warning{{ID: "family-not-reached", Text: "No talk with the family is recorded.", Tick: "Book it all the same; the contact will be logged"}},
			Reason: Field{ID: "go-on-why", Label: "Why it is booked all the same", Width: "w20"}}
		return p
	}
	samples["move"] = func() Page {
		p := sampleBook()
		p.Head, p.Button, p.Moving, p.Sibling = "Move the booking of Marigold", "Move", "Thu 5 Mar 2026, 09:00, Heron Point", nil
		p.Why = &Field{ID: "why", Label: "Why it moves", Width: "w20"}
		return p
	}
	samples["cancel-booking"] = func() Page {
		return &CancelBookingPage{Base: onePage("Cancel a booking, AB-2026-0118", "schedule"), Head: "Cancel the booking of Marigold", Booking: "Thu 5 Mar 2026, 09:00, Heron Point",
			Action: "/infants/AB-2026-0118/bookings/2026-03-05T0900/cancel", Back: "/schedule",
			Reason: Choice{ID: "reason", Legend: "Why is it cancelled?", Down: true, Options: []Option{{Value: "family", Text: "The family asked"}, {Value: "unwell", Text: "The infant is unwell"}}},
			Words:  Field{ID: "words", Label: "In words", Optional: true, Kind: "area"},
			Note:   "The infant goes back to the list of those without a booking.", Button: "Cancel booking", Keep: "Keep the booking"}
	}
}

func TestScheduleGroupsKeepTheirOrder(t *testing.T) {
	page := render(t, sampleSchedule())
	last := -1
	for _, head := range []string{"Due for repeat", "Ready for a first test", "Not ready yet", ">Booked</h2>"} {
		at := strings.Index(page, head)
		if at <= last {
			t.Errorf("%q stands at %d, after %d wanted", head, at, last)
		}
		last = at
	}
	if !strings.Contains(page, "estimate, weigh on the day") {
		t.Error("an estimated weight is not called an estimate")
	}
}

func TestScheduleOffersActsOnlyToThoseWhoMay(t *testing.T) {
	p := sampleSchedule()
	p.MayBook, p.MayTest = false, false
	page := render(t, p)
	for _, act := range []string{"/missed", "/kept", "/cancel\"", "/bookings/new"} {
		if strings.Contains(page, act) {
			t.Errorf("page for a reader offers %s", act)
		}
	}
}

func init() {
	places := func() *BookPage {
		p := sampleBook()
		p.Sibling, p.ByHand = nil, true
		p.Places = &PlacesPart{Action: "/infants/AB-2026-0118/place", Button: "Book", Twin: 3, Note: "Twins: FENWICK-ADE, Basil (AB-2026-0119) is booked too, in the place that follows.",
			Offers: []PlaceOffer{{Value: "alder-bay 2026-03-12 09:30 10:10", Say: "Thu 12 Mar 2026, 09:30, Alder Bay, and 10:10 for the twin", Far: "About 12 km from the family in a straight line", Late: Tag{"late", "17 days late"}, Why: []string{"estimate, weigh on the day"}},
				{Value: "heron-point 2026-03-13 09:00 09:40", Say: "Fri 13 Mar 2026, 09:00, Heron Point", Why: []string{"old enough"}}},
			Pick: Choice{ID: "place", Legend: "Free places in the next 8 weeks", Options: []Option{{Text: "Choose a place"}, {Value: "alder-bay 2026-03-12 09:30", Text: "Thu 12 Mar 2026, 09:30, Alder Bay"}}}}
		return p
	}
	samples["book-places"] = func() Page { return places() }
	samples["book-places-override"] = func() Page {
		p := places()
		const text = "AB-2026-0118 is not ready on Thu 12 Mar 2026: last weighed 1920 g."
		p.Problems = []Problem{{"override-by", text}}
		p.Places.Offers, p.Places.None, p.Places.Note, p.ByHand = nil, "No place fits.", "", false
		p.Moving, p.Places.Button = "Thu 5 Mar 2026, 09:00, Heron Point", "Move"
		p.Places.Held = &HeldPlace{Value: "alder-bay 2026-03-12 09:30", Say: "Thu 12 Mar 2026, 09:30, Alder Bay", Button: "Move all the same", Refused: text, Why: &Field{ID: "why", Label: "Why it moves", Value: "The family asked"},
			By: Field{ID: "override-by", Label: "Who decided"}, Reason: Field{ID: "override-reason", Label: "Why"}}
		return p
	}
}

func init() {
	samples["schedule-cut"] = func() Page {
		p := sampleSchedule()
		p.Waiting = 1204
		p.Cuts = map[string]*Cut{"ready": {1, 1200, "/schedule?all=ready#ready"}, "booked": {1, 60, "/schedule?all=booked#booked"}}
		return p
	}
}
