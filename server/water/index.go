package water

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// index finds the edges round a point. All that is read becomes edges of shapes, and
// shapes are of groups, so that a query keeps one distance a group.
type index struct {
	edges    []edge
	shapes   []shape
	groups   []group
	polygons []polygon
	sources  []source
	near     tree // runs of edges, by the first in edges
	over     tree // polygons
	// uncertainty is the greatest of all shapes.
	uncertainty float64
}

// edge is a point of a line and the edge from it to the next one in the index. A line is
// cut into runs of few edges, that a query finds and looks at together. Runs lie in the
// index as they do in the tree, and each has its last point.
type edge struct {
	at    vector
	shape uint32 // the same in all of a run
	// stray bounds how far the edge strays from the straight way between its ends; it
	// is rounded up. From the last point of a run there is no edge, and this is endOfRun.
	stray float32
}

const (
	endOfRun = -1
	// edgesPerRun is how many edges a run has, at most (measured: 4 takes more memory and is no faster, 12 is slower).
	edgesPerRun = 8
)

// shape is a feature: water, or an area of which a layer shows all water.
type shape struct {
	group uint32
	state rules.WaterState
	noted bool // every one within reach matters, not the nearest alone
	// uncertainty is how far it may lie from where it is drawn, in metres, rounded up.
	uncertainty float32
	area        quantity.SquareMillimetres
}

// group is what one layer shows of a class from one origin, or one coverage.
type group struct {
	layer    int
	class    rules.WaterClass // none: a coverage
	origin   rules.DistanceOrigin
	coverage bool
	lakes    bool // the coverage is of lakes, too
}

// source is what one layer says of a class.
type source struct {
	layer     int
	class     rules.WaterClass
	origin    rules.DistanceOrigin // the one nearest the water among its lines; none if one's is not known
	features  int
	water     []uint32 // groups
	coverages []uint32
}

// polygon is water, or a coverage, with the islands in it.
type polygon struct {
	shape uint32
	shore ring
	holes []ring
}

// holds tells whether a point lies in a polygon of water, or may: one in two holes may
// be in a pond on an island.
func (p *polygon) holds(at Point) bool {
	if !p.shore.holds(at) {
		return false
	}
	holes := 0
	for i := range p.holes {
		if p.holes[i].surelyHolds(at) {
			holes++
		}
	}
	return holes%2 == 0
}

// surelyHolds tells whether a point lies in a polygon of a coverage.
func (p *polygon) surelyHolds(at Point) bool {
	if !p.shore.surelyHolds(at) {
		return false
	}
	for i := range p.holes {
		if p.holes[i].holds(at) {
			return false
		}
	}
	return true
}

// box is an area in degrees.
type box struct{ low, high Point }

func boxOf(a, b Point) box {
	return box{
		Point{min(a.Latitude, b.Latitude), min(a.Longitude, b.Longitude)},
		Point{max(a.Latitude, b.Latitude), max(a.Longitude, b.Longitude)},
	}
}

func (b box) with(o box) box {
	return box{
		Point{min(b.low.Latitude, o.low.Latitude), min(b.low.Longitude, o.low.Longitude)},
		Point{max(b.high.Latitude, o.high.Latitude), max(b.high.Longitude, o.high.Longitude)},
	}
}

func (b box) grown(lat, lon float64) box {
	return box{Point{b.low.Latitude - lat, b.low.Longitude - lon}, Point{b.high.Latitude + lat, b.high.Longitude + lon}}
}

func (b box) has(p Point) bool {
	return b.low.Latitude <= p.Latitude && p.Latitude <= b.high.Latitude &&
		b.low.Longitude <= p.Longitude && p.Longitude <= b.high.Longitude
}

func (b box) shifted(lon float64) box {
	b.low.Longitude += lon
	b.high.Longitude += lon
	return b
}
