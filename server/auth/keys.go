package auth

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"time"
	"unicode"

	"dunlin/cases"
)

// keysSetting is where the store keeps the keys of the web service.
const keysSetting = "intake-keys"

// Key lets the system of a laboratory or hospital hand documents in. The key itself
// is shown once, when it is made; only its hash is kept. A key has 260 random bits,
// so its hash needs no salt and no slow function.
type Key struct {
	Name     string    `json:"name"`
	Hash     string    `json:"hash"` // hex SHA-256
	Made     time.Time `json:"made"`
	By       string    `json:"by"`
	Disabled bool      `json:"disabled,omitempty"`
}

// Keys are the keys of the web service, over a store.
type Keys struct{ Store cases.Store }

// Name tells whose key this is; false for one that is not known or that is disabled.
// It takes as long for every key that might be given.
func (k Keys) Name(ctx context.Context, key string) (name string, ok bool, err error) {
	sum := sha256.Sum256([]byte(key))
	given := hex.EncodeToString(sum[:])
	list, err := k.List(ctx)
	for _, l := range list {
		if subtle.ConstantTimeCompare([]byte(l.Hash), []byte(given)) == 1 && !l.Disabled {
			name, ok = l.Name, true
		}
	}
	return name, ok, err
}

// List gives all keys, in the order in which they were made.
func (k Keys) List(ctx context.Context) (list []Key, err error) {
	err = k.Store.View(ctx, func(r cases.Reader) error {
		list, err = readKeys(r)
		return err
	})
	return list, err
}

func readKeys(r cases.Reader) (list []Key, err error) {
	raw, ok, err := r.Setting(keysSetting)
	if err != nil || !ok {
		return nil, err
	}
	if err := json.Unmarshal(raw, &list); err != nil {
		return nil, fmt.Errorf("setting %s: %w", keysSetting, err)
	}
	return list, nil
}

// Add makes a key and gives it back, the only time that it can be seen. Errors:
// Invalid when the name is empty, too long or taken.
func (k Keys) Add(ctx context.Context, by cases.Actor, name string) (key string, err error) {
	name = strings.Join(strings.Fields(name), " ")
	if name == "" || len([]rune(name)) > 60 || strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return "", cases.FieldError("name", "must have 1 to 60 letters; name the sender, such as Heron Point laboratory")
	}
	key = rand.Text() + rand.Text()
	sum := sha256.Sum256([]byte(key))
	err = k.change(ctx, by, "key-added", name, func(list []Key, now time.Time) ([]Key, error) {
		if find(list, name) >= 0 {
			return nil, cases.FieldError("name", "is taken; disable the key of %s and choose another name for the new one", name)
		}
		return append(list, Key{Name: name, Hash: hex.EncodeToString(sum[:]), Made: now, By: by.Name}), nil
	})
	if err != nil {
		return "", err
	}
	return key, nil
}

// Disable takes a key out of use, or puts it back. Errors: NotFound.
func (k Keys) Disable(ctx context.Context, by cases.Actor, name string, off bool) error {
	kind := "key-enabled"
	if off {
		kind = "key-disabled"
	}
	return k.change(ctx, by, kind, name, func(list []Key, _ time.Time) ([]Key, error) {
		i := find(list, name)
		if i < 0 {
			return nil, cases.Errorf(cases.NotFound, "There is no key of the name %s.", name)
		}
		list[i].Disabled = off
		return list, nil
	})
}

func (k Keys) change(ctx context.Context, by cases.Actor, kind, name string, f func([]Key, time.Time) ([]Key, error)) error {
	return k.Store.Update(ctx, by, func(w cases.Writer) error {
		list, err := readKeys(w)
		if err != nil {
			return err
		}
		if list, err = f(list, w.Now()); err != nil {
			return err
		}
		raw, err := json.Marshal(list)
		if err != nil {
			return err
		}
		if err := w.PutSetting(keysSetting, raw); err != nil {
			return err
		}
		return w.Note(cases.Event{Kind: kind, Text: name})
	})
}

func find(list []Key, name string) int {
	for i := range list {
		if strings.EqualFold(list[i].Name, name) {
			return i
		}
	}
	return -1
}
