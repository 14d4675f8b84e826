package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// intakeDays is how far back the counters of the intake page look.
const intakeDays = 365

// intakeOutcomes are the outcomes of an item with their words, in the order
// shown.
var intakeOutcomes = []struct{ outcome, word, note string }{
	{"opened", "Opened", "a new case"}, {"attached", "Attached", "to a case"}, {"no-case", "No case", "in range, set aside"},
	{"duplicate", "Already here", ""}, {"review", "For a person", "waiting or decided"}, {"refused", "Refused", "not a screen result"},
}

// intakeTags gives the kind of an item its tag.
var intakeTags = map[string]string{
	intake.KindNew: "plus", intake.KindAdds: "into", intake.KindResult: "drop", intake.KindTwin: "two", intake.KindSame: "two",
	intake.KindCannot: "blank", intake.KindPresumed: "late", intake.KindLook: "soon", intake.KindCorrected: "half", intake.KindWaits: "hold",
}

// intakePage answers GET /intake.
func (s *server) intakePage(c Ctx) error {
	since := s.today() - intakeDays
	p := &templates.IntakePage{MayDecide: can(c, takeIn), Period: "Items since " + shortDay(since) + "."}
	err := s.view(c, func(r cases.Reader) error {
		counts, err := r.ItemCounts(since)
		if err != nil {
			return err
		}
		p.Counts, p.Sum = countWords(counts)
		waiting, err := r.ItemsWaiting()
		if err != nil {
			return err
		}
		for i := range waiting {
			item, err := s.waitingItem(r, &waiting[i])
			if err != nil {
				return err
			}
			p.Waiting = append(p.Waiting, item)
		}
		docs, err := r.ReceivedLast(20)
		if err != nil {
			return err
		}
		for i := range docs {
			p.Documents = append(p.Documents, s.documentRow(&docs[i]))
		}
		return nil
	})
	if err != nil {
		return err
	}
	n := len(p.Waiting)
	p.Name, p.Current = fmt.Sprintf("Intake, %d waiting", n), "intake"
	p.Lead = templates.Count(n, "item waits", "items wait") + " for a person."
	if n == 0 {
		p.Lead = "Nothing waits for a person."
	}
	return s.render(c, http.StatusOK, p)
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

// waitingItem is an item of the review list as shown.
func (s *server) waitingItem(r cases.Reader, it *cases.Item) (templates.IntakeItem, error) {
	row := templates.IntakeItem{ID: it.ID, Title: it.Title, Came: s.moment(it), State: templates.Tag{Kind: intakeTags[it.Kind], Text: sentence(it.Kind)},
		Where: it.Position, Due: date(it.Due), Late: lateText(it.Due, s.today())}
	if len(it.Reasons) > 0 {
		row.Reason = strings.Join(it.Reasons, " ")
	}
	doc, err := r.Received(it.Document)
	if cases.KindOf(err) == cases.NotFound && err != nil {
		row.From = "Document not kept"
		return row, nil
	}
	if err != nil {
		return row, err
	}
	row.From = or(senderOf(it), doc.Name)
	return row, nil
}

// moment is when an item came.
func (s *server) moment(it *cases.Item) string {
	return shortDay(cases.DayOf(it.At.In(s.Now().Location()))) + ", " + s.clock(it.At)
}

// senderOf is who sent an item, as far as it was read.
func senderOf(it *cases.Item) string {
	var rec intake.Record
	if len(it.Read) == 0 || json.Unmarshal(it.Read, &rec) != nil {
		return ""
	}
	return rec.Referral.Sender
}

// documentRow is one document taken in.
func (s *server) documentRow(d *cases.Received) templates.IntakeDocument {
	row := templates.IntakeDocument{Name: or(d.Name, "No name"), Source: sentence(d.Source), Came: shortDay(cases.DayOf(d.At.In(s.Now().Location()))) + ", " + s.clock(d.At)}
	var parts []string
	for _, o := range intakeOutcomes {
		if n := d.Counts[o.outcome]; n > 0 {
			row.Items += n
			parts = append(parts, fmt.Sprintf("%s %s", templates.Thousands(n), strings.ToLower(o.word)))
		}
	}
	row.Outcome = or(strings.Join(parts, ", "), "Not finished")
	return row
}

// uploadMost is the largest file that the upload page takes.
const uploadMost = 5 << 20

// uploadForm answers GET /intake/upload, with what became of the last file when
// the address names it.
func (s *server) uploadForm(c Ctx) error {
	p := s.uploadPage(s.emptyForm())
	if hash := c.QueryParam("done"); hash != "" {
		if err := s.view(c, func(r cases.Reader) error { return s.uploadResult(r, p, hash) }); err != nil {
			return err
		}
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) uploadPage(f *form) *templates.UploadPage {
	return &templates.UploadPage{Base: templates.Base{Name: "Upload a file of referrals", Current: "intake"},
		Upload: templates.Field{ID: "file", Label: "File", Kind: "file", Accept: ".hl7,.txt,.csv,.dat", Hint: "One HL7 or CSV file", Error: f.errs["file"]}}
}

// uploadResult sets out what became of the items of a document.
func (s *server) uploadResult(r cases.Reader, p *templates.UploadPage, hash string) error {
	doc, err := r.Received(hash)
	if err != nil {
		return err
	}
	res := &templates.UploadResult{Name: or(doc.Name, "the file")}
	res.Counts, res.Sum = countWords(doc.Counts)
	items, err := r.Items("", 1000)
	if err != nil {
		return err
	}
	for i := range items {
		it := &items[i]
		if it.Document != hash {
			continue
		}
		if it.Outcome == string(intake.Opened) {
			res.Opened = append(res.Opened, templates.Sibling{Name: it.Title, Reference: it.Reference})
		}
		if it.Outcome == string(intake.Review) || it.Outcome == string(intake.Refused) {
			for _, why := range it.Reasons {
				res.Faults = append(res.Faults, templates.IntakeProblem{Where: it.Position, Field: it.Title, Text: why})
			}
		}
	}
	p.Result = res
	return nil
}

// upload answers POST /intake/upload.
func (s *server) upload(c Ctx) error {
	f := s.readForm(c)
	raw, name := f.file(c, "file", uploadMost)
	if !f.ok() {
		return s.invalid(c, s.uploadPage(f), f.problems)
	}
	res, err := s.Intake.Receive(c.Request().Context(), actorOf(c), intake.Document{Source: "upload", Name: name, At: s.Now(), Raw: raw})
	if err != nil {
		return err
	}
	s.tally.forget()
	_, sum := countWords(countsOf(res))
	n := templates.Notice{Head: "File taken in.", Text: name + ": " + sum}
	if res.Again {
		n.Kind, n.Head = "info", "This file was here before."
	}
	return s.saved(c, "/intake/upload?done="+res.Hash, n)
}

func countsOf(r intake.Result) map[string]int {
	m := map[string]int{}
	for o, n := range r.Counts {
		m[string(o)] = n
	}
	return m
}
