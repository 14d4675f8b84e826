package templates

import (
	"fmt"
	"strings"
	"testing"
)

// sampleSheet is a day sheet with one of each thing that it can say.
func sampleSheet() DaySheet {
	ticks := []string{"unwell", "on oxygen", "cream on the skin"}
	checks := []string{"skin sound", "no cream", "inner forearm"}
	return DaySheet{Title: "Day sheet: Monday 9 March 2026, 13:00 to 15:00", Where: "Alder Bay CF Clinic, 2 Curlew Street, Alder Bay, 555-0150. Room 4.", Count: "3 infants",
		Made: "Printed 5 Mar 2026, 08:52, by Dagny Achterberg", Care: []string{"Weigh the infant today.", "Never pool arms."},
		Enter: "Enter each test under Schedule.", Keep: "Health information: keep locked, shred after entry.",
		Infants: []SheetInfant{
			{Time: "13:00", Name: "OYELARAN, Tobias", Twin: "Twin A of 2", Born: "21 Jan 2026", Age: "47 days that day", Corrected: "corrected 43 weeks", Reference: "AB-2026-0112",
				Why: "Repeat, attempt 2: QNS on 14 Feb 2026", Weight: "Last weighed 3.59 kg on 4 Mar 2026", Projected: "About 3.71 kg that day: estimate, weigh on the day", Postpone: ticks, Checks: checks, Unit: "µL"},
			{Time: "13:40", Name: "IBARRA SOLÍS, Lucía", Born: "4 Feb 2026", Age: "33 days that day", Corrected: "gestation not known", Reference: "AB-2026-0132", Why: "First test", Interpreter: "Interpreter needed: Spanish",
				Weight: "Last weighed 1.92 kg on 4 Mar 2026", Stop: []string{"last weighed 1920 g on Wed 4 Mar 2026, 2000 g are needed; weigh again"}, Override: "Booked all the same by decision of Dr. Ferrante: two variants.",
				Holds: []string{"oxygen, since 1 Mar 2026"}, Postpone: ticks, Checks: checks, Unit: "µL or mg"},
		}}
}

func init() {
	samples["day-sheet"] = func() Page {
		return &DaySheetPage{Base: sampleBase("Day sheet, Alder Bay CF Clinic, 9 Mar 2026", "schedule"), Back: "/sessions/alder-bay/2026-03-09/x", PDF: "/sessions/alder-bay/2026-03-09/x/day-sheet.pdf", Sheet: sampleSheet()}
	}
	samples["day-sheet-empty"] = func() Page {
		return &DaySheetPage{Base: sampleBase("Day sheet, Alder Bay CF Clinic, 9 Mar 2026", "schedule"), Back: "/a", PDF: "/b", Sheet: DaySheet{Title: "Day sheet", Count: "0 infants", None: "Nobody is booked.", Warning: "This session does not take place: Cancelled."}}
	}
	samples["clinic-session"] = func() Page {
		who := sampleWho("OYELARAN, Tobias", "AB-2026-0112", "2026-01-21", "43 days", "Twin A of 2")
		visit := func(at string, tag Tag, f func(*ClinicPlace)) ClinicPlace {
			p := ClinicPlace{At: at, Appointment: Appointment{Who: who, On: DateOf("2026-03-05"), Why: "First test", State: tag, Path: "/infants/AB-2026-0112/bookings/0", Record: "/infants/AB-2026-0112/tests/new", Rev: 3}}
			f(&p)
			return p
		}
		return &ClinicSessionPage{Base: sampleBase("Alder Bay CF Clinic, 5 Mar 2026", "schedule"), Head: "Alder Bay CF Clinic, Thursday 5 March 2026", Lead: "09:00 to 12:00. 1 of 4 free, 45 minutes each.", Where: "2 Curlew Street", Phone: "555-0150",
			Sheet: "/x/day-sheet", PDF: "/x/day-sheet.pdf", Calendar: "/x/calendar.ics", Sessions: "/settings/sites/alder-bay/sessions", From: "?from=/sessions/alder-bay/2026-03-05/x", MayBook: true, MayTest: true, Cautions: []string{"Weigh the infant on the day."},
			Rows: []ClinicPlace{
				visit("09:00", Tag{"soon", "Not recorded yet"}, func(p *ClinicPlace) { p.Open = true; p.Calendar = "/infants/AB-2026-0112/bookings/0/calendar.ics" }),
				visit("09:45", Tag{"book", "Booked"}, func(p *ClinicPlace) {
					p.Open, p.Ahead = true, true
					p.Stop = []string{"no weight is known"}
					p.Interpreter = "Interpreter needed: Spanish"
					p.Override = "By Dr. F."
				}),
				{At: "10:30", Free: "Free, kept for repeats"},
				visit("11:15", Tag{"cross", "Missed"}, func(p *ClinicPlace) { p.Missed = true }),
			}}
	}
}

// Every infant's box has both arms with a cell to write in under each head, and every
// tick a box of its own.
func TestDaySheetHasRoomToWrite(t *testing.T) {
	sheet := sampleSheet()
	page := render(t, samples["day-sheet"]())
	for _, k := range sheet.Infants {
		for _, want := range []string{k.Name, k.Reference, k.Born, "Amount, " + k.Unit} {
			if !strings.Contains(page, want) {
				t.Errorf("no %q on the sheet", want)
			}
		}
	}
	empty := strings.Count(page, "<td></td>")
	if want := len(sheet.Infants) * 2 * (len(SheetColumns("")) - 1); empty != want {
		t.Errorf("%d cells to write in, want %d", empty, want)
	}
	ticks := 0
	for _, k := range sheet.Infants {
		ticks += 2 + len(k.Postpone) + len(k.Checks) + 2*len(SheetSkin)
	}
	if n := strings.Count(page, `class="tick"`); n != ticks {
		t.Errorf("%d tick boxes, want %d", n, ticks)
	}
	if fmt.Sprint(strings.Count(page, "Collected by")) != "2" {
		t.Error("who collected is not asked once for each infant")
	}
}
