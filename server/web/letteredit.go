package web

import (
	"context"
	"net/http"

	"dunlin/cases"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

// editLetter is a letter whose words a person changes.
type editLetter struct {
	listed
	now, made letters.Letter
}

// loadEdit reads a letter that may be changed.
func (s *server) loadEdit(c Ctx) (e editLetter, err error) {
	if e.listed, err = s.readLetter(c, c.Param("id")); err != nil {
		return e, err
	}
	if !mayEdit(&e.l) {
		return e, cases.Errorf(cases.Refused, "Letter %s is %s. Only a letter that waits to be printed can be changed. Put it back to print first, if it did not leave.", e.l.Number, letterTag(e.l.State).Text)
	}
	if e.now, err = letters.Decode(e.l); err == nil {
		e.made, err = letters.DecodeOriginal(e.l)
	}
	if err != nil {
		return e, cases.Errorf(cases.Refused, "%s.", sentence(err.Error()))
	}
	return e, nil
}

// letterEditForm answers GET /letters/:id/edit.
func (s *server) letterEditForm(c Ctx) error {
	e, err := s.loadEdit(c)
	if err != nil {
		return err
	}
	f := s.emptyForm("words", templates.MarkedWords(e.now.Blocks))
	p := s.letterEditPage(&e, f)
	if e.l.Edited != nil {
		p.LeftOut = templates.LeftOut(e.made.Blocks, e.now.Blocks)
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) letterEditPage(e *editLetter, f *form) *templates.LetterEditPage {
	at, kind := "/letters/"+e.l.ID, cases.LetterKindOf(e.l.Kind)
	p := &templates.LetterEditPage{Base: templates.Base{Name: "Change the words of letter " + e.l.Number, Current: "letters"}, Head: "Change the words of this letter",
		Lead: kind.Word + ", letter " + e.l.Number + ", " + or(e.c.Reference, s.nameOfLetter(&e.l, &e.c)) + ". What was made is kept and shown.", Action: at + "/edit", Back: letterHref(e.l.State, e.l.ID), Seen: or(f.typed("seen"), e.l.Sum()),
		Words: f.field(templates.Field{ID: "words", Label: "Words", Kind: "area", Rows: 26}),
		Why:   f.field(templates.Field{ID: "why", Label: "Why are they changed?", Width: "w20"}),
		Cautions: []string{"Change no clinical meaning. Leave in when to get care at once, and that the family’s doctor goes first.",
			"Other words than those of the letter texts were read by nobody but you."}}
	if kind.Released {
		reader := f.field(templates.Field{ID: "read-by", Label: "Who read the changed words, and lets them go", Hint: "A licensed person: the letter says a result", Width: "w20", NoSpell: true})
		licence := f.field(templates.Field{ID: "licence", Label: "Licensed as", Width: "w20", NoSpell: true})
		p.Reader, p.Licence = &reader, &licence
	}
	if e.l.Edited != nil {
		p.Edited, p.Restore = s.editedWords(e.l.Edited), at+"/restore"
	}
	fillWords(&p.Original, &e.made)
	p.Words.Label += " (" + languageWord(e.l.Language) + ")"
	return p
}

// saveLetterEdit answers POST /letters/:id/edit: the words are read and checked; what
// they leave out is shown and must be confirmed before they are saved.
func (s *server) saveLetterEdit(c Ctx) error {
	e, err := s.loadEdit(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	text, why := f.lines("words", "Words", 20_000), f.need("why", "Why", "Enter why the words are changed", 300)
	readBy, licence := f.text("read-by", "Who read the changed words", 120), f.text("licence", "Licensed as", 120)
	if cases.LetterKindOf(e.l.Kind).Released {
		f.need("read-by", "Who read the changed words", "Enter who read the changed words", 120)
		f.need("licence", "Licensed as", "Enter what that person is licensed as", 120)
	}
	edited, ok := e.read(f, text)
	p := s.letterEditPage(&e, f)
	if ok {
		e.doubts(f, p, &edited)
	}
	if !f.ok() {
		return s.invalid(c, s.again(p, f), f.problems)
	}
	data, err := edited.Bytes()
	if err != nil {
		return err
	}
	err = s.submit(c, f, letterHref(e.l.State, e.l.ID), func(ctx context.Context) (templates.Notice, error) {
		err := s.Desk.EditLetter(ctx, actorOf(c), e.l.ID, f.typed("seen"), data, cases.LetterEdit{Why: why, ReadBy: readBy, Licence: licence})
		return templates.Notice{Head: "Words changed", Text: "Letter " + e.l.Number + ". Read it once more below: this is what is printed."}, err
	})
	switch k := cases.KindOf(err); {
	case err == nil:
		return nil
	case f.take(err, map[string]string{"why": "why", "read_by": "read-by", "words": "words"}):
		return s.invalid(c, s.again(p, f), f.problems)
	case k == cases.Conflict || k == cases.Refused:
		f.fail("words", "%s", err)
		p.Problems = f.problems
		return s.render(c, http.StatusConflict, s.again(p, f))
	}
	return err
}

// again shows the fields with their errors.
func (s *server) again(p *templates.LetterEditPage, f *form) *templates.LetterEditPage {
	label := p.Words.Label
	p.Words, p.Why = f.field(p.Words), f.field(p.Why)
	p.Words.Label = label
	if p.Reader != nil {
		*p.Reader, *p.Licence = f.field(*p.Reader), f.field(*p.Licence)
	}
	return p
}

// read makes the letter of the typed words; what is wrong stands in the form.
func (e *editLetter) read(f *form, text string) (letters.Letter, bool) {
	if f.errs["words"] != "" {
		return e.now, false
	}
	blocks, err := templates.ParseWords(text)
	if err == nil {
		var k *cases.Case
		if e.l.Case != "" {
			k = &e.c
		}
		var out letters.Letter
		if out, err = e.made.Edited(blocks, k); err == nil {
			return out, true
		}
	}
	f.fail("words", "%s", sentence(err.Error()))
	return e.now, false
}

// doubts shows what a person must look at, and asks for a tick.
func (e *editLetter) doubts(f *form, p *templates.LetterEditPage, edited *letters.Letter) {
	d := edited.Doubts(&e.made)
	if !d.Any() {
		return
	}
	p.LeftOut = d.LeftOut
	if d.Harsh != "" {
		p.Doubts = append(p.Doubts, "The word “"+d.Harsh+"” alarms, or says what only the family’s doctor may.")
	}
	if d.Grade != "" {
		p.Doubts = append(p.Doubts, d.Grade)
	}
	yes := templates.Choice{ID: "confirm", Legend: "Go on?", Options: []templates.Option{{Value: edited.WordsSum(), Text: "I have read this, and the letter goes out with these words"}}}
	if !f.ticked("confirm", edited.WordsSum()) {
		f.failAt("confirm", "confirm-0", "Read what the letter leaves out or says now, and tick that it goes out with these words")
	}
	yes = f.tickGroup(yes)
	p.Confirm = &yes
}

// restoreLetter answers POST /letters/:id/restore.
func (s *server) restoreLetter(c Ctx) error {
	f := s.readForm(c)
	x, err := s.readLetter(c, c.Param("id"))
	if err != nil {
		return err
	}
	return s.submit(c, f, letterHref(x.l.State, x.l.ID), func(ctx context.Context) (templates.Notice, error) {
		return templates.Notice{Head: "Words put back", Text: "Letter " + x.l.Number + " says again what it said when it was made."}, s.Desk.RestoreLetter(ctx, actorOf(c), x.l.ID, f.typed("seen"))
	})
}
