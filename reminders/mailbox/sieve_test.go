package mailbox

import (
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"
)

// through gives what the sieve lets through of what a server says.
func through(server string, awaits bool, slowly bool) (string, error) {
	in := io.Reader(strings.NewReader(server))
	if slowly {
		in = iotest.OneByteReader(in)
	}
	s := &sieve{in: in}
	s.awaits.Store(awaits)
	out, err := io.ReadAll(s)
	return string(out), err
}

// TestSieve: what an honest server says passes unchanged, and nothing passes of a
// line, or after it, that the library could not read safely.
func TestSieve(t *testing.T) {
	honest := []string{
		"* OK [CAPABILITY IMAP4rev1 SASL-IR LOGIN-REFERRALS ID ENABLE IDLE LITERAL+ AUTH=PLAIN] server (Debian) ready.\r\n",
		"* CAPABILITY IMAP4rev1 MOVE\r\nT1 OK [CAPABILITY IMAP4rev1 MOVE] Logged in (0.001 secs).\r\n",
		`* LIST (\HasNoChildren \UnMarked) "/" "Han\"dled"` + "\r\nT2 OK List completed (0.001 + 0.000 secs).\r\n",
		"* LIST () \"/\" {7}\r\nHandled\r\nT2 OK\r\n",
		"* FLAGS (\\Answered \\Flagged \\Deleted \\Seen \\Draft)\r\n* OK [PERMANENTFLAGS (\\Answered \\*)] Flags (permitted).\r\n* 3 EXISTS\r\n* 0 RECENT\r\n* OK [UIDVALIDITY 7] it's \"fine\r\n",
		"* SEARCH 1 2 3\r\n* SEARCH\r\n* ESEARCH (TAG \"T3\") UID ALL 1:3\r\n+ go on (please\r\nT4 NO [TRYCREATE] no \"such folder (\r\n* 3 EXPUNGE\r\n* BYE\n",
		"* 1 FETCH (UID 1 RFC822.SIZE 5 FLAGS (\\Seen))\r\n* 2 FETCH (FLAGS (\\Seen) MODSEQ (12))\r\n",
	}
	for _, h := range honest {
		for _, slowly := range []bool{false, true} {
			if got, err := through(h, false, slowly); got != h || err != nil {
				t.Errorf("%q became %q, %v", h, got, err)
			}
		}
	}
	// In a body nothing counts.
	body := "* CAPABILITY (\r\n((((((((((((((((((((((((\r\n* 1 FETCH (BODY[] {4}"
	for _, head := range []string{"* 2 FETCH (UID 2 BODY[] {50}\r\n", "* 2 FETCH (FLAGS (\\Seen \\Recent) UID 2 BODY[]<0> {50}\n", "* 2 fetch (INTERNALDATE \"30-Mar-2026 08:00:00 +0000\" RFC822.SIZE 9 MODSEQ (3) UID 2 body[] {50}\r\n"} {
		whole := head + body[:50] + ")\r\nT5 OK done (.\r\n"
		for _, slowly := range []bool{false, true} {
			if got, err := through(whole, true, slowly); got != whole || err != nil {
				t.Errorf("%q became %q, %v", whole, got, err)
			}
		}
		if _, err := through(whole, false, false); !errors.Is(err, errOdd) {
			t.Errorf("a body that nobody asked for passes: %q", whole)
		}
	}
	spin := "* CAPABILITY X (\r\n"
	for _, hidden := range []string{
		spin, "* capability(\r\n", "* CAPABıLıTY X (\r\n", "* 12 CAPABILITY X (\r\n", "T1 " + strings.Repeat("A", 5000) + " [CAPABILITY X (] ok\r\n",
		"* OK [CAPABILITY X (\r\n", "* PREAUTH [CAPABILITY (] x\r\n", "T1 OK [CAPABILITY X  ( ]\r\n", "* 1 FETCH " + strings.Repeat("(", 17) + "\r\n",
		"* 1 FETCH (BODY \"a\n", "* 1 FETCH (UID 1 ENVELOPE {5}\r\n", "* 1 FETCH (UID 1 X \"{5}\" {5}\r\n", "* XYZ 1\r\n", "* METADATA x\r\n", strings.Repeat("x", maxLine+20000),
		// A line that looks like the head of a body and stands inside something else.
		"* LIST () \"\n* 1 FETCH (UID 1 BODY[] {17}\r\n" + spin,
		"* OK [FOO \r\n* 1 FETCH (UID 1 BODY[] {17}\r\n" + spin,
		"* LIST () \"/\" {99}\r\n* 1 FETCH (UID 1 BODY[] {17}\r\n" + spin,
		"* 1 FETCH (UID 1 BODY[] {4}\r\nabcd UID \"\n* 1 FETCH (UID 1 BODY[] {17}\r\n" + spin,
		"* 1 FETCH (UID 1 BODY[] {4}\r\nabcd BODY[] {17}\r\n" + spin,
		"* 1 FETCH (UID 1 BODY[] {99999999999999999999}\r\n" + spin,
	} {
		for _, awaits := range []bool{false, true} {
			got, err := through(hidden, awaits, false)
			if !errors.Is(err, errOdd) || strings.Contains(got, "X (") {
				t.Errorf("of %q passes %q, %v", hidden[:min(len(hidden), 100)], got, err)
			}
		}
	}
}
