package store

import (
	"fmt"
	"slices"
	"testing"

	"dunlin/cases"
)

// TestSharedKeys: what two to most cases have is given with them, in order of making.
func TestSharedKeys(t *testing.T) {
	db := openTest(t)
	var refs = map[cases.ID]string{}
	for i, x := range []struct{ family, phone, record string }{
		{"Wren", "555-0101234", "M1"}, {"Wren", "555-0101234", "M2"}, {"Wren", "555-0109999", "M2"}, {"Tern", "555-0109999", "M3"}, {"Lark", "", "M4"},
	} {
		c := newCase(40+i, "Ada", x.family)
		c.Infant.Born = cases.MakeDay(2026, 3, 1)
		c.Referral.On = c.Infant.Born + 7
		c.Infant.Records = []cases.RecordNo{{Number: x.record}}
		c.Family = &cases.Family{Guardians: []cases.Guardian{{Phones: []cases.Phone{{Number: x.phone}}}}}
		c = put(t, db, c, "opened")
		refs[c.ID] = fmt.Sprint(i)
	}
	given := func(most, stop int) (out []string) {
		view(t, db, func(r cases.Reader) error {
			for k := range r.SharedKeys(most) {
				text := k.Key + ":"
				for _, id := range k.IDs {
					text += refs[id]
				}
				if out = append(out, text); len(out) == stop {
					break
				}
			}
			return nil
		})
		return out
	}
	all := []string{"name 2026-03-01 W650:012", "phone 0101234:01", "phone 0109999:23", ":12"}
	if got := given(3, 0); !slices.Equal(got, all) {
		t.Errorf("%q, want %q", got, all)
	}
	if got := given(2, 0); !slices.Equal(got, all[1:]) {
		t.Errorf("at most 2: %q", got)
	}
	if got := given(3, 2); !slices.Equal(got, all[:2]) {
		t.Errorf("stopped after 2: %q", got)
	}
}
