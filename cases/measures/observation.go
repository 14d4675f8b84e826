package measures

import (
	"cmp"
	"slices"
)

// MaxReasons is the greatest code of a closure reason.
const MaxReasons = 99

// MaxGroups is the greatest number of groups that are compared.
const MaxGroups = 300

// Observation is one case of a data set: how long it was followed, in the unit of
// the data set, and why it closed then. Reason 0: it was still open (censored).
type Observation struct {
	Time   float64
	Group  uint32 // index into Data.Groups
	Reason uint8
}

// Data is a set of observations in named groups. Without a grouping all are in one.
type Data struct {
	Groups       []string
	Observations []Observation
}

// tallies counts, for each distinct time of one group in ascending order, the
// closures by reason and the open cases that leave observation.
type tallies struct {
	n        int // cases
	times    []float64
	events   []int // of any reason
	censored []int
	by       [][]int // by[k][i]: closures for reasons[k] at times[i]
}

// reasonsIn lists the codes of closure reasons that occur, in ascending order.
func reasonsIn(obs []Observation) []uint8 {
	var seen [MaxReasons + 1]bool
	for _, o := range obs {
		seen[o.Reason] = true
	}
	var out []uint8
	for r := 1; r < len(seen); r++ {
		if seen[r] {
			out = append(out, uint8(r))
		}
	}
	return out
}

// byTime returns the observations in order of time.
func byTime(obs []Observation) []Observation {
	sorted := slices.Clone(obs)
	slices.SortFunc(sorted, func(a, b Observation) int { return cmp.Compare(a.Time, b.Time) })
	return sorted
}

// tally counts each group of observations that are in order of time.
func tally(sorted []Observation, groups int, reasons []uint8) []tallies {
	var index [MaxReasons + 1]int
	for k, r := range reasons {
		index[r] = k
	}
	out := make([]tallies, groups)
	for g := range out {
		out[g].by = make([][]int, len(reasons))
	}
	for _, o := range sorted {
		t := &out[o.Group]
		t.n++
		last := len(t.times) - 1
		if last < 0 || t.times[last] != o.Time {
			last++
			t.times = append(t.times, o.Time)
			t.events, t.censored = append(t.events, 0), append(t.censored, 0)
			for k := range t.by {
				t.by[k] = append(t.by[k], 0)
			}
		}
		if o.Reason == 0 {
			t.censored[last]++
			continue
		}
		t.events[last]++
		t.by[index[o.Reason]][last]++
	}
	return out
}
