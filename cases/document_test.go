package cases_test

import (
	"encoding/json"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"

	"dunlin/cases"
)

// edit returns the contract's example with one replacement.
func edit(t *testing.T, old, new string) []byte {
	t.Helper()
	if !strings.Contains(contractExample, old) {
		t.Fatalf("the example does not hold %q", old)
	}
	return []byte(strings.Replace(contractExample, old, new, 1))
}

func faultsOf(t *testing.T, doc []byte) []cases.Fault {
	t.Helper()
	_, err := cases.ParseCase(doc, mustDay(t, "2026-03-30"), cases.DefaultProtocol())
	var e *cases.Error
	if err == nil || !errors.As(err, &e) || e.Kind != cases.Invalid {
		t.Fatalf("not refused: %v", err)
	}
	return e.Faults
}

//asvs:2.2.1 2.2.3
func TestDocumentRefusesWithPathAndReason(t *testing.T) {
	for _, x := range []struct{ old, new, path, says string }{
		{`"born":"2026-03-01"`, `"born":"2026-02-30"`, "infant.born", "calendar"},
		{`"born":"2026-03-01"`, `"born":"1 March"`, "infant.born", "2026-03-05"},
		{`"born":"2026-03-01",`, ``, "infant.born", "missing"},
		{`"born":"2026-03-01"`, `"born":null`, "infant.born", "missing"},
		{`"born_at":"04:12"`, `"born_at":"24:00"`, "infant.born_at", "24-hour"},
		{`"sex":"female"`, `"sex":"girl"`, "infant.sex", "one of"},
		{`"sex":"female"`, `"sex":1`, "infant.sex", "text"},
		{`"gestation":"39w2d"`, `"gestation":"21w6d"`, "infant.gestation", "22w0d"},
		{`"birth_weight_g":3200`, `"birth_weight_g":3.2`, "infant.birth_weight_g", "kilograms"},
		{`"birth_weight_g":3200`, `"birth_weight_g":0`, "infant.birth_weight_g", "at least"},
		{`"birth_weight_g":3200`, `"birth_weight_g":"3200"`, "infant.birth_weight_g", "number"},
		{`"route":"screen"`, `"route":"letter"`, "referral.route", "one of"},
		{`"reported":"2026-03-07","acc`, `"reported":"2026-03-01","acc`, "referral.screen.reported", "before"},
		{`"on":"2026-03-08"`, `"on":"2026-04-08"`, "referral.on", "after"},
		{`"until":"2026-03-13"`, `"until":"2026-03-08"`, "holds[0].until", "before"},
		{`"reached":true,"outcome":"talked, understood"},`, `"outcome":"talked, understood"},`, "contacts[0].reached", "missing"},
		{`"minutes":30`, `"minutes":240`, "sweat_tests[0].arms[0].minutes", "120"},
		{`"amount_ul":12`, `"amount_ul":12,"chloride":600`, "sweat_tests[0].arms[0].chloride", "400"},
		{`"amount_ul":12`, `"amount_mg":80`, "sweat_tests[0].arms[0].amount_mg", "amount_ul"},
		{`"side":"right"`, `"side":"left"`, "sweat_tests[0].arms[1].side", "both arms"},
		{`"closures":[]`, `"closures":[{"on":"2026-03-20","as":"lost","by":"A"}]`, "closures[0].look_again", "look again"},
		{`"closures":[]`, `"closures":[{"on":"2026-03-20","as":"carrier","by":"A"}]`, "closures[0].as", "graded"},
		{`"closures":[]`, `"closures":[{"on":"2026-03-20","as":"cf"}]`, "closures[0].by", "missing"},
		{`"closures":[]`, `"closures":{}`, "closures", "list"},
		{`"closures":[]`, `"colour":"blue","closures":[]`, "colour", "not a field"},
		{`"closures":[]`, `"closures":[],"closures":[]`, "closures", "twice"},
		{`"dunlin-case/1"`, `"dunlin-case/2"`, "document", "dunlin-case/1"},
	} {
		faults := faultsOf(t, edit(t, x.old, x.new))
		ok := slices.ContainsFunc(faults, func(f cases.Fault) bool {
			return f.Path == x.path && strings.Contains(f.Reason, x.says)
		})
		if !ok {
			t.Errorf("%s -> %s: want %s (%s), have %v", x.old, x.new, x.path, x.says, faults)
		}
	}
}

func TestDocumentReportsAllFaultsAtOnce(t *testing.T) {
	doc := edit(t, `"sex":"female"`, `"sex":"girl","colour":"blue"`)
	doc = []byte(strings.Replace(string(doc), `"minutes":30`, `"minutes":0`, 1))
	var paths []string
	for _, f := range faultsOf(t, doc) {
		paths = append(paths, f.Path)
	}
	for _, want := range []string{"infant.sex", "infant.colour", "sweat_tests[0].arms[0].minutes"} {
		if !slices.Contains(paths, want) {
			t.Errorf("%s is not among %v", want, paths)
		}
	}
}

func TestDocumentThatIsNoJSON(t *testing.T) {
	for _, s := range []string{"", "{", "[1", `{"document":}`, "null", "3", `{"document":"dunlin-case/1"} x`, "\xff\xfe"} {
		if f := faultsOf(t, []byte(s)); len(f) == 0 {
			t.Errorf("%q is accepted", s)
		}
	}
}

func FuzzParseCase(f *testing.F) {
	f.Add([]byte(contractExample))
	f.Add([]byte(`{"document":"dunlin-case/1","infant":{"born":"2026-03-01"},"referral":{"on":"2026-03-08","route":"screen"}}`))
	p := cases.DefaultProtocol()
	on := cases.MakeDay(2026, 3, 30)
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := cases.ParseCase(data, on, p)
		if err != nil {
			return
		}
		a := p.Assess(&c, on)
		if a.Next.Step == "" {
			t.Fatal("an accepted case has no step")
		}
		if _, err := json.Marshal(a); err != nil {
			t.Fatal(err)
		}
	})
}

func TestProtocolRefusesNonsense(t *testing.T) {
	for doc, path := range map[string]string{
		`{"min_age_day":14}`:                              "min_age_day",
		`{"cf_from":20}`:                                  "intermediate_from",
		`{"min_corrected_gestation":"60w0d"}`:             "min_corrected_gestation",
		`{"lost_min_routes":0}`:                           "lost_min_routes",
		`{"crms_retest_months":[12,6]}`:                   "crms_retest_months[1]",
		`{"holidays":["2026-02-30"]}`:                     "holidays[0]",
		`{"min_weight_g":"2000"}`:                         "min_weight_g",
		`{"implausible_above":50}`:                        "implausible_above",
		`{"older_from_days":0}`:                           "older_from_days",
		`{"intermediate_from":30,"intermediate_from":40}`: "intermediate_from",
	} {
		_, err := cases.ParseProtocol([]byte(doc))
		var e *cases.Error
		if !errors.As(err, &e) || !slices.ContainsFunc(e.Faults, func(f cases.Fault) bool { return f.Path == path }) {
			t.Errorf("%s: want a fault at %s, have %v", doc, path, err)
		}
	}
	p, err := cases.ParseProtocol([]byte(`{"holidays":["2026-03-09"]}`))
	if err != nil {
		t.Fatal(err)
	}
	if d := p.Calendar().Add(mustDay(t, "2026-03-06"), 1).String(); d != "2026-03-10" {
		t.Errorf("the own holiday is not kept: %s", d)
	}
}

// Every protocol value has its note, and every note its value.
func TestEveryProtocolValueHasItsSource(t *testing.T) {
	var names []string
	for i := range reflect.TypeFor[cases.Protocol]().NumField() {
		f := reflect.TypeFor[cases.Protocol]().Field(i)
		switch {
		case f.IsExported() && f.Type.Kind() == reflect.Struct: // a group of values
			for j := range f.Type.NumField() {
				names = append(names, f.Tag.Get("json")+"."+f.Type.Field(j).Tag.Get("json"))
			}
		case f.IsExported():
			names = append(names, f.Tag.Get("json"))
		}
	}
	var noted []string
	for _, n := range cases.ProtocolNotes {
		noted = append(noted, n.Name)
		if n.Source == "" || n.Title == "" || n.Group == "" {
			t.Errorf("%s has no source, title or group", n.Name)
		}
	}
	slices.Sort(names)
	slices.Sort(noted)
	if !slices.Equal(names, noted) {
		t.Errorf("values %v\nnotes %v", names, noted)
	}
}
