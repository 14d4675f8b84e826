package web_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"dunlin/server/web"
)

func TestExportOfACase(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at := "/infants/" + k.Reference + "/export"
	wren := s.as("wren")
	wren.get("/infants/"+k.Reference).wants(200, "Pass the case on", "Export as FHIR")
	p := wren.get(at).wants(200, "It names the infant and the family", "Stays here").form(at).send()
	p = p.wants(422, "Enter who gets the file, and why")
	if n := len(s.exportsOf()); n != 0 {
		t.Fatalf("%d exports without a reason", n)
	}
	p = p.form(at).set("reason", "Handed over to the CF center").send()
	if p.status != 200 || p.head.Get("Content-Type") != "application/fhir+json" ||
		p.head.Get("Content-Disposition") != `attachment; filename="case-`+k.Reference+`.json"` {
		t.Fatalf("%d %v %.200s", p.status, p.head, p.body)
	}
	var b struct {
		ResourceType, ID, Type string
		Entry                  []struct {
			Resource struct{ ResourceType, Status string }
		}
	}
	if err := json.Unmarshal([]byte(p.body), &b); err != nil || b.ResourceType != "Bundle" || b.ID != "case-"+k.Reference || b.Type != "collection" {
		t.Fatalf("%v %.300s", err, p.body)
	}
	n := 0
	for _, e := range b.Entry {
		if e.Resource.ResourceType == "Observation" && e.Resource.Status == "cancelled" {
			n++
		}
	}
	if n != 2 {
		t.Errorf("%d of the two arms without enough sweat are cancelled observations", n)
	}
	log := s.exportsOf()
	if len(log) != 1 || log[0].Actor.Name != "Wren Castellano" || log[0].Event.Reason != "Handed over to the CF center" ||
		!strings.Contains(log[0].Event.Text, k.Reference) || !strings.Contains(log[0].Event.Text, "FHIR R4") {
		t.Errorf("log %+v", log)
	}
}

// Nobody but a coordinator exports a case, and the page is offered to nobody else.
func TestExportNeedsTheRight(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at := "/infants/" + k.Reference + "/export"
	for _, who := range []string{"dagny", "ines", "theo"} {
		c := s.as(who)
		c.get(at).wants(403)
		if p := c.get("/infants/" + k.Reference); p.status == 200 && slices.Contains(p.links(), at) {
			t.Errorf("%s is offered the export", who)
		}
	}
	if n := len(s.exportsOf()); n != 0 {
		t.Errorf("%d exports", n)
	}
}

// Without its entry in the audit trail no export leaves the program.
func TestNoEntryNoExport(t *testing.T) {
	closed := false
	s := newSite(t, func(d *web.Deps) { d.Store = readOnly{d.Store, &closed} })
	k := s.open(docQNS)
	at := "/infants/" + k.Reference + "/export"
	f := s.as("wren").get(at).form(at).set("reason", "Handed over")
	closed = true
	if p := f.send(); p.status < 500 || strings.Contains(p.body, "Bundle") {
		t.Errorf("%d %.300s", p.status, p.body)
	}
}
