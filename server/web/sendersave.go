package web

import (
	"context"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// saveSender answers POST /settings/senders/new and /settings/senders/:n.
func (s *server) saveSender(c Ctx) error {
	e, err := s.loadSender(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	x := f.readSender(&e)
	p := s.senderPage(c, &e, f)
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	again := e.n >= 0 && e.x.ConfirmedBy != "" && !reads(&x, &e.x)
	if !again && e.n >= 0 {
		x.ConfirmedBy, x.ConfirmedOn = e.x.ConfirmedBy, e.x.ConfirmedOn
	}
	err = s.submit(c, f, "/settings/senders", func(ctx context.Context) (templates.Notice, error) {
		n := templates.Notice{Head: "Sender saved:", Text: x.Name + "."}
		if again {
			n.Kind, n.Text = "warn", x.Name+". It is read in another way now: confirm it again with its next message."
		}
		return n, s.putSender(ctx, actorOf(c), e.n, f.typed("was"), func(*intake.Sender) intake.Sender { return x })
	})
	return s.refuse(c, f, p, err, sent{"the sender", nil, nil})
}

// reads tells whether what two senders send is told and read in the same way.
func reads(a, b *intake.Sender) bool {
	x, y := *a, *b
	for _, z := range []*intake.Sender{&x, &y} {
		z.ConfirmedBy, z.ConfirmedOn, z.Contact, z.Email = "", 0, "", ""
		if len(z.Codes) == 0 {
			z.Codes = nil
		}
		if len(z.Signs) == 0 {
			z.Signs = nil
		}
	}
	return reflect.DeepEqual(x, y)
}

// putSender writes one sender of the list, unless somebody changed it since the form
// was opened.
func (s *server) putSender(ctx context.Context, who cases.Actor, n int, was string, change func(*intake.Sender) intake.Sender) error {
	return onceStore{s.Store, &s.tally}.Update(ctx, who, func(w cases.Writer) error {
		list, err := intake.Senders(w)
		if err != nil {
			return err
		}
		switch {
		case n < 0:
			list = append(list, change(&intake.Sender{}))
		case n >= len(list) || markOf(&list[n]) != was:
			return cases.Errorf(cases.Conflict, "Somebody changed this sender since you opened the page.")
		default:
			list[n] = change(&list[n])
		}
		return intake.PutSenders(w, list)
	})
}

// confirmSender answers POST /settings/senders/:n/confirm.
func (s *server) confirmSender(c Ctx) error {
	e, err := s.loadSender(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	if !f.ticked("compared", "yes") {
		f.failAt("compared", "compared-0", "Tick that you compared a real message, or leave the sender unconfirmed")
		filled := s.emptyForm(filledSender(&e.x)...)
		filled.errs = f.errs
		return s.invalid(c, s.senderPage(c, &e, filled), f.problems)
	}
	who := actorOf(c)
	return s.submit(c, f, "/settings/senders", func(ctx context.Context) (templates.Notice, error) {
		return templates.Notice{Head: "Sender confirmed:", Text: e.x.Name + "."}, s.putSender(ctx, who, e.n, f.typed("was"), func(x *intake.Sender) intake.Sender {
			now := *x
			now.ConfirmedBy, now.ConfirmedOn = who.Name, s.today()
			return now
		})
	})
}

var (
	loincForm = regexp.MustCompile(`^[0-9]{1,7}-[0-9]$`)
	mailWhole = regexp.MustCompile(`^@[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)+$`)
)

// Most lines of the signs and codes of a sender.
const mostSigns, mostCodes = 50, 500

// readSender reads the form of one sender.
func (f *form) readSender(e *senderEdit) intake.Sender {
	x := intake.Sender{Name: f.need("name", "Name", "Enter the name of the sender", 120), Contact: f.text("contact", "Contact", 200), Email: f.text("email", "E-mail", 200), Charset: f.text("charset", "Character set", 40)}
	if x.Email != "" && !mailAddress.MatchString(x.Email) {
		f.fail("email", "E-mail must be an address, like results@lab.example")
	}
	if x.Charset != "" && intake.NewDecoder(x.Charset, []byte{0xe9}).Refused != "" {
		f.fail("charset", "Character set %s cannot be read here. Use one like windows-1252 or iso-8859-1", x.Charset)
	}
	x.DateOrder = intake.DateOrder(f.choice("dates", "", valuesOf(dateOrders)...))
	x.CommaDecimals = f.choice("commas", "Select what a comma in a number is", valuesOf(commaWords)...) == "yes"
	if cards := f.choice("cards", "", valuesOf(cardWords)...); cards != "" {
		opens := cards == "yes"
		x.OpenOnRepeatCard = &opens
	}
	x.Signs = f.readSigns(e, x.Name)
	x.Codes = f.readCodes()
	return x
}

// readSigns reads how a sender signs. No two senders may sign alike.
func (f *form) readSigns(e *senderEdit, name string) []string {
	var out []string
	for line := range strings.SplitSeq(f.lines("signs", "Signs as", 8000), "\n") {
		if line = strings.TrimSpace(line); line != "" && !slices.Contains(out, line) {
			out = append(out, line)
		}
	}
	if len(out) > mostSigns {
		f.fail("signs", "Signs as must be at most %d lines. It is %d", mostSigns, len(out))
	}
	for _, sign := range append([]string{name}, out...) {
		if strings.HasPrefix(sign, "@") && !mailWhole.MatchString(sign) {
			f.fail("signs", "%s must be a whole domain, like @lab.example", sign)
		}
		for i := range e.list {
			other := &e.list[i]
			if i != e.n && sign != "" && slices.ContainsFunc(append([]string{other.Name}, other.Signs...), func(t string) bool { return strings.EqualFold(t, sign) }) {
				f.fail("signs", "%s signs as %s already. One of the two must be wrong", other.Name, sign)
			}
		}
	}
	return out
}

// readCodes reads the sender's own codes, one a line with the LOINC code it means.
func (f *form) readCodes() map[string]string {
	out := map[string]string{}
	n := 0
	for line := range strings.SplitSeq(f.lines("codes", "Its own result codes", 40000), "\n") {
		n++
		if strings.TrimSpace(line) == "" {
			continue
		}
		own, loinc, ok := strings.Cut(line, "=")
		own, loinc = strings.TrimSpace(own), strings.TrimSpace(loinc)
		switch {
		case !ok || own == "" || !loincForm.MatchString(loinc):
			f.fail("codes", "Line %d must be a code, = and a LOINC code, like SWCL = 2077-6", n)
		case out[own] != "":
			f.fail("codes", "%s stands there twice", own)
		}
		out[own] = loinc
	}
	if len(out) > mostCodes {
		f.fail("codes", "Its own result codes must be at most %d lines. It is %d", mostCodes, len(out))
	}
	if len(out) == 0 {
		return nil
	}
	return out
}
