package after

import "math"

// figure is what is merged: capsules, and patches, which are whatever lies in an odd
// number of their rings. Each edge of a patch has its capsule, so the border of the
// whole is made of borders of capsules alone.
type figure struct {
	capsules []capsule
	patches  [][][]point
}

// piece is a part of the border of the merged figure.
type piece struct {
	side
	span
}

func (p *piece) first() point { return p.at(p.from) }
func (p *piece) last() point  { return p.at(p.to) }

// area is that of the merged figure in square metres: exact, but for rounding.
func (f *figure) area() float64 {
	sum := 0.0
	border := f.border()
	for i := range border {
		sum += border[i].area(border[i].from, border[i].to)
	}
	return sum
}

// border gives all parts of the border, the inside on their left.
func (f *figure) border() []piece {
	var list []piece
	var w weave
	beside := newGrid(f.capsules)
	var few, all []int
	for i := range f.capsules {
		few = beside.around(i, fewInCell, few[:0])
		all = all[:0]
		for _, s := range f.capsules[i].sides() {
			// Most sides of a dense stand are covered by a few of their many neighbours.
			if len(w.uncovered(f, &s, i, few)) == 0 {
				continue
			}
			if len(all) == 0 {
				all = beside.around(i, len(f.capsules), all)
			}
			for _, left := range w.uncovered(f, &s, i, all) {
				if !f.inPatch(s.at((left.from + left.to) / 2)) {
					list = append(list, piece{s, left})
				}
			}
		}
	}
	return list
}

// weave keeps memory from side to side.
type weave struct {
	parts []span
	cuts  []float64
}

// uncovered gives what others leave of a side.
func (w *weave) uncovered(f *figure, s *side, i int, others []int) []span {
	w.parts = w.parts[:0]
	for _, k := range others {
		w.parts, w.cuts = s.covered(&f.capsules[k], k < i, w.parts, w.cuts)
	}
	return rest(w.parts, s.length)
}

// fewInCell is how many neighbours of each cell are tried first.
const fewInCell = 8

// inPatch reports whether a point lies in a patch.
func (f *figure) inPatch(p point) bool {
	for _, rings := range f.patches {
		odd := false
		for _, ring := range rings {
			for i := range ring {
				a, b := ring[i], ring[(i+1)%len(ring)]
				if (a.y > p.y) != (b.y > p.y) && p.x < a.x+(p.y-a.y)/(b.y-a.y)*(b.x-a.x) {
					odd = !odd
				}
			}
		}
		if odd {
			return true
		}
	}
	return false
}

// grid finds the capsules that may meet one.
type grid struct {
	capsules []capsule
	side     float64
	cells    map[[2]int][]int
	seen     []int // by capsule: the last call that gave it
	calls    int
}

func newGrid(capsules []capsule) *grid {
	g := &grid{capsules: capsules, cells: map[[2]int][]int{}, seen: make([]int, len(capsules))}
	for i := range capsules {
		g.side = max(g.side, capsules[i].radius)
	}
	for i := range capsules {
		g.each(i, 0, func(cell [2]int) { g.cells[cell] = append(g.cells[cell], i) })
	}
	return g
}

// each gives the cells of the box round a capsule.
func (g *grid) each(i int, more float64, visit func([2]int)) {
	c := &g.capsules[i]
	r := c.radius + more
	x0, x1 := math.Floor((min(c.from.x, c.to.x)-r)/g.side), math.Floor((max(c.from.x, c.to.x)+r)/g.side)
	y0, y1 := math.Floor((min(c.from.y, c.to.y)-r)/g.side), math.Floor((max(c.from.y, c.to.y)+r)/g.side)
	for x := x0; x <= x1; x++ {
		for y := y0; y <= y1; y++ {
			visit([2]int{int(x), int(y)})
		}
	}
}

// around adds the other capsules that share a cell with one; of cells with more than so
// many some, of all parts of the cell.
func (g *grid) around(i, most int, list []int) []int {
	g.calls++
	g.each(i, 2*near, func(cell [2]int) {
		in := g.cells[cell]
		for n := 0; n < len(in); n += max(1, len(in)/most) {
			if k := in[n]; k != i && g.seen[k] != g.calls && g.touches(i, k) {
				g.seen[k] = g.calls
				list = append(list, k)
			}
		}
	})
	return list
}

// touches rules out what is too far off by its box.
func (g *grid) touches(i, k int) bool {
	a, b := &g.capsules[i], &g.capsules[k]
	r := a.radius + b.radius + 2*near
	return min(a.from.x, a.to.x)-r <= max(b.from.x, b.to.x) && min(b.from.x, b.to.x)-r <= max(a.from.x, a.to.x) &&
		min(a.from.y, a.to.y)-r <= max(b.from.y, b.to.y) && min(b.from.y, b.to.y)-r <= max(a.from.y, a.to.y)
}
