package web

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// decisionFields fills the form of the decision; nothing is chosen beforehand.
func (s *server) decisionFields(p *templates.IntakeItemPage, v *itemView, f *form) {
	p.Decision = f.group(templates.Choice{ID: "as", Legend: "What is to be done with it?", Down: true, Options: itemOptions(v)})
	if !isWord(v) {
		p.Case = ptr(f.field(templates.Field{ID: "case", Label: "Case number", Hint: "Only when it belongs to another case. " + caseNumberHint, Optional: true, Width: "w14", NoSpell: true}))
	}
	p.Reason = f.field(templates.Field{ID: "reason", Label: "Reason", Hint: "What was found out, and from whom. Always when it is set aside", Kind: "area", Rows: 2})
	if p.Opens = opens(v); p.Opens {
		p.Open = s.openFields(f)
		p.Sex = f.group(templates.Choice{ID: "sex", Legend: "Sex", Options: optionsOf(sexes)})
		p.Route = f.group(templates.Choice{ID: "route", Legend: "Referred by", Options: optionsOf(routes)})
	}
	p.Sweat = sweatEntry(v, f)
}

func ptr[T any](v T) *T { return &v }

// answers are the kinds of mail that answer one of ours and refer nobody.
var answers = []string{intake.KindReply, intake.KindFailed, intake.KindNotice, intake.KindReceipt, intake.KindAuto}

// opens tells whether a case may be opened from an item. Free text and files that
// only a person can read are a main way in, and a sweat result may come before its
// referral.
func opens(v *itemView) bool { return !isWord(v) && !slices.Contains(answers, v.item.Kind) }

func isSweat(v *itemView) bool { return v.rec.Referral.SweatTest && !v.rec.Referral.Screen }

// itemOptions are the decisions possible for an item.
func itemOptions(v *itemView) []templates.Option {
	var out []templates.Option
	add := func(value, text, sub string) {
		out = append(out, templates.Option{Value: value, Text: text, Sub: sub})
	}
	if isWord(v) { // nothing can be added or opened
		add("set-aside", "Set aside: seen and dealt with", "Enter what was done. If the message does not belong to the case, open it and undo that")
		return out
	}
	for i := range v.near {
		k := &v.near[i]
		name := infantName(&k.Infant) + ", " + k.Reference
		switch {
		case isMail(v):
			add("same "+k.Reference, "File it on "+name, "It is kept on the case as a note")
		case isSweat(v):
			add("same "+k.Reference, "Add the result to "+name, "With the values below, corrected where they are wrong")
		default:
			add("same "+k.Reference, "The same infant as "+name, "Adds what was sent to that case. You confirm it on the next page when they differ in what tells twins apart")
		}
	}
	switch {
	case !opens(v):
	case isMail(v):
		add("open", "Open a case", "When it refers an infant. Enter what the mail says below")
	case isSweat(v):
		add("open", "Open a case and add the result", "When the infant is not on file. Correct both below")
	default:
		for i := range v.near {
			add("twin "+v.near[i].Reference, "Keep apart: a twin or sibling of "+v.near[i].Reference, "Opens a case of its own and links the two")
		}
		if len(v.near) > 0 {
			add("apart", "Keep apart: a different infant", "Opens a case of its own without a link")
		} else {
			add("open", "Open a case", "With the values below, corrected where they are wrong")
		}
	}
	add("other", "Add it to another case", "Enter the case number below")
	add("set-aside", "Set aside", "Nothing follows. The message is kept, with your reason")
	if sendsBack(v) {
		add("send-back", "Send back to the sender", "With the list of faults below: copy it, or write the mail. Nothing follows here until it comes again")
	}
	return out
}

// decided is what a person chose for an item.
type decided struct {
	choice intake.Choice
	onto   *cases.Case // the case that it is added to
}

// decideItem answers POST /intake/:id.
func (s *server) decideItem(c Ctx) error {
	v, err := s.loadItem(c)
	if err != nil {
		return err
	}
	if !waits(&v.item) {
		return cases.Errorf(cases.Refused, "This item was decided already. Open it to see by whom.")
	}
	f := s.readForm(c)
	d, err := s.readDecision(c, f, &v)
	if err != nil {
		return err
	}
	p := s.itemPage(c, &v, f)
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	if stop := s.sameInfant(f, &v, &d); stop != nil {
		return s.render(c, http.StatusOK, stop)
	}
	err = s.submit(c, f, "/intake", func(ctx context.Context) (templates.Notice, error) {
		return s.decide(ctx, actorOf(c), &v, d.choice)
	})
	return s.refuse(c, f, p, err, sent{"the decision", []labelled{{"as", "Decision"}, {"reason", "Reason"}}, openingField})
}

// readDecision reads the form. A case that is named and does not exist is a problem
// of its field.
func (s *server) readDecision(c Ctx, f *form, v *itemView) (d decided, err error) {
	var allowed []string
	for _, o := range itemOptions(v) {
		allowed = append(allowed, o.Value)
	}
	as := f.choice("as", "Select what is to be done with it", allowed...)
	verb, ref, _ := strings.Cut(as, " ")
	d.choice = intake.Choice{Reference: ref, Reason: f.lines("reason", "Reason", 500)}
	switch verb {
	case "other":
		d.choice.As = intake.Same
		d.choice.Reference = strings.ToUpper(f.need("case", "Case number", "Enter the case number: letters, year and number, with hyphens", 40))
	case "same":
		d.choice.As = intake.Same
	case "twin", "apart":
		d.choice.As, d.choice.Link = intake.Apart, verb == "twin"
		d.choice.Case = f.readOpening(s.today())
	case "open":
		d.choice.As, d.choice.Case = intake.Accept, f.readOpening(s.today())
		if isSweat(v) {
			d.choice.Read = readSweat(v, f)
		}
	case "send-back":
		d.choice.As = intake.SendBack
	case "set-aside":
		if d.choice.As = intake.SetAside; d.choice.Reason == "" {
			f.fail("reason", "Enter why it is set aside")
		}
	}
	if d.choice.As != intake.Same {
		return d, nil
	}
	if isSweat(v) {
		d.choice.Read = readSweat(v, f)
	}
	if d.choice.Reference == "" {
		return d, nil
	}
	return d, s.view(c, func(r cases.Reader) error {
		k, err := r.ByReference(d.choice.Reference)
		if err != nil && cases.KindOf(err) == cases.NotFound {
			f.fail("case", "There is no case %s. Find the infant by the box at the top of the page", d.choice.Reference)
			return nil
		}
		d.onto = &k
		return err
	})
}

// sameInfant is the page that stops before a message is put on a case from which it
// differs in what tells infants apart; nil when nothing differs, or when the person
// has said who knows that it is this infant.
func (s *server) sameInfant(f *form, v *itemView, d *decided) *templates.SameInfantPage {
	if d.onto == nil || !v.read || isMail(v) {
		return nil
	}
	rows, twins := s.tellsApart(v, d.onto), twinsPossible(v, []cases.Case{*d.onto})
	if len(rows) == 0 && !twins {
		return nil
	}
	who := f.text("who-said", "Who said it", 120)
	if who != "" && f.ok() {
		d.choice.Reason = strings.TrimSpace("It is this infant, says " + endSentence(who) + " " + d.choice.Reason)
		return nil
	}
	k := d.onto
	p := &templates.SameInfantPage{Base: templates.Base{Name: "Put this message on " + k.Reference + "?", Current: "intake", Problems: f.problems}, Reference: k.Reference, Rows: rows,
		Head: "Put this message on " + infantName(&k.Infant) + "?", Action: "/intake/" + v.item.ID, Back: "/intake/" + v.item.ID,
		Lead: "You chose the case " + k.Reference + ". One of several infants of a birth is meant: the message must say which."}
	if len(rows) > 0 {
		p.Lead = fmt.Sprintf("You chose the case %s. %s. That most often means twins, or another infant of the same name.", k.Reference,
			templates.Count(len(rows), "field that tells infants apart differs", "fields that tell infants apart differ"))
	}
	if _, asked := f.values["who-said"]; asked && who == "" {
		p.Problems = append(p.Problems, templates.Problem{Field: "who-said", Text: "Enter who said that it is this infant"})
		f.errs["who-said"] = "Enter who said that it is this infant"
	}
	p.Who = f.field(templates.Field{ID: "who-said", Label: "Who at the birth place or laboratory said that it is this infant?", Hint: "A name, and the day", Width: "w20", NoSpell: true})
	_, p.Kept = typedIn(f.values)
	p.Kept = slices.DeleteFunc(p.Kept, func(h templates.Hidden) bool { return h.Name == "once" || h.Name == "rev" || h.Name == "who-said" })
	return p
}

// decide carries the decision out; the form's token is kept in the same transaction.
func (s *server) decide(ctx context.Context, who cases.Actor, v *itemView, ch intake.Choice) (n templates.Notice, err error) {
	item, err := s.Intake.Over(onceStore{s.Store, &s.tally}).Resolve(ctx, who, v.item.ID, ch)
	if err != nil {
		return n, err
	}
	title := v.row.Title
	open := func(n templates.Notice) templates.Notice {
		n.LinkText, n.Link = "Open the infant", "/infants/"+item.Reference
		return n
	}
	switch ch.As {
	case intake.SetAside:
		return templates.Notice{Head: "Set aside:", Text: title + "."}, nil
	case intake.SendBack:
		return templates.Notice{Head: "Marked as sent back:", Text: title + ". Copy the list of faults to the sender.", LinkText: "Open the list", Link: "/intake/" + v.item.ID}, nil
	case intake.Same:
		return open(templates.Notice{Head: "Added to " + item.Reference + ":", Text: title + ". It can be taken off again on the page of the item."}), nil
	}
	return open(templates.Notice{Head: "Case opened", Text: title + ", " + item.Reference + "."}), nil
}

// undo takes an attachment back; the form's token is kept in the same transaction.
func (s *server) undo(who cases.Actor, v *itemView, reason string) func(context.Context) (templates.Notice, error) {
	return func(ctx context.Context) (templates.Notice, error) {
		_, err := s.Intake.Over(onceStore{s.Store, &s.tally}).Undo(ctx, who, v.item.ID, reason)
		return templates.Notice{Head: "Taken off " + v.item.Reference + ":", Text: v.row.Title + ". It waits for a new decision.", LinkText: "Open " + v.item.Reference, Link: "/infants/" + v.item.Reference}, err
	}
}

var mailAddress = regexp.MustCompile(`^[A-Za-z0-9.!#$%&'*+/=?^_{|}~-]+@[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)+$`)

// mostMailed is how much of a list goes into the address that opens a mail: some
// mail programs refuse longer ones.
const mostMailed = 1500

// faultsFor is the list of faults for the sender of an item. Neither it nor the mail's
// subject names an infant.
func (s *server) faultsFor(v *itemView) *templates.SendBack {
	back := &templates.SendBack{Text: intake.FaultList(v.item, v.rec), To: "The sender is not on the list of senders."}
	if v.sender.Name != "" {
		back.To = "For " + shown(v.sender.Name) + "."
		if v.sender.Contact != "" {
			back.To += " Contact: " + endSentence(shown(v.sender.Contact))
		}
	}
	if !mailAddress.MatchString(v.sender.Email) {
		return back
	}
	body := back.Text
	if len(body) > mostMailed {
		body = strings.ToValidUTF8(body[:mostMailed], "") + "\n[The list is longer: copy the rest from the page.]\n"
	}
	q := "subject=" + mailText("A message of yours could not be taken in") + "&body=" + mailText(strings.ReplaceAll(body, "\n", "\r\n"))
	back.Mail = "mailto:" + url.PathEscape(v.sender.Email) + "?" + q
	return back
}

// mailText is a text as it stands in a mailto address (RFC 6068).
func mailText(s string) string { return strings.ReplaceAll(url.QueryEscape(s), "+", "%20") }
