package web

import (
	"fmt"
	"net/http"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// mostRaw is how much of a message is shown at once, and mostDecoded how much of a
// document is searched for the part that is shown.
const (
	mostRaw     = 64 << 10
	mostDecoded = 8 << 20
)

var (
	messageNumber = regexp.MustCompile(`(?:^|, )message (\d+)`)
	rowNumber     = regexp.MustCompile(`(?:^|, )row (\d+)`)
)

// rawText is the message as it arrived, with line ends shown as lines; of a batch,
// the message of the item, and of a list its headings and the row.
func rawText(v *itemView) (text, note string) {
	raw := v.doc.Raw
	switch {
	case v.doc.Hash == "":
		return "", "The message is not kept here."
	case len(raw) == 0:
		return "", "The document is empty."
	case len(raw) > mostDecoded:
		raw, note = raw[:mostDecoded], "Only the beginning is searched and shown; all of it is kept."
	}
	text = intake.NewDecoder("", raw).Text(raw)
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	if m := messageNumber.FindStringSubmatch(v.item.Position); m != nil {
		n, _ := strconv.Atoi(m[1])
		if part, of := messagePart(text, n); of > 1 && part != "" {
			text, note = part, fmt.Sprintf("Message %d of %d in the document. %s", n, of, note)
		}
	} else if m := rowNumber.FindStringSubmatch(v.item.Position); m != nil {
		n, _ := strconv.Atoi(m[1])
		if lines := strings.Split(text, "\n"); n > 1 && n <= len(lines) {
			text, note = lines[0]+"\n"+lines[n-1], fmt.Sprintf("The headings and row %d of the list. %s", n, note)
		}
	}
	if len(text) > mostRaw {
		text = strings.ToValidUTF8(text[:mostRaw], "")
		note += " Only the beginning is shown; all of it is kept."
	}
	if masked, n := withoutNumbers(text); n > 0 {
		text = masked
		note += " Social security and other national numbers (PID-19, NK1-33) are not shown."
	}
	return visible(text), strings.TrimSpace(note)
}

// hidden are the fields of HL7 segments that carry the social security or Medicaid
// number of the infant or a guardian. Nobody needs them to decide on an item.
var hidden = map[string]int{"PID": 19, "NK1": 33}

// withoutNumbers takes those fields out of a message, and counts them.
func withoutNumbers(text string) (string, int) {
	n := 0
	lines := strings.Split(text, "\n")
	for i, l := range lines {
		name := strings.TrimLeft(l, "> \t\v\ufeff")
		if len(name) < 4 || hidden[name[:3]] == 0 || name[3] >= utf8.RuneSelf || unicode.IsLetter(rune(name[3])) {
			continue
		}
		fields := strings.Split(l, name[3:4])
		if at := hidden[name[:3]]; at < len(fields) && strings.TrimSpace(fields[at]) != "" && fields[at] != `""` {
			fields[at], n = "[not shown]", n+1
			lines[i] = strings.Join(fields, name[3:4])
		}
	}
	return strings.Join(lines, "\n"), n
}

// messagePart is the nth message of a batch, and how many there are.
func messagePart(text string, n int) (part string, of int) {
	var b strings.Builder
	for l := range strings.SplitSeq(text, "\n") {
		if strings.HasPrefix(l, "MSH") && len(l) > 3 {
			of++
		}
		if of == n && !strings.HasPrefix(l, "BTS") && !strings.HasPrefix(l, "FTS") {
			b.WriteString(l + "\n")
		}
	}
	return b.String(), of
}

// visible replaces what would not be seen, or would turn the direction of what
// follows, by a mark: what is shown must be what came.
func visible(s string) string {
	return strings.Map(func(r rune) rune {
		if r != '\n' && r != '\t' && (unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r)) {
			return unicode.ReplacementChar
		}
		return r
	}, s)
}

// rawLinks lead to the bytes as they came, and to the mail that brought them.
func rawLinks(v *itemView) []templates.Link {
	if v.doc.Hash == "" {
		return nil
	}
	out := []templates.Link{{Href: "/intake/" + v.item.ID + "/raw", Text: fmt.Sprintf("Download as it arrived (%s)", byteWords(len(v.doc.Raw)))}}
	if v.doc.Within != "" {
		out = append(out, templates.Link{Href: "/intake/" + v.item.ID + "/mail", Text: "Download the mail that brought it"})
	}
	return out
}

func byteWords(n int) string {
	switch {
	case n < 1<<10:
		return templates.Count(n, "byte", "bytes")
	case n < 1<<20:
		return fmt.Sprintf("%d\u00a0KB", (n+1<<9)>>10)
	}
	return fmt.Sprintf("%d\u00a0MB", (n+1<<19)>>20)
}

// rawItem answers GET /intake/:id/raw, mailItem GET /intake/:id/mail.
func (s *server) rawItem(c Ctx) error { return s.sendRaw(c, false) }

func (s *server) mailItem(c Ctx) error { return s.sendRaw(c, true) }

// sendRaw sends a document byte by byte as it came, to be saved and never shown: its
// type is nothing that a browser opens, and its name is the program's own.
func (s *server) sendRaw(c Ctx, mail bool) error {
	var doc cases.Received
	err := s.view(c, func(r cases.Reader) error {
		item, err := r.Item(c.Param("id"))
		if err != nil {
			return err
		}
		saw(c, item.Related...)
		saw(c, referencesIn([]byte(item.Reference))...)
		hash := item.Document
		if mail {
			part, err := r.ReceivedRecord(hash)
			if err != nil {
				return err
			}
			if hash = part.Within; hash == "" {
				return cases.Errorf(cases.NotFound, "This document did not come in a mail.")
			}
		}
		doc, err = r.Received(hash)
		return err
	})
	if err != nil {
		return err
	}
	name := "item-" + c.Param("id") + rawEnding(doc.Name)
	if mail {
		name = "mail-" + c.Param("id") + ".eml"
	}
	h := c.Response().Header()
	h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	return c.Blob(http.StatusOK, "application/octet-stream", doc.Raw)
}

// rawEndings are the endings that a saved document keeps; none of them is one that a
// click would run.
var rawEndings = []string{".hl7", ".csv", ".txt", ".eml", ".dat"}

func rawEnding(name string) string {
	if e := strings.ToLower(path.Ext(name)); slices.Contains(rawEndings, e) {
		return e
	}
	return ".bin"
}
