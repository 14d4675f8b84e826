package web_test

import (
	"context"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// senders are the senders in the store.
func (s *site) senders() (list []intake.Sender) {
	s.t.Helper()
	err := s.db.View(context.Background(), func(r cases.Reader) (err error) {
		list, err = intake.Senders(r)
		return err
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return list
}

// A sender is taken from what came in, filled in, confirmed by a person who compared a
// real message, and confirmed again after a change of how it is read.
func TestSenderIsAddedConfirmedAndChanged(t *testing.T) {
	s := newSite(t)
	wren := s.as("wren")
	wren.uploads("r.hl7", sweatORU)
	p := wren.get("/settings/senders").wants(200, "No sender is known yet", "Came in lately, and not on the list", "Marlow Creek Lab")
	var add string
	for _, l := range p.links() {
		if strings.HasPrefix(l, "/settings/senders/new?item=") {
			add = l
		}
	}
	f := wren.get(add).wants(200, "Add a sender").form("/settings/senders/new")
	if f.values.Get("name") != "Marlow Creek Lab" {
		t.Errorf("the form is filled with %v", f.values)
	}
	f.set("signs", "MARLOW\n@marlow.example\n").set("email", "results").set("charset", "klingon").set("codes", "SWCL = chloride").set("name", "").send().
		wants(422, "Enter the name of the sender", "E-mail must be an address", "Character set klingon cannot be read here", "Line 1 must be a code, = and a LOINC code")
	f.set("name", "Marlow Creek Lab").set("email", "results@marlow.example").set("charset", "windows-1252").set("codes", "SWCL = 2077-6").set("dates", "month-day-year").set("cards", "yes").set("contact", "Ana Ruiz").send().
		wants(200, "Sender saved", "Marlow Creek Lab", "MARLOW, @marlow.example", "Dates month first; another card wanted opens a case; characters windows-1252; 1 code of its own", "Not confirmed yet")
	x := s.senders()[0]
	if x.Codes["SWCL"] != "2077-6" || x.DateOrder != intake.MonthDay || !*x.OpenOnRepeatCard || x.CommaDecimals || x.ConfirmedBy != "" {
		t.Errorf("kept %+v", x)
	}
	const at = "/settings/senders/0"
	p = wren.get(at).wants(200, "Open one real message of this sender", "SORREL-WHITE, IDA")
	old := p.form(at)
	old.set("signs", "MARLOW\n@marlow.example")
	p.form(at+"/confirm").send().wants(422, "Tick that you compared a real message")
	p.form(at+"/confirm").set("compared", "yes").send().wants(200, "Sender confirmed: Marlow Creek Lab", "Wren Castellano, 5 Mar 2026")
	old.set("contact", "Ben Odell").send().wants(409, "Somebody changed this sender since you opened the page")
	edit := func() *filled { return wren.get(at).form(at).set("signs", "MARLOW\r\n@marlow.example") } // the helper folds lines
	edit().set("contact", "Ben Odell").send().wants(200, "Sender saved", "Confirmed")
	edit().set("dates", "day-month-year").send().wants(200, "confirm it again with its next message", "Not confirmed yet")
	if x := s.senders()[0]; x.ConfirmedBy != "" || x.Contact != "Ben Odell" {
		t.Errorf("kept %+v", x)
	}
	wren.get("/settings/senders/new").form("/settings/senders/new").set("name", "Other").set("signs", "marlow").send().wants(422, "Marlow Creek Lab signs as marlow already")
	wren.get("/settings/senders/new").form("/settings/senders/new").set("name", "Other").set("signs", "@ox").send().wants(422, "@ox must be a whole domain")
	wren.get("/settings/senders/7").wants(404)
}

// The administrator keeps the list, sees nothing that came in, and confirms nothing.
func TestSendersByRole(t *testing.T) {
	s := newSite(t)
	s.as("wren").uploads("r.hl7", sweatORU)
	s.update(func(w cases.Writer) error {
		return intake.PutSenders(w, []intake.Sender{{Name: "Marlow Creek Lab"}})
	})
	theo := s.as("theo")
	theo.get("/settings/senders").wants(200, "Marlow Creek Lab")
	p := theo.get("/settings/senders/0").wants(200, "Not confirmed yet")
	if strings.Contains(p.body, "SORREL") || strings.Contains(p.body, "/confirm") {
		t.Error("the administrator sees what came in, or may confirm")
	}
	p.form("/settings/senders/0").set("contact", "Ana Ruiz").send().wants(200, "Sender saved")
	v := p.form("/settings/senders/0").set("compared", "yes").values
	theo.post("/settings/senders/0/confirm", v).wants(403)
	for _, who := range []string{"dagny", "ines"} {
		c := s.as(who)
		for _, at := range []string{"/settings/senders", "/settings/senders/new", "/settings/senders/0"} {
			c.get(at).wants(403)
		}
	}
}
