package web_test

import (
	"fmt"
	"strings"
	"testing"

	"dunlin/cases"
)

// Five infants and a re-test are ready; of two sessions with two places each one is
// taken: three would wait.
func TestOutlookCountsAndNamesThem(t *testing.T) {
	s := newSite(t)
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)), session(cases.MakeDay(2026, 3, 13)))
	var ready []cases.Case
	for i := range 5 {
		ready = append(ready, s.open(doc(docTwin, `"plurality":2,"birth_order":1,`, "", "Drummond", fmt.Sprintf("Drummond-%c", 'A'+i))))
	}
	held := s.open(doc(docTwin, `"plurality":2,"birth_order":1,`, "", "Drummond", "Held", `"contacts":`, `"holds":[{"reason":"oxygen","from":"2026-03-02"}],"contacts":`))
	s.open(docBooked)
	retest := s.open(docRetest)
	nurse := s.as("dagny")
	p := nurse.get("/schedule/outlook").wants(200, "Capacity outlook", "All test sites", "Alder Bay Sweat Laboratory", "Add sessions", "3 too few",
		"Places are too few from the week of 5 Mar on: 3 infants would still wait after 8 weeks", "No day can be planned", "On hold: oxygen", "Everybody has a site that takes them")
	if !strings.Contains(p.body, held.Reference) || strings.Contains(p.section("undated", "terms"), ready[0].Reference) {
		t.Error("the list of those without a day is wrong")
	}
	if strings.Count(p.body, `role="img"`) < 2 {
		t.Error("the drawing is missing")
	}
	list := nurse.get("/schedule/outlook/infants?site=&week=1&what=ready").wants(200, "Become ready in the week of 5 Mar 2026, all test sites", "6 listed", "Re-test", "First test")
	for _, k := range append(ready, retest) {
		if !strings.Contains(list.body, `href="/infants/`+k.Reference+`"`) {
			t.Errorf("%s is not listed", k.Reference)
		}
	}
	nurse.get("/schedule/outlook/infants?site=alder-bay&week=8&what=waiting").wants(200, "Still waiting at the end of the week of 23 Apr 2026, Alder Bay Sweat Laboratory", "3 listed", "books nobody")
	for _, bad := range []string{"?site=&week=0&what=ready", "?site=&week=9&what=ready", "?site=&week=x&what=ready", "?site=&week=1&what=free", "?site=nowhere&week=1&what=ready"} {
		if got := nurse.get("/schedule/outlook/infants" + bad); got.status != 404 {
			t.Errorf("%s: %d", bad, got.status)
		}
	}
	if got := s.as("theo").get("/schedule/outlook"); got.status != 403 {
		t.Errorf("the administrator gets %d", got.status)
	}
}

func TestOutlookOfNobody(t *testing.T) {
	s := newSite(t)
	s.as("wren").get("/schedule/outlook").wants(200, "Nobody becomes ready in the next 8 weeks", "A day can be planned for everybody")
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)))
	s.open(doc(docTwin, `"plurality":2,"birth_order":1,`, ""))
	s.as("wren").get("/schedule/outlook").wants(200, "Places are enough in each of the next 8 weeks", "1 infant becomes ready, 2 places are free")
}
