package intake

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"dunlin/cases"
)

// placer gives items their outcome inside one transaction.
type placer struct {
	w        cases.Writer
	finder   *finder
	in       *Intake
	protocol *cases.Protocol
	today    cases.Day
	job      *job
	mail     cases.Day // day of the mail, when a person decides on a kept item
	keys     keys
	also     []cases.Item // further entries that a sweat result asks for
}

// Record is what an item keeps of what was read.
type Record struct {
	Referral Referral  `json:"referral"`
	Problems []Problem `json:"problems,omitempty"`
	Kind     Kind      `json:"kind,omitempty"`
	Mail     cases.Day `json:"mail,omitempty"` // day of the mail that brought it

	About *MailAbout `json:"about,omitempty"` // the mail that brought it
}

// place decides on one item, matches it, writes what follows, and records it.
func (p *placer) place(it *Item) (cases.Item, error) {
	if p.job.file != nil && it == &p.job.reading.Items[0] {
		return p.job.file(p, it)
	}
	r := &it.Referral
	v := Decide(it, p.job.set.For(p.job.doc.Sender, r.Sender, r.Program))
	p.testAside(it, &v)
	if why := p.unconfirmed(r); why != "" && (v.Outcome == Opened || v.Kind == KindResult) {
		v.Reasons = append(v.Reasons, why)
	}
	item := cases.Item{Document: p.job.hash, Position: p.job.position(it.Label), Outcome: string(v.Outcome), Kind: v.Kind,
		Title: p.job.title(r), Reasons: v.Reasons, Top: v.Top, Key: p.keys.clinicalKey(it, p.job.hash)}
	if err := p.completes(it, &item); err != nil {
		return item, err
	}
	if v.Outcome != Refused || p.job.known {
		before, found, err := p.w.ItemByKey(item.Key)
		if err != nil {
			return item, err
		}
		switch {
		case found && !p.job.known && before.Decided != nil && before.Decided.As == SendBack:
			// Asked for again and sent again unchanged: a person must know.
			v.Reasons = append(v.Reasons, fmt.Sprintf("%s sent the same back on %s, and it came again unchanged.", before.Decided.By, cases.DayOf(before.Decided.At)))
			item.Reasons = v.Reasons
		case p.job.known || found && Outcome(before.Outcome) != Refused:
			return p.again(item, before, found)
		}
	}
	var err error
	if item.Read, err = json.Marshal(Record{Referral: *r, Problems: it.Problems, Kind: it.Kind, Mail: dayOf(p.job.doc.Sent), About: p.job.about()}); err != nil {
		return item, err
	}
	if v.Outcome != Refused {
		if err := p.numbered(it, &item); err != nil {
			return item, err
		}
		if err := p.settle(it, &v, &item); err != nil {
			return item, err
		}
	}
	if Outcome(item.Outcome) == Review {
		p.urgent(it, &v, &item)
		p.wait(&item)
		p.soon(it, &item)
	}
	item.Reasons = append(item.Reasons, p.job.notes...)
	if o := Outcome(item.Outcome); o == Review || o == NoCase {
		checks(it, &v, &item)
	}
	for i, reason := range item.Reasons {
		item.Reasons[i] = readable(reason)
	}
	if item, err = p.w.PutItem(item); err != nil {
		return item, err
	}
	if err := p.rememberPart(it, item); err != nil {
		return item, err
	}
	for _, more := range p.also {
		if _, err := p.w.PutItem(more); err != nil {
			return item, err
		}
	}
	p.also = nil
	return item, p.tell(it, item)
}

// readable keeps a reason to a length and to characters that can be read on a page.
func readable(reason string) string {
	const most = 600
	reason = Plain(reason)
	if len(reason) <= most {
		return reason
	}
	return strings.ToValidUTF8(reason[:most], "") + "… (the rest is in the message)"
}

// again records an item that is already here.
func (p *placer) again(item, before cases.Item, found bool) (cases.Item, error) {
	item.Outcome, item.Kind, item.Top, item.Key = string(Duplicate), KindHere, false, ""
	item.Case, item.Reference = before.Case, before.Reference
	why := "The same document came before."
	switch {
	case before.Reference != "":
		why = "The same result came before and belongs to " + before.Reference + "."
	case found && Outcome(before.Outcome) == Review && before.Decided == nil:
		why = "The same item came before and waits in the review list."
	case found:
		why = "The same result came before, on " + cases.DayOf(before.At).String() + "."
		if d := before.Decided; d != nil {
			why += fmt.Sprintf(" %s decided on it: %s.", d.By, d.As)
		}
	}
	item.Reasons = append([]string{why}, p.job.notes...)
	return p.w.PutItem(item)
}

// urgent puts an item that names two alleles at the top of the review list, unless
// the case of the infant names two already.
func (p *placer) urgent(it *Item, v *Verdict, item *cases.Item) {
	alleles := 0
	for _, n := range v.Genes.Names {
		if n != "7T" && n != "9T" {
			alleles++
		}
	}
	if alleles >= 2 && !item.Top && !v.onFile {
		item.Top = true
		item.Reasons = append([]string{"May be presumptive CF: two CFTR variants are named (" + Shorten(strings.Join(v.Genes.Names, ", ")) + ")."}, item.Reasons...)
	}
}

// checks lists, for an item that opens no case, what would stand beside the case to
// be checked.
func checks(it *Item, v *Verdict, item *cases.Item) {
	for _, q := range append(it.Problems, v.Genes.Problems...) {
		if s := q.String(); q.Severity == Check && !slices.Contains(item.Reasons, s) {
			item.Reasons = append(item.Reasons, s)
		}
	}
}

// wait gives a review item its due day: today for presumptive wording, otherwise
// the program's number of days.
func (p *placer) wait(item *cases.Item) {
	item.Due = p.today + cases.Day(p.in.settings.reviewDays())
	if item.Top {
		item.Due = p.today
	}
}

// numbered notes a message number that came before with another content. It is no
// duplicate: message numbers repeat in practice.
func (p *placer) numbered(it *Item, item *cases.Item) error {
	r := &it.Referral
	if r.ControlID == "" || p.job.doc.Part {
		return nil
	}
	token := "message number|" + r.Sender + "|" + r.Program + "|" + r.ControlID
	here := p.job.hash + " " + messageOf(it.Label)
	if where, ok := p.w.Once(token); ok {
		if where == here {
			return nil
		}
		item.Reasons = append(item.Reasons, fmt.Sprintf("MSH-10: Another message with the same message number %s came before. Check with the sender.", Shorten(r.ControlID)))
		return nil
	}
	return p.w.PutOnce(token, here, p.w.Now().Add(400*24*time.Hour))
}

// messageOf gives the message of a label such as "message 2, infant 1".
func messageOf(label string) string {
	m, _, _ := strings.Cut(label, ",")
	return m
}

// settle turns the verdict into an outcome by what is already known.
func (p *placer) settle(it *Item, v *Verdict, item *cases.Item) error {
	ms, err := p.finder.find(&it.Referral)
	if err != nil {
		return err
	}
	sweat := it.Referral.SweatTest && !it.Referral.Screen
	if sure := references(ms, certain); sweat && len(sure) > 1 {
		item.Related = sure
		item.Reasons = append(item.Reasons, "It fits "+strings.Join(sure, " and ")+" equally. Find out which case is this infant's.")
		return nil
	}
	if len(ms) > 0 && ms[0].Level == certain {
		return p.known(it, v, item, ms[0])
	}
	item.Related = references(ms, doubtful)
	if len(item.Related) > 0 {
		return p.doubt(v, item, ms)
	}
	if sweat {
		p.sweatUnknown(item, ms)
	}
	switch v.Outcome {
	case Opened:
		return p.open(it, v, item, ms)
	case NoCase:
		if it.Referral.Corrected {
			item.Outcome, item.Kind = string(Review), KindCorrected
			item.Reasons = append(item.Reasons, "This is a corrected result, in range, and no case is known for this infant. Find out whether the earlier result was out of range.")
		}
	}
	return nil
}

// doubt sends an item to a person because it may be about an infant on file.
func (p *placer) doubt(v *Verdict, item *cases.Item, ms []match) error {
	for _, m := range ms {
		if m.Level != doubtful {
			continue
		}
		closed := p.closed(&m.Case)
		if v.Outcome == NoCase && closed {
			continue
		}
		item.Reasons = append(item.Reasons, fmt.Sprintf("%s %s (%s). Compare both and decide.", sentence(m.Kind), m.Case.Reference, m.Why))
		if v.Outcome == Opened || v.Outcome == NoCase {
			item.Outcome, item.Kind = string(Review), m.Kind
		}
	}
	return nil
}

// closed tells whether a case is closed today.
func (p *placer) closed(c *cases.Case) bool {
	a := p.protocol.Assess(c, p.today)
	return a.Closed
}

func sentence(kind string) string {
	if kind == KindTwin {
		return "Possible twin of"
	}
	return "Possibly the same infant as"
}

// title names the infant for the list.
func title(r *Referral) string {
	in := r.Infant
	switch {
	case in.Family != "" && in.Given != "":
		return Shorten(in.Family + ", " + in.Given)
	case in.Family+in.Given != "":
		return Shorten(in.Family + in.Given)
	case len(in.Records) > 0:
		return "Infant without a name, number " + Shorten(in.Records[0].Number)
	}
	return "No infant found"
}
