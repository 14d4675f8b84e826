package fhir

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// conditions adds the reason for a referral from the newborn screen, and what the
// person who closed the case decided.
func (b *builder) conditions() {
	c := &b.Case
	if c.Referral.Route == "screen" {
		state := own(sysClinical, "active", "Active")
		if b.a.Closed {
			state = own(sysClinical, "inactive", "Inactive")
		}
		b.referral = b.add("condition", "referral", &Condition{ClinicalStatus: state, VerificationStatus: own(sysCertainty, "provisional", "Provisional"),
			Code: b.concept("referral", "Referred after a newborn screen"), Subject: b.patient, RecordedDate: c.Referral.On.String(),
			Note: notes("Reason for referral. Not a diagnosis.")})
	}
	k := b.closure()
	if k == nil || !cases.KnownOutcome(k.As) || k.As == "not-affected" {
		return
	}
	b.determined = b.add("condition", "determination", &Condition{ClinicalStatus: own(sysClinical, "active", "Active"),
		VerificationStatus: own(sysCertainty, "confirmed", "Confirmed"), Code: b.decided(k), Subject: b.patient,
		RecordedDate: k.On.String(), Recorder: name(k.By), Asserter: name(k.Clinician), Note: notes(k.Reason)})
}

// decided is the determination as the person who closed the case coded it; without a
// code it stands in words.
func (b *builder) decided(k *cases.Closure) *CodeableConcept {
	c := words(cases.DeterminationWord(k.As))
	if k.As == "cf" {
		c = b.concept("cf", c.Text)
	}
	if k.Code != "" && !b.leftOut("icd-10-cm") {
		c.Coding = append(c.Coding, Coding{systems["icd-10-cm"], k.Code, cases.DiagnosisTitle(k.Code)})
	}
	return c
}

// closure is the closure that stands today; nil while the case is open.
func (b *builder) closure() (last *cases.Closure) {
	if !b.a.Closed {
		return nil
	}
	for i := range b.Case.Closures {
		if k := &b.Case.Closures[i]; k.As == b.a.ClosedAs && max(k.On, k.AgreedOn) == b.a.ClosedOn {
			last = k
		}
	}
	return last
}

// addEpisode adds the case itself; the history of its status names the last closing.
func (b *builder) addEpisode() {
	c := &b.Case
	e := &EpisodeOfCare{Status: "active", Patient: b.patient, ManagingOrganization: b.program, CareManager: name(c.Owner),
		Period: &Period{Start: c.Referral.On.String()}}
	if c.Reference != "" {
		e.Identifier = []Identifier{{Value: c.Reference, Assigner: b.program}}
	}
	for _, r := range list(b.referral, b.determined) {
		e.Diagnosis = append(e.Diagnosis, EpisodeDiagnosis{&r})
	}
	if b.a.Next.Step == cases.StepClearHold {
		e.Status = "onhold"
	}
	switch from := c.Referral.On.String(); {
	case b.a.Closed:
		e.Status = "finished"
		if b.a.ClosedAs == "duplicate" {
			e.Status = "cancelled"
		}
		e.Period.End = b.a.ClosedOn.String()
		e.StatusHistory = []EpisodeStatus{{"active", &Period{from, e.Period.End}}}
	case b.a.ReopenedOn != 0:
		if end := b.lastClosed(b.a.ReopenedOn); end != 0 {
			e.StatusHistory = []EpisodeStatus{{"active", &Period{from, end.String()}}, {"finished", &Period{end.String(), b.a.ReopenedOn.String()}}}
		}
	}
	b.episode = b.add("episode", "", e)
}

// lastClosed is the day of the latest closure up to a day; 0 without one.
func (b *builder) lastClosed(by cases.Day) (last cases.Day) {
	for i := range b.Case.Closures {
		k := &b.Case.Closures[i]
		if d := max(k.On, k.AgreedOn); d <= by && d > last {
			last = d
		}
	}
	return last
}

// requests adds the order of the first sweat test with its window, and the clinician's
// order of a repeat.
func (b *builder) requests() {
	c := &b.Case
	window := &Period{Start: b.a.Readiness.Earliest.String()}
	if due := b.a.Clocks.FirstTest.Due; due >= b.a.Readiness.Earliest {
		window.End = due.String()
	}
	b.request = b.add("request", "", &ServiceRequest{Status: b.requestState(0), Intent: "order", Code: b.concept("sweat-test", "Sweat test"),
		Subject: b.patient, OccurrencePeriod: window, AuthoredOn: c.Referral.On.String(), Requester: b.program, ReasonReference: list(b.referral)})
	if o := c.RepeatOrdered; o != nil {
		who := name(o.By)
		if who == nil {
			who = b.program
		}
		r := &ServiceRequest{Status: b.requestState(o.On), Intent: "order", Code: b.concept("sweat-test", "Repeat sweat test"),
			Subject: b.patient, AuthoredOn: o.On.String(), Requester: who, ReasonReference: list(b.referral)}
		if x := b.a.Repeat; x != nil && x.Due >= o.On {
			r.OccurrencePeriod = &Period{o.On.String(), x.Due.String()}
		}
		b.repeat = b.add("request", "repeat", r)
	}
}

// requestState tells whether a test ordered on a day was done since.
func (b *builder) requestState(from cases.Day) string {
	for i := range b.a.Tests {
		if b.a.Tests[i].Outcome.Graded() && b.a.Tests[i].On >= from {
			return "completed"
		}
	}
	if b.a.Closed {
		return "revoked"
	}
	return "active"
}

// orderOf is the order that a test or booking of a day belongs to.
func (b *builder) orderOf(on cases.Day) *Reference {
	if o := b.Case.RepeatOrdered; o != nil && b.repeat != nil && on >= o.On {
		return b.repeat
	}
	return b.request
}

// appointmentStates leads from a booking's state to the appointment's (R4 value set
// AppointmentStatus).
var appointmentStates = map[string]string{"booked": "booked", "kept": "fulfilled", "missed": "noshow", "cancelled": "cancelled"}

// appointments adds the bookings. Where no clock time is recorded, start and end say so
// rather than naming midnight.
func (b *builder) appointments() {
	for i := range b.Case.Bookings {
		k := &b.Case.Bookings[i]
		a := &Appointment{Status: appointmentStates[k.State], Description: "Sweat test", BasedOn: list(b.orderOf(k.On))}
		if k.State == "cancelled" || k.State == "missed" {
			a.CancelationReason = words(k.Reason)
		}
		unknown := &Extended{[]Extension{{URL: extension + "data-absent-reason", ValueCode: "unknown"}}}
		if t, ok := b.time(k.On, k.At); ok {
			a.Start = b.moment(t)
			if k.Minutes > 0 {
				a.End = b.moment(t.Add(minutes(k.Minutes)))
			} else {
				a.EndMore = unknown
			}
		} else {
			a.StartMore, a.EndMore = unknown, unknown
			a.RequestedPeriod = []Period{{k.On.String(), k.On.String()}}
			a.Comment = "No clock time is recorded."
		}
		for _, who := range list(b.patient, b.family, b.location(k.Site)) {
			a.Participant = append(a.Participant, Participant{&who, "accepted"})
		}
		b.add("booking", or(k.UID, k.On.String()), a)
	}
}

// task adds the step that is owed; a closed case owes none.
func (b *builder) task() {
	n := &b.a.Next
	if n.Step == cases.StepClosed {
		return
	}
	t := &Task{Status: "requested", Intent: "order", Code: words(b.a.ListWord()), Description: sentences(b.a.ActionWord(), b.a.Explain(&b.Case)),
		Focus: b.orderOf(b.Today), For: b.patient, LastModified: b.moment(b.Made), Requester: b.program, Owner: name(b.Case.Owner)}
	if n.Step == cases.StepReferAtOnce {
		t.Priority = "urgent"
	}
	if n.Due != 0 {
		t.Restriction = &Restriction{&Period{End: n.Due.String()}}
	}
	if late := n.DaysOverdue; late > 0 {
		t.BusinessStatus = words(fmt.Sprintf("%d %s late", late, map[bool]string{true: "day", false: "days"}[late == 1]))
	}
	b.add("task", "step", t)
}

// communications adds letters and messages that left: which and when, without text.
func (b *builder) communications() {
	by := map[string]string{}
	for i := range b.Letters {
		by[b.Letters[i].Number] = b.Letters[i].By
	}
	for i := range b.Case.Letters {
		l := &b.Case.Letters[i]
		state, why := letterState(l.State)
		if state == "" {
			continue
		}
		kind := cases.LetterKindOf(l.Kind)
		how := "letter"
		if how2 := strings.ReplaceAll(by[l.Number], "-", " "); how2 != "" && how2 != "mail" {
			how = how2
		}
		b.communication("letter", l.Kind+"/"+l.Occasion, kind.To, state, why, how, l.MailedOn.String(), "Letter: "+kind.Word)
	}
	for i := range b.Messages {
		m := &b.Messages[i]
		if m.Letter != "" {
			continue // brings a letter, which is listed
		}
		state, sent := messageState(m.State), ""
		if state == "" {
			continue
		}
		for _, step := range m.History {
			if step.State == cases.OutSent {
				sent = b.moment(step.At)
			}
		}
		why := ""
		if state != "completed" {
			why = m.Note
		}
		b.communication("message", or(m.ID, m.Number), m.ToWhom, state, why, m.By, sent, "Message: "+cases.LetterKindOf(m.Kind).Word)
	}
}

func (b *builder) communication(kind, key, to, state, why, how, sent, what string) {
	k := &Communication{Status: state, StatusReason: words(why), Medium: []CodeableConcept{{Text: how}}, Subject: b.patient,
		Sent: sent, Sender: b.program, Payload: []Payload{{what}}}
	if to == cases.ToPrimaryCare {
		k.Recipient = b.doctor
	} else {
		k.Recipient = list(b.family)
	}
	b.add(kind, key, k)
}

// letterState is the status of a letter that left (R4 value set EventStatus); "" for one
// that did not.
func letterState(s string) (state, why string) {
	switch s {
	case "mailed", "answered", "signed-for":
		return "completed", ""
	case "came-back":
		return "stopped", "Came back"
	case "refused":
		return "stopped", "Refused"
	case "unclaimed":
		return "stopped", "Not collected"
	}
	return "", ""
}

// messageState is the status of a message that left, or may have; "" for any other.
func messageState(s string) string {
	switch s {
	case cases.OutSent:
		return "completed"
	case cases.OutBounced:
		return "stopped"
	case cases.OutUncertain:
		return "unknown"
	}
	return ""
}

// provenance says who exported, and when.
func (b *builder) provenance() {
	a := Agent{Who: b.program}
	if who := name(b.o.By); who != nil {
		a = Agent{who, b.program}
	}
	b.add("provenance", "", &Provenance{Target: list(b.patient, b.episode), Recorded: b.moment(b.Made), Activity: words("Export of a follow-up case"), Agent: []Agent{a}})
}
