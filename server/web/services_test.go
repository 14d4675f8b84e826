package web_test

import (
	"errors"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/csvfile"
	"dunlin/cases/intake/hl7"
	"dunlin/reminders/letters"
	"dunlin/server/web"
	"dunlin/templates"
)

// testServices are the facts of an invented program, with its intake and its
// press over the site's store.
func testServices(s *site) web.Services {
	facts := &letters.Program{Name: "Alder Bay newborn screening follow-up", Return: []string{"200 Causeway Road", "Alder Bay"}, Contact: "Wren Castellano", Phone: "555-0142",
		Hours: "Monday to Friday, from 8 in the morning to 4 in the afternoon", Emergency: "911", Envelope: letters.No10(),
		Sites: map[string]letters.Site{"alder-bay": {Name: "Alder Bay CF Clinic", Address: "1 Harbor Way, Alder Bay"}, "heron-point": {Name: "Heron Point Children's", Address: "9 Reed Street, Heron Point"}}}
	texts, err := templates.ParseLetters()
	if err != nil {
		s.t.Fatal(err)
	}
	protocol := func() *cases.Protocol { return s.protocol }
	return web.Services{LetterFacts: func() *letters.Program { return facts }, LetterTexts: texts,
		Press: &letters.Press{Store: s.db, Protocol: protocol, Program: func() *letters.Program { return facts }, Texts: texts,
			Message: func(*cases.Case, cases.MessageDue) (cases.Outgoing, error) {
				return cases.Outgoing{}, errors.New("no service for messages is set up; phone instead")
			}},
		Intake: intake.New(s.db, protocol, intake.Settings{}, hl7.Format{}, csvfile.Format{})}
}

// TestEveryPageOfTheRolesOpens opens the pages of each role's navigation.
func TestEveryPageOfTheRolesOpens(t *testing.T) {
	s := newSite(t)
	s.open(docQNS)
	for who, pages := range map[string][]string{
		"wren":  {"/overdue", "/schedule", "/intake", "/intake/upload", "/letters", "/infants", "/reports", "/settings"},
		"dagny": {"/overdue", "/schedule", "/letters", "/infants", "/reports/closure", "/settings/protocol"},
		"ines":  {"/reports/closure", "/settings/protocol"},
		"theo":  {"/settings"},
	} {
		c := s.as(who)
		for _, path := range pages {
			c.get(path).wants(200)
		}
	}
}
