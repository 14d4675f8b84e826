package web_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// boundSite has one infant of the nurse's site, one of another, and one of none.
func boundSite(t *testing.T) (s *site, own, away, none cases.Case) {
	s = newSite(t)
	own = s.open(docQNS)
	away = s.open(strings.NewReplacer("alder-bay", "reef-head", "Tobias", "Linus", "Oyelaran", "Quillfeather").Replace(docQNS))
	none = s.open(docNew)
	s.update(func(w cases.Writer) error {
		a, err := w.Account("dagny@x.example")
		if err != nil {
			return err
		}
		a.Sites = []string{"alder-bay"}
		return w.PutAccount(a)
	})
	return s, own, away, none
}

func TestNurseSeesHerSites(t *testing.T) {
	s, own, away, none := boundSite(t)
	c := s.as("dagny")
	c.get("/infants/" + own.Reference).wants(200)
	c.get("/infants/" + none.Reference).wants(200)
	for _, at := range []string{"", "/contacts/new", "/weights/new", "/book", "/tests/new", "/close", "/next", "/holds/new"} {
		p := c.get("/infants/"+away.Reference+at).wants(403, "not among yours", "Open it for a reason")
		if strings.Contains(strings.ToUpper(p.body), "QUILLFEATHER") {
			t.Errorf("%s names the infant", at)
		}
	}
	for _, at := range []string{"/overdue", "/overdue/print", "/infants", "/schedule", "/letters", "/schedule/proposals"} {
		if p := c.get(at).wants(200); strings.Contains(strings.ToUpper(p.body), "QUILLFEATHER") || strings.Contains(p.body, away.Reference) {
			t.Errorf("%s shows an infant of another site", at)
		}
	}
	c.get("/infants").form("/infants/find").set("q", "quillf").send().wants(200, "Another test site", "Open "+away.Reference+" for a reason")
	// Others see everybody.
	s.as("wren").get("/infants/"+away.Reference).wants(200, "QUILLFEATHER")
}

// A form sent to an infant of another site, past all pages, changes nothing.
func TestNurseChangesHerSitesOnly(t *testing.T) {
	s, own, away, _ := boundSite(t)
	c := s.as("dagny")
	f := c.get("/infants/"+own.Reference+"/weights/new").form("/infants/"+own.Reference+"/weights").set("weight", "4.1")
	f.action = strings.Replace(f.action, own.Reference, away.Reference, 1)
	f.send().wants(403)
	if k := s.read(away.Reference); k.Rev != away.Rev {
		t.Error("the case of another site was changed")
	}
}

func TestOpenForAReason(t *testing.T) {
	s, _, away, _ := boundSite(t)
	c := s.as("dagny")
	at := "/infants/" + away.Reference
	p := c.get(at+"/open").wants(200, "access log")
	if strings.Contains(strings.ToUpper(p.body), "QUILLFEATHER") {
		t.Error("the page names the infant")
	}
	p.form(at+"/open").set("reason", "because").send().wants(422, "at least 20 characters")
	c.get(at).wants(403)
	n := len(s.lines())
	c.get(at+"/open").form(at+"/open").set("reason", "Called by the emergency department").send().wants(200, "QUILLFEATHER", "Opened for a reason until 09:41")
	got := s.since(n)
	if len(got) != 3 || got[1].Act != cases.ActBreakGlass || got[1].Why == "" || !slices.Equal(got[1].Infants, []string{away.Reference}) || got[1].Until.Sub(got[1].At) != time.Hour {
		t.Errorf("%+v", got)
	}
	c.get(at + "/weights/new").wants(200)
	s.now = s.now.Add(time.Hour)
	c = s.as("dagny")
	c.get(at).wants(403)

	ines := s.as("ines")
	ines.get("/reports/closure").wants(200, "1 look to review")
	p = ines.get("/settings/access").wants(200, "Looks to review", "Dagny Achterberg", "Called by the emergency department")
	p.form("/settings/access/reviews").set("word", "").send().wants(422, "Enter what you found")
	ines.get("/settings/access").form("/settings/access/reviews").set("word", "Known, asked for by the hospital").send().wants(200, "Reviewed")
	if p := ines.get("/settings/access"); strings.Contains(p.body, "reviews-h") {
		t.Error("a reviewed look still waits")
	}
}

func TestManagerOpensANameForAReason(t *testing.T) {
	s, own, _, _ := boundSite(t)
	ines := s.as("ines")
	at := "/infants/" + own.Reference
	ines.get(at).wants(403, "Open it for a reason")
	ines.get(at+"/open").form(at+"/open").set("reason", "The hospital asks for the name").send().wants(200, "OYELARAN", "Opened for a reason")
	// Nobody reviews the own look.
	ines.get("/settings/access").wants(200, "Your own: somebody else reviews it")
	s.as("wren").get("/settings/access").wants(200, "Looks to review", "Ines Okafor-Lund")
	for who, status := range map[string]int{"wren": 403, "theo": 403} {
		s.as(who).get(at + "/open").wants(status)
	}
}
