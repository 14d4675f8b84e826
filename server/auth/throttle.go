package auth

import (
	"context"
	"hash/maphash"
	"net/netip"
	"sync"
	"time"

	"dunlin/cases"

	"golang.org/x/time/rate"
)

// Bounds of wrong passwords and codes in a row. NIST SP 800-63B-4 allows an account 100
// failures in a row, from everywhere together: 50 from devices that it was never used on,
// and 10 from each of 5 known devices, so that failures from elsewhere do not keep a
// person out who sits at a device of theirs.
const (
	freeTries       = 5 // before sign-in must wait
	maxFailed       = 50
	maxDeviceFailed = 10
	maxDevices      = 5
	deviceFor       = 90 * 24 * time.Hour
)

// wait is how long sign-in is refused after so many failures in a row: nothing
// up to 5, then 30 seconds, doubling up to an hour.
func wait(failed int) time.Duration {
	if failed < freeTries {
		return 0
	}
	d := 30 * time.Second
	for i := freeTries; i < failed && d < time.Hour; i++ {
		d *= 2
	}
	return min(d, time.Hour)
}

// Visit is where a sign-in comes from.
type Visit struct {
	Address string // network address of the client
	Browser string // its family in words, for the list of sessions
	Device  string // token of the account's known device; see Guard.Device
}

// throttle counts what no account remembers, and lets one attempt run at a time in each
// of two lanes, so that strangers cannot keep those at known devices waiting, and no
// attempt slips in between counting and comparing.
type throttle struct {
	strangers, known chan struct{}

	mu      sync.Mutex
	waiting int
	perIP   map[string]*rate.Limiter
	seed    maphash.Seed
	nobody  []tries // of names without an account, by their hash
}

// tries are failures in a row.
type tries struct {
	failed int
	at     int64 // Unix seconds of the last
}

// Sizes of what is kept in memory.
const (
	nobodyPlaces = 1 << 14
	maxAddresses = 10_000
	maxWaiting   = 60
)

func newThrottle() *throttle {
	return &throttle{strangers: make(chan struct{}, 1), known: make(chan struct{}, 1), perIP: map[string]*rate.Limiter{}, seed: maphash.MakeSeed(), nobody: make([]tries, nobodyPlaces)}
}

// enter waits for the attempt's turn in its lane.
func (t *throttle) enter(ctx context.Context, known bool) (leave func(), err error) {
	lane := t.strangers
	if known {
		lane = t.known
	}
	t.mu.Lock()
	full := !known && t.waiting >= maxWaiting
	if !full {
		t.waiting++
	}
	t.mu.Unlock()
	if full {
		return nil, cases.Errorf(cases.Refused, "Many people try to sign in just now. Wait a minute, then try again")
	}
	defer func() { t.mu.Lock(); t.waiting--; t.mu.Unlock() }()
	select {
	case lane <- struct{}{}:
		return func() { <-lane }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// place is where the failures of a name without an account are counted. Two such names
// may share one, which tells nobody anything.
func (t *throttle) place(id string) *tries {
	return &t.nobody[maphash.String(t.seed, id)%nobodyPlaces]
}

// bucket is the limit of an address: ten failures at once, then one every six seconds.
// Good sign-ins cost nothing, so that an office behind one address is not kept out by
// its own size.
func (t *throttle) bucket(address string) *rate.Limiter {
	if a, err := netip.ParseAddr(address); err == nil && a.Is6() && !a.Is4In6() {
		if p, err := a.Prefix(64); err == nil { // one subscriber has a whole /64
			address = p.String()
		}
	}
	l := t.perIP[address]
	if l == nil {
		if len(t.perIP) >= maxAddresses {
			for k := range t.perIP {
				if delete(t.perIP, k); len(t.perIP) < maxAddresses {
					break
				}
			}
		}
		l = rate.NewLimiter(rate.Every(6*time.Second), 10)
		t.perIP[address] = l
	}
	return l
}

// blocked tells whether an address has used up its failures.
func (t *throttle) blocked(address string, now time.Time) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.bucket(address).TokensAt(now) < 1
}

// strike takes one failure from an address.
func (t *throttle) strike(address string, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.bucket(address).AllowN(now, 1)
}

// device finds the known device that a visit comes from; -1 for none.
func device(acc *cases.Account, token string, now time.Time) int {
	if token == "" {
		return -1
	}
	sum := digest(token)
	for i := range acc.Devices {
		if d := &acc.Devices[i]; same(d.Hash, sum) && d.Expires > now.Unix() && d.Failed < maxDeviceFailed {
			return i
		}
	}
	return -1
}

// mayTry refuses while the one who tries must wait after failures, in the same words
// for names with and without an account.
func mayTry(t tries, most int, now time.Time) error {
	if t.failed >= most {
		return cases.Errorf(cases.Refused, "Sign-in is locked after %d failed tries. Use a device on which you signed in before, or ask an administrator for a link", t.failed)
	}
	left := time.Unix(t.at, 0).Add(wait(t.failed)).Sub(now)
	if t.failed < freeTries || left <= 0 {
		return nil
	}
	return cases.Errorf(cases.Refused, "Too many failed tries. Try again in %s", roughly(left))
}
