package auth_test

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/store"
	"dunlin/server/auth"
)

// TestKeys: a key is shown once and kept as its hash; a name is taken once; what is
// disabled opens nothing until it is put back, and every change is in the audit trail.
func TestKeys(t *testing.T) {
	db, err := store.Open(filepath.Join(t.TempDir(), "test.db"), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	ctx, by := context.Background(), cases.Actor{ID: "theo", Name: "Theo Marsh", Role: cases.Administrator}
	keys := auth.Keys{Store: db}
	if _, ok, err := keys.Name(ctx, ""); ok || err != nil {
		t.Errorf("an empty key in an empty store: %v, %v", ok, err)
	}
	a, err := keys.Add(ctx, by, "  Heron Point \n laboratory ")
	if err != nil || len(a) < 50 {
		t.Fatal(a, err)
	}
	b, err := keys.Add(ctx, by, "Alder Bay hospital")
	if err != nil || a == b {
		t.Fatal(err)
	}
	for _, name := range []string{"", " ", "heron point LABORATORY", "x\x00y", strings.Repeat("x", 61)} {
		if _, err := keys.Add(ctx, by, name); cases.KindOf(err) != cases.Invalid {
			t.Errorf("name %q: %v", name, err)
		}
	}
	who := func(key string) string {
		name, ok, err := keys.Name(ctx, key)
		if err != nil || !ok && name != "" {
			t.Error(name, ok, err)
		}
		return name
	}
	if who(a) != "Heron Point laboratory" || who(b) != "Alder Bay hospital" || who(a[:51]) != "" || who(strings.ToLower(a)) != "" {
		t.Error("a key is not told from another")
	}
	if err := keys.Disable(ctx, by, "Heron Point laboratory", true); err != nil {
		t.Fatal(err)
	}
	if who(a) != "" || who(b) == "" {
		t.Error("a disabled key works, or the wrong one was disabled")
	}
	if err := keys.Disable(ctx, by, "Heron Point laboratory", false); err != nil || who(a) == "" {
		t.Error("it was not put back", err)
	}
	if err := keys.Disable(ctx, by, "Nobody", true); cases.KindOf(err) != cases.NotFound {
		t.Error(err)
	}
	list, err := keys.List(ctx)
	if err != nil || len(list) != 2 || list[0].By != "Theo Marsh" || list[0].Made.IsZero() || strings.Contains(list[0].Hash, a) || len(list[0].Hash) != 64 {
		t.Errorf("%+v, %v", list, err)
	}
	err = db.View(ctx, func(r cases.Reader) error {
		var kinds []string
		for e, err := range r.EntriesSince(list[0].Made.Add(-1)) {
			if err != nil {
				return err
			}
			kinds = append(kinds, e.Event.Kind)
		}
		if got := strings.Join(kinds, " "); got != "setting-changed key-added setting-changed key-added setting-changed key-disabled setting-changed key-enabled" {
			t.Errorf("audit trail: %s", got)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
