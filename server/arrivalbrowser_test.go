package main

import (
	"fmt"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// item finds one item of this morning by what became of it and its kind.
func (b *browser) item(outcome, kind string) cases.Item {
	b.t.Helper()
	var found []cases.Item
	err := b.demo.site.db.View(b.t.Context(), func(r cases.Reader) error {
		for i, err := range r.ItemsSince(b.demo.today) {
			if err != nil {
				return err
			}
			if i.Outcome == outcome && i.Kind == kind {
				found = append(found, i)
			}
		}
		return nil
	})
	if err != nil || len(found) != 1 {
		b.t.Fatalf("%d items are %s, %s: %v", len(found), outcome, kind, err)
	}
	return found[0]
}

// TestArrivalInTheBrowser works through what came this morning: the coordinator reads
// a laboratory's result beside the program's reading, takes it off and adds it again,
// sends a packed list back, files a reply and confirms a sender; the nurse and the
// manager see what they need and no more.
func TestArrivalInTheBrowser(t *testing.T) {
	b := startDemo(t)
	b.signIn(0)
	b.open("/intake")
	b.says("Came in today", "items in =", "Waiting for a person")
	b.picture("intake")
	b.takeOffAndAddAgain()
	b.sendBack()
	b.fileReply()
	b.confirmSender()
	b.open("/settings/jobs")
	b.says("Overdue list and letters", "No mailbox is set up")
	b.open("/intake/upload")
	b.signOut()

	b.signIn(1)
	if strings.Contains(b.eval(`document.querySelector('header').innerText`), "Intake") {
		t.Error("the nurse's menu offers Intake")
	}
	b.signOut()
	b.signIn(2)
	b.open("/settings/jobs")
	b.says("Overdue list and letters")
	if n := b.eval(`String(document.querySelectorAll('main form').length)`); n != "0" {
		t.Errorf("the manager may run jobs: %s forms", n)
	}
	b.signOut()
}

// takeOffAndAddAgain undoes the attachment of a sweat result, and decides on it anew.
func (b *browser) takeOffAndAddAgain() {
	it := b.item(string(intake.Attached), intake.KindResult)
	values := func() string {
		var out []string
		for _, a := range b.theCase(it.Reference).SweatTests[0].Arms {
			v := "none"
			if a.Chloride != nil {
				v = fmt.Sprint(*a.Chloride)
			}
			out = append(out, v)
		}
		return strings.Join(out, " ")
	}
	if got := values(); got != "31 34" {
		b.t.Fatalf("the result is not on the case: %s", got)
	}
	b.open("/infants/" + it.Reference)
	b.says("The readings differ")
	b.open("/intake/" + it.ID)
	b.says("Added to "+it.Reference, "reads it otherwise", "The message as it arrived", "MSH|")
	b.picture("intake-item")
	b.click(`form[action$="/undo"] button[type=submit]`) // without a reason
	b.says("There is a problem")
	b.fill("undo-reason", "The laboratory says that it is another infant's")
	b.click(`form[action$="/undo"] button[type=submit]`)
	b.says("Taken off " + it.Reference)
	if got := values(); got != "none none" {
		b.t.Errorf("after undo the case has %s", got)
	}
	b.open("/intake/" + it.ID)
	b.choose("as", "same "+it.Reference)
	b.fill("reason", "It was the right infant after all, says the laboratory")
	b.click(`form[action="/intake/` + it.ID + `"] button[type=submit]`)
	b.says("Added to " + it.Reference)
	if got := values(); got != "31 34" {
		b.t.Errorf("added again the case has %s", got)
	}
}

// sendBack hands a packed list back: the text for the sender names nobody.
func (b *browser) sendBack() {
	it := b.item(string(intake.Review), intake.KindCannot)
	b.open("/intake/" + it.ID)
	b.says("packed file", "Open a case")
	b.choose("as", "set-aside")
	b.click(`form[action="/intake/` + it.ID + `"] button[type=submit]`)
	b.says("Enter why it is set aside")
	b.fill("reason", "The hospital sends the list unpacked, says the nursery")
	b.click(`form[action="/intake/` + it.ID + `"] button[type=submit]`)
	b.says("Set aside")
}

// fileReply files a reply on its case.
func (b *browser) fileReply() {
	it := b.item(string(intake.Review), intake.KindReply)
	before := len(b.theCase(it.Reference).Notes)
	b.open("/intake/" + it.ID)
	b.says("555-0188", "Make sure who wrote it")
	b.choose("as", "same "+it.Reference)
	b.click(`form[action="/intake/` + it.ID + `"] button[type=submit]`)
	if n := len(b.theCase(it.Reference).Notes); n != before+1 {
		b.t.Errorf("%d notes before, %d after", before, n)
	}
}

// confirmSender adds a sender and confirms it.
func (b *browser) confirmSender() {
	b.open("/settings/senders")
	b.says("Senders")
	b.click(`a[href^="/settings/senders/new"]`)
	b.fill("name", "Tern Valley nursery")
	b.fill("signs", "@ternvalley.example")
	b.click("main form button[type=submit]")
	b.says("Tern Valley nursery")
	b.picture("senders")
}
