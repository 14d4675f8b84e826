package hl7

import (
	"strings"
	"testing"

	"golang.org/x/text/encoding/charmap"

	"dunlin/cases/intake"
)

var settings intake.Settings

// TestCharsetOfTheSender: what MSH-18 does not declare is read by the sender's own
// character set; what it declares wins.
func TestCharsetOfTheSender(t *testing.T) {
	message := func(declared, family string) []byte {
		s := "MSH|^~\\&|A|LAB|B|C|20260309||ORU^R01|1|P|2.5.1||||||" + declared + "\rPID|1||1||" + family + "^GIVEN||20260301|F\r"
		out, err := charmap.ISO8859_2.NewEncoder().String(s)
		if err != nil {
			t.Fatal(err)
		}
		return []byte(out)
	}
	utf8 := []byte("MSH|^~\\&|A|LAB|B|C|20260309||ORU^R01|1|P|2.5.1\rPID|1||1||ŁĘCKI^GIVEN||20260301|F\r")
	if r := (Format{}).Read(utf8, intake.Settings{Charset: "windows-1252"}); r.Items[0].Referral.Infant.Family != "ŁĘCKI" {
		t.Errorf("UTF-8 in spite of the sender's set: %q", r.Items[0].Referral.Infant.Family)
	}
	for _, w := range []struct {
		declared, ours, want string
	}{
		{"", "ISO-8859-2", "ŁĘCKI"}, // Latin-2
		{"", "", "£ÊCKI"}, {"8859/2", "windows-1252", "ŁĘCKI"}, {"", "big5", "£ÊCKI"},
	} {
		r := Format{}.Read(message(w.declared, "ŁĘCKI"), intake.Settings{Charset: w.ours})
		if got := r.Items[0].Referral.Infant.Family; !strings.EqualFold(got, w.want) || r.Items[0].Kind == intake.Unreadable {
			t.Errorf("declared %q, ours %q: %q, want %q", w.declared, w.ours, got, w.want)
		}
	}
}
