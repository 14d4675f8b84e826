package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// Each reason saves what it implies, in one go.
func TestNotDoneToday(t *testing.T) {
	today := cases.MakeDay(2026, 3, 5)
	for _, c := range []struct {
		why, weight, talk string
		hold, step        string
		contacts          int
	}{
		{"weight", "1.9", "talked, understood", "", "reweigh", 1},
		{"unwell", "", "talked, call back", "acute-illness", "clear-hold", 1},
		{"skin", "3.6", "none", "skin", "clear-hold", 0},
		{"equipment", "", "talked, understood", "", "book-test", 1},
		{"parent", "3.55", "talked, understood", "", "book-test", 1},
	} {
		t.Run(c.why, func(t *testing.T) {
			s := newSite(t)
			k := s.open(doc(docBooked, `"on":"2026-03-06"`, `"on":"2026-03-05"`, `"g":3500`, map[bool]string{true: `"g":1850`, false: `"g":3500`}[c.why == "weight"], `"birth_weight_g":3300`, map[bool]string{true: `"birth_weight_g":1800`, false: `"birth_weight_g":3300`}[c.why == "weight"]))
			path := "/infants/" + k.Reference + "/tests/not-done"
			p := s.as("dagny").get(path).wants(200, "Ezra came and was not tested", "This booking is cancelled with the reason: Thu 5 Mar 2026, 09:30")
			f := p.form(path).set("why", c.why).set("weight", c.weight).set("talk", c.talk).set("person", "The grandmother")
			p = f.send().wants(200, "Visit saved", "came, not tested", "Next for Ezra")
			if p.path != "/infants/"+k.Reference+"/next" {
				t.Errorf("afterwards at %s", p.path)
			}
			x := s.read(k.Reference)
			a := s.protocol.Assess(&x, today)
			if b := x.Bookings[0]; b.State != "cancelled" || b.Changed != today || !strings.HasPrefix(b.Reason, "Came, not tested: ") {
				t.Errorf("booking %+v", b)
			}
			hold := ""
			if len(x.Holds) > 0 {
				hold = x.Holds[0].Reason
			}
			if hold != c.hold || string(a.Next.Step) != c.step || len(x.Contacts)-len(k.Contacts) != c.contacts || (len(x.Infant.Weights) > 1) != (c.weight != "") {
				t.Errorf("hold %q, step %s, %d contacts more, weights %v", hold, a.Next.Step, len(x.Contacts)-len(k.Contacts), x.Infant.Weights)
			}
			if c.contacts == 1 {
				if y := x.Contacts[len(x.Contacts)-1]; y.By != "in-person" || !y.Reached || y.Outcome != c.talk || y.Person != "The grandmother" || y.Staff != "Dagny Achterberg" {
					t.Errorf("contact %+v", y)
				}
			} else if len(x.Notes) != 1 || !strings.Contains(x.Notes[0].Text, "The grandmother") {
				t.Errorf("notes %+v", x.Notes)
			}
		})
	}
}

func TestNotDoneNamesEachFaultAndKeepsTheRest(t *testing.T) {
	s := newSite(t)
	k := s.open(docBooked)
	path := "/infants/" + k.Reference + "/tests/not-done"
	nurse := s.as("dagny")
	nurse.get(path).form(path).send().wants(422, "Select why no test was made", "Select whether it was talked over")
	for _, c := range [][3]string{
		{"weight", "weight", "Enter the weight that was found"}, {"other", "words", "Enter the reason in words"},
		{"unwell", "on=tomorrow", "Day of the visit must be today or in the past"}, {"unwell", "until=1 Mar 2026", "First day without the reason must be on or after"},
		{"equipment", "look-again=+3d", "Ask again on is only for a reason"}, {"skin", "weight=31", "Infants here weigh 0.25 to 15 kg"},
		{"skin", "weight=3.1", "That is 0.40 kg less than on 24 Feb 2026"},
	} {
		f := nurse.get(path).form(path).set("why", c[0]).set("talk", "none").set("person", "The aunt")
		if name, value, ok := strings.Cut(c[1], "="); ok {
			f.set(name, value)
		}
		got := f.send().wants(422, c[2]).form(path).values
		if got.Get("person") != "The aunt" || got.Get("why") != c[0] {
			t.Errorf("%s: lost %v", c[1], got)
		}
	}
	if x := s.read(k.Reference); x.Rev != k.Rev {
		t.Errorf("a refused form changed the case: %+v", x)
	}
	p := nurse.get(path).form(path).set("why", "skin").set("talk", "none").set("weight", "3.1").send()
	p.form(path).set("confirm", "weight").set("go-on-why", "Weighed twice").send().wants(200, "Visit saved")
	if x := s.read(k.Reference); x.Infant.Weights[1].G != 3100 || !strings.Contains(x.Notes[0].Text, "Weighed twice") {
		t.Errorf("case %+v", x)
	}
}

// A visit whose day has a test is not one without; sent twice it counts once.
func TestNotDoneOnceAndNeverBesideATest(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docBooked, `"on":"2026-03-06"`, `"on":"2026-03-05"`))
	path := "/infants/" + k.Reference + "/tests/not-done"
	nurse := s.as("dagny")
	f := nurse.get(path).form(path).set("why", "unwell").set("talk", "talked, understood")
	f.send().wants(200, "Visit saved")
	f.send().wants(200, "Saved before")
	if x := s.read(k.Reference); len(x.Holds) != 1 || len(x.Contacts) != 3 {
		t.Errorf("sent twice: %+v %+v", x.Holds, x.Contacts)
	}
	tested := s.open(doc(docQNS, "Tobias", "Another"))
	path = "/infants/" + tested.Reference + "/tests/not-done"
	nurse.get(path).form(path).set("on", "14 Feb 2026").set("why", "unwell").set("talk", "none").send().wants(409, "A sweat test of 2026-02-14 is on file")
	s.as("wren").get(path).wants(403)
}

// What somebody else recorded meanwhile is shown beside what was typed.
func TestNotDoneMeetsAChangeOfSomebodyElse(t *testing.T) {
	s := newSite(t)
	k := s.open(docBooked)
	at := "/infants/" + k.Reference
	path := at + "/tests/not-done"
	f := s.as("dagny").get(path).form(path).set("why", "unwell").set("talk", "none").set("person", "The aunt")
	s.as("wren").get(at+"/notes/new").form(at+"/notes/new").set("text", "The family moved house").send().wants(200, "Note added")
	p := f.send().wants(409, "Somebody changed this case first", "The aunt")
	if x := s.read(k.Reference); len(x.Holds) != 0 {
		t.Errorf("holds %+v", x.Holds)
	}
	p.form(path).send().wants(200, "Visit saved")
	if x := s.read(k.Reference); len(x.Holds) != 1 {
		t.Errorf("holds %+v", x.Holds)
	}
}
