package web_test

import (
	"encoding/base64"
	"io"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/csvfile"
	"dunlin/cases/intake/hl7"
	"dunlin/cases/intake/mail"
)

// mails takes in a mail as the mailbox would.
func (s *site) mails(raw string) intake.Result {
	s.t.Helper()
	in := intake.New(s.db, func() *cases.Protocol { return s.protocol }, intake.Settings{}, hl7.Format{}, csvfile.Format{}).OpenMail(mail.Reader{})
	r, err := in.Receive(s.t.Context(), cases.Actor{ID: "system", Name: "Dunlin", Role: cases.System, Via: "mailbox"},
		intake.Document{Source: "mailbox", Name: "message.eml", Sender: "results@marlow.example", At: s.now, Raw: []byte(raw)})
	if err != nil {
		s.t.Fatal(err)
	}
	return r
}

// raw fetches the bytes at an address.
func (c *client) raw(path string) string {
	c.t.Helper()
	res, err := c.http.Get(c.url + path)
	if err != nil {
		c.t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != 200 {
		c.t.Fatal(res.StatusCode, err)
	}
	return string(body)
}

// A result in a mail: its page shows the mail beside it, and gives both back byte by
// byte.
func TestAnAttachmentIsShownWithItsMail(t *testing.T) {
	s := newSite(t)
	s.open(docIda)
	text := "From: Marlow Creek <results@marlow.example>\r\nTo: referrals@x.example\r\nSubject: Result <b>today</b>\r\nDate: Thu, 5 Mar 2026 06:12:00 -0500\r\nMessage-ID: <1@marlow.example>\r\n" +
		"MIME-Version: 1.0\r\nContent-Type: multipart/mixed; boundary=cut\r\n\r\n--cut\r\nContent-Type: text/plain\r\n\r\nThe result is attached.\r\n--cut\r\n" +
		"Content-Type: application/octet-stream; name=\"..\\\\Ida.hl7\"\r\nContent-Transfer-Encoding: base64\r\nContent-Disposition: attachment\r\n\r\n" +
		base64.StdEncoding.EncodeToString([]byte(sweatORU)) + "\r\n--cut--\r\n"
	s.mails(text)
	wren := s.as("wren")
	var path string
	for _, it := range s.waiting() {
		if it.Title == "SORREL-WHITE, IDA" {
			path = "/intake/" + it.ID
		}
	}
	if path == "" {
		t.Fatalf("the result does not wait: %+v", s.waiting())
	}
	p := wren.get(path).wants(200, "The mail", "Marlow Creek results@marlow.example", "Result <b>today</b>", "5 Mar 2026, 06:12 -0500", "The result is attached.", "Download the mail that brought it", "The sweat test to add")
	if strings.Contains(p.body, "<b>today") {
		t.Error("markup of a mail is not escaped")
	}
	if got := wren.raw(path + "/raw"); got != sweatORU {
		t.Errorf("the attachment came back as %q", got)
	}
	if got := wren.raw(path + "/mail"); got != text {
		t.Errorf("the mail came back as %q", got)
	}
	wren.get("/intake").wants(200, "Mailbox, Marlow Creek Lab, results@marlow.example")
}

// A reply is read by a person: it is filed or set aside, and opens no case.
func TestAReplyOpensNoCase(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	s.mails("From: stranger@home.example\r\nTo: referrals@x.example\r\nSubject: Re: " + k.Reference + "\r\nDate: Thu, 5 Mar 2026 06:12:00 -0500\r\nMessage-ID: <2@home.example>\r\nContent-Type: text/plain\r\n\r\nCall us after four.\r\n")
	wren := s.as("wren")
	path := "/intake/" + s.waiting()[0].ID
	p := wren.get(path).wants(200, "Call us after four.", "File it on OYELARAN, Tobias, "+k.Reference, "Add it to another case", "Set aside")
	for _, no := range []string{"Open a case", "Keep apart", "Send back", "Compare with"} {
		if strings.Contains(p.text("main"), no) {
			t.Errorf("the page of a reply offers %q", no)
		}
	}
	p.form(path).set("as", "open").send().wants(422, "Select what is to be done with it")
	p.form(path).set("as", "same "+k.Reference).send().wants(200, "Added to "+k.Reference)
	if n := len(s.read(k.Reference).Notes); n != 1 {
		t.Errorf("%d notes on the case", n)
	}
}

// A word about what was done, such as that the laboratory reads a result otherwise,
// leads to the item itself and can only be set aside.
func TestAWordAboutAnItemLeadsToIt(t *testing.T) {
	s := newSite(t)
	s.update(func(w cases.Writer) error {
		return intake.PutSenders(w, []intake.Sender{{Name: "Marlow Creek Lab", Signs: []string{"@marlow.example"}, ConfirmedBy: "Wren Castellano", ConfirmedOn: cases.DayOf(s.now)}})
	})
	s.open(doc(docIda, `"screen"}`, `"screen","screen":{"card_serial":"AB2026000777"}}`))
	s.mails("From: results@marlow.example\r\nTo: referrals@x.example\r\nSubject: Result\r\nDate: Thu, 5 Mar 2026 06:12:00 -0500\r\nMessage-ID: <3@marlow.example>\r\nMIME-Version: 1.0\r\nContent-Type: application/octet-stream; name=r.hl7\r\nContent-Transfer-Encoding: base64\r\n\r\n" +
		base64.StdEncoding.EncodeToString([]byte(strings.NewReplacer("|77^^^MARLOW^MR|", "|77^^^MARLOW^MR~AB2026000777^^^^SNBSN|", "RLFA^Right Lower Forearm^HL70163|||P||", "RLFA^Right Lower Forearm^HL70163|||P|29^uL|", "|<30|A|", "|<60|N|").Replace(sweatORU))))
	wren := s.as("wren")
	items := s.waiting()
	if len(items) != 1 || len(items[0].Read) != 0 {
		t.Fatalf("%d items wait: %+v", len(items), items)
	}
	path := "/intake/" + items[0].ID
	p := wren.get(path).wants(200, "It is about SORREL-WHITE, IDA", "Set aside: seen and dealt with")
	for _, no := range []string{"Open a case", "Keep apart", "Send back", "Case number"} {
		if strings.Contains(p.text("main"), no) {
			t.Errorf("the page offers %q", no)
		}
	}
	p.form(path).set("as", "set-aside").set("reason", "Asked the laboratory").send().wants(200, "Set aside")
}

// A referral in the words of a mail is a main way in: a person reads it and enters it
// beside the text.
func TestAMailInWordsOpensACase(t *testing.T) {
	s := newSite(t)
	s.mails("From: NBS Laboratory <results@marlow.example>\r\nTo: referrals@x.example\r\nSubject: referral\r\nDate: Wed, 4 Mar 2026 16:12:00 -0500\r\nMessage-ID: <3@marlow.example>\r\n" +
		"Content-Type: text/plain\r\n\r\nBaby boy Nuevo, born 1 March, screen positive for CF, mother 555-0188.\r\n")
	wren := s.as("wren")
	path := "/intake/" + s.waiting()[0].ID
	p := wren.get(path).wants(200, "Baby boy Nuevo", "Open a case", "The case to open")
	p = p.form(path).set("as", "open").send().wants(422, "Enter the birth date")
	p = p.form(path).set("family", "Nuevo").set("born", "1 Mar 2026").set("sex", "male").set("phone", "555-0188").set("mother", "Nuevo, Ana").send()
	p.wants(200, "Case opened")
	c := s.read("AB-2026-0001")
	if c.Infant.Born != cases.MakeDay(2026, 3, 1) || c.Referral.On != cases.MakeDay(2026, 3, 4) || c.Referral.Route != "screen" || c.Family == nil || len(c.Family.Guardians) != 1 {
		t.Errorf("case %+v %+v", c.Infant, c.Referral)
	}
}
