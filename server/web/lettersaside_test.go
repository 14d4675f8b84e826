package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

const curlewLane = `"family":{"guardians":[{"given":"Ruth","family":"Heron","relation":"mother","phones":[{"number":"555-0187","kind":"mobile"}],"letters":true,"address":{"lines":["14 Curlew Lane"],"city":"Alder Bay","region":"EX","postal":"00001"}}],"language":"en"}`

// docTwoOwed owes its family a first notice and the letter of a test weeks ahead.
var docTwoOwed = doc(docNew, `"referral":{"on":"2026-03-04","route":"screen"}}`, `"referral":{"on":"2026-03-04","route":"screen"},
"contacts":[{"on":"2026-03-04","with":"primary-care","by":"phone","reached":true},{"on":"2026-03-04","with":"family","by":"phone","reached":true}],
"bookings":[{"on":"2026-04-01","at":"09:30","site":"alder-bay","state":"booked","changed":"2026-03-05"}],`+curlewLane+`}`)

// The second letter of a day says that it waits; a named person makes it all the same,
// once.
func TestALetterThatWaitsIsMadeNow(t *testing.T) {
	s := newSite(t)
	k := s.open(docTwoOwed)
	wren := s.as("wren")
	key := "/letters?state=due&letter=" + k.Reference + "/booking/2026-04-01%2009:30"
	p := wren.get(key).wants(200, "Drafted, waits a day", "a family gets one letter a day")
	if strings.Contains(p.body, "/letters/make-now") {
		t.Error("the less important letter is offered before the first is made")
	}
	wren.get("/letters").form("/letters/make").send().wants(200, "1 letter made", "1 for another day")
	wren.get("/letters").wants(200, "Waits a day: the family gets another letter today")
	f := wren.get(key).wants(200, "Drafted, waits a day", "Make now").form("/letters/make-now")
	f.send().wants(200, "Letter made", "as asked for by Wren Castellano")
	f.send().wants(200, "Made before.")
	by := map[string]string{}
	all := s.lettersIn("to-print")
	for _, l := range all {
		by[l.Kind] = l.History[0].By
	}
	if len(all) != 2 || by[cases.LetterBooking] != "Wren Castellano" || by[cases.LetterFirstNotice] == "Wren Castellano" {
		t.Errorf("%d letters, made by %v", len(all), by)
	}
	ines := s.as("ines")
	if got := ines.get(key); got.status == 200 && strings.Contains(got.body, "Make now") {
		t.Error("offered without the right")
	}
}

// What the last run could not make beside letters stands among what is due: a message to
// a family, and the list of a day, each with its reason and the next step.
func TestMessagesAndListsSetAsideStandAmongWhatIsDue(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docBooked, `"bookings"`, strings.Replace(curlewLane, `"language":"en"`, `"language":"en","consents":[{"channel":"text","on":"2026-02-20","by":"Ruth Heron"}]`, 1)+`,"bookings"`, "Ezra", "שפירא"))
	wren := s.as("wren")
	wren.get("/letters").form("/letters/make").send().wants(200, "set aside")
	p := wren.get("/letters?state=due").wants(200, "Reminder the day before", "No service for messages is set up; phone instead.", "Phone the family, and record it",
		"Alder Bay CF Clinic, 6 Mar 2026", "cannot be set yet (Hebrew). Open the schedule: print the day sheet, or phone the site")
	for _, l := range p.links() {
		if strings.Contains(l, k.Reference) || l == "/schedule" {
			wren.get(strings.ReplaceAll(l, "&amp;", "&")).wants(200)
		}
	}
}

// The letter to primary care about the result that a closing rests on is shown while it
// is owed, though the case is closed.
func TestDoctorLetterOfAClosedCaseIsShown(t *testing.T) {
	s := newSite(t)
	s.open(doc(docBooked, `,
"bookings":[{"on":"2026-03-06","at":"09:30","site":"alder-bay","state":"booked","changed":"2026-02-21"}]`, `,"primary_care":{"name":"Dr. Averill"},
"sweat_tests":[{"on":"2026-02-27","site":"alder-bay","collector":"tubing","arms":[{"side":"left","minutes":30,"amount_ul":24,"chloride":17},{"side":"right","minutes":30,"amount_ul":20,"chloride":19}]}],
"genotype":{"scope":"none"},"closures":[{"on":"2026-03-03","as":"not-affected","by":"Dr. Lindqvist"}]`, "Ezra", "Closed"))
	s.as("wren").get("/letters?state=due").wants(200, "VANTERPOOL, Closed", "Result, to primary care", "Cannot be made", "Enter the doctor’s address")
}

// A family whose language has no text gets English with a call by an interpreter, and
// the page says so before and after the letter is made; of two guardians the one chosen
// gets it at that one's own address.
func TestOtherLanguageAndChosenGuardian(t *testing.T) {
	s := newSite(t)
	two := `"guardians":[{"given":"Bo","family":"Tern","relation":"father","address":{"lines":["1 Reed Street"],"city":"Saltmarsh","region":"EX","postal":"00002"}},`
	s.open(doc(docMail, `"language":"en"`, `"language":"so"`, `"guardians":[`, two))
	wren := s.as("wren")
	wren.get("/letters?state=due").wants(200, "Call the family with an interpreter", "14 Curlew Lane")
	wren.get("/letters").form("/letters/make").send()
	l := s.lettersIn("to-print")
	if len(l) != 1 || !strings.Contains(l[0].Note, "interpreter") || strings.Contains(string(l[0].Data), "Reed Street") {
		t.Fatalf("letters %+v", l)
	}
	wren.get("/letters?letter="+l[0].ID).wants(200, "Call the family with an interpreter")
}

// A family of whom nobody was picked yet, and an address from which mail came back: the
// letter is set aside with that reason, before and after a run.
func TestPickGuardianAndBadAddressAreReasons(t *testing.T) {
	two := `"guardians":[{"given":"Bo","family":"Tern","relation":"father","letters":true,"address":{"lines":["1 Reed Street"],"city":"Saltmarsh","region":"EX","postal":"00002"}},`
	for name, x := range map[string]struct{ doc, reason, next string }{
		"pick":        {doc(docMail, `"language":"en"`, `"language":"en","pick_guardian":true`, `"guardians":[`, two), "guardian", "Enter or choose who gets letters"},
		"bad address": {doc(docMail, `"postal":"00001"}`, `"postal":"00001","bad":true}`), "ail came back from the address on record", "Enter the new address"},
	} {
		s := newSite(t)
		s.open(x.doc)
		wren := s.as("wren")
		wren.get("/letters?state=due").wants(200, "Cannot be made", x.reason, x.next)
		wren.get("/letters").form("/letters/make").send().wants(200, "1 set aside")
		if n := len(s.lettersIn("to-print")); n != 0 {
			t.Errorf("%s: %d letters", name, n)
		}
		wren.get("/letters?state=due").wants(200, "Cannot be made", x.reason, x.next)
	}
}

// The letter of a test to which nobody can come is not said to be drafted, and neither
// run nor button makes it.
func TestALetterToACancelledSessionIsNotOffered(t *testing.T) {
	s := newSite(t)
	k := s.open(docTwoOwed)
	gone := session(cases.MakeDay(2026, 4, 1))
	gone.Cancelled = true
	s.withSessions(alderBay, gone)
	key := "/letters?state=due&letter=" + k.Reference + "/booking/2026-04-01%2009:30"
	p := s.as("wren").get(key).wants(200, "Cannot be made", "There is no session to come to", "Move the booking")
	if strings.Contains(p.body, "waits a day") {
		t.Error("it is said to wait only")
	}
}
