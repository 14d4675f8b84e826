package reminders

import (
	"errors"
	"fmt"
	"iter"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
)

func day(s string) cases.Day {
	d, err := cases.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

func seq(cs []cases.Case) iter.Seq2[cases.Case, error] {
	return func(yield func(cases.Case, error) bool) {
		for _, c := range cs {
			if !yield(c, nil) {
				return
			}
		}
	}
}

// infant is an ordinary case: referred by the screen a week after birth.
func infant(ref, born string, edits ...func(*cases.Case)) cases.Case {
	c := cases.Case{
		ID: cases.ID("id-" + ref), Document: cases.DocumentName, Reference: ref,
		Infant:   cases.Infant{Given: "Ada", Family: "Wren", Born: day(born), Gestation: 39 * 7, BirthWeightG: 3200},
		Referral: cases.Referral{On: day(born) + 7, Route: "screen"},
	}
	for _, edit := range edits {
		edit(&c)
	}
	return c
}

func talked(on string) func(*cases.Case) {
	return func(c *cases.Case) {
		for _, with := range []string{"family", "primary-care"} {
			c.Contacts = append(c.Contacts, cases.Contact{On: day(on), With: with, By: "phone", Reached: true})
		}
	}
}

func named(siblings ...string) func(*cases.Case) {
	return func(c *cases.Case) { c.Siblings = siblings }
}

func twoVariants(c *cases.Case) {
	c.Genotype = &cases.Genotype{Reported: c.Referral.On, Scope: "panel", Variants: []cases.Variant{{Name: "F508del"}, {Name: "G551D"}}}
}

func refs(items []Item) []string {
	out := make([]string, len(items))
	for i := range items {
		out[i] = items[i].Case.Reference
	}
	return out
}

func list(t testing.TB, today string, cs ...cases.Case) []Item {
	t.Helper()
	items, err := List(seq(cs), day(today), cases.DefaultProtocol())
	if err != nil {
		t.Fatal(err)
	}
	return items
}

// The order of case-document.md: urgency, days overdue, older infant, reference; twins
// together at the earlier place.
func TestOrder(t *testing.T) {
	tests := []struct {
		name  string
		today string
		cases []cases.Case
		want  []string
	}{
		{"more days late first", "2026-03-20",
			[]cases.Case{infant("AB-1", "2026-03-04"), infant("AB-2", "2026-03-02"), infant("AB-3", "2026-03-03")},
			[]string{"AB-2", "AB-3", "AB-1"}},
		{"urgent before late", "2026-03-20",
			[]cases.Case{infant("AB-1", "2026-02-02"), infant("AB-2", "2026-03-10", twoVariants)},
			[]string{"AB-2", "AB-1"}},
		{"due today is last in its class, but before nobody of a lower class", "2026-03-17",
			// Two variants known today: due today, class 3. The other is 12 days late, class 1.
			[]cases.Case{infant("AB-1", "2026-02-26"), infant("AB-2", "2026-03-10", twoVariants), infant("AB-3", "2026-03-05", twoVariants)},
			[]string{"AB-3", "AB-2", "AB-1"}},
		{"same days late: the older infant", "2026-03-16",
			// Referred on Friday 6 and Saturday 7 March: both due on Monday the 9th.
			[]cases.Case{infant("AB-1", "2026-02-28"), infant("AB-2", "2026-02-27")},
			[]string{"AB-2", "AB-1"}},
		{"same birth date: the reference", "2026-03-16",
			[]cases.Case{infant("AB-9", "2026-02-28"), infant("AB-10", "2026-02-28"), infant("AB-2", "2026-02-28")},
			[]string{"AB-10", "AB-2", "AB-9"}},
		{"twins stand at the earlier place", "2026-03-20",
			[]cases.Case{infant("AB-1", "2026-03-02", named("AB-4")), infant("AB-2", "2026-03-03"), infant("AB-4", "2026-03-02", named("AB-1"), talked("2026-03-10"),
				func(c *cases.Case) { c.Referral.On = day("2026-03-10") })},
			[]string{"AB-1", "AB-4", "AB-2"}},
		{"born over midnight", "2026-03-20",
			[]cases.Case{infant("AB-1", "2026-03-02", named("AB-3")), infant("AB-2", "2026-03-02"), infant("AB-3", "2026-03-03", named("AB-1"))},
			[]string{"AB-1", "AB-3", "AB-2"}},
		{"an older sibling is no twin", "2026-03-20",
			[]cases.Case{infant("AB-1", "2026-02-28", named("AB-3")), infant("AB-2", "2026-03-03"), infant("AB-3", "2026-03-05", named("AB-1"))},
			[]string{"AB-1", "AB-2", "AB-3"}},
		{"named by one side only", "2026-03-20",
			[]cases.Case{infant("AB-1", "2026-03-02", named("AB-4")), infant("AB-2", "2026-03-03"), infant("AB-4", "2026-03-04")},
			[]string{"AB-1", "AB-2", "AB-4"}},
		{"three of one birth", "2026-03-20",
			[]cases.Case{infant("AB-1", "2026-03-02", named("AB-5", "AB-6")), infant("AB-2", "2026-03-03"),
				infant("AB-6", "2026-03-03", named("AB-1", "AB-5")), infant("AB-5", "2026-03-03", named("AB-1", "AB-6"))},
			[]string{"AB-1", "AB-5", "AB-6", "AB-2"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := refs(list(t, tt.today, tt.cases...)); !slices.Equal(got, tt.want) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}

func TestTwinsAreNamed(t *testing.T) {
	items := list(t, "2026-03-20", infant("AB-1", "2026-03-02", named("AB-4")), infant("AB-4", "2026-03-02", named("AB-1")))
	if !slices.Equal(items[0].Twins, []string{"AB-4"}) || !slices.Equal(items[1].Twins, []string{"AB-1"}) {
		t.Errorf("%v, %v", items[0].Twins, items[1].Twins)
	}
}

func TestListLeavesOutWhatIsNotDue(t *testing.T) {
	closed := infant("AB-2", "2026-01-02")
	closed.Closures = []cases.Closure{{On: day("2026-03-01"), As: "lost", By: "A", AgreedBy: "B", Reason: "moved on", LookAgain: day("2026-09-01")}}
	items := list(t, "2026-03-20", infant("AB-1", "2026-03-12", talked("2026-03-19")), closed)
	if len(items) != 0 {
		t.Errorf("on the list: %v", refs(items))
	}
	// The closed case comes back on the day to look again.
	if items = list(t, "2026-09-01", closed); len(items) != 1 || items[0].Reason() != "Time to look again" || items[0].Action() != "Try the family" {
		t.Errorf("%v", refs(items))
	}
}

func TestListPassesAnErrorOn(t *testing.T) {
	broken := errors.New("the record does not match its checksum")
	_, err := List(func(yield func(cases.Case, error) bool) { yield(cases.Case{}, broken) }, day("2026-03-20"), cases.DefaultProtocol())
	if !errors.Is(err, broken) {
		t.Errorf("err = %v", err)
	}
}

func TestItem(t *testing.T) {
	c := infant("AB-1", "2026-03-02")
	c.Contacts = []cases.Contact{
		{On: day("2026-03-10"), At: "09:00", With: "family", By: "phone", Reached: true},
		{On: day("2026-03-10"), At: "09:10", With: "primary-care", By: "phone", Reached: true},
		{On: day("2026-03-13"), At: "16:00", With: "family", By: "phone", Outcome: "no answer"},
		{On: day("2026-03-13"), At: "09:00", With: "family", By: "phone", Outcome: "left message, no health detail"},
		{On: day("2026-04-13"), With: "family", By: "letter"},
	}
	item := list(t, "2026-03-30", c)[0]
	if last := item.LastContact(); last == nil || last.Outcome != "no answer" {
		t.Errorf("last contact %+v", last)
	}
	if item.Tries() != 2 || item.AgeDays() != 28 || item.Late() != 14 || item.By() != "step" {
		t.Errorf("tries %d, age %d, %d days late by %q", item.Tries(), item.AgeDays(), item.Late(), item.By())
	}
	if item.Reason() != "No test booked" || item.Action() != "Book a test" || item.Class() != "" {
		t.Errorf("%q, %q, %q", item.Reason(), item.Action(), item.Class())
	}
}

// In whatever order cases come, the list is the same; each is on it once; without
// twins the order is the rule's; twins stand next to each other.
func TestOrderHoldsForAnyCases(t *testing.T) {
	p := cases.DefaultProtocol()
	today := day("2026-03-20")
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(rt, "cases")
		var cs []cases.Case
		for i := range n {
			c := infant(fmt.Sprintf("AB-%02d", i), "2026-02-01")
			c.Infant.Born += cases.Day(rapid.IntRange(0, 30).Draw(rt, "born"))
			c.Referral.On = c.Infant.Born + 5
			if rapid.IntRange(0, 4).Draw(rt, "urgent") == 0 {
				twoVariants(&c)
			}
			cs = append(cs, c)
		}
		for range rapid.IntRange(0, 2).Draw(rt, "pairs") {
			a, b := rapid.IntRange(0, n-1).Draw(rt, "a"), rapid.IntRange(0, n-1).Draw(rt, "b")
			if a != b {
				cs[a].Siblings, cs[b].Siblings = append(cs[a].Siblings, cs[b].Reference), append(cs[b].Siblings, cs[a].Reference)
			}
		}
		items, err := List(seq(cs), today, p)
		if err != nil {
			rt.Fatal(err)
		}
		again, _ := List(seq(rapid.Permutation(cs).Draw(rt, "shuffled")), today, p)
		if !slices.Equal(refs(items), refs(again)) {
			rt.Fatalf("another order: %v and %v", refs(items), refs(again))
		}
		checkOrder(rt, items)
	})
}

func checkOrder(rt *rapid.T, items []Item) {
	seen := map[string]int{}
	for i := range items {
		if at, twice := seen[items[i].Case.Reference]; twice {
			rt.Fatalf("%s stands at %d and %d", items[i].Case.Reference, at, i)
		}
		seen[items[i].Case.Reference] = i
	}
	// The first of each group of twins, and every other infant, follow the rule.
	var leads []*Item
	for i := range items {
		first := true
		for _, ref := range items[i].Twins {
			first = first && seen[ref] > i
			if d := seen[ref] - i; d >= len(items[i].Twins)+1 || -d >= len(items[i].Twins)+1 {
				rt.Errorf("twins %s and %s stand apart", items[i].Case.Reference, ref)
			}
		}
		if first {
			leads = append(leads, &items[i])
		}
	}
	for i := 1; i < len(leads); i++ {
		if compare(leads[i-1], leads[i]) >= 0 {
			rt.Errorf("%s stands before %s", leads[i-1].Case.Reference, leads[i].Case.Reference)
		}
	}
}

// BenchmarkList1000 is the list of 1,000 overdue cases, as they come from the index.
func BenchmarkList1000(b *testing.B) {
	var cs []cases.Case
	for i := range 1000 {
		c := infant(fmt.Sprintf("AB-2026-%04d", i), "2026-02-01", talked("2026-02-20"))
		c.Infant.Born += cases.Day(i % 40)
		c.Referral.On = c.Infant.Born + 5
		if i%50 == 0 && i > 0 {
			c.Siblings = []string{fmt.Sprintf("AB-2026-%04d", i-1)}
			cs[i-1].Siblings = []string{c.Reference}
		}
		cs = append(cs, c)
	}
	p := cases.DefaultProtocol()
	b.ReportAllocs()
	for b.Loop() {
		items, err := List(seq(cs), day("2026-05-01"), p)
		if err != nil || len(items) != 1000 {
			b.Fatal(len(items), err)
		}
	}
}
