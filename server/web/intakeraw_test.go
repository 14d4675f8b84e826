package web

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// TestNationalNumbersAreNotShown: the message beside an item is shown without the
// social security numbers in it (exchange standards name PID-19 and NK1-33 as where
// they come); everything else stands as it came.
func TestNationalNumbersAreNotShown(t *testing.T) {
	nk1 := "NK1|1|DOE^ANA|MTH" + strings.Repeat("|", 30) + "999887777^^^SSA^SS|x"
	pid := "PID|1||M1||DOE^BABY||20260301|F" + strings.Repeat("|", 11) + "111223333|y"
	for _, end := range []string{"\r", "\r\n", "\n"} {
		raw := strings.Join([]string{`MSH|^~\&|A|B`, pid, nk1, "PIDGIN|", "NK1"}, end)
		v := &itemView{doc: cases.Received{Hash: "h", Raw: []byte(raw)}}
		text, note := rawText(v)
		for _, secret := range []string{"999887777", "111223333"} {
			if strings.Contains(text, secret) {
				t.Errorf("%q shows %s:\n%s", end, secret, text)
			}
		}
		for _, rest := range []string{"DOE^ANA", "[not shown]|x", "[not shown]|y", "PIDGIN|"} {
			if !strings.Contains(text, rest) {
				t.Errorf("%q has lost %s:\n%s", end, rest, text)
			}
		}
		if !strings.Contains(note, "not shown") {
			t.Errorf("nothing says so: %q", note)
		}
	}
}
