package intake

import (
	"fmt"
	"regexp"
	"slices"
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
	fmt.Fprintf(&b, "%s that reached us on %s could not be taken in as it is (%s).\n", what, cases.DayOf(item.At), item.Position)
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
		ours := append(slices.Clone(item.Related), item.Reference)
		ours = slices.DeleteFunc(ours, func(ref string) bool { return ref == "" })
		for _, why := range item.Reasons {
			if slices.ContainsFunc(ours, func(ref string) bool { return strings.Contains(why, ref) }) {
				continue // about a case of ours, which is no business of the sender
			}
			fmt.Fprintf(&b, "- %s\n", plain(why))
		}
	}
	b.WriteString("\nPlease send it again, corrected, by the way it came. Do not put names or results into an e-mail.\n")
	return b.String()
}

// plain takes quoted values and dates out of a sentence.
func plain(s string) string {
	s = quoted.ReplaceAllString(s, "(as you sent it)")
	return isoDates.ReplaceAllString(s, "(date)")
}
