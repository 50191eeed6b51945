package water

import (
	"math"

	"github.com/tidwall/rtree"

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
	near     rtree.RTreeGN[float32, uint32] // edges, by their boxes in degrees
	over     rtree.RTreeGN[float32, uint32] // polygons, likewise
	// uncertainty is the greatest of all shapes.
	uncertainty float64
}

// edge is a point of a line and the edge from it to the next one in the index.
type edge struct {
	at    vector
	shape uint32
	// stray bounds how far the edge strays from the straight way between its ends; it
	// is rounded up. Where a line ends there is no edge.
	stray float32
}

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

// corners gives the box to a tree. Trees hold half the digits, so that more of them
// lie in a cache: a box is widened by what the rounding takes.
func (b box) corners() (low, high [2]float32) {
	return [2]float32{below(b.low.Longitude), below(b.low.Latitude)}, [2]float32{above(b.high.Longitude), above(b.high.Latitude)}
}

func below(v float64) float32 {
	f := float32(v)
	if float64(f) > v {
		f = math.Nextafter32(f, float32(math.Inf(-1)))
	}
	return f
}

func above(v float64) float32 { return -below(-v) }

// search visits what a tree holds in a box. What sticks out past longitude 180 is
// sought on the other side, too.
func search(tree *rtree.RTreeGN[float32, uint32], b box, visit func(low, high [2]float32, i uint32) bool) {
	low, high := b.corners()
	tree.Search(low, high, visit)
	if b.low.Longitude <= -180 && b.high.Longitude >= 180 {
		return
	}
	if b.low.Longitude < -180 {
		low, high := b.shifted(360).corners()
		tree.Search(low, high, visit)
	}
	if b.high.Longitude > 180 {
		low, high := b.shifted(-360).corners()
		tree.Search(low, high, visit)
	}
}
