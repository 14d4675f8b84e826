package auth

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"slices"
	"strconv"
	"sync"
	"time"

	"dunlin/cases"
)

// SessionStore keeps sessions by the hash of their token: find, commit with an
// expiry, delete. Each gives all that have not expired, by a key that End takes.
type SessionStore interface {
	Find(token string) (b []byte, found bool, err error)
	Commit(token string, b []byte, expiry time.Time) error
	Delete(token string) error
	FindCtx(ctx context.Context, token string) (b []byte, found bool, err error)
	CommitCtx(ctx context.Context, token string, b []byte, expiry time.Time) error
	DeleteCtx(ctx context.Context, token string) error
	Each(ctx context.Context, f func(key string, b []byte, expiry time.Time)) error
	End(ctx context.Context, keys ...string) error
}

// Session is one signed-in browser of a person.
type Session struct {
	ID      string // names it in lists; opens nothing
	From    string // network address
	Browser string
	Since   time.Time
	Used    time.Time // last use, within a minute
	Second  bool      // a second factor was shown
	Own     bool      // the session that asks
	key     string
	user    string
}

// Sessions lists the sessions of an account, the last used first. The one that asks is
// marked.
func (g *Guard) Sessions(ctx context.Context, user string) (out []Session, err error) {
	own := ""
	if ctx.Value(inSession{}) != nil {
		own = g.sessions.GetString(ctx, keyID)
	}
	err = g.each(ctx, func(s Session) {
		if s.user == user {
			s.Own = s.ID == own
			out = append(out, s)
		}
	})
	slices.SortFunc(out, func(a, b Session) int { return b.Used.Compare(a.Used) })
	return out, err
}

func (g *Guard) each(ctx context.Context, f func(Session)) error {
	return g.kept.Each(ctx, func(key string, b []byte, expires time.Time) {
		_, v, err := codec{}.Decode(b)
		if err != nil || text(v, keyUser) == "" || text(v, keyID) == "" {
			return
		}
		s := Session{ID: text(v, keyID), From: text(v, keyFrom), Browser: text(v, keyWith), Since: unix(text(v, keySince)), Second: text(v, keySecond) != "", key: key, user: text(v, keyUser)}
		// Expiries are real time, also where the program's clock is moved.
		if s.Used = g.now().Add(-time.Until(expires.Add(-g.sessions.IdleTimeout)).Abs()); s.Used.Before(s.Since) {
			s.Used = s.Since
		}
		f(s)
	})
}

// EndSessions ends sessions of an account: those that which picks, nil for all.
func (g *Guard) EndSessions(ctx context.Context, by cases.Actor, acc cases.Account, which func(Session) bool) (n int, err error) {
	list, err := g.Sessions(ctx, acc.ID)
	if err != nil {
		return 0, err
	}
	var keys []string
	for _, s := range list {
		if which == nil || which(s) {
			g.kept.end(s.ID, g.now())
			keys = append(keys, s.key)
		}
	}
	if len(keys) == 0 {
		return 0, nil
	}
	if err := g.kept.End(ctx, keys...); err != nil {
		return 0, err
	}
	return len(keys), g.store.Update(ctx, by, func(w cases.Writer) error {
		return w.Note(cases.Event{Kind: "sessions-ended", Text: strconv.Itoa(len(keys)) + " of " + acc.Name})
	})
}

// keeper is the store of sessions as the session library sees it: a session that was
// ended is not written back by a request that was under way.
type keeper struct {
	SessionStore
	mu    sync.Mutex
	ended map[string]time.Time
}

// endedFor is longer than any request takes.
const endedFor = 10 * time.Minute

func (k *keeper) end(id string, now time.Time) {
	k.mu.Lock()
	defer k.mu.Unlock()
	for old, at := range k.ended {
		if now.Sub(at) > endedFor {
			delete(k.ended, old)
		}
	}
	k.ended[id] = now
}

func (k *keeper) over(id string) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	_, over := k.ended[id]
	return over
}

// CommitCtx writes a session unless it was ended.
func (k *keeper) CommitCtx(ctx context.Context, token string, b []byte, expiry time.Time) error {
	if _, v, err := (codec{}).Decode(b); err == nil && k.over(text(v, keyID)) {
		return nil
	}
	return k.SessionStore.CommitCtx(ctx, token, b, expiry)
}

// Commit is CommitCtx without a context.
func (k *keeper) Commit(token string, b []byte, expiry time.Time) error {
	return k.CommitCtx(context.Background(), token, b, expiry)
}

func text(v map[string]any, key string) string {
	s, _ := v[key].(string)
	return s
}

// stamp and unix write and read an instant as text.
func stamp(t time.Time) string { return strconv.FormatInt(t.Unix(), 10) }

func unix(s string) time.Time {
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil {
		return time.Time{}
	}
	return time.Unix(n, 0)
}

// digest is the hex SHA-256 of a random token; it has too many bits to be guessed, so
// it needs no salt and no slow function.
func digest(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// same compares in constant time.
func same(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }

// kept is a session in memory.
type kept struct {
	data    []byte
	expires time.Time
}

// memory keeps sessions of a program that need not outlive it.
type memory struct {
	now  func() time.Time // the clock of the machine, by which the library sets ends
	mu   sync.Mutex
	list map[string]kept
}

// Find gives the data of a session.
func (m *memory) Find(token string) ([]byte, bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	s, ok := m.list[token]
	if ok && !m.now().Before(s.expires) {
		delete(m.list, token)
		return nil, false, nil
	}
	return s.data, ok, nil
}

// Commit keeps a session, and forgets those that have expired.
func (m *memory) Commit(token string, b []byte, expiry time.Time) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	for old, s := range m.list {
		if !m.now().Before(s.expires) {
			delete(m.list, old)
		}
	}
	m.list[token] = kept{b, expiry}
	return nil
}

// Delete ends a session.
func (m *memory) Delete(token string) error { return m.End(context.Background(), token) }

// FindCtx is Find.
func (m *memory) FindCtx(_ context.Context, token string) ([]byte, bool, error) { return m.Find(token) }

// CommitCtx is Commit.
func (m *memory) CommitCtx(_ context.Context, token string, b []byte, expiry time.Time) error {
	return m.Commit(token, b, expiry)
}

// DeleteCtx is Delete.
func (m *memory) DeleteCtx(_ context.Context, token string) error { return m.Delete(token) }

// Each gives all sessions.
func (m *memory) Each(_ context.Context, f func(string, []byte, time.Time)) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	for key, s := range m.list {
		f(key, s.data, s.expires)
	}
	return nil
}

// End ends sessions.
func (m *memory) End(_ context.Context, keys ...string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, k := range keys {
		delete(m.list, k)
	}
	return nil
}
