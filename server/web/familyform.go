package web

import (
	"context"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"dunlin/cases"
	"dunlin/templates"
)

// familyForm records who gets letters and calls, and where.
var familyForm = factForm{path: "/family", right: cases.EditIdentity, name: "Family and address", button: "Save family", what: "the family", saved: "Family saved",
	labels: []labelled{{"language", "Language"}, {"letters", "Who gets letters"}, {"g0-family", "Family name"}, {"g0-given", "Given name"}, {"g0-lines", "Street or box"}, {"g0-city", "Town"}, {"g0-county", "County"}, {"g0-postal", "Postal code"}, {"g0-phones", "Phones"}, {"g0-email", "E-mail"}, {"source", "Where it is from"}},
	set:    setFamily, read: readFamily}

// primaryCareForm records the infant's doctor.
var primaryCareForm = factForm{path: "/primary-care", right: cases.EditIdentity, name: "Primary care", button: "Save doctor", what: "the doctor", saved: "Primary care saved",
	labels: []labelled{{"doctor", "Doctor"}, {"practice", "Practice"}, {"phone", "Phone"}, {"fax", "Fax"}, {"email", "E-mail"}, {"lines", "Street or box"}, {"city", "Town"}, {"source", "Where it is from"}},
	set:    setPrimaryCare, read: readPrimaryCare}

var languageTag = regexp.MustCompile(`^[A-Za-z]{2,8}(-[A-Za-z0-9]{2,8}){0,3}$`)

// guardiansOf is how many guardians the form has: those on record and those typed beside
// them, one at least, and one more when it is asked for.
func (e *factEdit) guardiansOf() int {
	n := 1
	if e.c.Family != nil {
		n = max(n, len(e.c.Family.Guardians))
	}
	for ; e.f.values["g"+itoa(n)+"-family"] != nil && n < mostGuardians; n++ {
	}
	if e.more {
		n++
	}
	return n
}

// mostGuardians is how many guardians a form holds.
const mostGuardians = 6

// asksWho tells whether the form asks who gets letters.
func (e *factEdit) asksWho() bool {
	return e.guardiansOf() > 1 || e.c.Family != nil && e.c.Family.PickOne
}

func setFamily(s *server, e *factEdit, p *templates.FactPage) error {
	fam := e.c.Family
	if fam == nil {
		fam = &cases.Family{}
	}
	if _, sent := e.f.values["rev"]; !sent {
		e.fillFamily(fam)
	}
	p.Head, p.Lead = "Family of "+shortName(&e.c.Infant), "Who gets letters and calls, and where. Letters are written in the family’s language where there is a text in it, and in English otherwise."
	n := e.guardiansOf()
	for i := range n {
		e.addGuardian(p, i, fam)
	}
	if n < mostGuardians {
		more := templates.Choice{ID: "more", Legend: "Another guardian", Options: []templates.Option{{Value: "yes", Text: "Add a guardian: saving first shows fields for one more"}}}
		p.Parts = append(p.Parts, templates.FactPart{Ticks: &more})
	}
	if e.asksWho() {
		who := []templates.Option{{Text: "Nobody chosen: no letter is made"}}
		for i := range n {
			g := &cases.Guardian{Family: e.f.values.Get("g" + itoa(i) + "-family"), Given: e.f.values.Get("g" + itoa(i) + "-given"), Relation: e.f.values.Get("g" + itoa(i) + "-relation")}
			who = append(who, templates.Option{Value: itoa(i), Text: itoa(i+1) + ": " + strings.Trim(strings.ToUpper(g.Family)+", "+g.Given+" ("+or(g.Relation, "guardian")+")", ", ")})
		}
		e.add(p, templates.Choice{ID: "letters", Legend: "Who gets letters", Options: who})
	}
	e.add(p, templates.Field{ID: "language", Label: "Language of letters", Hint: "Language tag, like en, es or vi. Left empty: not known, and letters are in English", Optional: true, Width: "w5", NoSpell: true})
	yes := e.f.tickGroup(templates.Choice{ID: "interpreter", Legend: "Interpreter", Options: []templates.Option{{Value: "yes", Text: "The family needs an interpreter"}}})
	p.Parts = append(p.Parts, templates.FactPart{Ticks: &yes})
	e.add(p, templates.Field{ID: "source", Label: "Why, and where is it from?", Hint: "Such as: new address, from the mother on the phone. Needed when a guardian is removed, or letters go to another one", Optional: true, Width: "w20"})
	return nil
}

func (e *factEdit) addGuardian(p *templates.FactPage, i int, fam *cases.Family) {
	at, who := "g"+itoa(i)+"-", "Guardian"
	if i < len(fam.Guardians) {
		who = or(sentence(fam.Guardians[i].Relation), who)
	}
	if e.guardiansOf() > 1 {
		who += " " + itoa(i+1)
	}
	who += ": "
	hint := "One line each: street and house, box, apartment"
	if i < len(fam.Guardians) && fam.Guardians[i].Address != nil && fam.Guardians[i].Address.Bad {
		hint = "Mail came back from the address on record. " + hint
	}
	e.add(p, templates.Field{ID: at + "family", Label: who + "family name", Width: "w20", NoSpell: true}, templates.Field{ID: at + "given", Label: who + "given name", Optional: true, Width: "w20", NoSpell: true},
		templates.Field{ID: at + "relation", Label: who + "relation", Hint: "Mother, father, grandmother, foster parent", Optional: true, Width: "w14"},
		templates.Field{ID: at + "lines", Label: who + "street or box", Hint: hint, Kind: "area", Rows: 3, Optional: true},
		templates.Field{ID: at + "city", Label: who + "town", Optional: true, Width: "w20", NoSpell: true}, templates.Field{ID: at + "county", Label: who + "county", Hint: "Where the family lives; reports count by it", Optional: true, Width: "w20", NoSpell: true},
		templates.Field{ID: at + "region", Label: who + "region", Optional: true, Width: "w5", NoSpell: true},
		templates.Field{ID: at + "postal", Label: who + "postal code", Optional: true, Width: "w14", NoSpell: true}, templates.Field{ID: at + "country", Label: who + "country", Hint: "Only for mail to another country", Optional: true, Width: "w14", NoSpell: true},
		templates.Field{ID: at + "phones", Label: who + "phones", Hint: "One a line: number, kind, best time. Kinds are mobile, home, work. Texts go to a mobile", Kind: "area", Rows: 2, Optional: true},
		templates.Field{ID: at + "email", Label: who + "e-mail", Optional: true, Width: "w20", InputMode: "email", NoSpell: true})
	if i < len(fam.Guardians) {
		off := e.f.tickGroup(templates.Choice{ID: at + "off", Legend: who + "remove", Options: []templates.Option{{Value: "yes", Text: "Remove this guardian. The trail keeps what was on record"}}})
		p.Parts = append(p.Parts, templates.FactPart{Ticks: &off})
	}
}

func (e *factEdit) fillFamily(fam *cases.Family) {
	v := e.f.values
	v.Set("language", fam.Language)
	if fam.Interpreter {
		v.Set("interpreter", "yes")
	}
	for i := range fam.Guardians {
		g, at := &fam.Guardians[i], "g"+itoa(i)+"-"
		v.Set(at+"family", g.Family)
		v.Set(at+"given", g.Given)
		v.Set(at+"relation", g.Relation)
		v.Set(at+"email", g.Email)
		v.Set(at+"phones", phoneLines(g.Phones))
		e.fillAddress(at, g.Address)
		if g.Letters {
			v.Set("letters", itoa(i))
		}
	}
}

func (e *factEdit) fillAddress(at string, a *cases.Address) {
	if a == nil {
		return
	}
	for name, text := range map[string]string{"lines": strings.Join(a.Lines, "\n"), "city": a.City, "county": a.County, "region": a.Region, "postal": a.Postal, "country": a.Country} {
		e.f.values.Set(at+name, text)
	}
}

func phoneLines(list []cases.Phone) string {
	var out []string
	for _, p := range list {
		out = append(out, strings.TrimRight(strings.Join([]string{p.Number, p.Kind, p.Best}, ", "), ", "))
	}
	return strings.Join(out, "\n")
}

func readFamily(s *server, e *factEdit) saving {
	f := e.f
	fam := cases.Family{}
	if e.c.Family != nil {
		fam = *e.c.Clone().Family
	}
	n, gone := e.guardiansOf(), map[int]bool{}
	for len(fam.Guardians) < n {
		fam.Guardians = append(fam.Guardians, cases.Guardian{})
	}
	for i := range n {
		gone[i] = e.readGuardian(&fam.Guardians[i], "g"+itoa(i)+"-")
	}
	source := f.text("source", "Where it is from", 200)
	e.readWho(&fam, gone, source)
	fam.Language, fam.Interpreter = f.text("language", "Language", 35), f.ticked("interpreter", "yes")
	if fam.Language != "" && !languageTag.MatchString(fam.Language) {
		f.fail("language", "Language must be a tag, like en, es or pt-BR")
	}
	var stay []cases.Guardian
	for i := range fam.Guardians {
		if !gone[i] {
			stay = append(stay, fam.Guardians[i])
		}
	}
	fam.Guardians = stay
	if e.more = f.ticked("more", "yes") && n < mostGuardians; e.more {
		f.fail("g"+itoa(n)+"-family", "Enter the guardian whom you add, then save. Nothing is saved yet")
	}
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.SetFamily(ctx, who, e.c.ID, f.rev(), fam, source)
	}
}

// readWho reads who gets letters. Another choice than on record, and a guardian taken
// off, need a reason: the trail keeps it with who chose.
func (e *factEdit) readWho(fam *cases.Family, gone map[int]bool, why string) {
	f, old := e.f, ""
	for i := range fam.Guardians {
		if fam.Guardians[i].Letters {
			old = itoa(i)
		}
		if f.ticked("g"+itoa(i)+"-off", "yes") && why == "" {
			f.fail("source", "Enter why the guardian is removed")
		}
	}
	if !e.asksWho() {
		return
	}
	chosen := f.pick("letters", "", indexes(len(fam.Guardians))...)
	for i := range fam.Guardians {
		fam.Guardians[i].Letters = chosen == itoa(i)
		if chosen == itoa(i) && gone[i] {
			f.fail("letters", "Letters cannot go to a guardian who is removed or has no name. Choose another")
		}
	}
	left := 0
	for i := range fam.Guardians {
		if !gone[i] {
			left++
		}
	}
	fam.PickOne = chosen == "" && (left > 1 || fam.PickOne)
	if chosen != old && chosen != "" && why == "" && f.errs["source"] == "" {
		f.fail("source", "Enter why letters go to this guardian, such as what the family said")
	}
}

func indexes(n int) []string {
	out := make([]string, n)
	for i := range out {
		out[i] = itoa(i)
	}
	return out
}

// readGuardian reads one guardian; gone when it is to be removed or nothing was typed.
func (e *factEdit) readGuardian(g *cases.Guardian, at string) (gone bool) {
	f := e.f
	nameless := g.Family+g.Given == "" && (g.Address != nil || len(g.Phones) > 0 || g.Email != "") // on record without a name
	g.Family, g.Given, g.Relation = f.text(at+"family", "Family name", 128), f.text(at+"given", "Given name", 128), f.text(at+"relation", "Relation", 60)
	g.Address = f.address(at, g.Address)
	if g.Email = f.text(at+"email", "E-mail", 254); g.Email != "" && !cases.EmailAddress(g.Email) {
		f.fail(at+"email", "E-mail must be one address, like name@example.org")
	}
	g.Phones = nil
	for _, line := range strings.Split(f.lines(at+"phones", "Phones", 500), "\n") {
		parts := strings.SplitN(line, ",", 3)
		for i := range parts {
			parts[i] = strings.TrimSpace(parts[i])
		}
		if parts[0] == "" {
			continue
		}
		if !strings.ContainsAny(parts[0], "0123456789") {
			f.fail(at+"phones", "Phones must begin with the number, like 555-0187, mobile. This line does not: %s", parts[0])
			continue
		}
		parts = append(parts, "", "")
		g.Phones = append(g.Phones, cases.Phone{Number: parts[0], Kind: strings.ToLower(parts[1]), Best: parts[2]})
	}
	if f.ticked(at+"off", "yes") {
		return true
	}
	if g.Family != "" || g.Given != "" {
		return false
	}
	if nameless && (g.Address != nil || len(g.Phones) > 0 || g.Email != "") {
		return false
	}
	if g.Relation != "" || g.Address != nil || len(g.Phones) > 0 || g.Email != "" {
		f.fail(at+"family", "Enter the name of this guardian, or remove everything typed for the guardian")
	}
	return true
}

// address reads an address; nil when nothing was typed. One that differs from the old is
// not bad any more.
func (f *form) address(at string, old *cases.Address) *cases.Address {
	a := cases.Address{City: f.text(at+"city", "Town", 100), County: f.text(at+"county", "County", 100), Region: f.text(at+"region", "Region", 60), Postal: f.text(at+"postal", "Postal code", 20), Country: f.text(at+"country", "Country", 60)}
	if _, asked := f.values[at+"county"]; !asked && old != nil {
		a.County = old.County // a doctor's form does not ask for it
	}
	for _, line := range strings.Split(f.lines(at+"lines", "Street or box", 600), "\n") {
		if line = strings.Join(strings.Fields(line), " "); line != "" {
			a.Lines = append(a.Lines, line)
		}
	}
	switch {
	case len(a.Lines) == 0 && a.City+a.County+a.Region+a.Postal+a.Country == "":
		return nil
	case len(a.Lines) == 0:
		f.fail(at+"lines", "Enter the street or box")
	case a.City == "":
		f.fail(at+"city", "Enter the town")
	case strings.ContainsFunc(a.Postal, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != ' ' && r != '-' }):
		f.fail(at+"postal", "Postal code must have letters, digits, blanks and hyphens only, like 99210 or 99210-4410")
	case len(a.Lines) > 7:
		f.fail(at+"lines", "Street or box must have at most 7 lines. The window of the envelope holds fewer")
	}
	if old != nil && old.Bad && slices.Equal(old.Lines, a.Lines) && strings.EqualFold(old.City, a.City) && old.Postal == a.Postal {
		a.Bad = true
	}
	return &a
}

func setPrimaryCare(s *server, e *factEdit, p *templates.FactPage) error {
	if pc := e.c.PrimaryCare; pc != nil {
		if _, sent := e.f.values["rev"]; !sent {
			for name, text := range map[string]string{"doctor": pc.Name, "practice": pc.Practice, "phone": pc.Phone, "fax": pc.Fax, "email": pc.Email} {
				e.f.values.Set(name, text)
			}
			e.fillAddress("", pc.Address)
		}
	}
	p.Head, p.Lead = "Primary care of "+shortName(&e.c.Infant), "Letters about the referral and each result go to this doctor."
	hint := "One line each"
	if pc := e.c.PrimaryCare; pc != nil && pc.Address != nil && pc.Address.Bad {
		hint = "Mail came back from the address on record. " + hint
	}
	e.add(p, templates.Field{ID: "doctor", Label: "Doctor", Width: "w20", NoSpell: true}, templates.Field{ID: "practice", Label: "Practice", Optional: true, Width: "w20", NoSpell: true},
		templates.Field{ID: "phone", Label: "Phone", Optional: true, Width: "w14", InputMode: "tel"}, templates.Field{ID: "fax", Label: "Fax", Optional: true, Width: "w14", InputMode: "tel"},
		templates.Field{ID: "email", Label: "E-mail", Hint: "Where e-mail to doctors is set up, word of each letter goes here too", Optional: true, Width: "w20", InputMode: "email", NoSpell: true},
		templates.Field{ID: "lines", Label: "Street or box", Hint: hint, Kind: "area", Rows: 3, Optional: true},
		templates.Field{ID: "city", Label: "Town", Optional: true, Width: "w20", NoSpell: true}, templates.Field{ID: "region", Label: "Region", Optional: true, Width: "w5", NoSpell: true},
		templates.Field{ID: "postal", Label: "Postal code", Optional: true, Width: "w14", NoSpell: true}, templates.Field{ID: "country", Label: "Country", Hint: "Only for mail to another country", Optional: true, Width: "w14", NoSpell: true},
		templates.Field{ID: "source", Label: "Where is it from?", Hint: "Such as the family, or the birth hospital", Optional: true, Width: "w20"})
	yes := e.f.tickGroup(templates.Choice{ID: "confirmed", Legend: "Confirmed", Options: []templates.Option{{Value: "yes", Text: "The practice confirmed today that the infant is theirs"}}})
	p.Parts = append(p.Parts, templates.FactPart{Ticks: &yes})
	return nil
}

func readPrimaryCare(s *server, e *factEdit) saving {
	f := e.f
	pc := cases.PrimaryCare{}
	if e.c.PrimaryCare != nil {
		pc = *e.c.Clone().PrimaryCare
	}
	was := pc.Name
	pc.Name, pc.Practice = f.text("doctor", "Doctor", 128), f.text("practice", "Practice", 128)
	if pc.Name+pc.Practice == "" {
		f.fail("doctor", "Enter the doctor, or the practice")
	}
	pc.Phone, pc.Fax = f.text("phone", "Phone", 40), f.text("fax", "Fax", 40)
	if pc.Email = f.text("email", "E-mail", 254); pc.Email != "" && !cases.EmailAddress(pc.Email) {
		f.fail("email", "E-mail must be one address, like name@example.org")
	}
	pc.Address = f.address("", pc.Address)
	if was != pc.Name {
		pc.Confirmed = 0
	}
	if f.ticked("confirmed", "yes") {
		pc.Confirmed = e.today
	}
	source := f.text("source", "Where it is from", 200)
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.SetPrimaryCare(ctx, who, e.c.ID, f.rev(), pc, source)
	}
}
