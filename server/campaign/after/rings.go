package after

import (
	"cmp"
	"math"
	"slices"
)

// How the outline is drawn, in metres.
const (
	// rounder is how far an arc's outline may stray outwards from it.
	rounder = 0.01
	// spare widens the figure that is drawn, for the rounding of its positions.
	spare = 0.01
	// joint is how far apart the ends of two pieces that follow on each other may be:
	// where circles all but touch, what is left out between them is below it.
	joint = 0.01
	// leastGap is the area in square metres of the smallest gap that is drawn.
	leastGap = 1.0
)

// rings gives the outline of a figure as polygons that hold all of it, on the ground as
// in the plane.
func (p *plane) rings(f *figure) [][][]Position {
	wider := &figure{patches: f.patches, capsules: slices.Clone(f.capsules)}
	for i := range wider.capsules {
		c := &wider.capsules[i]
		c.radius = c.radius*(1+p.stretch()) + spare
	}
	all, whole := chain(wider.border())
	if !whole {
		return p.unmerged(wider)
	}
	var outer, gaps [][]point
	for _, ring := range all {
		switch size := shoelace(ring); {
		case size > 0:
			outer = append(outer, ring)
		case size < -leastGap:
			gaps = append(gaps, ring)
		}
	}
	polygons := make([][][]Position, len(outer))
	for i := range outer {
		polygons[i] = [][]Position{p.closed(outer[i])}
	}
	for _, gap := range gaps {
		if i := holder(outer, gap[0]); i >= 0 {
			polygons[i] = append(polygons[i], p.closed(gap))
		}
	}
	return polygons
}

// unmerged gives each stem's and patch's outline by itself, which holds the figure as
// well. No figure is known that needs it.
func (p *plane) unmerged(f *figure) [][][]Position {
	var polygons [][][]Position
	for i := range f.capsules {
		all, _ := chain((&figure{capsules: f.capsules[i : i+1]}).border())
		polygons = append(polygons, [][]Position{p.closed(all[0])})
	}
	for _, rings := range f.patches {
		for _, ring := range rings {
			if shoelace(ring) < 0 {
				ring = slices.Clone(ring)
				slices.Reverse(ring)
			}
			polygons = append(polygons, [][]Position{p.closed(ring)})
		}
	}
	return polygons
}

// holder is the smallest ring that holds a point; -1: none.
func holder(rings [][]point, at point) int {
	found := -1
	for i := range rings {
		one := figure{patches: [][][]point{{rings[i]}}}
		if one.inPatch(at) && (found < 0 || shoelace(rings[i]) < shoelace(rings[found])) {
			found = i
		}
	}
	return found
}

func (p *plane) closed(ring []point) []Position {
	list := make([]Position, 0, len(ring)+1)
	for _, at := range ring {
		list = append(list, p.from(at))
	}
	return append(list, list[0])
}

// shoelace is the area inside a ring, less than zero where it goes round clockwise.
func shoelace(ring []point) float64 {
	sum := 0.0
	for i := range ring {
		sum += ring[i].cross(ring[(i+1)%len(ring)]) / 2
	}
	return sum
}

// chain joins pieces of a border to rings: each is followed by the one that starts
// nearest to its end. It reports false if one does not close.
func chain(border []piece) (rings [][]point, whole bool) {
	starts := newStarts(border)
	whole = true
	for i := range border {
		if starts.used[i] {
			continue
		}
		var ring []point
		for k := i; ; {
			starts.used[k] = true
			ring = border[k].draw(ring)
			next := starts.nearest(border[k].last(), border[i].first())
			if next < 0 {
				whole = whole && border[k].last().minus(border[i].first()).length() <= joint
				break
			}
			k = next
		}
		if len(ring) > 2 {
			rings = append(rings, ring)
		}
	}
	return rings, whole
}

// starts finds pieces by their first points.
type starts struct {
	points []point
	order  []int // by x
	used   []bool
}

func newStarts(border []piece) *starts {
	s := &starts{points: make([]point, len(border)), order: make([]int, len(border)), used: make([]bool, len(border))}
	for i := range border {
		s.points[i], s.order[i] = border[i].first(), i
	}
	slices.SortFunc(s.order, func(a, b int) int { return cmp.Compare(s.points[a].x, s.points[b].x) })
	return s
}

// nearest is the unused piece that starts nearest to an end; -1: the ring's own start is
// nearer, or none is near.
func (s *starts) nearest(end, own point) int {
	found, least := -1, min(joint, own.minus(end).length())
	from, _ := slices.BinarySearchFunc(s.order, end.x-joint, func(i int, x float64) int { return cmp.Compare(s.points[i].x, x) })
	for _, i := range s.order[from:] {
		if s.points[i].x > end.x+joint {
			break
		}
		if d := s.points[i].minus(end).length(); !s.used[i] && d < least {
			found, least = i, d
		}
	}
	return found
}

// draw adds a piece but for its last point. An arc is drawn by lines that touch it from
// outside.
func (p *piece) draw(ring []point) []point {
	ring = append(ring, p.first())
	if !p.isArc() {
		return ring
	}
	long := p.to - p.from
	steps := math.Ceil(long / (2 * math.Acos(p.radius/(p.radius+rounder))))
	half := long / steps / 2
	for n := range int(steps) {
		ring = append(ring, at(p.centre, p.radius/math.Cos(half), p.start+p.from+half*float64(2*n+1)))
	}
	return ring
}
