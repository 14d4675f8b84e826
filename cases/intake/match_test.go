package intake_test

import (
	"strings"
	"testing"

	"dunlin/cases/intake"
)

// other makes a message about another infant of another family out of d01.
func other(t testing.TB, pairs ...string) []byte {
	base := []string{"TESTFAMILY", "KESTREL", "^MARIA^", "^JUNE^", "MRN0001", "MRN7777", "MOM0001", "MOM7777",
		"|F0001^", "|F7777^", "F0001&", "F7777&", "EX2026000123", "EX2026007777", "5550101", "5550177", "D01-0001", "X-7777"}
	raw := string(d01(t, base...))
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(raw, pairs[i]) {
			t.Fatalf("the message does not hold %q", pairs[i])
		}
		raw = strings.ReplaceAll(raw, pairs[i], pairs[i+1])
	}
	return []byte(raw)
}

// newCard gives the same infant a new card and a new laboratory number.
var newCard = []string{"|F0001^", "|F0900^", "F0001&", "F0900&", "EX2026000123", "EX2026000900", "D01-0001", "N-1"}

// dayOff is such a message with a birth date a day off, which a person looks at.
var dayOff = append([]string{"20260301041500", "20260302041500"}, newCard...)

// TestMatching runs the twelve patterns of the matching proposal of practice 5.3
// and some more: no wrong join, and every true pair at least asked about.
func TestMatching(t *testing.T) {
	twinB := append([]string{"BABYGIRL^", "BABYGIRL B^", "||N|", "||Y|2", "20260301041500-0600|F", "20260301044000-0600|F",
		"LA12411-7^Singleton^LN", "LA12412-5^Twins^LN", "MRN0001", "MRN0002"}, newCard...)
	for _, c := range []struct {
		name   string
		second []byte
		want   string // outcome, and the kind when it waits
	}{
		{"baby boy gets a legal name, same card", d01(t, "^BABYGIRL^", "^ADA^", "D01-0001", "N-2"), "attached"},
		{"mother's surname changed, same card", d01(t, "|TESTFAMILY^MARIA", "|NEWNAME^MARIA", "D01-0001", "N-3"), "review"},
		{"twin by order and plurality, the first sent as a single infant", d01(t, twinB...), "review possible twin"},
		{"twin with no word of it", d01(t, append([]string{"20260301041500-0600", "20260301044000-0600", "MRN0001", "MRN0002"}, newCard...)...), "review possible twin"},
		{"other sex, same mother and day", d01(t, append([]string{"-0600|F|", "-0600|M|", "MRN0001", "MRN0002"}, newCard...)...), "review possible twin"},
		{"one digit of the record number off", d01(t, append([]string{"MRN0001", "MRN0007"}, newCard...)...), "review possible twin"},
		{"same surname, unrelated, same day and place", other(t, "KESTREL", "TESTFAMILY"), "opened"},
		{"transfer with a second card", d01(t, newCard...), "attached"},
		{"second card, birth date a day off", d01(t, dayOff...), "review possible same infant"},
		{"adoption: new family, same hospital number", other(t, "MRN7777", "MRN0001"), "review possible same infant"},
		{"a day off near midnight, same mother", d01(t, append([]string{"20260301041500", "20260302001500", "MRN0001", "MRN0055", "MOM0001", "MOM0055"}, newCard...)...), "review possible twin"},
		{"day and month swapped, same card", d01(t, "20260301041500", "20260103041500", "D01-0001", "N-4"), "review possible same infant"},
		{"same card and mother, another hospital number", d01(t, "MRN0001", "MRN0010", "D01-0001", "N-6"), "review possible twin"},
		{"cut double name, same card", d01(t, "|TESTFAMILY^BABYGIRL", "|TESTFAM^BABYGIRL", "D01-0001", "N-5"), "attached"},
		{"moved, new phone, second card", d01(t, append([]string{"5550101", "5550999", "12 Example Street", "9 New Road"}, newCard...)...), "attached"},
		{"moved, new phone, other hospital", d01(t, append([]string{"5550101", "5550999", "MRN0001^^^Example Birth", "CH0007^^^Example Children's", "MOM0001^^^Example Birth", "CM0007^^^Example Children's"}, newCard...)...), "attached"},
		{"the same, with another birth weight", d01(t, append([]string{"|3120|", "|2420|", "MRN0001^^^Example Birth", "CH0007^^^Example Children's", "MOM0001^^^Example Birth", "CM0007^^^Example Children's"}, newCard...)...), "review possible twin"},
		{"other hospital, one of them says twins", d01(t, append([]string{"LA12411-7^Singleton^LN", "LA12412-5^Twins^LN", "MRN0001^^^Example Birth", "CH0007^^^Example Children's"}, newCard...)...), "review possible twin"},
		{"same card, other sex", d01(t, "-0600|F|", "-0600|M|", "D01-0001", "N-7"), "review possible twin"},
		{"older sibling", d01(t, append([]string{"20260301041500", "20250214041500", "20260302063000", "20250215063000", "MRN0001", "MRN0444"}, newCard...)...), "opened"},
		{"another infant with the same card number", other(t, "EX2026007777", "EX2026000123", "20260301041500", "20260305041500", "20260302063000", "20260306063000"), "opened"},
		{"another infant, same card number, same day", other(t, "EX2026007777", "EX2026000123"), "review possible same infant"},
		{"another family", other(t), "opened"},
		{"in range, another family", in05(t, "TESTFAMILY", "KESTREL", "^MARIA^", "^JUNE^", "MRN0001", "MRN7777", "MOM0001", "MOM7777", "F0005", "F7777", "EX2026000123", "EX2026007777", "5550101", "5550177"), "no-case"},
		{"in range, second card of an infant with a case", in05(t, "F0005", "F0900", "EX2026000123", "EX2026000900"), "review look at this"},
		{"in range, same card as the case", in05(t), "review look at this"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, intake.Settings{})
			b.receive("first", d01(t))
			r := b.receive("second", c.second)
			it := r.Items[0]
			got := it.Outcome
			if strings.Contains(c.want, " ") {
				got += " " + it.Kind
			}
			eq(t, "outcome", got, c.want)
			if it.Outcome == "review" && it.Reference == "" && len(it.Related) == 0 {
				t.Error("the case on file is not named")
			}
			if it.Outcome == "opened" && len(b.all()) != 2 || it.Outcome != "opened" && len(b.all()) != 1 {
				t.Errorf("%d cases", len(b.all()))
			}
			if t.Failed() {
				t.Log(it.Kind, it.Reasons)
			}
		})
	}
}

// TestTwinsLinked: twins who both have cases name each other, whichever came first,
// in one batch or in two.
func TestTwinsLinked(t *testing.T) {
	batch := strings.ReplaceAll(string(load(t, msgs+"d06-nbs-twins-batch.hl7")), "LA18592-8^In range^LN|||N", "LA18593-6^Out of range^LN|||A")
	b := newBench(t, intake.Settings{})
	eq(t, "outcomes", outcomes(b.receive("both", []byte(batch))), "opened opened")
	one, two := b.of("AB-2026-0001"), b.of("AB-2026-0002")
	eq(t, "siblings of the first", strings.Join(one.Siblings, " "), two.Reference)
	eq(t, "siblings of the second", strings.Join(two.Siblings, " "), one.Reference)
	eq(t, "orders", one.Infant.BirthOrder+two.Infant.BirthOrder, 3)
}

// TestSweatResultFindsTheCase: the laboratory of the hospital knows other numbers; the
// infant, whose birth was a single one, is found by name, mother, phone and minute.
func TestSweatResultFindsTheCase(t *testing.T) {
	b := newBench(t, intake.Settings{})
	b.receive("d01", d01(t))
	r := b.file(msgs + "d09-sweat-intermediate.hl7")
	it := r.Items[0]
	eq(t, "outcome", it.Outcome+" "+it.Kind, "attached result for a case")
	eq(t, "reference", it.Reference, "AB-2026-0001")
	eq(t, "tests", len(b.of("AB-2026-0001").SweatTests), 1)

	b = newBench(t, intake.Settings{})
	b.receive("d01, twins", d01(t, "LA12411-7^Singleton^LN", "LA12412-5^Twins^LN"))
	it = b.file(msgs + "d09-sweat-intermediate.hl7").Items[0]
	eq(t, "outcome beside a twin", it.Outcome, "review")
	eq(t, "related", strings.Join(it.Related, " "), "AB-2026-0001")
}
