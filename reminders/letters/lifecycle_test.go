package letters

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/schedule"
	realstore "dunlin/cases/store"
)

// office is a real store with a desk and a press, on a day.
type office struct {
	*testing.T
	db   *realstore.DB
	desk *cases.Desk
	k    *clock
	p    *Press
}

func newOffice(t *testing.T, on cases.Day, list ...cases.Case) *office {
	k := &clock{}
	k.set(on)
	db := onDisk(t, t.TempDir(), k, list...)
	return &office{t, db, cases.NewDesk(db, cases.DefaultProtocol()), k, pressOn(db, basePress(t))}
}

func (o *office) run(on cases.Day) Tally {
	o.Helper()
	o.k.set(on)
	return run(o.T, o.p, on)
}

func (o *office) case_(ref string) (c cases.Case) {
	o.Helper()
	err := o.db.View(context.Background(), func(r cases.Reader) error {
		var err error
		c, err = r.ByReference(ref)
		return err
	})
	if err != nil {
		o.Fatal(err)
	}
	return c
}

// letter finds the letter of a kind of a case, or of no case for "".
func (o *office) letter(ref, kind string) (l cases.Letter) {
	o.Helper()
	id := cases.ID("")
	if ref != "" {
		id = o.case_(ref).ID
	}
	_ = o.db.View(context.Background(), func(r cases.Reader) error {
		all, err := r.LettersOf(id)
		for _, x := range all {
			if x.Kind == kind {
				l = x
			}
		}
		return err
	})
	if l.ID == "" {
		o.Fatalf("%s has no letter %s", ref, kind)
	}
	return l
}

func (o *office) mark(ref, kind string, x cases.LetterChange) error {
	o.Helper()
	return o.desk.ChangeLetters(context.Background(), coordinator, []string{o.letter(ref, kind).ID}, x)
}

func (o *office) must(_ cases.Case, err error) {
	o.Helper()
	if err != nil {
		o.Fatal(err)
	}
}

const adaRef = "AB-2026-0101"

// reached is fresh with the family reached and a test booked.
func reachedAndBooked(n int) cases.Case {
	c := fresh(n)
	c.Contacts = []cases.Contact{{On: day("2026-03-09"), With: "family", By: "phone", Reached: true}}
	c.Bookings = []cases.Booking{{On: day("2026-03-18"), At: "09:30", Site: "alder-bay", State: "booked", Changed: day("2026-03-09")}}
	return c
}

func TestEachStepOfALetterIsKept(t *testing.T) {
	o := newOffice(t, day("2026-03-09"), reachedAndBooked(1))
	o.run(day("2026-03-09"))
	o.run(day("2026-03-10"))
	for _, state := range []string{"came-back", "answered", "unclaimed", "no such state"} {
		if o.mark(adaRef, cases.LetterBooking, cases.LetterChange{State: state}) == nil {
			t.Errorf("to-print became %s", state)
		}
	}
	for _, x := range []cases.LetterChange{{State: "printed", Run: "2026-03-10-a"}, {State: "mailed"}} {
		if err := o.mark(adaRef, cases.LetterBooking, x); err != nil {
			t.Fatal(err)
		}
	}
	o.k.set(day("2026-03-16"))
	if err := o.mark(adaRef, cases.LetterBooking, cases.LetterChange{State: "to-print"}); err == nil {
		t.Error("a mailed letter is printed anew")
	}
	if err := o.mark(adaRef, cases.LetterBooking, cases.LetterChange{State: "came-back", On: day("2026-03-20")}); err == nil {
		t.Error("it came back tomorrow")
	}
	if a := cases.DefaultProtocol().Assess(ptr(o.case_(adaRef)), day("2026-03-16")); a.Actions.Has(cases.ActFindAddress) {
		t.Error("an address is sought that is not bad")
	}
	if err := o.mark(adaRef, cases.LetterBooking, cases.LetterChange{State: "came-back", Note: "No such number"}); err != nil {
		t.Fatal(err)
	}
	c, l := o.case_(adaRef), o.letter(adaRef, cases.LetterBooking)
	var states []string
	for _, h := range l.History {
		states = append(states, h.State+" by "+h.By)
	}
	if got := strings.Join(states, ", "); got != "to-print by Daily job, printed by M. Lark, mailed by M. Lark, came-back by M. Lark" {
		t.Error(got)
	}
	last := c.Contacts[len(c.Contacts)-1]
	if last.On != day("2026-03-10") || last.By != "letter" || last.With != "family" || last.Reached || last.Outcome != "came back" || !strings.Contains(last.Note, l.Number) || !strings.Contains(last.Note, "No such number") {
		t.Errorf("contact %+v", last)
	}
	if len(c.Contacts) != 2 || !c.Family.Guardians[0].Address.Bad || c.Letters[2].State != "came-back" || c.Letters[2].MailedOn != day("2026-03-10") {
		t.Errorf("contacts %d, address %+v, letters %+v", len(c.Contacts), c.Family.Guardians[0].Address, c.Letters)
	}
	if a := cases.DefaultProtocol().Assess(&c, day("2026-03-16")); !a.Actions.Has(cases.ActFindAddress) {
		t.Error("nobody is asked to find an address")
	}
}

func ptr[T any](v T) *T { return &v }

func TestCertifiedMailIsTracked(t *testing.T) {
	c := fresh(1)
	c.Contacts = []cases.Contact{{On: day("2026-03-09"), With: "family", By: "phone", Outcome: "no answer"}, {On: day("2026-03-10"), With: "family", By: "phone", Outcome: "no answer"}}
	o := newOffice(t, day("2026-03-19"), c)
	o.run(day("2026-03-19")) // the first notice; the certified letter the day after
	o.run(day("2026-03-20"))
	if err := o.mark(adaRef, cases.LetterNoContact, cases.LetterChange{State: "mailed", Tracking: "9407 1000"}); err != nil {
		t.Fatal(err)
	}
	if o.mark(adaRef, cases.LetterFirstNotice, cases.LetterChange{State: "mailed"}) != nil || o.mark(adaRef, cases.LetterFirstNotice, cases.LetterChange{State: "signed-for"}) == nil {
		t.Error("a letter by plain mail was signed for")
	}
	if err := o.mark(adaRef, cases.LetterNoContact, cases.LetterChange{State: "signed-for", Note: "by L. Wren"}); err != nil {
		t.Fatal(err)
	}
	l, k := o.letter(adaRef, cases.LetterNoContact), o.case_(adaRef).Contacts
	i := len(k) - 1
	for i >= 0 && k[i].By != "certified-letter" {
		i--
	}
	if l.By != "certified-letter" || l.Tracking != "9407 1000" || i < 0 || k[i].Outcome != "signed for" || k[i].Reached || !strings.Contains(k[i].Note, "9407 1000") {
		t.Errorf("letter %+v, contacts %+v", l, k)
	}
	// Primary care heard of it by a letter of its own.
	if d := o.letter(adaRef, cases.LetterCannotReach); d.State != "to-print" {
		t.Errorf("%+v", d)
	}
}

// A death holds what has not left, also of the twin at the same address, in the same
// transaction; the doctor's letter of the twin goes on.
func TestABereavedFamilyGetsNothing(t *testing.T) {
	one, two, far := reachedAndBooked(1), reachedAndBooked(2), reachedAndBooked(3)
	two.Siblings, far.Siblings = []string{adaRef}, []string{adaRef}
	one.Siblings = []string{"AB-2026-0102", "AB-2026-0103", "AB-2026-0999"}
	far.Family = &cases.Family{Guardians: []cases.Guardian{{Given: "Foster", Family: "Reed", Address: address("9 Mill Road"), Phones: []cases.Phone{{Number: "555-555-0177"}}}}}
	o := newOffice(t, day("2026-03-17"), one, two, far)
	if tally := o.run(day("2026-03-17")); tally.Queued != 2 { // the reminder of tomorrow's test; the third gave no consent
		t.Fatalf("%s %+v", tally, tally.SetAside)
	}
	c := o.case_(adaRef)
	o.must(o.desk.RecordDeath(context.Background(), coordinator, c.ID, c.Rev, day("2026-03-17"), "the hospital"))
	for _, ref := range []string{adaRef, "AB-2026-0102"} {
		for _, kind := range []string{cases.LetterFirstNotice, cases.LetterBooking} {
			if l := o.letter(ref, kind); l.State != "held" || !strings.HasPrefix(l.Note, "Held: ") {
				t.Errorf("%s %s: %s, %q", ref, kind, l.State, l.Note)
			}
		}
		if err := o.mark(ref, cases.LetterBooking, cases.LetterChange{State: "to-print"}); err == nil {
			t.Errorf("%s: released", ref)
		}
		_ = o.db.View(context.Background(), func(r cases.Reader) error {
			list, _ := r.OutgoingOf(o.case_(ref).ID)
			if len(list) != 1 || list[0].State != cases.OutHeld {
				t.Errorf("%s: messages %+v", ref, list)
			}
			return nil
		})
	}
	if l := o.letter(adaRef, cases.LetterReferral); l.State != "held" {
		t.Errorf("the doctor's letter about the infant who died: %s", l.State)
	}
	if l := o.letter("AB-2026-0102", cases.LetterReferral); l.State != "to-print" {
		t.Errorf("the doctor's letter about the twin: %s", l.State)
	}
	if l, c := o.letter("AB-2026-0103", cases.LetterBooking), o.case_("AB-2026-0103"); l.State != "to-print" || len(c.Flags) != 0 {
		t.Errorf("a sibling in another family: %s, flags %+v", l.State, c.Flags)
	}
	tally := o.run(day("2026-03-18"))
	if tally.Queued+tally.Held != 1 { // the third's booking letter is too late
		t.Errorf("the day after: %s, %d queued, %d held", tally, tally.Queued, tally.Held)
	}
	for _, l := range tally.Made { // the test site gets its list without the infants who do not come
		if l.Kind != cases.LetterClinicDay {
			t.Errorf("the day after: letter %+v", l)
		}
	}
	// A person speaks with the family and ends the flag; nothing sets it again.
	two = o.case_("AB-2026-0102")
	if len(two.Flags) != 1 || two.Flags[0].Kind != "no-mail" || !strings.Contains(two.Flags[0].Note, adaRef) {
		t.Fatalf("flags %+v", two.Flags)
	}
	if _, err := o.desk.EndFlag(context.Background(), coordinator, two.ID, two.Rev, 0, 0, ""); err == nil {
		t.Error("a flag was ended without a reason")
	}
	o.must(o.desk.EndFlag(context.Background(), coordinator, two.ID, two.Rev, 0, 0, "Spoke with the mother"))
	c = o.case_(adaRef)
	o.must(o.desk.AddNote(context.Background(), coordinator, c.ID, c.Rev, "Condolences sent"))
	if two = o.case_("AB-2026-0102"); len(two.Flags) != 1 || two.Flags[0].Until == 0 {
		t.Errorf("flags %+v", two.Flags)
	}
}

func TestADeathTakenBackAndFlagsOfASibling(t *testing.T) {
	one, two := reachedAndBooked(1), reachedAndBooked(2)
	one.Siblings, two.Siblings = []string{"AB-2026-0102"}, []string{adaRef}
	o := newOffice(t, day("2026-03-10"), one, two)
	ctx := context.Background()
	c := o.case_(adaRef)
	o.must(o.desk.RecordDeath(ctx, coordinator, c.ID, c.Rev, day("2026-03-10"), "a message"))
	c = o.case_(adaRef)
	o.must(o.desk.Change(ctx, coordinator, cases.EditIdentity, c.ID, c.Rev, cases.Event{Kind: "corrected"}, func(c *cases.Case, _ cases.Day) error {
		c.Infant.Died, c.Infant.DiedReported = 0, 0
		return nil
	}))
	if f := o.case_("AB-2026-0102").Flags; len(f) != 1 || f[0].Until == 0 {
		t.Errorf("flags after the death was taken back: %+v", f)
	}
	c = o.case_(adaRef)
	o.must(o.desk.SetFlag(ctx, coordinator, c.ID, c.Rev, cases.Flag{Kind: "safety", From: day("2026-03-10"), Note: "Call the clinic first"}))
	f := o.case_("AB-2026-0102").Flags
	if len(f) != 2 || f[1].Kind != "safety" || strings.Contains(f[1].Note, "clinic first") {
		t.Errorf("flags %+v", f)
	}
	if n := len(o.case_(adaRef).Flags); n != 1 {
		t.Errorf("the flag came back to where it is from: %d", n)
	}
	if tally := o.run(day("2026-03-10")); len(tally.Made) != 2 { // both doctors' letters
		t.Errorf("%s: %+v", tally, tally.Made)
	}
}

func TestWhatIsOvertakenIsHeld(t *testing.T) {
	o := newOffice(t, day("2026-03-09"), reachedAndBooked(1), reachedAndBooked(2))
	o.run(day("2026-03-09"))
	o.run(day("2026-03-10"))
	c := o.case_(adaRef)
	o.must(schedule.NewDesk(o.db, o.desk.Protocol()).Cancel(context.Background(), coordinator, c.ID, c.Rev, 0, "the family asked"))
	if l := o.letter(adaRef, cases.LetterBooking); l.State != "held" || !strings.Contains(l.Note, "cancelled") {
		t.Errorf("%s, %q", l.State, l.Note)
	}
	if l := o.letter(adaRef, cases.LetterFirstNotice); l.State != "to-print" {
		t.Errorf("the first notice says nothing of a booking, and is %s", l.State)
	}
	if err := o.mark("AB-2026-0102", cases.LetterBooking, cases.LetterChange{State: "printed"}); err != nil {
		t.Fatal(err)
	}
	if tally := o.run(day("2026-03-18")); tally.Held != 1 {
		t.Errorf("the day of the test has come: %s", tally)
	}
	l := o.letter("AB-2026-0102", cases.LetterBooking)
	if l.State != "held" || !strings.Contains(l.Note, "take it out of the stack") {
		t.Errorf("%s, %q", l.State, l.Note)
	}
	// It had left all the same: that can be recorded, with a word.
	if o.mark("AB-2026-0102", cases.LetterBooking, cases.LetterChange{State: "mailed", On: day("2026-03-11")}) == nil {
		t.Error("a held letter was mailed without a word")
	}
	if err := o.mark("AB-2026-0102", cases.LetterBooking, cases.LetterChange{State: "mailed", On: day("2026-03-11"), Note: "It had left on the 11th"}); err != nil {
		t.Error(err)
	}
}

func TestAResultNeedsALicensedPerson(t *testing.T) {
	c := reachedAndBooked(1)
	c.Genotype = &cases.Genotype{Reported: day("2026-03-09"), Scope: "panel"}
	ul, cl := 25.0, 12.0
	c.SweatTests = []cases.SweatTest{{On: day("2026-03-18"), Site: "alder-bay", Collector: "tubing",
		Arms: []cases.Arm{{Side: "left", Minutes: 30, AmountUL: &ul, Chloride: &cl}, {Side: "right", Minutes: 30, AmountUL: &ul, Chloride: &cl}}}}
	o := newOffice(t, day("2026-03-18"), c)
	ctx := context.Background()
	c = o.case_(adaRef)
	for what, r := range map[string]cases.Release{
		"no licence":  {Kind: cases.LetterResult, By: "Dr. Finch"},
		"no evidence": {Kind: cases.LetterCarrier, By: "Dr. Finch", Licence: "physician"},
	} {
		if _, err := o.desk.ReleaseLetter(ctx, coordinator, c.ID, c.Rev, r); err == nil {
			t.Errorf("%s: released", what)
		}
	}
	if tally := o.run(day("2026-03-18")); fmt.Sprint(kindsOf(tally)) != "[]" {
		t.Errorf("before the release: %v", kindsOf(tally))
	}
	o.must(o.desk.ReleaseLetter(ctx, coordinator, c.ID, c.Rev, cases.Release{Kind: cases.LetterResult, By: "Dr. Finch", Licence: "physician"}))
	tally := o.run(day("2026-03-19"))
	if fmt.Sprint(kindsOf(tally)) != "[result doctor-result]" || tally.Made[0].Note != "Released by Dr. Finch, physician." {
		t.Errorf("after: %v %+v", kindsOf(tally), tally.SetAside)
	}
	// The test turns out to be void: the letter must not go.
	c = o.case_(adaRef)
	o.must(o.desk.VerifyTest(ctx, coordinator, c.ID, c.Rev, 0, "void", "Dr. Finch", "wrong infant"))
	for _, kind := range []string{cases.LetterResult, cases.LetterDoctorResult} {
		if l := o.letter(adaRef, kind); l.State != "held" {
			t.Errorf("%s is %s", kind, l.State)
		}
	}
}

func kindsOf(t Tally) (out []string) {
	for _, l := range t.Made {
		out = append(out, l.Kind)
	}
	return out
}

func TestTheListOfTheDayIsMadeOnce(t *testing.T) {
	gone := reachedAndBooked(2)
	o := newOffice(t, day("2026-03-16"), reachedAndBooked(1), gone)
	c := o.case_("AB-2026-0102")
	o.must(o.desk.RecordDeath(context.Background(), coordinator, c.ID, c.Rev, day("2026-03-15"), "the hospital"))
	o.p.Program = complete
	for range 2 {
		o.run(day("2026-03-17"))
	}
	l := o.letter("", cases.LetterClinicDay)
	x, err := Decode(l)
	if err != nil || l.Case != "" || l.Occasion != "alder-bay 2026-03-18" || !strings.Contains(x.Preview(), "1 infant") {
		t.Errorf("%+v, err %v", l, err)
	}
	for _, state := range []string{"printed", "mailed"} {
		if err := o.mark("", cases.LetterClinicDay, cases.LetterChange{State: state}); err != nil {
			t.Error(err)
		}
	}
	if l = o.letter("", cases.LetterClinicDay); len(l.History) != 3 {
		t.Errorf("history %+v", l.History)
	}
	if report, err := o.db.Check(context.Background()); err != nil || len(report) > 0 {
		t.Errorf("check: %+v, err %v", report, err)
	}
}
