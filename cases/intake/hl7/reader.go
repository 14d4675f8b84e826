package hl7

import (
	"fmt"
	"strings"

	"dunlin/cases/intake"
)

// Format reads HL7 version 2 documents for intake.
type Format struct{}

// Name is the name shown beside a document.
func (Format) Name() string { return "HL7" }

// Sniff reports whether the bytes look like HL7: a header after an optional byte
// order mark or frame byte, or a message quoted in a mail.
func (Format) Sniff(raw []byte) bool {
	conv, _ := intake.FromUTF16(raw)
	head := trimControl(trimPrefixBOM(conv))
	head = trimControl(trimPrefixBOM(head))
	if isHeader(head) && (len(head) == 3 || !alnum(head[3])) {
		return true
	}
	return startOfFrame(conv) >= 0 || isQuoted(conv) || headless(conv)
}

func trimPrefixBOM(b []byte) []byte {
	if len(b) >= 3 && b[0] == utf8BOM[0] && b[1] == utf8BOM[1] && b[2] == utf8BOM[2] {
		return b[3:]
	}
	return b
}

// Read splits the document and reads every patient result in it.
func (Format) Read(raw []byte, s intake.Settings) intake.Reading {
	f := ParseAs(raw, s.Charset)
	r := intake.Reading{Warnings: f.Problems}
	for i, m := range f.Messages {
		label := fmt.Sprintf("message %d", i+1)
		if its := items(m, label, s); r.Items == nil {
			r.Items = its // mostly the only ones, and large
		} else {
			r.Items = append(r.Items, its...)
		}
	}
	if len(f.Loose) > 0 && len(f.Messages) > 0 {
		r.Warnings = append(r.Warnings, intake.Problem{Severity: intake.Check,
			Text: "There are lines before the first message header; they are kept with the file and were not read."})
		if text := intake.NewDecoder("", f.Loose).Text(f.Loose); headless(f.Loose) || intake.SpeaksOfCF(text) {
			r.Items = append(r.Items, intake.Item{Label: "lines before the messages", Kind: intake.Unreadable, Text: text, Problems: []intake.Problem{{Severity: intake.Fault,
				Text: "There are lines before the first message header (MSH) that may be a part of a message. They were not read; look at the file and ask the sender for the whole message."}}})
		}
	}
	if len(r.Items) == 0 {
		r.Items = []intake.Item{nothing(f, raw)}
	}
	return r
}

// nothing is the item for a file without a message.
func nothing(f *File, raw []byte) intake.Item {
	it := intake.Item{Label: "file", Kind: intake.Unreadable, Text: intake.NewDecoder("", raw).Text(raw)}
	text := "No message header (MSH) was found, so nothing could be read. Look at the file and ask the sender for it again."
	switch {
	case len(trimControl(raw)) == 0:
		text = "The file is empty."
	case f.Quoted:
		text = "This is an HL7 message quoted in a mail, with marks before its lines. It was not read, because lines may have been broken. Please ask for the original file as an attachment."
	case headless(raw):
		text = "There are HL7 segments, and the message header (MSH) is missing, so nothing could be read. Ask the sender for the whole message."
	case len(f.Problems) > 0:
		text = "The file holds a batch header and no message. Ask the sender for it again."
	}
	it.Problems = []intake.Problem{{Severity: intake.Fault, Text: text}}
	return it
}

// items reads one message: one item for each patient result in it.
func items(m *Message, label string, set intake.Settings) []intake.Item {
	base := intake.Item{Label: label, Text: m.Text(), Problems: m.Problems}
	h := m.Header()
	header(h, &base.Referral)
	codes := set.For(base.Referral.Sender, base.Referral.Program).Codes
	base.Referral.CheckSpelling = m.Decoder.Mark
	if m.Decoder.Mark {
		base.Problems = append(base.Problems, intake.Problem{Severity: intake.Check, Segment: "MSH", Field: 18,
			Value: h.First(18).Text(), Text: "The character set of the message is not the declared one. Check the spelling of names."})
	}
	if m.Decoder.Controls {
		base.Problems = append(base.Problems, intake.Problem{Severity: intake.Check,
			Text: "The message holds control characters, which were read as blanks. Check names and numbers against the message as it came."})
	}
	if m.Cut {
		base.Problems = append(base.Problems, intake.Problem{Severity: intake.Fault,
			Text: "The message is cut off: its frame has no end. The part is kept; the sender should send it again."})
	}
	if p, bad := badVersion(h); bad {
		base.Problems = append(base.Problems, p)
	}
	if intake.Worst(base.Problems) == intake.Fault {
		base.Kind = intake.Unreadable
		fill(&base, groups(m), codes)
		return []intake.Item{base}
	}
	if unwanted(m, codes, &base) {
		return []intake.Item{base}
	}
	if p, yes := continued(m); yes {
		base.Problems = append(base.Problems, p)
	}
	gs := groups(m)
	if len(gs) == 0 {
		base.Kind = intake.Unreadable
		base.Problems = append(base.Problems, intake.Problem{Severity: intake.Fault, Segment: "PID",
			Text: "The message names no infant (it has no PID segment). Ask the sender for the whole message."})
		return []intake.Item{base}
	}
	if len(gs) > MaxInfants {
		base.Kind = intake.Unreadable
		base.Problems = append(base.Problems, intake.Problem{Severity: intake.Fault, Segment: "PID", Occurrence: MaxInfants + 1,
			Text: fmt.Sprintf("The message holds %d infants, more than %d, and was not read. It is kept whole; ask for it in parts.", len(gs), MaxInfants)})
		return []intake.Item{base}
	}
	out := make([]intake.Item, len(gs))
	for i, g := range gs {
		it := &out[i]
		*it = base
		it.Problems = append([]intake.Problem(nil), base.Problems...)
		if len(gs) > 1 {
			it.Label = fmt.Sprintf("%s, infant %d", label, i+1)
		}
		g.read(it, codes)
	}
	if len(gs) > 1 {
		apart(gs, out)
	}
	if p, cut := cutOff(m); cut {
		last := &out[len(out)-1]
		last.Problems = append(last.Problems, p)
	}
	return out
}

// header reads what the message says of itself.
func header(h *Segment, r *intake.Referral) {
	r.Program = h.Field(3).Comp(1).Text()
	r.Sender = h.Field(4).Comp(1).Text()
	if r.Sender == "" {
		r.Sender = r.Program
	}
	r.Sent = Time(h.First(7))
	r.ControlID = h.Field(10).Text()
	r.Processing = strings.ToUpper(h.Field(11).Comp(1).Text())
}

var typeWords = map[string]string{
	"ORM": "an order", "OML": "an order", "ADT": "an admission message", "ACK": "an answer to a message",
	"SIU": "an appointment message", "MDM": "a document message", "VXU": "a vaccination message",
	"QRY": "a query", "RSP": "an answer to a query", "OUL": "a laboratory message of another form", "DFT": "a charge message", "MFN": "a master file message",
}

// unwanted sets aside messages that are not results; a missing type is a fault. What
// holds a result about cystic fibrosis is read whatever it calls itself, and goes to
// a person.
func unwanted(m *Message, codes map[string]string, it *intake.Item) bool {
	h := m.Header()
	typ := h.Field(9)
	code, event := strings.ToUpper(typ.Comp(1).Text()), strings.ToUpper(typ.Comp(2).Text())
	if c, e, ok := strings.Cut(code, "_"); ok && event == "" { // ORU_R01
		code, event = c, e
	}
	said := intake.Shorten(typ.Raw())
	kind, text := intake.Unwanted, ""
	switch {
	case code == "":
		kind, text = intake.Unreadable, "The header does not say what type of message this is (MSH-9 is empty). Ask the sender to correct it."
	case code == "REF":
		kind, text = intake.Unreadable, fmt.Sprintf("This is a referral message (%s), which is not read here. Look at it, and enter the referral by hand.", said)
	case code != "ORU":
		what := typeWords[code]
		if what == "" {
			what = "another type of message"
		}
		text = fmt.Sprintf("This is %s (%s), not a result. Only results (ORU^R01) are taken in.", what, said)
	case event != "" && event != "R01":
		text = fmt.Sprintf("This is a result of an event that is not taken in (%s). Only ORU^R01 is.", said)
	}
	if text != "" && code != "" {
		if at, holds := holdsCF(m, codes); holds {
			kind, text = intake.Readable, fmt.Sprintf("The message calls itself %s and not a result (ORU^R01), but %s is about cystic fibrosis. Compare both, and ask the sender.", said, at.At().Where())
		}
	}
	if text != "" {
		it.Kind = kind
		it.Problems = append(it.Problems, typ.Problem(intake.Fault, text))
	}
	if it.Kind != intake.Readable {
		return true
	}
	if it.Referral.ControlID == "" {
		it.Problems = append(it.Problems, h.Field(10).Problem(intake.Note, "The message has no message number (MSH-10)."))
	}
	if it.Referral.Sent.Bad != "" {
		it.Problems = append(it.Problems, h.Field(7).Problem(intake.Note, "The time of the message "+it.Referral.Sent.Bad+"; the day of arrival is used."))
	}
	return false
}

// cutOff recognizes a message that ends in the middle: its last segment is an order
// without a result, or a result that lacks the state which the others have.
func cutOff(m *Message) (intake.Problem, bool) {
	last := m.Segments[len(m.Segments)-1]
	p := last.Field(0).At()
	p.Severity, p.Text = intake.Fault, "The message may be cut off: its last segment is not complete. Ask the sender for it again."
	switch last.Name {
	case "ORC", "OBR":
		return p, len(m.Segments) > 4
	case "OBX":
		if !last.Field(11).Empty() {
			return p, false
		}
		stated := 0
		for i := range m.Segments {
			s := &m.Segments[i]
			if s.Name == "OBX" && !s.Field(11).Empty() {
				stated++
			}
		}
		return p, stated >= 2
	}
	return p, false
}

// fill reads what can be shown of a message that a person must look at.
func fill(it *intake.Item, gs []group, codes map[string]string) {
	if len(gs) == 0 {
		return
	}
	shown := *it
	gs[0].read(&shown, codes)
	it.Referral = shown.Referral
}

// apart checks a message with several patients. Whole groups stand alone; groups
// that share a laboratory number, lack a cystic fibrosis answer or begin in the
// middle of an order all go to a person.
func apart(gs []group, its []intake.Item) {
	seen := map[string]bool{}
	doubt := false
	for i, g := range gs {
		r := &its[i].Referral
		n := r.Accession.Number
		if (n != "" && seen[n]) || g.midOrder || g.early || (r.Screen && len(r.Interpretation) == 0) || (!r.Screen && !r.SweatTest) {
			doubt = true
		}
		seen[n] = true
	}
	if !doubt {
		return
	}
	for i := range its {
		its[i].Problems = append(its[i].Problems, intake.Problem{Severity: intake.Fault, Segment: "PID", Occurrence: i + 1,
			Text: fmt.Sprintf("The message holds %d infants, and it is not certain which results belong to whom. Results after a PID were kept with that infant only. Ask the sender.", len(gs))})
	}
}
