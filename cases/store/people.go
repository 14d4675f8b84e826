package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"reflect"

	"dunlin/cases"
)

func peopleTable() *table[cases.Account] {
	return &table[cases.Account]{name: "people", strict: true, key: func(a *cases.Account) string { return a.ID }}
}

// setting is one named value of the program.
type setting struct {
	Name  string          `json:"name"`
	Value json.RawMessage `json:"value"`
}

func settingTable() *table[setting] {
	return &table[setting]{name: "settings", strict: true, key: func(s *setting) string { return s.Name }}
}

// Account reads one account by its sign-in name; NotFound when there is none.
func (r *reader) Account(id string) (cases.Account, error) {
	if id == "" || checkField("a sign-in name", id) != nil {
		return cases.Account{}, notFound("There is no such account.", errNoRecord)
	}
	return r.db.people.one(r.tx, id, "There is no such account.")
}

// Accounts lists every account by sign-in name.
func (r *reader) Accounts() ([]cases.Account, error) {
	return r.db.people.list(r.tx, r.db.people.all(r.tx))
}

// PutAccount writes an account, with an audit entry unless only what each sign-in
// moves changed. The trail says that a password, a link, a second factor or a known
// device changed, never what is stored of it.
func (w *writer) PutAccount(a cases.Account) error {
	done, err := w.db.people.put(w.tx, &a)
	if err != nil {
		return err
	}
	kind := "account-made"
	if done.old != nil {
		kind = "account-changed"
		if reflect.DeepEqual(steady(*done.old), steady(*done.now)) {
			return nil
		}
	}
	return w.noteChange(cases.Event{Kind: kind, Text: a.ID}, "", "people."+a.ID, done.oldJSON, done.newJSON, "hash", "link", "factor", "devices")
}

// steady is an account without what sign-ins move by themselves: these write entries
// of their own.
func steady(a cases.Account) cases.Account {
	a.Failed, a.FailedAt, a.SignedIn, a.Devices = 0, 0, 0, nil
	if a.Factor != nil {
		f := *a.Factor
		f.Step, f.Codes = 0, nil
		a.Factor = &f
	}
	return a
}

// Setting reads one named value; ok is false when it was never set.
func (r *reader) Setting(name string) (value json.RawMessage, ok bool, err error) {
	if name == "" {
		return nil, false, nil
	}
	s, err := r.db.settings.get(r.tx, name)
	if errors.Is(err, errNoRecord) {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, err
	}
	return s.Value, true, nil
}

// PutSetting writes one named value and an audit entry with what changed.
func (w *writer) PutSetting(name string, value json.RawMessage) error {
	if !json.Valid(value) {
		return cases.FieldError(name, "must be JSON")
	}
	done, err := w.db.settings.put(w.tx, &setting{Name: name, Value: bytes.Clone(value)})
	if err != nil {
		return err
	}
	return w.noteChange(cases.Event{Kind: "setting-changed", Text: name}, "", "settings."+name, done.oldJSON, done.newJSON)
}
