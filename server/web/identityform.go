package web

import (
	"context"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// identityForm corrects what tells an infant from another. The name has a page of its own.
var identityForm = factForm{path: "/identity", right: cases.EditIdentity, name: "Correct the identity", button: "Save correction", what: "the correction", saved: "Identity corrected",
	labels: []labelled{{"born", "Birth date"}, {"born-at", "Time of birth"}, {"sex", "Sex"}, {"plurality", "Born together"}, {"order", "Birth order"}, {"records", "Record numbers"}, {"accession", "Specimen number"}, {"reason", "Reason"}},
	start:  startIdentity, set: setIdentity, read: readIdentity}

func startIdentity(e *factEdit) []string {
	x := cases.IdentityOf(&e.c)
	return []string{"born", date(x.Born).String(), "born-at", string(x.BornAt), "sex", x.Sex, "plurality", someCount(x.Plurality), "order", someCount(x.BirthOrder), "records", recordLines(x.Records), "accession", x.Accession}
}

// someCount writes a count that is known.
func someCount(n int) string {
	if n == 0 {
		return ""
	}
	return itoa(n)
}

// recordLines writes record numbers, one a line: number, authority.
func recordLines(list []cases.RecordNo) string {
	var out []string
	for _, r := range list {
		out = append(out, strings.TrimSuffix(r.Number+", "+r.Authority, ", "))
	}
	return strings.Join(out, "\n")
}

func setIdentity(_ *server, e *factEdit, p *templates.FactPage) error {
	p.Head, p.Lead = "Correct the identity of "+shortName(&e.c.Infant), "Due dates follow from the birth date and move with it. What was on record is kept and still finds the infant."
	p.Warn = "Check with the birth hospital or the laboratory before you change what tells this infant from another, above all from a twin. " +
		"Letters that say what you correct and have not gone out are held, and are made again with what you enter."
	p.Known = append(outFacts(&e.c), formerFacts(&e.c.Infant)...)
	e.add(p, templates.Field{ID: "born", Label: "Birth date", Hint: "Like 5 Mar 2026", Width: "w14"},
		templates.Field{ID: "born-at", Label: "Time of birth", Hint: "Like 09:40, as the hospital wrote it", Optional: true, Width: "w5"},
		templates.Choice{ID: "sex", Legend: "Sex", Options: append([]templates.Option{{Text: "Not recorded"}}, optionsOf(sexes)...)},
		templates.Field{ID: "plurality", Label: "Born together", Hint: "1 for one infant, 2 for twins", Optional: true, Width: "w5", InputMode: "numeric"},
		templates.Field{ID: "order", Label: "Birth order", Hint: "1 for the first born", Optional: true, Width: "w5", InputMode: "numeric"},
		templates.Field{ID: "records", Label: "Record numbers", Hint: "One a line: number, then who gave it", Kind: "area", Rows: 3, Optional: true, NoSpell: true})
	if e.c.Referral.Screen != nil {
		e.add(p, templates.Field{ID: "accession", Label: "Specimen number", Hint: "The laboratory’s number for the screen", Optional: true, Width: "w20", NoSpell: true})
	}
	e.add(p, templates.Field{ID: "reason", Label: "Reason", Hint: "What was wrong, and who said what is right", Kind: "area", Rows: 2})
	return nil
}

func readIdentity(s *server, e *factEdit) saving {
	f := e.f
	x := cases.Identity{Born: f.needDay("born", "Birth date"), BornAt: f.time("born-at", "Time of birth"), Sex: f.pick("sex", "", valuesOf(sexes)...),
		Plurality: f.upTo12("plurality", "Born together"), BirthOrder: f.upTo12("order", "Birth order"), Records: e.recordNumbers()}
	if e.c.Referral.Screen != nil {
		x.Accession = f.text("accession", "Specimen number", 60)
	}
	reason := f.lines("reason", "Reason", 500)
	if reason == "" {
		f.fail("reason", "Enter the reason for the correction")
	}
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		out, err := s.Desk.CorrectIdentity(ctx, who, e.c.ID, f.rev(), x, reason)
		if err == nil {
			e.said = lettersCorrected(&e.c, &out)
		}
		return out, err
	}
}

// upTo12 reads a whole number from 1 to 12; 0 for an empty field.
func (f *form) upTo12(name, label string) int {
	v, ok := f.number(name, label)
	if ok && (v < 1 || v > 12 || v != float64(int(v))) {
		f.fail(name, "%s must be a whole number from 1 to 12", label)
		return 0
	}
	return int(v)
}

// recordNumbers reads record numbers, one a line: number, authority. A line that was
// not touched is the number on record, whatever it is made of.
func (e *factEdit) recordNumbers() []cases.RecordNo {
	var out []cases.RecordNo
	f, onFile := e.f, map[string]cases.RecordNo{}
	for _, r := range e.c.Infant.Records {
		onFile[strings.TrimSpace(recordLines([]cases.RecordNo{r}))] = r
	}
	for _, line := range strings.Split(f.lines("records", "Record numbers", 4000), "\n") {
		if r, same := onFile[strings.TrimSpace(line)]; same {
			out = append(out, r)
			continue
		}
		number, authority, _ := strings.Cut(line, ",")
		r := cases.RecordNo{Number: strings.TrimSpace(number), Authority: strings.TrimSpace(authority)}
		switch {
		case r == (cases.RecordNo{}):
			continue
		case r.Number == "":
			f.fail("records", "Record numbers must begin with the number, like 0012345, Reed Hospital. This line does not: %s", strings.TrimSpace(line))
			continue
		}
		out = append(out, r)
	}
	return out
}

// lettersCorrected says which letters a correction has held, and which had left before.
func lettersCorrected(was, is *cases.Case) string {
	said := ""
	var held []string
	for i := range is.Letters {
		if l := &is.Letters[i]; l.State == "held" && i < len(was.Letters) && was.Letters[i].State != "held" {
			held = append(held, letterNamed(l))
		}
	}
	if len(held) > 0 {
		said = templates.Count(len(held), "letter is", "letters are") + " held: " + strings.Join(held, ", ") + ". "
	}
	if out := outLetters(is, is.Infant.Former[len(is.Infant.Former)-1].Out); len(out) > 0 {
		said += "Already out with what was corrected: " + strings.Join(out, ", ") + ". Tell those who got " + map[bool]string{true: "it", false: "them"}[len(out) == 1] + ". "
	}
	return said
}

func letterNamed(l *cases.LetterMade) string {
	return cases.LetterKindOf(l.Kind).Word + " (" + l.Number + ")"
}

// outLetters names letters by their numbers, with the day on which they were mailed.
func outLetters(k *cases.Case, numbers []string) []string {
	var out []string
	for _, n := range numbers {
		name := n
		for i := range k.Letters {
			l := &k.Letters[i]
			if l.Number != n {
				continue
			}
			if name = letterNamed(l); l.MailedOn != 0 {
				name += ", mailed " + shortDay(l.MailedOn)
			}
		}
		out = append(out, name)
	}
	return out
}

// outFacts lists the letters that are out with what is on record now: a correction does
// not reach them.
func outFacts(k *cases.Case) []templates.Fact {
	var out []templates.Fact
	for _, n := range outLetters(k, k.LettersOut()) {
		out = append(out, templates.Fact{Name: "Already out", Text: n, Note: "A correction does not reach it"})
	}
	return out
}

// formerFacts are the corrections of an infant's identity, the latest first.
func formerFacts(in *cases.Infant) []templates.Fact {
	var out []templates.Fact
	for i := len(in.Former) - 1; i >= 0; i-- {
		f := &in.Former[i]
		var was []string
		add := func(name, text string) {
			if text != "" {
				was = append(was, name+" "+text)
			}
		}
		if f.Born != 0 {
			add("birth date", shortDay(f.Born))
		}
		add("time of birth", string(f.BornAt))
		if f.Sex != "" {
			add("sex", strings.ToLower(sexWord(f.Sex)))
		}
		add("born together", someCount(f.Plurality))
		add("birth order", someCount(f.BirthOrder))
		for _, r := range f.Records {
			add("record number", strings.TrimSuffix(r.Number+", "+r.Authority, ", "))
		}
		add("specimen number", f.Accession)
		if len(was) == 0 {
			was = []string{"nothing stood there"}
		}
		note := f.By + ". " + strings.TrimSuffix(f.Reason, ".") + "."
		if len(f.Out) > 0 {
			note += " Out with it: " + strings.Join(f.Out, ", ") + "."
		}
		out = append(out, templates.Fact{Name: "Corrected " + shortDay(f.On), Text: "Before: " + strings.Join(was, "; "), Note: note})
	}
	return out
}
