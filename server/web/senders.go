package web

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// latelyItems is how many items are looked through for who sent something lately.
const latelyItems = 300

// sendersPage answers GET /settings/senders.
func (s *server) sendersPage(c Ctx) error {
	p := &templates.SendersPage{Base: templates.Base{Name: "Senders", Current: "settings"}, Links: settingsTabs(c, "senders"),
		Lead: "The laboratories and hospitals that send referrals and results, how each signs, and how what it sends is read."}
	err := s.view(c, func(r cases.Reader) error {
		list, err := intake.Senders(r)
		if err != nil {
			return err
		}
		for i := range list {
			p.Rows = append(p.Rows, senderRow(i, &list[i]))
		}
		if !can(c, takeIn) { // what came in is the coordinator's to see
			return nil
		}
		items, err := s.lately(r)
		if err != nil {
			return err
		}
		p.Unknown = s.unknownSenders(items, &intake.Settings{Senders: list})
		return nil
	})
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

func senderRow(n int, x *intake.Sender) templates.SenderRow {
	row := templates.SenderRow{Href: fmt.Sprintf("/settings/senders/%d", n), Name: shown(x.Name), Signs: or(shown(strings.Join(x.Signs, ", ")), "Its name"), Choices: choiceWords(x),
		Contact: or(shown(strings.TrimPrefix(x.Contact+", "+x.Email, ", ")), "Not known"), State: templates.Tag{Kind: "blank", Text: "Not confirmed yet"}}
	row.Contact = strings.TrimSuffix(row.Contact, ", ")
	if x.ConfirmedBy != "" {
		row.State, row.Note = templates.Tag{Kind: "done", Text: "Confirmed"}, x.ConfirmedBy+", "+shortDay(x.ConfirmedOn)
	}
	return row
}

var dateOrders = []word{{"", "As the program has it"}, {string(intake.DayMonth), "Day first: 05/03 is 5 March"}, {string(intake.MonthDay), "Month first: 05/03 is May 3"}}

// choiceWords says how what a sender sends is read.
func choiceWords(x *intake.Sender) string {
	var out []string
	switch x.DateOrder {
	case intake.DayMonth:
		out = append(out, "Dates day first")
	case intake.MonthDay:
		out = append(out, "Dates month first")
	}
	if x.CommaDecimals {
		out = append(out, "decimal commas")
	}
	if x.OpenOnRepeatCard != nil {
		out = append(out, map[bool]string{true: "another card wanted opens a case", false: "another card wanted opens no case"}[*x.OpenOnRepeatCard])
	}
	if x.Charset != "" {
		out = append(out, "characters "+shown(x.Charset))
	}
	if n := len(x.Codes); n > 0 {
		out = append(out, templates.Count(n, "code of its own", "codes of its own"))
	}
	return sentence(or(strings.Join(out, "; "), "as the program has it"))
}

// came is one item with the names by which it was signed.
type came struct {
	item   cases.Item
	names  []string
	way    string // mail address, or the name of an interface or key
	letter bool   // a mail to be read by a person, or a word about another item
}

// lately lists the newest items with who signed them.
func (s *server) lately(r cases.Reader) ([]came, error) {
	items, err := r.Items("", latelyItems)
	if err != nil {
		return nil, err
	}
	rows := itemRows{s: s, r: r}
	out := make([]came, 0, len(items))
	for i := range items {
		it := &items[i]
		x := came{item: *it}
		var rec intake.Record
		if len(it.Read) > 0 && json.Unmarshal(it.Read, &rec) == nil {
			x.names = append(x.names, rec.Referral.Sender, rec.Referral.Program)
		}
		doc, err := rows.document(it.Document)
		if err != nil {
			return nil, err
		}
		if doc != nil {
			x.way = doc.Sender
		}
		x.letter = len(it.Read) == 0 || rec.Referral.Sender == "" && rec.About != nil && len(rec.About.Parts) > 0
		x.names = append(x.names, x.way)
		out = append(out, x)
	}
	return out, nil
}

// unknownSenders counts the items of each name that no sender on the list signs with.
func (s *server) unknownSenders(items []came, known *intake.Settings) []templates.UnknownSender {
	at := map[string]int{}
	var out []templates.UnknownSender
	for i := range items {
		x := &items[i]
		name := or(x.names[0], x.way)
		if _, ok := known.SenderOf(x.names...); ok || name == "" || x.letter {
			continue
		}
		n, ok := at[strings.ToLower(name)]
		if !ok {
			n = len(out)
			at[strings.ToLower(name)] = n
			out = append(out, templates.UnknownSender{Name: shown(name), Href: "/settings/senders/new?item=" + escapeQuery(x.item.ID), Last: s.stamp(x.item.At)})
		}
		out[n].N++
	}
	return out
}

// senderEdit is one sender as its form needs it; n is -1 for a new one.
type senderEdit struct {
	n    int
	list []intake.Sender
	x    intake.Sender
	came []came
}

// markOf is a sender as a short mark, to see whether somebody changed it meanwhile.
func markOf(x *intake.Sender) string {
	text, err := json.Marshal(x)
	if err != nil {
		return ""
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// loadSender reads the sender that the address names, or begins a new one, from an
// item when the address names it.
func (s *server) loadSender(c Ctx) (e senderEdit, err error) {
	err = s.view(c, func(r cases.Reader) error {
		if e.list, err = intake.Senders(r); err != nil {
			return err
		}
		if e.n = -1; c.Param("n") != "" {
			if e.n, err = index(c, len(e.list)); err != nil {
				return err
			}
			e.x = e.list[e.n]
		}
		if !can(c, takeIn) {
			return nil
		}
		if e.came, err = s.lately(r); err != nil {
			return err
		}
		if id := c.QueryParam("item"); e.n < 0 && id != "" {
			i := slices.IndexFunc(e.came, func(x came) bool { return x.item.ID == id })
			if i >= 0 {
				e.x.Name = or(e.came[i].names[0], e.came[i].way)
				if w := e.came[i].way; w != "" && w != e.x.Name {
					e.x.Signs = []string{w}
				}
			}
		}
		return nil
	})
	return e, err
}

// senderForm answers GET /settings/senders/new and /settings/senders/:n.
func (s *server) senderForm(c Ctx) error {
	e, err := s.loadSender(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, s.senderPage(c, &e, s.emptyForm(filledSender(&e.x)...)))
}

// filledSender is a sender as the values of its form.
func filledSender(x *intake.Sender) []string {
	codes := make([]string, 0, len(x.Codes))
	for _, own := range slices.Sorted(maps.Keys(x.Codes)) {
		codes = append(codes, own+" = "+x.Codes[own])
	}
	out := []string{"name", x.Name, "signs", strings.Join(x.Signs, "\n"), "dates", string(x.DateOrder), "charset", x.Charset, "contact", x.Contact, "email", x.Email,
		"codes", strings.Join(codes, "\n"), "commas", "no", "cards", ""}
	if x.CommaDecimals {
		out = append(out, "commas", "yes")
	}
	if x.OpenOnRepeatCard != nil {
		out = append(out, "cards", map[bool]string{true: "yes", false: "no"}[*x.OpenOnRepeatCard])
	}
	return out
}

var (
	commaWords = []word{{"no", "Is looked at by a person"}, {"yes", "Is a decimal comma: 88,4"}}
	cardWords  = []word{{"", "As the program has it"}, {"yes", "Opens a case"}, {"no", "Opens no case"}}
)

// senderPage is the form of one sender, with what came from it lately.
func (s *server) senderPage(c Ctx, e *senderEdit, f *form) *templates.SenderPage {
	p := &templates.SenderPage{Base: templates.Base{Name: "Add a sender", Current: "settings"}, Head: "Add a sender", Links: settingsTabs(c, "senders"), Action: "/settings/senders/new"}
	if e.n >= 0 {
		p.Was, p.Action = markOf(&e.x), fmt.Sprintf("/settings/senders/%d", e.n)
		p.Head = shown(e.x.Name)
		p.Name, p.Confirmed = "Sender, "+p.Head, "Not confirmed yet."
		if e.x.ConfirmedBy != "" {
			p.Confirmed = "Confirmed by " + e.x.ConfirmedBy + ", " + shortDay(e.x.ConfirmedOn) + "."
		}
	}
	p.Fields = []templates.Field{
		f.field(templates.Field{ID: "name", Label: "Name", Hint: "As people call it", Width: "w20", NoSpell: true}),
		f.field(templates.Field{ID: "signs", Label: "Signs as", Hint: "One a line: the sending facility or application of its messages (MSH-4, MSH-3), a mail address, a whole domain like @lab.example, or the name of its key", Kind: "area", Rows: 3, Optional: true, NoSpell: true}),
		f.field(templates.Field{ID: "contact", Label: "Contact", Hint: "Whom to ask, and how", Optional: true, Width: "w20"}),
		f.field(templates.Field{ID: "email", Label: "E-mail for lists of faults", Optional: true, Width: "w20", InputMode: "email", NoSpell: true}),
		f.field(templates.Field{ID: "charset", Label: "Character set of what declares none", Hint: "Like windows-1252. Empty: UTF-8, else Windows-1252", Optional: true, Width: "w14", NoSpell: true}),
	}
	p.Dates = f.group(templates.Choice{ID: "dates", Legend: "Dates in numbers", Down: true, Options: optionsOf(dateOrders)})
	p.Commas = f.group(templates.Choice{ID: "commas", Legend: "A comma in a number", Down: true, Options: optionsOf(commaWords)})
	p.Cards = f.group(templates.Choice{ID: "cards", Legend: "A screen that asks for another card", Down: true, Options: optionsOf(cardWords)})
	p.Codes = f.field(templates.Field{ID: "codes", Label: "Its own result codes", Hint: "One a line, each with the LOINC code it means, like SWCL = 2077-6", Kind: "area", Rows: 3, Optional: true, NoSpell: true})
	if e.n >= 0 && e.x.ConfirmedBy == "" && can(c, takeIn) {
		p.Confirm = s.confirmPart(e, f)
	}
	return p
}

// confirmPart is the form that confirms a sender, with what came from it lately.
func (s *server) confirmPart(e *senderEdit, f *form) *templates.ConfirmSender {
	out := &templates.ConfirmSender{Action: fmt.Sprintf("/settings/senders/%d/confirm", e.n),
		Tick: templates.Choice{ID: "compared", Legend: "What was compared", Error: f.errs["compared"], Options: []templates.Option{{Value: "yes", Text: "I compared a real message of this sender with what was read from it"}}}}
	set := intake.Settings{Senders: []intake.Sender{e.x}}
	for i := range e.came {
		x := &e.came[i]
		if _, ok := set.SenderOf(x.names...); ok && len(out.Came) < 5 {
			out.Came = append(out.Came, templates.IntakeItem{ID: x.item.ID, Title: shown(x.item.Title), Came: s.stamp(x.item.At), State: itemTag(&x.item)})
		}
	}
	return out
}
