package reminders

import (
	"cmp"
	"iter"
	"slices"

	"dunlin/cases"
)

// List assesses every case on a day and gives those on the overdue list, in the
// list's order, by cases.Protocol.AssessStep. It is pure; an error comes from the sequence.
func List(seq iter.Seq2[cases.Case, error], today cases.Day, p *cases.Protocol) ([]Item, error) {
	var items []Item
	for c, err := range seq {
		if err != nil {
			return nil, err
		}
		if a := p.AssessStep(&c, today); a.OnList() {
			items = append(items, Item{Case: &c, Assessment: a})
		}
	}
	return Order(items), nil
}

// Order puts items into the list's order: urgency, then days late, both falling; then
// the older infant, then the reference. Twins stand together at the place of the one
// that comes first.
func Order(items []Item) []Item {
	order := make([]int32, len(items)) // items are large: sort their places
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(a, b int32) int { return compare(&items[a], &items[b]) })
	out := make([]Item, 0, len(items))
	groups := twins(items)
	done := make([]bool, len(items))
	for _, i := range order {
		if done[i] {
			continue
		}
		group := groups[i]
		if group == nil {
			out = append(out, items[i])
			continue
		}
		slices.SortFunc(group, func(a, b int32) int { return compare(&items[a], &items[b]) })
		for _, k := range group {
			done[k] = true
			it := items[k]
			for _, other := range group {
				if other != k {
					it.Twins = append(it.Twins, items[other].Case.Reference)
				}
			}
			out = append(out, it)
		}
	}
	return out
}

func compare(a, b *Item) int {
	return cmp.Or(
		cmp.Compare(b.Assessment.Next.Urgency, a.Assessment.Next.Urgency),
		cmp.Compare(b.Assessment.Overdue.Days, a.Assessment.Overdue.Days),
		cmp.Compare(a.Case.Infant.Born, b.Case.Infant.Born),
		cmp.Compare(a.Case.Reference, b.Case.Reference),
		cmp.Compare(a.Case.ID, b.Case.ID),
	)
}

// twins gives for each item with a sibling of the same birth on the list the whole
// group it belongs to: cases naming each other, born at most a day apart.
func twins(items []Item) map[int32][]int32 {
	var at map[string]int32
	for i := range items {
		if c := items[i].Case; len(c.Siblings) > 0 && c.Reference != "" {
			if at == nil {
				at = map[string]int32{}
			}
			at[c.Reference] = int32(i)
		}
	}
	if len(at) < 2 {
		return nil
	}
	groups := map[int32][]int32{}
	for i := range items {
		if groups[int32(i)] != nil || len(items[i].Case.Siblings) == 0 {
			continue
		}
		group := []int32{int32(i)}
		for next := 0; next < len(group); next++ {
			a := items[group[next]].Case
			for _, ref := range a.Siblings {
				if k, here := at[ref]; here && !slices.Contains(group, k) && sameBirth(a, items[k].Case) {
					group = append(group, k)
				}
			}
		}
		if len(group) > 1 {
			for _, k := range group {
				groups[k] = group
			}
		}
	}
	return groups
}

func sameBirth(a, b *cases.Case) bool {
	days := a.Infant.Born - b.Infant.Born
	return days >= -1 && days <= 1 && slices.Contains(a.Siblings, b.Reference) && slices.Contains(b.Siblings, a.Reference)
}
