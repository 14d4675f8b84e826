package web_test

import (
	"bytes"
	"context"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// An invented line list: one referral, and one row whose birth date is no date.
const lineList = `referral_date,card_serial,infant_last,infant_first,dob,birth_time,sex,birth_order,birth_weight_g,gest_age_wk,irt_ng_ml,cftr_variant_1,cftr_variant_2,nbs_interpretation,mother_last,mother_first,guardian_phone
2026-03-03,AB2026000123,Easterly,Baby boy,2026-02-20,04:15,M,,3120,39,118.4,F508del,,out of range,Easterly,Mary,555-0101
2026-03-03,AB2026000124,Halvorsen,Pim,2026-13-45,,F,,3000,40,88,,,out of range,Halvorsen,Liv,555-0102
`

// uploads sends a file by the upload page.
func (c *client) uploads(name, content string) *page {
	c.t.Helper()
	f := c.get("/intake/upload").form("/intake/upload")
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for field, values := range f.values {
		for _, v := range values {
			w.WriteField(field, v)
		}
	}
	if name != "" {
		part, err := w.CreateFormFile("file", name)
		if err != nil {
			c.t.Fatal(err)
		}
		part.Write([]byte(content))
	}
	w.Close()
	req, err := http.NewRequest(http.MethodPost, c.url+"/intake/upload", &body)
	if err != nil {
		c.t.Fatal(err)
	}
	req.Header.Set("Content-Type", w.FormDataContentType())
	res, err := c.http.Do(req)
	return c.page(res, err)
}

// waiting are the items that wait for a person.
func (s *site) waiting() (items []cases.Item) {
	s.t.Helper()
	err := s.db.View(context.Background(), func(r cases.Reader) (err error) {
		items, err = r.ItemsWaiting()
		return err
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return items
}

func TestUploadALineList(t *testing.T) {
	s := newSite(t)
	wren := s.as("wren")
	p := wren.uploads("list.csv", lineList)
	p.wants(200, "File taken in.", "2 items in = 1 opened + 0 attached + 0 no case + 0 already here + 1 for a person + 0 refused.", "AB-2026-0001", "row 3")
	wren.get("/intake").wants(200, "1 item waits for a person", "Halvorsen, Pim", "list.csv")
	wren.uploads("again.csv", lineList).wants(200, "This file was here before.", "2 items in = 0 opened + 0 attached + 0 no case + 2 already here")
	if n := len(s.waiting()); n != 1 {
		t.Errorf("%d items wait", n)
	}
}

//asvs:5.2.1 5.1.1
func TestUploadRefusesWhatIsNoFile(t *testing.T) {
	wren := newSite(t).as("wren")
	wren.uploads("", "").wants(422, "Choose the file to upload")
	wren.uploads("empty.csv", "").wants(422, "The file is empty")
	wren.uploads("big.csv", strings.Repeat("x", 5<<20+1)).wants(422, "The file must be 5 MB at most")
}

func TestDecideAWaitingItem(t *testing.T) {
	s := newSite(t)
	wren := s.as("wren")
	wren.uploads("list.csv", lineList)
	path := "/intake/" + s.waiting()[0].ID
	p := wren.get(path).wants(200, "Why a person must look", "2026-13-45", "The message as it arrived", "Halvorsen,Pim")
	p = p.form(path).send().wants(422, "Select what is to be done with it")
	p = p.form(path).set("as", "set-aside").send().wants(422, "Enter why it is set aside")
	p = p.form(path).set("as", "open").send().wants(422, "Enter the birth date")
	p = p.form(path).set("born", "19 Feb 2026").set("gestation", "about 40").send().wants(422, "Gestation must be weeks and days, like 39w2d")
	p = p.form(path).set("gestation", "40w0d").set("reason", "The birth place gave the date by phone").send()
	p.wants(200, "Case opened", "Halvorsen, Pim", "Nothing waits for a person")
	c := s.read("AB-2026-0002")
	if c.Infant.Born != cases.MakeDay(2026, 2, 19) || c.Referral.On != cases.MakeDay(2026, 3, 3) || c.Referral.Screen == nil || *c.Referral.Screen.IRTNgML != 88 {
		t.Errorf("case %+v, referral %+v", c.Infant, c.Referral)
	}
	wren.get(path).wants(200, "A case was opened by a person: AB-2026-0002.", "Decided on 5 Mar 2026, 08:41 by Wren Castellano: accept")
	if p := wren.get(path); strings.Contains(p.body, `action="`+path+`"`) {
		t.Error("a decided item can be decided again")
	}
}

func TestSetAsideKeepsTheItemAndItsReason(t *testing.T) {
	s := newSite(t)
	wren := s.as("wren")
	wren.uploads("list.csv", lineList)
	path := "/intake/" + s.waiting()[0].ID
	wren.get(path).form(path).set("as", "set-aside").set("reason", "Entered twice by the laboratory").send().wants(200, "Set aside")
	wren.get(path).wants(200, "set aside. Entered twice by the laboratory", "Halvorsen,Pim")
	if len(s.waiting()) != 0 {
		t.Error("the item still waits")
	}
}

func TestKeepATwinApart(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docTwin, "Drummond", "Easterly", "2026-02-09", "2026-02-20", `"sex":"female"`, `"sex":"male"`, "2026-02-16", "2026-02-24", "2026-02-17", "2026-02-24"))
	s.update(func(w cases.Writer) error {
		_, err := w.PutItem(cases.Item{Document: strings.Repeat("0", 64), Position: "message 1", At: s.now, Outcome: "review", Kind: "possible twin", Title: "Easterly, Baby B",
			Reasons: []string{"Possible twin of " + k.Reference + "."}, Due: cases.DayOf(s.now), Related: []string{k.Reference},
			Read: []byte(`{"referral":{"infant":{"family":"Easterly","given":"Baby B","born":{"text":"20260220","day":"2026-02-20"},"sex":"male"},"sent":{"day":"2026-03-03"}}}`)})
		return err
	})
	path := "/intake/" + s.waiting()[0].ID
	wren := s.as("wren")
	p := wren.get(path).wants(200, "Compare with the infant on file", "Twins are possible.", "Differs", "Keep apart: a twin or sibling of "+k.Reference)
	p.form(path).set("as", "twin "+k.Reference).send().wants(200, "Case opened", "Easterly, Baby B")
	a, b := s.read(k.Reference), s.read("AB-2026-0002")
	if len(a.Siblings) != 1 || a.Siblings[0] != b.Reference || len(b.Siblings) != 1 || b.Siblings[0] != a.Reference {
		t.Errorf("siblings %v and %v", a.Siblings, b.Siblings)
	}
}

// The page of a day: what came in, what was done with it, with counts that add
// up; any earlier day can be picked.
func TestIntakeShowsADay(t *testing.T) {
	s := newSite(t)
	wren := s.as("wren")
	wren.uploads("list.csv", lineList)
	s.now = s.now.Add(24 * time.Hour)
	wren.uploads("again.csv", lineList+"\n")
	wren.get("/intake").wants(200, "Came in today, 6 Mar 2026", "2 items in = 0 opened + 0 attached + 0 no case + 2 already here", "again.csv, row 3", "Upload", "The same result came before and belongs to AB-2026-0001.", "Waiting for a person", "Halvorsen, Pim")
	p := wren.get("/intake?day=2026-03-05").wants(200, "Came in on Thu 5 Mar 2026", "2 items in = 1 opened + 0 attached + 0 no case + 0 already here + 1 for a person + 0 refused. Of those for a person, none was decided yet.", "Easterly, Baby boy", "Opened", "AB-2026-0001")
	if strings.Contains(p.text("main"), "again.csv") {
		t.Error("an item of the next day is shown")
	}
	p = wren.get("/intake?day=2026-03-05&show=opened").wants(200, "Easterly")
	if strings.Contains(p.text("#came"), "Halvorsen") {
		t.Error("another outcome is shown")
	}
	wren.get("/intake?day=yesterday").wants(200, "Came in on Thu 5 Mar 2026")
	wren.get("/intake?day=4+Mar+2026").wants(200, "0 items in", "Nothing of this kind came in on that day")
	wren.get("/intake?day=%2B2d").wants(422, "Day must be today or in the past")
	wren.get("/intake?day=soon").wants(422, "Day must be a real date, like 5 Mar 2026")
	wren.get("/intake?page=99&show=%22%3E%3Cscript%3E").wants(200, "Came in today")
}

// What was stored and not read to its end, as after a power cut, is said loudly.
func TestIntakeShowsWhatWasNotFinished(t *testing.T) {
	s := newSite(t)
	s.update(func(w cases.Writer) error {
		return w.PutReceived(cases.Received{Source: "upload", Name: "cut\u202eoff.hl7", At: s.now.Add(-time.Hour), Raw: []byte("MSH|")})
	})
	s.as("wren").get("/intake").wants(200, "A document was kept and not read to its end.", "“cutoff.hl7” (Upload), came 5 Mar 2026, 07:41. Give it again")
}

func TestOnlyACoordinatorWorksIntake(t *testing.T) {
	s := newSite(t)
	for _, who := range []string{"dagny", "ines", "theo"} {
		s.as(who).get("/intake").wants(403, "Only a coordinator can do this")
	}
}

// A message that says homozygous reaches a person, who enters both alleles: the
// case is presumptive CF from then on.
func TestBothAllelesAreEnteredByHand(t *testing.T) {
	s := newSite(t)
	wren := s.as("wren")
	wren.uploads("list.csv", strings.NewReplacer("2026-13-45", "2026-02-19", "88,,,", `88,"F508del, homozygous",,`).Replace(lineList))
	path := "/intake/" + s.waiting()[0].ID
	p := wren.get(path).wants(200, "May be presumptive CF", "A homozygous variant is entered twice")
	p.form(path).set("as", "open").set("variant-1", "F508del").set("variant-2", "F508del").set("variant-3", "").send().wants(200, "Case opened")
	c := s.read("AB-2026-0002")
	if a := s.protocol.Assess(&c, cases.DayOf(s.now)); !a.PresumptiveCF || a.Next.Step != cases.StepReferAtOnce {
		t.Errorf("presumptive %v, step %s, genotype %+v", a.PresumptiveCF, a.Next.Step, c.Genotype)
	}
}
