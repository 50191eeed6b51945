package after

import (
	"cmp"
	"math"
	"slices"
)

// point is a place in the plane, in metres.
type point struct{ x, y float64 }

func (a point) minus(b point) point           { return point{a.x - b.x, a.y - b.y} }
func (a point) plus(b point, s float64) point { return point{a.x + s*b.x, a.y + s*b.y} }
func (a point) dot(b point) float64           { return a.x*b.x + a.y*b.y }
func (a point) cross(b point) float64         { return a.x*b.y - a.y*b.x }
func (a point) length() float64               { return math.Hypot(a.x, a.y) }
func at(centre point, r, angle float64) point {
	sin, cos := math.Sincos(angle)
	return point{centre.x + r*cos, centre.y + r*sin}
}

// capsule is all within a radius of a straight edge, or of a point: then its ends are
// the same.
type capsule struct {
	from, to point
	radius   float64
}

// newCapsule orders the ends, so that an edge is the same both ways.
func newCapsule(a, b point, r float64) capsule {
	if cmp.Or(cmp.Compare(a.x, b.x), cmp.Compare(a.y, b.y)) > 0 {
		a, b = b, a
	}
	return capsule{a, b, r}
}

// outwards is the way to a point from the edge in a capsule's middle.
func (c *capsule) outwards(p point) point {
	way, to := c.to.minus(c.from), p.minus(c.from)
	whole := way.dot(way)
	if whole == 0 {
		return to
	}
	s := min(1, max(0, to.dot(way)/whole))
	return p.minus(c.from.plus(way, s))
}

// side is a part of a capsule's border, with its inside on the left: an arc round a
// centre from one angle on, or a straight line. A place on it is told by a number from
// 0 to length: an angle or metres.
type side struct {
	centre point // of an arc; the start of a line
	radius float64
	start  float64 // angle at which an arc starts
	way    point   // of a line, one metre long; zero: an arc
	length float64
}

func (s *side) isArc() bool { return s.way == point{} }

func (s *side) at(t float64) point {
	if s.isArc() {
		return at(s.centre, s.radius, s.start+t)
	}
	return s.centre.plus(s.way, t)
}

// outwards is the way out at a place.
func (s *side) outwards(t float64) point {
	if s.isArc() {
		return s.at(t).minus(s.centre)
	}
	return point{s.way.y, -s.way.x}
}

// area is what a part of the border adds to the area inside, by Green's theorem.
func (s *side) area(t, u float64) float64 {
	a, b := s.at(t), s.at(u)
	if !s.isArc() {
		return a.cross(b) / 2
	}
	return (s.radius*s.radius*(u-t) + s.centre.cross(b.minus(a))) / 2
}

// sides is the border of a capsule.
func (c *capsule) sides() []side {
	way := c.to.minus(c.from)
	n := way.length()
	if n == 0 {
		return []side{{centre: c.from, radius: c.radius, length: 2 * math.Pi}}
	}
	way = point{way.x / n, way.y / n}
	right := point{way.y, -way.x}
	back := point{-way.x, -way.y}
	angle := math.Atan2(right.y, right.x)
	return []side{
		{centre: c.from.plus(right, c.radius), way: way, length: n},
		{centre: c.to, radius: c.radius, start: angle, length: math.Pi},
		{centre: c.to.plus(right, -c.radius), way: back, length: n},
		{centre: c.from, radius: c.radius, start: angle + math.Pi, length: math.Pi},
	}
}

// meets adds the places on a side where the border of a capsule crosses it, and those
// where it may touch it without crossing: between two places of the list, one is all
// inside the other, or outside, or along it.
func (s *side) meets(c *capsule, list []float64) []float64 {
	for _, o := range c.sides() {
		// Where the border turns from line to arc.
		list = append(list, s.beside(o.at(0)))
		switch {
		case s.isArc() && o.isArc():
			list = s.meetCircle(o.centre, o.radius, list)
		case s.isArc():
			for _, u := range chord(o.centre, o.way, s.centre, s.radius) {
				list = append(list, s.beside(o.at(u)))
			}
		case o.isArc():
			along := chord(s.centre, s.way, o.centre, o.radius)
			list = append(list, along[:]...)
		default:
			if d := s.way.cross(o.way); d != 0 {
				list = append(list, o.centre.minus(s.centre).cross(o.way)/d)
			}
		}
	}
	return list
}

// beside is the place on a side that lies abreast of a point.
func (s *side) beside(p point) float64 {
	to := p.minus(s.centre)
	if s.isArc() {
		return s.turn(math.Atan2(to.y, to.x))
	}
	return to.dot(s.way)
}

// near is how near two borders count as one, in metres: far below what anybody
// measures, and far above all rounding within a site.
const near = 1e-8

// meetCircle adds the places where an arc's circle crosses another, or may touch it.
func (s *side) meetCircle(centre point, r float64, list []float64) []float64 {
	way := centre.minus(s.centre)
	d := way.length()
	if d == 0 {
		return list
	}
	towards := math.Atan2(way.y, way.x)
	list = append(list, s.turn(towards), s.turn(towards+math.Pi))
	cos := (s.radius*s.radius - r*r + d*d) / (2 * s.radius * d)
	if math.Abs(cos) > 1 {
		return list
	}
	half := math.Acos(cos)
	return append(list, s.turn(towards-half), s.turn(towards+half))
}

// turn is how far an angle lies behind an arc's start.
func (s *side) turn(angle float64) float64 {
	t := math.Mod(angle-s.start, 2*math.Pi)
	if t < 0 {
		t += 2 * math.Pi
	}
	return t
}

// chord gives the places on a line at which it crosses a circle, and the one midway,
// nearest to its centre; that alone where they do not meet.
func chord(from, way, centre point, r float64) [3]float64 {
	to := centre.minus(from)
	along, off := to.dot(way), to.cross(way)
	half := math.Sqrt(max(0, r*r-off*off))
	return [3]float64{along - half, along, along + half}
}

// span is a part of a side.
type span struct{ from, to float64 }

// covered adds the parts of a side that lie within a capsule. Where their borders are
// the same, the earlier capsule has it, and none where they lie back to back.
func (s *side) covered(c *capsule, earlier bool, list []span, cuts []float64) ([]span, []float64) {
	cuts = append(s.meets(c, append(cuts[:0], 0, s.length)), 0)
	cuts = slices.DeleteFunc(cuts, func(t float64) bool { return t < 0 || t > s.length })
	slices.Sort(cuts)
	for i := range len(cuts) - 1 {
		if cuts[i] == cuts[i+1] {
			continue
		}
		middle := (cuts[i] + cuts[i+1]) / 2
		away := c.outwards(s.at(middle))
		out := away.length() - c.radius
		if out < -near || out <= near && (earlier || away.dot(s.outwards(middle)) < 0) {
			list = append(list, span{cuts[i], cuts[i+1]})
		}
	}
	return list, cuts
}

// rest gives what a list of parts leaves of a length. What is shorter than any rounding
// is nothing.
func rest(parts []span, length float64) []span {
	slices.SortFunc(parts, func(a, b span) int { return cmp.Compare(a.from, b.from) })
	var left []span
	done := 0.0
	for _, p := range append(parts, span{length, length}) {
		if p.from-done > 1e-11 {
			left = append(left, span{done, p.from})
		}
		done = max(done, p.to)
	}
	return left
}
