package water

// outline is the parts of the patch that is measured from, which may overlap.
type outline []polygon

// maxOutline is how many positions the rings of a patch may have, because each is
// measured from (common practice, no source).
const maxOutline = 10_000

// newOutline reads the parts of a patch. It gives false if their rings have too many
// positions, or one goes round a pole, or has an edge longer than any in the index: of
// so large a patch nothing is known.
func newOutline(parts [][]Ring) (outline, bool) {
	o := make(outline, len(parts))
	positions := 0
	for i, rings := range parts {
		for k, r := range rings {
			if positions += len(r); positions > maxOutline || len(r) == 0 {
				return nil, false
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
			if k == 0 {
				o[i].shore = newRing(points)
			} else {
				o[i].holes = append(o[i].holes, newRing(points))
			}
		}
		if len(rings) == 0 {
			return nil, false
		}
	}
	return o, true
}

// fromOutline measures from a patch: from each of its edges, to the water that
// lies inside it, and to that which it lies inside of.
func (f *Finder) fromOutline(parts [][]Ring) bool {
	o, ok := newOutline(parts)
	if !ok {
		return false
	}
	f.ring = 0
	for i := range o {
		f.fromRing(&o[i].shore)
		for k := range o[i].holes {
			f.fromRing(&o[i].holes[k])
		}
		f.hits = f.layers.near.within(normalBox(o[i].shore.bounds), f.hits[:0])
		for _, first := range f.hits {
			f.encloses(&o[i], first)
		}
	}
	f.rings = f.ring
	return true
}

// fromRing measures from the edges of a ring.
func (f *Finder) fromRing(r *ring) {
	f.ring++
	f.enterAt(normal(r.points[0]))
	for k := range len(r.points) - 1 {
		f.fromEdge(r.points[k], r.points[k+1])
	}
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

// encloses takes note of a run of which an edge starts inside a part of the patch. An edge
// that reaches into it from outside crosses its edge.
func (f *Finder) encloses(part *polygon, first uint32) {
	e := f.layers.edges[first:]
	if !f.wanted[f.layers.shapes[e[0].shape].group] {
		return
	}
	for i := 0; e[i].stray != endOfRun; i++ {
		if part.holds(pointAt(e[i].at)) {
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
