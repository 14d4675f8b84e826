package cases

import "testing"

func TestLetterID(t *testing.T) {
	id := LetterMessageID("7KQ294XF", 2, "followup.example")
	if id != "<letter-7KQ294XF.2@followup.example>" {
		t.Errorf("Message-ID %s", id)
	}
	for _, c := range []struct {
		in, number string
		n          int
		ok         bool
	}{
		{id, "7KQ294XF", 2, true},
		{"letter-7KQ294XF.2@followup.example", "7KQ294XF", 2, true},
		{LetterEnvelopeID("7KQ294XF"), "7KQ294XF", 0, true},
		{" letter-000123 ", "000123", 0, true},
		{"<notice-000045.1@followup.example>", "", 0, false},
		{"<letter-7kq.1@x>", "", 0, false},
		{"<letter-7KQ294XF.1.2@x>", "", 0, false},
		{"<xletter-7KQ294XF.1@x>", "", 0, false},
		{"letter-", "", 0, false},
		{"", "", 0, false},
	} {
		number, n, ok := ParseLetterID(c.in)
		if number != c.number || n != c.n || ok != c.ok {
			t.Errorf("%q: %q %d %v", c.in, number, n, ok)
		}
	}
}
