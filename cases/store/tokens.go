package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"time"

	"dunlin/cases"
)

// Tokens are kept as their SHA-256, so that a stolen copy of the store opens
// no session. What has expired is removed as others are written.

// onceToken remembers where the first submit of a form went.
type onceToken struct {
	Hash    string    `json:"hash"`
	Where   string    `json:"where"`
	Expires time.Time `json:"expires"`
}

// session is one signed-in browser; Data is the session library's.
type session struct {
	Hash    string    `json:"hash"`
	Data    []byte    `json:"data"`
	Expires time.Time `json:"expires"`
}

func expiryKey(t time.Time) []string { return []string{t.UTC().Format(timeKey)} }

func onceTable() *table[onceToken] {
	return &table[onceToken]{
		name: "once", fixed: 2 * sha256.Size, key: func(o *onceToken) string { return o.Hash },
		indexes: []index[onceToken]{{name: "expires", version: 1, keys: func(o *onceToken) []string { return expiryKey(o.Expires) }}},
	}
}

func sessionTable() *table[session] {
	return &table[session]{
		name: "sessions", fixed: 2 * sha256.Size, key: func(s *session) string { return s.Hash },
		indexes: []index[session]{{name: "expires", version: 1, keys: func(s *session) []string { return expiryKey(s.Expires) }}},
	}
}

func tokenHash(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// Once tells where the first submit with a form token went, until it expires.
func (r *reader) Once(token string) (where string, ok bool) {
	o, err := r.db.once.get(r.tx, tokenHash(token))
	if err != nil || !r.now.Before(o.Expires) {
		return "", false
	}
	return o.Where, true
}

// PutOnce remembers where the first submit of a form went.
func (w *writer) PutOnce(token, where string, expires time.Time) error {
	if token == "" {
		return cases.FieldError("once", "the form has no token")
	}
	if err := sweep(w, w.db.once, w.now); err != nil {
		return err
	}
	_, err := w.db.once.put(w.tx, &onceToken{Hash: tokenHash(token), Where: where, Expires: expires.UTC()})
	return err
}

// sweepMost bounds what one write removes, so that it stays short.
const sweepMost = 100

func sweep[T any](w *writer, t *table[T], now time.Time) error {
	keys := t.keysBetween(w.tx, "expires", "", now.UTC().Format(timeKey))
	for _, k := range keys[:min(sweepMost, len(keys))] {
		if err := t.delete(w.tx, k); err != nil {
			return err
		}
	}
	return nil
}

// Sessions keeps browser sessions; its methods are those of a session library's
// store, keyed by the token of the cookie.
type Sessions struct {
	db    *DB
	now   func() time.Time
	slack time.Duration
}

// Sessions gives the store of browser sessions. A session whose data is the
// same is written again only when its expiry moved by more than a minute, so that
// reading pages costs no disk sync. now is the clock by which the session library
// sets expiries: real time, also where the store's own clock is moved.
func (db *DB) Sessions(now func() time.Time) *Sessions {
	return &Sessions{db: db, now: now, slack: time.Minute}
}

var sessionActor = cases.Actor{ID: "system", Name: "Dunlin", Role: cases.System, Via: "sessions"}

// FindCtx gives the data of a session that has not expired.
func (s *Sessions) FindCtx(ctx context.Context, token string) (data []byte, found bool, err error) {
	err = s.db.view(ctx, func(r *reader) error {
		rec, err := s.db.sessions.get(r.tx, tokenHash(token))
		if errors.Is(err, errNoRecord) {
			return nil
		}
		if err != nil {
			return err
		}
		if s.now().Before(rec.Expires) {
			data, found = rec.Data, true
		}
		return nil
	})
	return data, found, err
}

// CommitCtx writes a session that lasts until expires, also when its request has
// run out of time.
func (s *Sessions) CommitCtx(ctx context.Context, token string, data []byte, expires time.Time) error {
	ctx = context.WithoutCancel(ctx)
	hash, fresh := tokenHash(token), false
	err := s.db.view(ctx, func(r *reader) error {
		rec, err := s.db.sessions.get(r.tx, hash)
		if err == nil {
			moved := expires.Sub(rec.Expires)
			fresh = string(rec.Data) == string(data) && moved >= 0 && moved < s.slack
		}
		return nil
	})
	if err != nil || fresh {
		return err
	}
	return s.db.update(ctx, sessionActor, func(w *writer) error {
		if err := sweep(w, s.db.sessions, s.now()); err != nil {
			return err
		}
		_, err := s.db.sessions.put(w.tx, &session{Hash: hash, Data: data, Expires: expires.UTC()})
		return err
	})
}

// DeleteCtx ends a session.
func (s *Sessions) DeleteCtx(ctx context.Context, token string) error {
	return s.db.update(ctx, sessionActor, func(w *writer) error {
		return s.db.sessions.delete(w.tx, tokenHash(token))
	})
}

// Find is FindCtx without a context.
func (s *Sessions) Find(token string) ([]byte, bool, error) {
	return s.FindCtx(context.Background(), token)
}

// Commit is CommitCtx without a context.
func (s *Sessions) Commit(token string, data []byte, expires time.Time) error {
	return s.CommitCtx(context.Background(), token, data, expires)
}

// Delete is DeleteCtx without a context.
func (s *Sessions) Delete(token string) error { return s.DeleteCtx(context.Background(), token) }

// Each gives the sessions that have not expired, by the key that End takes.
func (s *Sessions) Each(ctx context.Context, f func(key string, data []byte, expires time.Time)) error {
	return s.db.view(ctx, func(r *reader) error {
		for x, err := range s.db.sessions.each(r.tx, s.db.sessions.all(r.tx)) {
			if err != nil {
				return err
			}
			if s.now().Before(x.Expires) {
				f(x.Hash, x.Data, x.Expires)
			}
		}
		return nil
	})
}

// End ends sessions by their keys; those that are gone already are passed over.
func (s *Sessions) End(ctx context.Context, keys ...string) error {
	return s.db.update(ctx, sessionActor, func(w *writer) error {
		for _, k := range keys {
			if err := s.db.sessions.delete(w.tx, k); err != nil {
				return err
			}
		}
		return nil
	})
}
