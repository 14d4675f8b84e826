package cases_test

import (
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
)

// A correction that is taken back gives the same assessment and identity, keeps both
// corrections, and the infant is still found by every key it ever had.
func TestCorrectThereAndBack(t *testing.T) {
	p := cases.DefaultProtocol()
	rapid.Check(t, func(t *rapid.T) {
		c, on := genCase(t)
		c.Infant.Family = "Sorrel"
		c.Infant.Records = []cases.RecordNo{{Authority: "Reed Hospital", Number: "1"}}
		was, first, keys := cases.IdentityOf(&c), asJSON(t, p.Assess(&c, on)), cases.MatchKeys(&c)
		x := was
		x.Born = was.Born - cases.Day(rapid.IntRange(0, 5).Draw(t, "earlier"))
		x.Sex = rapid.SampledFrom([]string{"female", "male", "other"}).Draw(t, "sex")
		x.Plurality, x.BirthOrder = 2, rapid.IntRange(1, 2).Draw(t, "order")
		x.Records = []cases.RecordNo{{Authority: "Reed Hospital", Number: "2"}}
		if err := c.Correct(x, "Wren", "wrong card", on); err != nil {
			t.Fatal(err)
		}
		for _, k := range keys {
			if !slices.Contains(cases.MatchKeys(&c), k) {
				t.Fatalf("%q does not find the infant any more", k)
			}
		}
		if faults := c.Faults(on, p); len(faults) > 0 {
			t.Skip("refused: ", faults[0])
		}
		if err := c.Correct(was, "Wren", "it was right", on); err != nil {
			t.Fatal(err)
		}
		if got := asJSON(t, p.Assess(&c, on)); got != first {
			t.Fatalf("another assessment:\n%s\n%s", first, got)
		}
		if got := cases.IdentityOf(&c); !reflect.DeepEqual(got, was) || len(c.Infant.Former) != 2 {
			t.Fatalf("%+v, former %+v", got, c.Infant.Former)
		}
		if d := c.Clone(); !reflect.DeepEqual(d.Infant.Former, c.Infant.Former) {
			t.Fatal("the former values do not survive being written and read")
		}
	})
}

// What cannot be is refused in words that name the field, and nothing is changed.
func TestCorrectRefuses(t *testing.T) {
	on := mustDay(t, "2026-03-30")
	parsed, err := cases.ParseCase([]byte(contractExample), on, cases.DefaultProtocol())
	if err != nil {
		t.Fatal(err)
	}
	for name, x := range map[string]struct {
		change      func(*cases.Identity)
		reason      string
		field, says string
	}{
		"after a test":    {func(x *cases.Identity) { x.Born = parsed.SweatTests[0].On + 1 }, "r", "infant.born", "is after the sweat test of " + parsed.SweatTests[0].On.String()},
		"in the future":   {func(x *cases.Identity) { x.Born = on + 1 }, "r", "infant.born", "in the future"},
		"none":            {func(x *cases.Identity) { x.Born = 0 }, "r", "infant.born", "Enter the birth date"},
		"third of two":    {func(x *cases.Identity) { x.Plurality, x.BirthOrder = 2, 3 }, "r", "infant.birth_order", "number 3 of 2"},
		"second of what":  {func(x *cases.Identity) { x.Plurality, x.BirthOrder = 0, 2 }, "r", "infant.plurality", "how many were born"},
		"written twice":   {func(x *cases.Identity) { x.Records = []cases.RecordNo{{Number: "7"}, {Number: "7"}} }, "r", "infant.records", "twice"},
		"no number":       {func(x *cases.Identity) { x.Records = []cases.RecordNo{{Authority: "Reed"}} }, "r", "infant.records", "number of Reed"},
		"without reason":  {func(x *cases.Identity) { x.Sex = "male" }, " ", "reason", "Enter the reason"},
		"nothing differs": {func(*cases.Identity) {}, "r", "", "Nothing differs"},
	} {
		t.Run(name, func(t *testing.T) {
			c := parsed.Clone()
			is := cases.IdentityOf(&c)
			x.change(&is)
			err := c.Correct(is, "Wren", x.reason, on)
			var e *cases.Error
			if !errors.As(err, &e) || e.Field != x.field || !strings.Contains(err.Error(), x.says) {
				t.Fatalf("%v", err)
			}
			if !reflect.DeepEqual(c.Infant, parsed.Infant) {
				t.Error("a refused correction changed the infant")
			}
		})
	}
}

// The letter that waits is not of another infant after a correction of the sex, and is
// after one of the birth date; only what left is out.
func TestCorrectNamesLettersOut(t *testing.T) {
	on := mustDay(t, "2026-03-30")
	c := cases.Case{Infant: cases.Infant{Born: on - 40, Records: []cases.RecordNo{{Number: "1"}}}, Referral: cases.Referral{On: on - 35, Screen: &cases.Screen{Accession: "A1"}}}
	for _, l := range []struct{ kind, state, number string }{{cases.LetterFirstNotice, "mailed", "1"}, {cases.LetterFirstNotice, "to-print", "2"}, {cases.LetterReferral, "mailed", "3"}, {cases.LetterDoctorResult, "answered", "4"}, {cases.LetterDoctorResult, "held", "5"}} {
		c.Letters = append(c.Letters, cases.LetterMade{Kind: l.kind, State: l.state, Number: l.number})
	}
	for name, x := range map[string]struct {
		change func(*cases.Identity)
		out    []string
	}{
		"birth date": {func(x *cases.Identity) { x.Born-- }, []string{"1", "3", "4"}},
		"sex":        {func(x *cases.Identity) { x.Sex = "male" }, nil},
		"record":     {func(x *cases.Identity) { x.Records = []cases.RecordNo{{Number: "2"}} }, []string{"3", "4"}},
		"specimen":   {func(x *cases.Identity) { x.Accession = "A2" }, []string{"3"}},
	} {
		d := c.Clone()
		is := cases.IdentityOf(&d)
		x.change(&is)
		if err := d.Correct(is, "Wren", "wrong card", on); err != nil {
			t.Fatal(err)
		}
		if got := d.Infant.Former[0].Out; !slices.Equal(got, x.out) {
			t.Errorf("%s: out %v, want %v", name, got, x.out)
		}
	}
}
