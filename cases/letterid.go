package cases

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// letterEnvelope is the form of a letter's envelope identifier (RFC 3461, section
// 4.4) and, with a domain, of its Message-ID: letter-NUMBER or letter-NUMBER.N.
var letterEnvelope = regexp.MustCompile(`^letter-([0-9A-Z]{4,20})(?:\.([0-9]{1,6}))?$`)

// LetterMessageID is the Message-ID of a letter sent by e-mail, with its angle
// brackets: the number printed on the letter, which attempt it is (1 for the first),
// and the program's mail domain. The number is opaque and names nobody.
func LetterMessageID(number string, n int, domain string) string {
	return fmt.Sprintf("<letter-%s.%d@%s>", number, n, domain)
}

// LetterEnvelopeID is the envelope identifier of a letter sent by e-mail, which a
// delivery notice repeats.
func LetterEnvelopeID(number string) string { return "letter-" + number }

// ParseLetterID reads the number of a letter, and which attempt, out of a Message-ID
// (with or without angle brackets, of any domain) or an envelope identifier. The
// attempt is 0 where none is given.
func ParseLetterID(id string) (number string, n int, ok bool) {
	id = strings.TrimSuffix(strings.TrimPrefix(strings.TrimSpace(id), "<"), ">")
	local, _, _ := strings.Cut(id, "@")
	g := letterEnvelope.FindStringSubmatch(local)
	if g == nil {
		return "", 0, false
	}
	if g[2] != "" {
		n, _ = strconv.Atoi(g[2]) // at most six figures
	}
	return g[1], n, true
}
