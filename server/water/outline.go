package water

import "slices"

// outline is the edge of the patch that is measured from.
type outline []part

// part is a ring of a patch.
type part struct {
	ring
	told, hole bool // it lies in another ring; once that is told
}

// maxOutline is how many positions the rings of a patch may have, because each is
// measured from (common practice, no source).
const maxOutline = 10_000

// newOutline reads the rings of a patch. It gives false if they have too many
// positions, or one goes round a pole, or has an edge longer than any in the index: of
// so large a patch nothing is known.
func newOutline(rings []Ring) (outline, bool) {
	o := make(outline, 0, len(rings))
	positions := 0
	for _, r := range rings {
		if positions += len(r); positions > maxOutline {
			return nil, false
		}
		if len(r) == 0 {
			continue
		}
		points, closed := unrolled(r)
		if !closed {
			return nil, false
		}
		for i := range len(points) - 1 {
			if sagitta(points[i], points[i+1]) > farStray {
				return nil, false
			}
		}
		o = append(o, part{ring: newRing(points)})
	}
	return o, len(o) > 0
}

// holds tells whether a point lies in the patch, or may: in an odd number of rings, or
// in several that overlap, of which none is a hole.
func (o outline) holds(at Point) bool {
	odd, overlap := false, false
	for i := range o {
		if o[i].holds(at) {
			odd, overlap = !odd, true
		}
	}
	if odd || !overlap {
		return odd
	}
	for i := range o {
		if o[i].holds(at) && o.isHole(i) {
			return false
		}
	}
	return true
}

// isHole tells whether a ring lies in another.
func (o outline) isHole(i int) bool {
	for k := 0; k < len(o) && !o[i].told; k++ {
		outside := func(p Point) bool { return !o[k].surelyHolds(normal(p)) }
		o[i].hole = o[i].hole || k != i && !slices.ContainsFunc(o[i].points, outside)
	}
	o[i].told = true
	return o[i].hole
}

// fromOutline measures from a patch: from each of its edges, to the water that
// lies inside it, and to that which it lies inside of.
func (f *Finder) fromOutline(rings []Ring) bool {
	o, ok := newOutline(rings)
	if !ok {
		return false
	}
	f.outline, f.rings = o, len(o)
	for i := range o {
		f.ring = i + 1
		f.enterAt(normal(o[i].points[0]))
		for k := range len(o[i].points) - 1 {
			f.fromEdge(o[i].points[k], o[i].points[k+1])
		}
		f.hits = f.layers.near.within(normalBox(o[i].bounds), f.hits[:0])
		for _, first := range f.hits {
			f.encloses(first)
		}
	}
	return true
}

// fromEdge measures from an edge of a patch.
func (f *Finder) fromEdge(p, q Point) {
	f.from = stretch{place(p), place(q), sagitta(p, q)}
	half := f.from.b.minus(f.from.a).length() / 2
	f.middle, f.around = f.from.a.plus(f.from.b.minus(f.from.a), 0.5), half+f.from.stray+rounding
	b := boxOf(p, q)
	lat, lon := around(max(b.high.Latitude, -b.low.Latitude), f.look)
	f.meet(normalBox(b.grown(lat, lon)))
}

// encloses takes note of a run of which an edge starts inside the patch. An edge that
// reaches into it from outside crosses its edge.
func (f *Finder) encloses(first uint32) {
	e := f.layers.edges[first:]
	if !f.wanted[f.layers.shapes[e[0].shape].group] {
		return
	}
	for i := 0; e[i].stray != endOfRun; i++ {
		if f.outline.holds(pointAt(e[i].at)) {
			f.found(e[0].shape, 0)
			return
		}
	}
}

// normal brings a longitude that went on past 180 back.
func normal(p Point) Point {
	switch {
	case p.Longitude > 180:
		p.Longitude -= 360
	case p.Longitude < -180:
		p.Longitude += 360
	}
	return p
}

// normalBox brings a box back whose west is beyond longitude 180.
func normalBox(b box) box {
	switch {
	case b.low.Longitude > 180:
		return b.shifted(-360)
	case b.high.Longitude < -180:
		return b.shifted(360)
	}
	return b
}
