package letters

import (
	"encoding/json"
	"strings"
	"testing"
)

func TestProfileIsChosenByNameOrNumbers(t *testing.T) {
	for _, name := range ProfileNames() {
		var p Program
		if err := json.Unmarshal([]byte(`{"envelope":"`+name+`"}`), &p); err != nil {
			t.Fatal(err)
		}
		if err := p.Envelope.Check(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		// As a letter keeps it.
		kept, _ := json.Marshal(p.Envelope)
		var again Profile
		if err := json.Unmarshal(kept, &again); err != nil || asJSON(t, again) != string(kept) {
			t.Errorf("%s: %s came back as %s, %v", name, kept, asJSON(t, again), err)
		}
	}
	p := Program{Envelope: No10()}
	if err := json.Unmarshal([]byte(`{"envelope":{"name":"own stock","folds":[3.9,7.5]}}`), &p); err != nil {
		t.Fatal(err)
	}
	if p.Envelope.Name != "own stock" || p.Envelope.Folds[0] != 3.9 || p.Envelope.Width != 8.5 {
		t.Errorf("%+v", p.Envelope)
	}
	for text, want := range map[string]string{`"c4"`: "din5008-c5, din5008-c6-5, din5008-dl, no10", `{"widht":8}`: "unknown field", `[]`: "cannot unmarshal"} {
		if err := json.Unmarshal([]byte(text), &p.Envelope); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: err = %v", text, err)
		}
	}
}

func TestGeometryThatCannotWorkIsRefused(t *testing.T) {
	for want, edit := range map[string]func(*Profile){
		"is not known":              func(p *Profile) { p.Unit = "cm" },
		"is no letter paper":        func(p *Profile) { p.Unit = "" },
		"does not lie on the sheet": func(p *Profile) { p.Quiet.Right = 300 },
		"the address does not lie":  func(p *Profile) { p.Band.Right = 150 },
		"above the address":         func(p *Profile) { p.Upper = 70 },
		"no room for the head":      func(p *Profile) { p.Quiet.Top, p.Upper = 20, 50 },
		"beside the window":         func(p *Profile) { p.Quiet.Right = 170 },
		"fewer than three lines":    func(p *Profile) { p.Upper, p.Band.Bottom = 0, 70 },
		"runs through the window":   func(p *Profile) { p.Folds = []float64{60} },
	} {
		p := DINC5()
		if err := p.Check(); err != nil {
			t.Fatal(err)
		}
		edit(&p)
		if err := p.Check(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q: err = %v", want, err)
		}
	}
}
