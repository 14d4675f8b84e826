package store

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"dunlin/cases"
)

// What is stored of an account is read back; what opens it never reaches the trail, and
// what a sign-in moves makes no entry of its own.
//
//asvs:16.2.5
func TestAccountSecretsStayOutOfTheTrail(t *testing.T) {
	db := openTest(t)
	until := noon.Add(72 * time.Hour).UTC()
	a := cases.Account{ID: "ina", Name: "Ina Reed", Role: cases.Nurse, Sites: []string{"site-1"}, Link: &cases.AccountLink{Hash: "secret-a", Expires: until, By: "Theo Marsh"}}
	put := func() { update(t, db, func(w cases.Writer) error { return w.PutAccount(a) }) }
	put()
	a.Link, a.Hash, a.Factor = nil, "secret-b", &cases.SecondFactor{Secret: "secret-c", Codes: []string{"secret-d", "secret-e"}, Since: until}
	put()
	a.Factor = &cases.SecondFactor{Secret: "secret-c", Step: 7, Codes: []string{"secret-e"}, Since: until}
	a.Failed, a.FailedAt, a.SignedIn, a.Devices = 1, 2, 3, []cases.KnownDevice{{Hash: "secret-f", Expires: 9}}
	put()
	a.Sites, a.Devices[0].Hash = nil, "secret-g"
	put()
	view(t, db, func(r cases.Reader) error {
		n := 0
		for e, err := range r.EntriesSince(noon) {
			if err != nil {
				return err
			}
			n++
			if b, _ := json.Marshal(e); strings.Contains(string(b), "secret-") {
				t.Errorf("entry %d: %s", n, b)
			}
		}
		if n != 3 {
			t.Errorf("%d entries, want 3", n)
		}
		got, err := r.Account("ina")
		if d := cmp.Diff(a, got); d != "" {
			t.Error(d)
		}
		return err
	})
}
