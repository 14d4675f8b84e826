package measures

// Gray is the test of whether the groups close for one reason to the same extent, the
// other reasons competing. The log-rank test compares how fast those who still wait
// close; this one compares the incidences themselves.
type Gray struct {
	Reason    int
	ChiSquare float64
	DF        int // groups, minus 1
	P         float64
}

// GrayTest compares the incidence of closing for a reason between the groups of data
// (Gray, Ann Stat 1988;16:1141-1154, with weight 1). A group's incidence is compared
// over the times at which it has cases at risk. It is nil when the groups cannot be
// told apart.
func GrayTest(d Data, reason uint8) *Gray {
	return grayOf(byTime(d.Observations), len(d.Groups), reason)
}

func grayOf(sorted []Observation, groups int, reason uint8) *Gray {
	if groups < 2 {
		return nil
	}
	// The variance weighs what each time contributes by what is still to come, so
	// the sums up to the end are needed first.
	first := newGraySum(groups, nil)
	first.run(sorted, reason)
	second := newGraySum(groups, first.sum)
	second.run(sorted, reason)
	k := groups - 1
	v := square(k)
	for i := range k {
		copy(v[i], second.variance[i][:i+1])
	}
	chi, ok := quadratic(v, second.score[:k])
	if !ok {
		return nil
	}
	return &Gray{Reason: int(reason), ChiSquare: chi, DF: k, P: chiSquareTail(chi, k)}
}

// graySum walks through the times once.
type graySum struct {
	n        []float64 // at risk in each group
	waiting  []float64 // S of each group
	done     []float64 // its incidence of the reason
	pooled   float64   // incidence of all groups, were they alike
	score    []float64 // closures for the reason, less those to expect
	sum      [][]float64
	total    [][]float64 // sum at the end; nil on the first walk
	variance [][]float64
	events   []grayEvents

	risk, rest, was []float64 // of one time
	share           [][]float64
}

// grayEvents are the closures of a group at one time.
type grayEvents struct{ mine, other float64 }

func newGraySum(groups int, total [][]float64) *graySum {
	s := &graySum{n: make([]float64, groups), waiting: make([]float64, groups), done: make([]float64, groups),
		score: make([]float64, groups), sum: square(groups), total: total, variance: square(groups), events: make([]grayEvents, groups),
		risk: make([]float64, groups), rest: make([]float64, groups), was: make([]float64, groups), share: square(groups)}
	for g := range s.waiting {
		s.waiting[g] = 1
	}
	return s
}

func (s *graySum) run(sorted []Observation, reason uint8) {
	for _, o := range sorted {
		s.n[o.Group]++
	}
	for i := 0; i < len(sorted); {
		j, mine, any := i, 0.0, false
		for ; j < len(sorted) && sorted[j].Time == sorted[i].Time; j++ {
			e := &s.events[sorted[j].Group]
			switch sorted[j].Reason {
			case 0:
				continue
			case reason:
				e.mine++
				mine++
			default:
				e.other++
			}
			any = true
		}
		if any {
			s.addTime(mine)
			clear(s.events)
		}
		for ; i < j; i++ {
			s.n[sorted[i].Group]--
		}
	}
}

// addTime takes one time with mine closures for the reason. The number at risk of a
// group is weighed by 1 over its share still waiting (those it would have, had nobody
// been seen for too short a time), and by 1 minus its incidence: those closed for
// another reason count as never closing for this one.
func (s *graySum) addTime(mine float64) {
	groups, risk, rest, was, share := len(s.n), s.risk, s.rest, s.was, s.share
	allRisk, allRest := 0.0, 0.0
	for g, n := range s.n {
		risk[g], rest[g] = 0, 0
		if n > 0 {
			risk[g] = n / s.waiting[g]
			rest[g] = risk[g] * (1 - s.done[g])
			allRisk += risk[g]
			allRest += rest[g]
		}
	}
	step := mine / allRisk // of the pooled incidence
	pooled := s.pooled + step
	for g, n := range s.n {
		was[g] = s.waiting[g]
		if n == 0 {
			continue
		}
		e := s.events[g]
		s.score[g] += e.mine - mine*rest[g]/allRest
		s.done[g] += was[g] * e.mine / n
		s.waiting[g] *= (n - e.mine - e.other) / n
	}
	// How the score of a group leans on each group's closures.
	for i := range groups {
		for g := range groups {
			share[i][g] = -risk[i] * risk[g] / allRisk
			if i == g {
				share[i][g] += risk[i]
			}
			s.sum[i][g] += share[i][g] * step / (1 - s.pooled)
		}
	}
	if s.total != nil {
		for g, n := range s.n {
			if n > 0 {
				s.spread(g, mine, step, pooled, allRisk)
			}
		}
	}
	s.pooled = pooled
}

// spread adds what the closures of one group, at one time, add to the variance of
// the scores. Closures at the same time are drawn without putting back.
func (s *graySum) spread(g int, mine, step, pooled, allRisk float64) {
	n, was, share, lean := s.n[g], s.was[g], s.share, 1.0
	if s.waiting[g] > 0 {
		lean = 1 - (1-pooled)/s.waiting[g]
	}
	if mine > 0 {
		w := was * step / n
		if mine > 1 {
			w *= 1 - (mine-1)/(allRisk*was-1)
		}
		s.square(w, func(i int) float64 { return share[i][g] + lean*(s.total[i][g]-s.sum[i][g]) })
	}
	if other := s.events[g].other; other > 0 && s.waiting[g] > 0 {
		w := was * was * other / (n * n)
		if other > 1 {
			w *= 1 - (other-1)/(n-1)
		}
		s.square(w, func(i int) float64 { return (1 - pooled) / s.waiting[g] * (s.total[i][g] - s.sum[i][g]) })
	}
}

// square adds w times the products of the values of each two groups.
func (s *graySum) square(w float64, of func(i int) float64) {
	for i := range s.variance {
		a := of(i)
		for j := range i + 1 {
			s.variance[i][j] += w * a * of(j)
		}
	}
}
