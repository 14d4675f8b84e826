package intake

import (
	"cmp"
	"fmt"
	"regexp"
	"strings"

	"dunlin/cases"
)

var (
	quoted   = regexp.MustCompile(`"[^"]*"|“[^”]*”|\([^()]*\d{4}-\d\d-\d\d[^()]*\)`)
	isoDates = regexp.MustCompile(`\d{4}-\d\d-\d\d( \d\d:\d\d)?`)
)

// FaultList is the text that goes back to the sender of an item: which message, and
// which fields are wrong. It names no infant and repeats no value, because it may
// travel by plain mail; the sender has the message.
func FaultList(item cases.Item, rec Record) string {
	r := &rec.Referral
	var b strings.Builder
	what := "A document"
	if r.ControlID != "" {
		what = "The message numbered " + Shorten(r.ControlID)
	}
	fmt.Fprintf(&b, "%s that reached us on %s could not be taken in as it is (%s).\n", what, cases.DayOf(item.At), cmp.Or(within(item.Position), "the whole"))
	if r.Accession.Number != "" {
		fmt.Fprintf(&b, "Laboratory number: %s.\n", Shorten(r.Accession.Number))
	}
	b.WriteString("\nWhat we found:\n")
	n := 0
	for _, p := range rec.Problems {
		if p.Severity == Note {
			continue
		}
		p.Value = ""
		fmt.Fprintf(&b, "- %s\n", plain(p.String()))
		n++
	}
	if n == 0 {
		n = fieldsOf(&b, item.Reasons)
	}
	if n == 0 {
		b.WriteString("- It is not enough to go on. Ask us by phone what is missing.\n")
	}
	b.WriteString("\nPlease send it again, corrected, by the way it came. Do not put names or results into an e-mail.\n")
	return b.String()
}

// plain takes quoted values and dates out of a sentence.
func plain(s string) string {
	s = quoted.ReplaceAllString(s, "(as you sent it)")
	return isoDates.ReplaceAllString(s, "(date)")
}

// place begins a sentence that is about one field of a message or of a list.
var place = regexp.MustCompile(`^(?:[A-Z][A-Z0-9]{2}(?:\[\d+\])?(?:-\d+(?:\.\d+)?)?|row \d+(?:, \w+)?): `)

// fieldsOf names the fields that an item waits for, where nothing was wrong with the
// form of the message. What the sentences say of them stays here: it is a result, or
// about an infant of ours.
func fieldsOf(b *strings.Builder, reasons []string) (n int) {
	for _, why := range reasons {
		if at := place.FindString(why); at != "" {
			fmt.Fprintf(b, "- %sPlease check what you sent here.\n", at)
			n++
		}
	}
	return n
}

var counted = regexp.MustCompile(`(?:message|row|infant|attachment|text) ?\d*`)

// within is a position in a document without the names of files, which may be those
// of people.
func within(position string) string {
	return strings.Join(counted.FindAllString(position, -1), ", ")
}
