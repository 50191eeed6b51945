package water

import (
	"math"
	"slices"
)

// What is looked at before a lake is taken for unsound: each ring is held against each, and
// edges against those near them.
const (
	mostRings   = 1_000 // parts, or holes of one
	mostPerEdge = 50    // of edges, on average
)

// areSound tells whether the polygons of a feature are drawn so that what they enclose is
// the areas of their shores less those of their holes: no ring meets itself or another,
// each hole lies in its shore, and neither holes nor polygons in each other. Of more rings
// than can be looked at, or too many edges beside each other, that is not known.
func areSound(polygons []polygon) bool {
	if len(polygons) > mostRings {
		return false
	}
	var s sides
	for i := range polygons {
		p := &polygons[i]
		if !p.isNested() {
			return false
		}
		for k := range polygons {
			if k != i && p.shore.liesIn(polygons[k].holds) {
				return false
			}
		}
		s.add(&p.shore, 0)
		for k := range p.holes {
			shift := math.Round((p.shore.bounds.low.Longitude - p.holes[k].bounds.low.Longitude) / 360)
			s.add(&p.holes[k], 360*shift)
		}
	}
	return !s.meet()
}

// isNested tells whether each hole lies in the shore, and in no other hole.
func (p *polygon) isNested() bool {
	if len(p.holes) > mostRings {
		return false
	}
	for i := range p.holes {
		hole := &p.holes[i]
		if !hole.liesIn(p.shore.holds) {
			return false
		}
		for k := range p.holes {
			if k != i && hole.liesIn(p.holes[k].holds) {
				return false
			}
		}
	}
	return true
}

// liesIn tells whether all points of a ring are held.
func (r *ring) liesIn(holds func(Point) bool) bool {
	return !slices.ContainsFunc(r.points, func(at Point) bool { return !holds(normal(at)) })
}

// sides are the edges of some rings.
type sides struct {
	list  []side
	rings int
}

// side is an edge, by its place in its ring of so many.
type side struct {
	a, b          Point
	ring, at, all int
}

// add adds a ring, so many degrees farther east. Points that are given twice are one.
func (s *sides) add(r *ring, shift float64) {
	points := slices.Compact(slices.Clone(r.points))
	for i := range points {
		points[i].Longitude += shift
	}
	all := len(points) - 1
	for i := range all {
		s.list = append(s.list, side{points[i], points[i+1], s.rings, i, all})
	}
	s.rings++
}

// meet tells whether two edges meet that do not follow each other in a ring, or may, where
// too many lie beside each other.
func (s *sides) meet() bool {
	tiles := make([]tile, len(s.list))
	for i := range s.list {
		tiles[i] = boxOf(s.list[i].a, s.list[i].b).grown(touching, touching).tile()
	}
	t := newTree(tiles)
	var found []uint32
	left := mostPerEdge * len(s.list)
	for i := range s.list {
		e := &s.list[i]
		found = t.search(tiles[i], found[:0])
		if left -= len(found); left < 0 || slices.ContainsFunc(found, func(k uint32) bool { return int(k) > i && !e.follows(&s.list[k]) && e.meets(&s.list[k]) }) {
			return true
		}
	}
	return false
}

// follows tells whether two edges of a ring have an end in common.
func (e *side) follows(o *side) bool {
	d := o.at - e.at
	return e.ring == o.ring && (d == 1 || d == -1 || d == e.all-1 || d == 1-e.all)
}

// touching is how near each other edges meet, in degrees: 0.1 mm, more than sums of
// longitudes are rounded by.
const touching = 1e-9

func (e *side) meets(o *side) bool {
	return e.parts(o.a, o.b) && o.parts(e.a, e.b) || e.isNear(o.a) || e.isNear(o.b) || o.isNear(e.a) || o.isNear(e.b)
}

// parts tells whether two points are on two sides of the line that an edge is of.
func (e *side) parts(p, q Point) bool { return (e.turn(p) > 0) != (e.turn(q) > 0) }

// turn is above zero for points to the left of an edge.
func (e *side) turn(p Point) float64 {
	return (e.b.Longitude-e.a.Longitude)*(p.Latitude-e.a.Latitude) - (e.b.Latitude-e.a.Latitude)*(p.Longitude-e.a.Longitude)
}

func (e *side) isNear(p Point) bool {
	x, y := e.b.Longitude-e.a.Longitude, e.b.Latitude-e.a.Latitude
	along := (x*(p.Longitude-e.a.Longitude) + y*(p.Latitude-e.a.Latitude)) / (x*x + y*y)
	along = max(0, min(1, along))
	return math.Hypot(p.Longitude-e.a.Longitude-along*x, p.Latitude-e.a.Latitude-along*y) <= touching
}
