package web

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// waitingBeside is how many waiting items the page of one lists beside it.
const waitingBeside = 20

// mostCandidates is how many infants on file one message is compared with.
const mostCandidates = 4

// itemView is an item with all that its page needs.
type itemView struct {
	item    cases.Item
	doc     cases.Received // with its bytes
	rec     intake.Record
	read    bool // rec holds what was read
	row     templates.IntakeItem
	waiting []templates.IntakeItem
	more    int          // how many wait in all
	near    []cases.Case // infants on file that it may be about; the likeliest first
	asked   int          // how many of them the item itself names; the others are their siblings
	about   *cases.Item  // the item that this entry is a word about; nil for an item of its own
	sender  intake.Sender
}

// loadItem reads the item that the address names.
func (s *server) loadItem(c Ctx) (itemView, error) {
	var v itemView
	err := s.view(c, func(r cases.Reader) error {
		var err error
		if v.item, err = r.Item(c.Param("id")); err != nil {
			return err
		}
		if v.doc, err = r.Received(v.item.Document); err != nil && cases.KindOf(err) != cases.NotFound {
			return err
		}
		v.read = len(v.item.Read) > 0 && json.Unmarshal(v.item.Read, &v.rec) == nil
		if v.near, v.asked, err = candidates(r, &v.item); err != nil {
			return err
		}
		if v.about, err = aboutItem(r, &v); err != nil {
			return err
		}
		if names := v.near[:v.asked]; len(names) > 1 && v.read && v.item.Reference == "" {
			slices.SortStableFunc(names, func(a, b cases.Case) int {
				return cmp.Compare(s.Intake.CompareWith(&v.rec.Referral, &b).Weight, s.Intake.CompareWith(&v.rec.Referral, &a).Weight)
			})
		}
		known, err := intake.Senders(r)
		if err != nil {
			return err
		}
		set := intake.Settings{Senders: known}
		v.sender, _ = set.SenderOf(v.rec.Referral.Sender, v.rec.Referral.Program, v.doc.Sender)
		return s.besideItem(r, &v)
	})
	return v, err
}

// aboutItem finds the item that an entry without content of its own is about, such as
// the word that a result was corrected: it came by the same document, and its position
// begins the entry's.
func aboutItem(r cases.Reader, v *itemView) (*cases.Item, error) {
	if v.read || v.item.Reference == "" {
		return nil, nil
	}
	items, err := r.ItemsOf(v.item.Document)
	if err != nil {
		return nil, err
	}
	for i := range items {
		if x := &items[i]; x.ID != v.item.ID && len(x.Read) > 0 && strings.HasPrefix(v.item.Position, x.Position+", ") {
			return x, nil
		}
	}
	return nil, nil
}

// besideItem fills the rows of the item and of the others that wait.
func (s *server) besideItem(r cases.Reader, v *itemView) error {
	waiting, err := r.ItemsWaiting()
	if err != nil {
		return err
	}
	rows := itemRows{s: s, r: r}
	if v.row, err = rows.row(&v.item); err != nil {
		return err
	}
	if !waits(&v.item) {
		return nil
	}
	v.more = len(waiting)
	at := max(0, slices.IndexFunc(waiting, func(i cases.Item) bool { return i.ID == v.item.ID })-waitingBeside/2)
	for i := at; i < min(len(waiting), at+waitingBeside); i++ {
		row, err := rows.row(&waiting[i])
		if err != nil {
			return err
		}
		row.Current = row.ID == v.item.ID
		v.waiting = append(v.waiting, row)
	}
	return nil
}

// candidates are the infants on file that an item may be about, and the siblings of
// those: a result may belong to the other twin.
func candidates(r cases.Reader, it *cases.Item) (list []cases.Case, asked int, err error) {
	var refs []string
	if it.Reference != "" {
		refs = append(refs, it.Reference)
	}
	refs = append(refs, it.Related...)
	add := func(ref string) error {
		if len(list) >= mostCandidates || slices.ContainsFunc(list, func(k cases.Case) bool { return k.Reference == ref }) {
			return nil
		}
		k, err := r.ByReference(ref)
		if err != nil {
			if cases.KindOf(err) == cases.NotFound {
				return nil
			}
			return err
		}
		list = append(list, k)
		return nil
	}
	for _, ref := range refs {
		if err := add(ref); err != nil {
			return nil, 0, err
		}
	}
	asked = len(list)
	for _, k := range list[:asked] {
		for _, ref := range k.Siblings {
			if err := add(ref); err != nil {
				return nil, 0, err
			}
		}
	}
	return list, asked, nil
}

// itemForm answers GET /intake/:id.
func (s *server) itemForm(c Ctx) error {
	v, err := s.loadItem(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, s.itemPage(c, &v, s.emptyForm(s.filledItem(&v)...)))
}

// itemPage sets out an item: what was done, what was read beside the message as it
// came, the infants on file it may be about, and what can be decided.
func (s *server) itemPage(c Ctx, v *itemView, f *form) *templates.IntakeItemPage {
	p := &templates.IntakeItemPage{Base: templates.Base{Name: "Intake, " + v.row.Title, Current: "intake"}, Item: v.row, Action: "/intake/" + v.item.ID,
		Waits: waits(&v.item), Top: v.item.Top, Cautions: []string{cautionNotDiagnosis, cautionTwoVariants, cautionPrivacy}}
	for _, why := range v.item.Reasons {
		p.Why = append(p.Why, dated(shown(why)))
	}
	if len(v.waiting) > 1 {
		p.Waiting = v.waiting
		if v.more > len(v.waiting) {
			p.More = fmt.Sprintf("All %s that wait", templates.Thousands(v.more))
		}
	}
	for _, x := range v.rec.Problems {
		p.Faults = append(p.Faults, templates.IntakeProblem{Where: or(x.Where(), "The item"), Field: shown(or(x.Value, "Not sent")), Text: shown(x.Text)})
	}
	if v.read {
		p.Read = readFacts(&v.rec.Referral)
	}
	p.Raw, p.RawNote = rawText(v)
	p.Mail, p.MailText = mailFacts(&v.rec)
	if v.about != nil {
		p.About = templates.Link{Href: "/intake/" + v.about.ID, Text: shown(v.about.Title + ", " + v.about.Position)}
	}
	p.RawLinks = rawLinks(v)
	if len(v.near) > 0 && v.read && saysWho(&v.rec.Referral) && (p.Waits || v.item.ToRev != 0) {
		p.Compare = s.compareAll(v)
	}
	if !p.Waits {
		p.Done = doneWords(v)
		if d := v.item.Decided; d != nil {
			p.Decided = fmt.Sprintf("Decided on %s by %s: %s. %s", s.stamp(d.At), d.By, d.As, endSentence(d.Reason))
		}
		if v.item.ToRev != 0 && v.item.Case != "" && can(c, takeIn) {
			p.Undo = &templates.UndoForm{Action: p.Action + "/undo", Reference: v.item.Reference,
				Reason: f.field(templates.Field{ID: "undo-reason", Label: "Why does it not belong there?", Hint: "What was found out, and from whom", Kind: "area", Rows: 2})}
		}
	}
	if p.MayAct = p.Waits && can(c, takeIn); p.MayAct {
		s.decisionFields(p, v, f)
	}
	if sendsBack(v) && (p.Waits || v.item.Decided != nil && v.item.Decided.As == intake.SendBack) {
		p.Return = s.faultsFor(v)
	}
	return p
}

// saysWho tells whether an item says anything about an infant.
func saysWho(r *intake.Referral) bool {
	in := &r.Infant
	return in.Family+in.Given+in.Born.Text != "" || in.Born.Day != 0 || len(in.Records) > 0
}

// doneWords says what the program did with an item by itself.
func doneWords(v *itemView) string {
	outcome, by := intake.Outcome(v.item.Outcome), "by the program itself"
	if d := v.item.Decided; d != nil {
		by = "by a person"
		switch d.As {
		case intake.Accept, intake.Apart:
			outcome = intake.Opened
		case intake.Same:
			outcome = intake.Attached
		}
	}
	switch outcome {
	case intake.Opened:
		return "A case was opened " + by + ": " + v.item.Reference + "."
	case intake.Attached:
		return "Added to " + v.item.Reference + " " + by + "."
	case intake.NoCase:
		return "In range: it is counted, and no case was opened."
	case intake.Duplicate:
		return "It was here before: nothing was changed."
	case intake.Refused:
		return "It is no result or referral: it is kept as it came, and nothing follows."
	}
	if v.item.Reference != "" {
		return "It belongs to " + v.item.Reference + "."
	}
	return "No case was opened or changed."
}

// isMail tells an item that a mail itself is: a reply, a notice of delivery, an
// automatic answer. No case is opened from one, and nothing is sent back.
func isMail(v *itemView) bool {
	return slices.Contains([]string{intake.KindReply, intake.KindFailed, intake.KindNotice, intake.KindAuto, intake.KindReceipt}, v.item.Kind)
}

// isWord tells an entry that only says something about a case, such as that a result
// was corrected: it holds nothing that could be added.
func isWord(v *itemView) bool { return !v.read && v.item.Reference != "" && !isMail(v) }

func sendsBack(v *itemView) bool { return !isMail(v) && !isWord(v) && !v.rec.Referral.Test() }

// undoItem answers POST /intake/:id/undo: an attachment is taken back.
func (s *server) undoItem(c Ctx) error {
	v, err := s.loadItem(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	reason := f.lines("undo-reason", "Reason", 500)
	if reason == "" {
		f.fail("undo-reason", "Enter why it does not belong there")
	}
	if !f.ok() {
		return s.invalid(c, s.itemPage(c, &v, f), f.problems)
	}
	err = s.submit(c, f, "/intake/"+v.item.ID, s.undo(actorOf(c), &v, reason))
	var e *cases.Error
	if errors.As(err, &e) && e.Kind == cases.Invalid {
		text := strings.TrimSpace(textOf(err))
		return s.invalid(c, s.itemPage(c, &v, f), []templates.Problem{{Field: "undo-reason", Text: text}})
	}
	return err
}
