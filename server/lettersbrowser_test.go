package main

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"dunlin/cases"
	"dunlin/reminders/letters"
)

// keys types into what has the focus, and waits for the page that follows.
func (b *browser) keys(text string) {
	b.t.Helper()
	resp, err := chromedp.RunResponse(b.ctx, chromedp.KeyEvent(text))
	if err != nil {
		b.t.Fatalf("keys %q: %v\n%s", text, err, b.text())
	}
	if resp.Status >= 500 {
		b.t.Fatalf("keys %q: status %d", text, resp.Status)
	}
	b.check()
}

// lettersIn are the letters of a state in the store.
func (b *browser) lettersIn(state string) (out []cases.Letter) {
	b.t.Helper()
	err := b.demo.site.db.View(b.t.Context(), func(r cases.Reader) error {
		out = nil
		for l, err := range r.Letters(state) {
			if err != nil {
				return err
			}
			out = append(out, l)
		}
		return nil
	})
	if err != nil {
		b.t.Fatal(err)
	}
	return out
}

// TestPostInTheBrowser does the coordinator's post: what is due and cannot be made, a
// letter with other words, a print run that did not print whole, and returned mail.
func TestPostInTheBrowser(t *testing.T) {
	b := startDemo(t)
	b.signIn(0)
	b.open("/letters?state=due")
	b.says("Due today", "Cannot be made", "No address of the primary care doctor is on record")
	b.picture("letters-due")
	due := b.eval(`String(document.querySelectorAll('table.letters tbody tr').length)`)
	b.click(`a[href$="/primary-care"]`)
	b.fill("lines", "3 Harbor Road")
	b.fill("city", "Alder Bay")
	b.click("main form button[type=submit]")
	b.says("Primary care saved")
	b.open("/letters?state=due")
	if b.says("Drafted"); b.eval(`String(document.querySelectorAll('table.letters tbody tr').length)`) != due {
		t.Error("an address made a letter vanish before it was made")
	}
	before := len(b.lettersIn("to-print"))
	b.click(`form[action="/letters/make"] button`)
	b.says("Letters made")
	if n := len(b.lettersIn("to-print")); n <= before {
		t.Errorf("%d letters to print, as before", n)
	}

	b.click(`a[href$="/edit"]`)
	b.says("As it was made", "Change no clinical meaning")
	b.eval(`document.getElementById('words').value += '\n\nYou can come in the evening.'; ''`)
	b.fill("why", "the family works all day")
	b.picture("letter-edit")
	b.click("main form button[type=submit]")
	b.says("Words changed by", "You can come in the evening.", "As it was made (PDF)")

	b.click(`#letter-actions button[value=print]`)
	b.says("Print run made", "Print it on one side only")
	b.click(`section.note a[href*="/letters/runs/"]:not([href$=pdf])`)
	b.says("Did they all print?")
	b.picture("print-run")
	run := b.lettersIn("printed")
	b.do(chromedp.Click(chromedp.CSS(`input[name=letter]`))) // the first is damaged
	b.click("#run-form button[type=submit]")
	b.says("Marked as mailed", "print it again")
	if n := len(b.lettersIn("printed")); n == 0 || n >= len(run) {
		t.Errorf("%d letters were printed, %d are not mailed", len(run), n)
	}

	var back cases.Letter
	for _, l := range b.lettersIn("mailed") {
		if l.Kind == cases.LetterFirstNotice || l.Kind == cases.LetterBooking {
			back = l
		}
	}
	b.open("/letters/returned")
	b.focused("number")
	b.keys(letters.CodeOf(back.Number) + "\r")
	b.says("Letter " + back.Number)
	b.focused("back-why-0")
	b.picture("returned-mail")
	b.do(chromedp.KeyEvent(" "))
	b.keys("\r")
	b.says("Came back", "Find a new address")
	b.focused("number")
	if l := b.lettersIn("came-back"); !containsLetter(l, back.ID) {
		t.Error("the letter that was scanned did not come back")
	}
	b.keys("ZZZZZZZZ\r")
	b.says("No letter of this program has the number")
	for _, page := range []string{"/messages", "/messages?state=sent", "/settings/contact-plan", "/settings/letter-texts", "/letters?state=mailed", "/letters?state=came-back"} {
		b.open(page)
	}
	b.signOut()
}

func containsLetter(list []cases.Letter, id string) bool {
	for i := range list {
		if list[i].ID == id {
			return true
		}
	}
	return false
}

// focused fails unless the field has the focus.
func (b *browser) focused(id string) {
	b.t.Helper()
	got := ""
	for range 100 { // a busy machine sets the focus of a new page late
		if got = strings.TrimSpace(b.eval(`document.activeElement ? document.activeElement.id : ''`)); got == id {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	b.t.Fatalf("the focus is in %q, want %q", got, id)
}
