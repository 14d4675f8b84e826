package web

import (
	"context"
	"net/http"

	"dunlin/cases"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

// releaseAt is the address of the page on which a letter of a case is read and released.
func releaseAt(ref string, l *cases.LetterDue) string {
	return "/infants/" + ref + "/letters/release?kind=" + escapeQuery(l.Kind) + "&occasion=" + escapeQuery(l.Occasion)
}

// waitingLetter finds the letter of the address among those that wait for a release.
func waitingLetter(c Ctx, o *opened) (cases.LetterDue, error) {
	kind, occasion := c.QueryParam("kind"), c.QueryParam("occasion")
	for _, l := range o.a.LettersToRelease {
		if l.Kind == kind && l.Occasion == occasion {
			return l, nil
		}
	}
	return cases.LetterDue{}, cases.Errorf(cases.Refused, "No letter of this kind waits for a release in case %s. It was released, or the recorded facts do not support it any more.", o.c.Reference)
}

// releaseForm answers GET /infants/:ref/letters/release: what the letter says, the
// cautions, and who lets it go.
func (s *server) releaseForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	due, err := waitingLetter(c, &o)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, s.releasePage(c, &o, due, s.emptyForm()))
}

func (s *server) releasePage(c Ctx, o *opened, due cases.LetterDue, f *form) *templates.ReleasePage {
	kind := cases.LetterKindOf(due.Kind)
	p := &templates.ReleasePage{Base: s.base(c, o, "Release a letter", "infants"), Head: "Release: " + kind.Word, Action: releaseAt(o.c.Reference, &due), Back: "/infants/" + o.c.Reference,
		By:       f.field(templates.Field{ID: "by", Label: "Who releases it", Hint: "Name of the person who has read the facts and answers for the letter", Width: "w20", NoSpell: true}),
		Evidence: s.evidenceOf(&o.a), Cautions: []string{cautionUnderSixty, cautionScreen, cautionSaltLoss}}
	for i := range o.a.Tests {
		t := &o.a.Tests[i]
		p.Tests = append(p.Tests, templates.Fact{Name: "Sweat test, " + shortDay(t.On), Text: outcomeWord(t.Outcome)})
	}
	if kind.Released {
		p.Lead = "This letter says a result. It goes out only after a named licensed person has read the facts and released it. Dunlin says what the recorded facts support; it does not diagnose."
		licence := f.field(templates.Field{ID: "licence", Label: "Licensed as", Hint: "It stands in the letter with the name", Width: "w20", NoSpell: true})
		p.Licence = &licence
	} else {
		p.Lead = "CF is in question for this infant, so this letter is held: a person tells the family first. Release it only if the family has heard it from a person and still needs the letter."
	}
	yes := templates.Choice{ID: "read", Legend: "Before you release it", Options: []templates.Option{{Value: "yes", Text: "The person named has read the letter and the facts on this page"}}}
	p.Read = f.tickGroup(yes)
	k := o.c.Clone()
	k.Releases = append(k.Releases, cases.Release{Kind: due.Kind, Occasion: due.Occasion, On: o.today, By: "(who releases it)", Licence: "(licensed as)"})
	a := s.protocol().Assess(&k, o.today)
	l, err := letters.Compose(&k, &a, due, s.LetterTexts, s.letterFacts())
	if err != nil {
		p.Stopped = sentence(err.Error()) + "."
	}
	if len(l.Blocks) > 0 {
		fillWords(&p.Letter, &l)
		p.Letter.Number = ""
	}
	return p
}

// releaseLetter answers POST /infants/:ref/letters/release.
func (s *server) releaseLetter(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	due, err := waitingLetter(c, &o)
	if err != nil {
		return err
	}
	r := cases.Release{Kind: due.Kind, Occasion: due.Occasion, By: f.need("by", "Who releases it", "Enter who releases the letter", 120)}
	if cases.LetterKindOf(due.Kind).Released {
		r.Licence = f.need("licence", "Licensed as", "Enter what that person is licensed as", 120)
	}
	if !f.ticked("read", "yes") {
		f.failAt("read", "read-0", "Tick that the person named has read the letter and the facts")
	}
	p := s.releasePage(c, &o, due, f)
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	err = s.submit(c, f, "/infants/"+o.c.Reference, func(ctx context.Context) (templates.Notice, error) {
		_, err := s.Desk.ReleaseLetter(ctx, actorOf(c), o.c.ID, f.rev(), r)
		return templates.Notice{Head: "Letter released", Text: cases.LetterKindOf(due.Kind).Word + ", released by " + r.By + ". The next run makes it.", LinkText: "Due today", Link: "/letters?state=due"}, err
	})
	return s.refuse(c, f, p, err, sent{"the release", []labelled{{"by", "Who releases it"}, {"licence", "Licensed as"}}, func(path string) string {
		if lastPart(path) == "licence" {
			return "licence"
		}
		return "by"
	}})
}
