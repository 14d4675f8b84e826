package schedule

import (
	"math"
	"slices"
	"strings"

	"dunlin/cases"
)

// Twins sorts waits into groups that are offered together: infants whose cases name
// each other, born at most a day apart, both of whom a day can be planned for.
// A twin that has to wait beyond the day by which the other is due does not hold the
// other back: the two are then placed one by one. The groups come in the order of
// their first member, the members in the order of the references; most groups have
// one member. The numbers are places in ws.
func Twins(ws []Wait) [][]int {
	at := make(map[string]int, len(ws))
	for i := range ws {
		at[ws[i].Reference] = i
	}
	group := make([]int, len(ws)) // the first member known so far
	for i := range ws {
		group[i] = i
	}
	root := func(i int) int {
		for group[i] != i {
			i = group[i]
		}
		return i
	}
	for i := range ws {
		for _, ref := range ws[i].Siblings {
			if j, ok := at[ref]; ok && areTwins(&ws[i], &ws[j]) {
				a, b := root(i), root(j)
				group[max(a, b)] = min(a, b)
			}
		}
	}
	var out [][]int
	slot := make(map[int]int, len(ws))
	for i := range ws {
		r := root(i)
		n, seen := slot[r]
		if !seen {
			n = len(out)
			slot[r] = n
			out = append(out, nil)
		}
		out[n] = append(out[n], i)
	}
	return apart(ws, out)
}

func areTwins(a, b *Wait) bool {
	d := a.Born - b.Born
	return a.Reference != b.Reference && d >= -1 && d <= 1 && a.Blocked == "" && b.Blocked == "" &&
		slices.Contains(b.Siblings, a.Reference) && slices.Contains(a.Siblings, b.Reference)
}

// apart splits groups of whom one would have to wait beyond its own due day for
// another, and sorts the members of the others.
func apart(ws []Wait, groups [][]int) [][]int {
	var out [][]int
	for _, g := range groups {
		if len(g) > 1 {
			from, due := cases.Day(0), cases.Day(math.MaxInt32)
			for _, i := range g {
				from, due = max(from, ws[i].From), min(due, max(ws[i].Deadline, ws[i].From))
			}
			if from > due {
				for _, i := range g {
					out = append(out, []int{i})
				}
				continue
			}
			slices.SortFunc(g, func(i, j int) int { return strings.Compare(ws[i].Reference, ws[j].Reference) })
		}
		out = append(out, g)
	}
	return out
}
