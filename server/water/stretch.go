package water

// stretch is a line, straight in latitude and longitude, between two places. It may
// stray from the straight way between them, no farther than bounded. A point is one
// whose ends are the same place.
type stretch struct {
	a, b  vector
	stray float64
}

// What lines may stray from the straight way is taken off a distance, which may be too
// short by as much already. Lines that may stray farther than 0.3 mm, and than 4
// millionths of the distance, are looked at in halves.
const (
	leastStray  = 0.3e-3
	strayShared = 4e-6
)

// distance is a distance that is not longer than that between two lines. If that is
// no shorter than a limit, it is any from the limit on.
func (s *stretch) distance(o *stretch, limit float64) float64 {
	d := s.least(o)
	if settled(d, s.stray+o.stray, limit) {
		return d
	}
	return s.byHalves(o, limit)
}

func settled(d, stray, limit float64) bool {
	return d >= limit || stray <= leastStray || stray <= strayShared*d
}

// least bounds the distance between two lines by that between the straight ways.
func (s *stretch) least(o *stretch) float64 {
	if s.a == s.b {
		return fromLine(s.a, o.a, o.b) - s.stray - o.stray
	}
	return apart(s.a, s.b, o.a, o.b) - s.stray - o.stray
}

// byHalves measures to the halves of the line that may stray the more, the nearer
// first.
func (s *stretch) byHalves(o *stretch, limit float64) float64 {
	if s.stray > o.stray {
		return o.byHalves(s, limit)
	}
	near, far := o.halves()
	first, second := s.least(&near), s.least(&far)
	if second < first {
		first, second, near, far = second, first, far, near
	}
	if !settled(first, s.stray+near.stray, limit) {
		first = s.byHalves(&near, limit)
	}
	if limit = min(limit, first); !settled(second, s.stray+far.stray, limit) {
		second = s.byHalves(&far, limit)
	}
	return min(first, second)
}

// halves cuts a line at its middle in latitude and longitude.
func (s *stretch) halves() (stretch, stretch) {
	middle := place(between(pointAt(s.a), pointAt(s.b)))
	return stretch{s.a, middle, s.stray / 4}, stretch{middle, s.b, s.stray / 4}
}

// beyond tells of most lines whose straight way is farther from a place than a limit
// that it is, without a division or a root. The margin is far beyond all rounding.
func (s *stretch) beyond(p *vector, limit float64) bool {
	const margin = 1 - 1e-9
	to, way := p.minus(s.a), s.b.minus(s.a)
	along, far := to.dot(way), to.dot(to)*margin
	if along <= 0 {
		return far > limit*limit
	}
	whole := way.dot(way)
	if along < whole {
		return far*whole-along*along > limit*limit*whole
	}
	on := p.minus(s.b)
	return on.dot(on)*margin > limit*limit
}
