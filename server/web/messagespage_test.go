package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// queued puts a reminder to the family of the booked infant into the outbox.
func (s *site) queued(k cases.Case) (o cases.Outgoing) {
	s.t.Helper()
	s.update(func(w cases.Writer) error {
		c, err := w.Case(k.ID)
		if err != nil {
			return err
		}
		o, err = cases.QueueMessage(w, s.protocol, &c, cases.Outgoing{Kind: cases.MessageReminder, Occasion: "2026-03-06 09:30", By: cases.ByText, ToWhom: cases.ToFamily, Language: "en", Body: "Your appointment is tomorrow.\nCall 555-0142."})
		return err
	})
	return o
}

func (s *site) step(o cases.Outgoing, state, note string) {
	s.t.Helper()
	s.update(func(w cases.Writer) error {
		now, err := w.Outgoing(o.ID)
		if err != nil {
			return err
		}
		now.Step(s.now, "Dunlin", state, note)
		_, err = w.PutOutgoing(now)
		return err
	})
}

// docTexted is booked for tomorrow; the family agrees to nothing yet.
var docTexted = doc(docBooked, `"bookings"`, `"family":{"guardians":[{"given":"Ana","family":"Vanterpool","phones":[{"number":"555-0191","kind":"mobile"}],"letters":true}],"language":"en"},"bookings"`)

func TestConsentIsRecordedAndTakenBack(t *testing.T) {
	s := newSite(t)
	k := s.open(docTexted)
	at := "/infants/" + k.Reference
	dagny := s.as("dagny")
	dagny.get(at+"/consents/withdraw").wants(409, "agrees to no channel now")
	f := dagny.get(at+"/consents/new").wants(200, "name no infant, no test and no result").form(at + "/consents/new")
	f.set("on", "+1d").send().wants(422, "Select the channel", "Day must be today or in the past", "Enter who agreed")
	f.set("on", "today").set("channel", "text").set("who", "mother, on the phone").send().wants(200, "Consent recorded", "Consent, text", "Agreed on 5 Mar 2026", "mother, on the phone")
	o := s.queued(k)
	f = dagny.get(at+"/consents/withdraw").wants(200, "what waits is held").form(at + "/consents/withdraw")
	f.set("channel", "text").set("who", "mother").send().wants(200, "Consent taken back", "taken back on 5 Mar 2026")
	c := s.read(k.Reference)
	if x := c.Family.Consents[0]; x.Withdrawn == 0 || x.WithdrawnBy != "mother" || c.Consents("text", cases.MakeDay(2026, 3, 5)) {
		t.Errorf("consent %+v", x)
	}
	dagny.get("/messages").wants(200, "No message waits for a person")
	dagny.get("/messages?state=held").wants(200, "Held", "the family has not agreed", "Nothing needs to be done", o.Number)
}

func TestMessagesAreDecidedByAPerson(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docTexted, `"language":"en"}`, `"language":"en","consents":[{"channel":"text","on":"2026-02-20"}]}`))
	o := s.queued(k)
	wren := s.as("wren")
	p := wren.get("/messages?state=queued").wants(200, "Reminder the day before", "Text to 555-0191", "Your appointment is tomorrow.", "It goes out by itself")
	if body := p.text("article"); strings.Contains(body, "VANTERPOOL") || strings.Contains(body, "Ezra") {
		t.Errorf("the message names the infant: %s", body)
	}
	s.step(o, cases.OutUncertain, "The program stopped while it was sent")
	at := "/messages/" + o.ID
	p = wren.get("/messages").wants(200, "Uncertain", "Nobody knows whether it went out", "Phone instead, and log it", "The program stopped")
	p.form(at).send().wants(422, "Choose what becomes of the message", "Enter how you know, or why")
	p.form(at).set("as", "again").set("reason", "not in the service’s list").send().wants(200, "Queued again")
	wren.get("/messages?state=queued").wants(200, "not in the service’s list", "Wren Castellano")
	// Not while a flag speaks against it: the reason is said, the words stay.
	s.step(o, cases.OutFailed, "Refused by the service")
	f := wren.get("/infants/" + k.Reference + "/flags/new").form("/infants/" + k.Reference + "/flags/new")
	f.set("kind", "safety").set("note", "the nurse").send()
	q := wren.get("/messages").form(at).set("as", "again").set("reason", "try once more").send().wants(409, "must not go out: a no-mail, custody or safety flag is set")
	if v := q.form(at).values.Get("reason"); v != "try once more" {
		t.Errorf("what was typed is lost: %q", v)
	}
	q.form(at).set("as", "drop").send().wants(200, "Dropped")
	wren.get("/messages?state=dropped").wants(200, "try once more")
	wren.get("/infants/"+k.Reference).wants(200, "Reminder the day before, by text", "Number "+o.Number, "Dropped")
	dagny := s.as("dagny").get("/messages?state=dropped").wants(200)
	dagny.c.post(at, nil).wants(403)
	s.as("ines").get("/messages").wants(403)
}

func TestContactPlanAndLetterTexts(t *testing.T) {
	s := newSite(t)
	k := s.open(docUnreached)
	wren := s.as("wren")
	wren.get("/infants/"+k.Reference).wants(200, "Contact plan", "Step now: Certified letter", "Owed", "Calls, by phone, 3 of 3", "Next: Visit, not before")
	for _, who := range []string{"wren", "ines", "theo"} {
		c := s.as(who)
		c.get("/settings/contact-plan").wants(200, "Calls", "0, 1, 3", "0, 0, 1", "Letter: We could not reach you", "Not checked against a published source")
		p := c.get("/settings/letter-texts").wants(200, "Draft for review", "qualified translator", "Easy enough", "Repeat test needed: QNS", "Envelope test sheet", "The settings say no hours in Spanish")
		n := 0
		for _, l := range p.links() {
			if !strings.HasSuffix(l, ".pdf") {
				continue
			}
			n++
			if pdf := c.get(l); pdf.status != 200 || !strings.HasPrefix(pdf.body, "%PDF-") {
				t.Errorf("%s: %d", l, pdf.status)
			}
		}
		if want := len(testServices(s).LetterTexts.All()) + 1; n != want {
			t.Errorf("%d samples, want %d", n, want)
		}
	}
	wren.get("/settings/letter-texts/en/nothing/sample.pdf").wants(404)
}
