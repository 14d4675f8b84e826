package web

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"
	"unicode"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// intakeOutcomes are the outcomes of an item with their words, in the order
// shown.
var intakeOutcomes = []struct{ outcome, word, note, tag string }{
	{"opened", "Opened", "a new case", "plus"}, {"attached", "Attached", "to a case", "into"}, {"no-case", "No case", "in range, set aside", "done"},
	{"duplicate", "Already here", "", "done"}, {"review", "For a person", "waiting or decided", "soon"}, {"refused", "Refused", "not a result, kept", "blank"},
}

// intakeTags gives the kind of an item its tag.
var intakeTags = map[string]string{
	intake.KindNew: "plus", intake.KindAdds: "into", intake.KindResult: "drop", intake.KindTwin: "two", intake.KindSame: "two",
	intake.KindCannot: "blank", intake.KindPresumed: "late", intake.KindLook: "soon", intake.KindCorrected: "half", intake.KindWaits: "hold",
	intake.KindReply: "page", intake.KindFailed: "back", intake.KindNotice: "back", intake.KindTest: "blank", intake.KindUndone: "back",
}

// countWords sets out the counters of items; the outcomes add up to the items in.
func countWords(counts map[string]int) ([]templates.IntakeCount, string) {
	total, sum := 0, make([]string, 0, len(intakeOutcomes))
	out := []templates.IntakeCount{{Name: "Items in"}}
	for _, o := range intakeOutcomes {
		n := counts[o.outcome]
		total += n
		out = append(out, templates.IntakeCount{Name: o.word, Note: o.note, N: n})
		sum = append(sum, fmt.Sprintf("%s %s", templates.Thousands(n), strings.ToLower(o.word)))
	}
	out[0].N = total
	return out, fmt.Sprintf("%s in = %s.", templates.Count(total, "item", "items"), strings.Join(sum, " + "))
}

// itemRows makes rows of items; each document is read once.
type itemRows struct {
	s    *server
	r    cases.Reader
	docs map[string]*cases.Received
}

// row is one item as a list shows it.
func (x *itemRows) row(it *cases.Item) (templates.IntakeItem, error) {
	s := x.s
	row := templates.IntakeItem{ID: it.ID, Title: shown(it.Title), Came: s.stamp(it.At), At: s.clock(it.At), State: itemTag(it), Where: shown(it.Position),
		Reference: it.Reference, Reason: brief(dated(shown(strings.Join(it.Reasons, " "))))}
	if waits(it) {
		row.Due, row.Late = date(it.Due), lateText(it.Due, s.today())
	}
	if d := it.Decided; d != nil {
		row.Reason = strings.TrimSpace("By " + d.By + ", " + s.stamp(d.At) + ". " + endSentence(d.Reason))
	}
	doc, err := x.document(it.Document)
	if err != nil {
		return row, err
	}
	if doc == nil {
		row.From = "Document not kept"
		return row, nil
	}
	row.From, row.Name = fromWords(it, doc), shown(or(doc.Name, "No name"))
	row.Where = strings.Replace(row.Where, ", "+row.Name, "", 1) // the place names the attachment again
	return row, nil
}

// document is what is kept about a document, nil when it is not there.
func (x *itemRows) document(hash string) (*cases.Received, error) {
	if d, ok := x.docs[hash]; ok {
		return d, nil
	}
	if x.docs == nil {
		x.docs = map[string]*cases.Received{}
	}
	doc, err := x.r.ReceivedRecord(hash)
	switch {
	case err != nil && cases.KindOf(err) == cases.NotFound:
		x.docs[hash] = nil
	case err != nil:
		return nil, err
	default:
		x.docs[hash] = &doc
	}
	return x.docs[hash], nil
}

// messagesOf lists the items that belong to a case, the newest first.
func (s *server) messagesOf(r cases.Reader, id cases.ID) ([]templates.IntakeItem, error) {
	items, err := r.ItemsOfCase(id)
	if err != nil {
		return nil, err
	}
	rows := itemRows{s: s, r: r}
	var out []templates.IntakeItem
	for i := len(items) - 1; i >= 0; i-- {
		row, err := rows.row(&items[i])
		if err != nil {
			return nil, err
		}
		out = append(out, row)
	}
	return out, nil
}

// waits tells whether an item waits for a person.
func waits(it *cases.Item) bool { return it.Outcome == string(intake.Review) && it.Decided == nil }

// itemTag says what became of an item.
func itemTag(it *cases.Item) templates.Tag {
	switch {
	case waits(it):
		return templates.Tag{Kind: intakeTags[it.Kind], Text: sentence(or(it.Kind, "for a person"))}
	case it.Decided != nil:
		return templates.Tag{Kind: "done", Text: sentence(it.Decided.As)}
	}
	for _, o := range intakeOutcomes {
		if o.outcome == it.Outcome {
			return templates.Tag{Kind: o.tag, Text: o.word}
		}
	}
	return templates.Tag{Text: sentence(it.Outcome)}
}

// fromWords says by which way a document came and who sent it: as the message
// signs, else as the way says.
func fromWords(it *cases.Item, d *cases.Received) string {
	who := senderOf(it)
	if d.Sender != "" && !strings.EqualFold(d.Sender, who) {
		who = strings.TrimPrefix(who+", "+d.Sender, ", ")
	}
	return shown(strings.TrimSuffix(sourceWord(d)+", "+who, ", "))
}

func sourceWord(d *cases.Received) string {
	words := map[string]string{"import": "Import", "upload": "Upload", "mailbox": "Mailbox", "interface": "Interface", "web service": "Web service", "demo": "Invented data"}
	return or(words[d.Source], or(sentence(d.Source), "Source not known"))
}

// senderOf is who sent an item, as far as it was read.
func senderOf(it *cases.Item) string {
	var rec intake.Record
	if len(it.Read) == 0 || json.Unmarshal(it.Read, &rec) != nil {
		return ""
	}
	return rec.Referral.Sender
}

// stamp is a moment as shown: 5 Mar 2026, 06:14.
func (s *server) stamp(t time.Time) string { return shortDay(s.dayOf(t)) + ", " + s.clock(t) }

// mostBrief is how much of an item's reasons a list shows, in characters; its page
// shows all.
const mostBrief = 280

// brief cuts a text for a list, at a word.
func brief(s string) string {
	r := []rune(s)
	if len(r) <= mostBrief {
		return s
	}
	cut := string(r[:mostBrief])
	if i := strings.LastIndexByte(cut, ' '); i > 0 {
		cut = cut[:i]
	}
	return cut + " …"
}

// shown is a text from outside without what a browser would act on: control
// characters, and the marks that turn the direction of what follows.
func shown(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return ' '
		case unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r):
			return -1
		}
		return r
	}, s)
}
