package web_test

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// twinItem puts a waiting message about a twin of Baby A into the store.
func twinItem(s *site) (cases.Case, string) {
	k := s.open(doc(docTwin, "Drummond", "Easterly", "2026-02-09", "2026-02-20", `"sex":"female"`, `"sex":"male"`, "2026-02-16", "2026-02-24", "2026-02-17", "2026-02-24"))
	s.update(func(w cases.Writer) error {
		_, err := w.PutItem(cases.Item{Document: strings.Repeat("0", 64), Position: "message 1", At: s.now, Outcome: "review", Kind: "possible twin", Title: "Easterly, Baby B",
			Reasons: []string{"Possible twin of " + k.Reference + "."}, Due: cases.DayOf(s.now), Related: []string{k.Reference},
			Read: []byte(`{"referral":{"infant":{"family":"Easterly","given":"Baby B","born":{"text":"20260220","day":"2026-02-20"},"sex":"female"},"is_screen":true,"irt":[{"text":"88","value":88,"unit":"ng/mL"}],"sent":{"day":"2026-03-03"}}}`)})
		return err
	})
	return k, "/intake/" + s.waiting()[0].ID
}

// Two infants are never joined in one step: the page stops, shows what differs, and
// asks who said that it is this infant.
func TestSameInfantStopsWhereTwinsAreTold(t *testing.T) {
	s := newSite(t)
	k, path := twinItem(s)
	wren := s.as("wren")
	p := wren.get(path).form(path).set("as", "same "+k.Reference).set("reason", "Entered twice").send()
	p.wants(200, "Put this message on EASTERLY, Baby A?", "Sex", "Girl", "Boy", "Who at the birth place or laboratory said that it is this infant?")
	if c := s.read(k.Reference); c.Rev != k.Rev {
		t.Error("the case was changed before the answer")
	}
	p = p.form(path).send().wants(200, "Enter who said that it is this infant")
	p.form(path).set("who-said", "B. Quist, birth place, 5 Mar").send().wants(200, "Added to "+k.Reference)
	wren.get(path).wants(200, "same infant. It is this infant, says B. Quist, birth place, 5 Mar. Entered twice.")
	if c := s.read(k.Reference); c.Rev == k.Rev {
		t.Error("nothing was added")
	}
	if _, err := s.find("AB-2026-0002"); cases.KindOf(err) != cases.NotFound {
		t.Error("a second case was opened")
	}
}

func (s *site) find(ref string) (c cases.Case, err error) {
	err = s.db.View(context.Background(), func(r cases.Reader) (err error) {
		c, err = r.ByReference(ref)
		return err
	})
	return c, err
}

// The list of faults is on the page; the mail that it opens names nobody.
func TestSendBack(t *testing.T) {
	s := newSite(t)
	s.update(func(w cases.Writer) error {
		return intake.PutSenders(w, []intake.Sender{{Name: "Marlow Creek Lab", Signs: []string{"MARLOW"}, Contact: "Ana Ruiz, 555-0119", Email: "results@marlow.example"}})
	})
	wren := s.as("wren")
	wren.uploads("m.hl7", strings.ReplaceAll(sweatORU, "|Marlow Creek Lab|", "|MARLOW|"))
	path := "/intake/" + s.waiting()[0].ID
	p := wren.get(path).wants(200, "List of faults for the sender", "For Marlow Creek Lab. Contact: Ana Ruiz, 555-0119.", "Write the mail")
	link := ""
	for l := range strings.SplitSeq(p.body, `href="`) {
		if strings.HasPrefix(l, "mailto:") {
			link, _, _ = strings.Cut(l, `"`)
		}
	}
	u, err := url.Parse(strings.ReplaceAll(link, "&amp;", "&"))
	if err != nil || u.Opaque != "results@marlow.example" {
		t.Fatalf("mail to %q: %v", link, err)
	}
	for _, secret := range []string{"Ida", "IDA", "Sorrel", "SORREL", "2026-02-18", "20260218", "41", "mmol"} {
		if q := u.Query(); strings.Contains(q.Get("subject")+strings.ReplaceAll(q.Get("body"), "SW26030401", ""), secret) {
			t.Errorf("the mail holds %q: %s", secret, q)
		}
	}
	p.form(path).set("as", "send-back").send().wants(200, "Marked as sent back", "Open the list")
	wren.get(path).wants(200, "Decided on 5 Mar 2026, 08:41 by Wren Castellano: send back", "List of faults for the sender")
	if len(s.waiting()) != 0 {
		t.Error("it still waits")
	}
}

// The bytes come back as they arrived, to be saved and never shown.
//
//asvs:3.2.1 5.4.1 5.4.2
func TestDownloadOfTheRawBytes(t *testing.T) {
	s := newSite(t)
	wren := s.as("wren")
	raw := "MSH|odd <script>alert(1)</script>\x00\x1b \u202egnp.exe\r"
	wren.uploads("..\\..\\evil.html", raw)
	path := "/intake/" + s.waiting()[0].ID
	p := wren.get(path).wants(200, "Download as it arrived")
	if strings.ContainsAny(p.body, "\x00\x1b\u202e") {
		t.Error("the page holds characters that are not seen")
	}
	res, err := wren.http.Get(s.url + path + "/raw")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, _ := io.ReadAll(res.Body)
	h := res.Header
	if string(body) != raw || h.Get("Content-Type") != "application/octet-stream" || h.Get("X-Content-Type-Options") != "nosniff" ||
		!strings.Contains(h.Get("Content-Security-Policy"), "sandbox") || h.Get("Cache-Control") != "no-store" {
		t.Errorf("%q with %v", body, h)
	}
	if d := h.Get("Content-Disposition"); d != `attachment; filename="item-`+strings.TrimPrefix(path, "/intake/")+`.bin"` {
		t.Error(d)
	}
	wren.get(path+"/mail").wants(404, "did not come in a mail")
	wren.get("/intake/01ARZ3NDEKTSV4RRFFQ69G5FAV/raw").wants(404)
}

// Only the coordinator opens items, takes their bytes, decides and undoes.
func TestItemsAreForTheCoordinator(t *testing.T) {
	s := newSite(t)
	_, path := twinItem(s)
	token := func(c *client) url.Values {
		return url.Values{"csrf": c.get("/me").form("/me").values["csrf"], "as": {"set-aside"}, "reason": {"x"}, "undo-reason": {"x"}}
	}
	for _, who := range []string{"dagny", "ines", "theo"} {
		c := s.as(who)
		for _, at := range []string{path, path + "/raw", path + "/mail"} {
			c.get(at).wants(403)
		}
		c.post(path, token(c)).wants(403)
		c.post(path+"/undo", token(c)).wants(403)
	}
	if len(s.waiting()) != 1 {
		t.Error("it was decided")
	}
	res, err := http.Get(s.url + path + "/raw")
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.Request.URL.Path != "/sign-in" {
		t.Errorf("without a session: %s", res.Request.URL)
	}
}

// Two people decide on one item: the second is told, and nothing happens twice.
func TestAnItemIsDecidedOnce(t *testing.T) {
	s := newSite(t)
	k, path := twinItem(s)
	wren := s.as("wren")
	a, b := wren.get(path).form(path), wren.get(path).form(path)
	a.set("as", "twin "+k.Reference).send().wants(200, "Case opened")
	a.send().wants(409, "was decided already")
	b.set("as", "set-aside").set("reason", "x").send().wants(409, "was decided already")
	if c := s.read(k.Reference); len(c.Siblings) != 1 {
		t.Errorf("siblings %v", c.Siblings)
	}
}
