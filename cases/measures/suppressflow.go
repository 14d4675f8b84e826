package measures

import "container/heap"

// carried is the flow pushed through a grid besides one cell, on top of its counts.
type carried struct {
	g     *grid
	skip  int
	extra []int // change of each cell
	used  map[int]int
}

func (g *grid) flow(skip int) *carried {
	return &carried{g: g, skip: skip, extra: make([]int, len(g.edges)), used: map[int]int{}}
}

// push sends up to want from one point to another through hidden cells, and says
// how much went. With open, cells that are shown may carry as well: the cheapest
// ways are taken and the cells on them listed in used.
func (f *carried) push(from, to, want int, open bool) int {
	sent := 0
	for sent < want {
		way := f.way(from, to, open)
		if way == nil {
			break
		}
		n := want - sent
		for _, h := range way {
			if !h.forward {
				n = min(n, f.g.edges[h.edge].n+f.extra[h.edge])
			}
		}
		for _, h := range way {
			if h.forward {
				f.extra[h.edge] += n
			} else {
				f.extra[h.edge] -= n
			}
			if !f.g.edges[h.edge].hidden {
				f.used[h.edge] = h.edge
			}
		}
		sent += n
	}
	return sent
}

// way finds the cheapest way with room, nil without one.
func (f *carried) way(from, to int, open bool) []half {
	const far = boundless
	dist, by := make([]int, len(f.g.out)), make([]half, len(f.g.out))
	for i := range dist {
		dist[i] = far
	}
	dist[from] = 0
	q := queue{{0, from}}
	for len(q) > 0 {
		at := heap.Pop(&q).(reach)
		if at.cost > dist[at.point] {
			continue
		}
		if at.point == to {
			break
		}
		for _, h := range f.g.out[at.point] {
			x := &f.g.edges[h.edge]
			_, paid := f.used[h.edge]
			switch {
			case h.edge == f.skip, !x.hidden && !open, !h.forward && x.n+f.extra[h.edge] <= 0:
				continue
			}
			next, cost := x.to, at.cost
			if !h.forward {
				next = x.from
			}
			if !x.hidden && !paid {
				cost += x.cost
			}
			if cost < dist[next] {
				dist[next], by[next] = cost, h
				heap.Push(&q, reach{cost, next})
			}
		}
	}
	if dist[to] == far {
		return nil
	}
	var way []half
	for at := to; at != from; {
		h := by[at]
		way = append(way, h)
		if x := &f.g.edges[h.edge]; h.forward {
			at = x.from
		} else {
			at = x.to
		}
	}
	return way
}

type reach struct{ cost, point int }

type queue []reach

func (q queue) Len() int { return len(q) }
func (q queue) Less(i, j int) bool {
	return q[i].cost < q[j].cost || q[i].cost == q[j].cost && q[i].point < q[j].point
}
func (q queue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)   { *q = append(*q, x.(reach)) }
func (q *queue) Pop() any {
	old := *q
	x := old[len(old)-1]
	*q = old[:len(old)-1]
	return x
}
