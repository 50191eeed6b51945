package water

import (
	"math"
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// feature is what a reader gives: water, or a statement of coverage.
type feature struct {
	class  rules.WaterClass
	origin rules.DistanceOrigin
	state  rules.WaterState
	area   quantity.SquareMillimetres // zero: not stated
	covers rules.OneOf[rules.WaterClass]
	shape  geometry
	// uncertainty is how far its true place may lie from where it is drawn, in metres.
	uncertainty float64
}

// geometry is the positions of a feature. The rings of a polygon are closed: their
// first point is repeated at the end.
type geometry struct {
	points   []Point
	lines    [][]Point
	polygons [][]Ring // the shore, then the holes
}

// builder puts features into an index.
type builder struct {
	index
	layer int
	seams seams
	lakes []int   // polygons of those whose area was computed
	shown []uint8 // by layer: at which sides of a point it shows all lakes, a bit each
	open  bool    // the last point in edges is the end of the line that is being added
	end   Point   // and this is where it is
	runs  []run
	areas []tile   // of over
	found []uint32 // by the last query
}

// run is a run of edges before it is put where it lies in the index.
type run struct {
	box   tile
	first uint32
	edges uint32
}

// add puts one feature into the index, which is one that was checked.
func (b *builder) add(f *feature) {
	b.shapes = append(b.shapes, shape{group: b.group(f), state: f.state, uncertainty: above(f.uncertainty), area: f.area})
	b.uncertainty = max(b.uncertainty, float64(above(f.uncertainty)))
	b.open, b.seams = false, seamsOf(f)
	for _, p := range f.shape.points {
		b.edge(p, p)
		b.open = false
	}
	for _, line := range f.shape.lines {
		b.line(line)
	}
	for _, p := range f.shape.polygons {
		b.polygon(p)
	}
	if f.class == rules.Lake {
		b.measureLake(f)
	}
}

// measureLake works out the area of the lake that was added last, unless about as much is
// stated as is drawn, or more: a lake is no smaller than that. It is not known of one whose
// rings are not sound or whose edge is uncertain.
func (b *builder) measureLake(f *feature) {
	const figures = 1.01 // areas are worked out in other ways, too (common practice, no source)
	own := b.polygons[len(b.polygons)-len(f.shape.polygons):]
	drawn := quantity.SquareMetres(surfaceOf(own))
	lake := &b.shapes[len(b.shapes)-1]
	if f.area > 0 && float64(f.area)*figures >= float64(drawn) {
		lake.area = max(f.area, drawn)
		return
	}
	if lake.area = 0; f.uncertainty > 0 || !areSound(own) {
		return
	}
	lake.area = drawn
	for i := range own {
		b.lakes = append(b.lakes, len(b.polygons)-1-i)
	}
}

// group gives the group of a feature's shape.
func (b *builder) group(f *feature) uint32 {
	if !f.covers.Empty() {
		b.groups = append(b.groups, group{layer: b.layer, origin: f.origin, coverage: true, lakes: f.covers.Has(rules.Lake)})
		g := uint32(len(b.groups) - 1)
		for _, class := range f.covers.Values() {
			s := b.source(class)
			s.coverages = append(s.coverages, g)
		}
		return g
	}
	s := b.source(f.class)
	s.features++
	for _, g := range s.water {
		if b.groups[g].origin == f.origin {
			return g
		}
	}
	b.groups = append(b.groups, group{layer: b.layer, class: f.class, origin: f.origin})
	g := uint32(len(b.groups) - 1)
	s.water = append(s.water, g)
	return g
}

// source gives what the layer says of a class, to be added to.
func (b *builder) source(class rules.WaterClass) *source {
	i := slices.IndexFunc(b.sources, func(s source) bool { return s.layer == b.layer && s.class == class })
	if i < 0 {
		i = len(b.sources)
		b.sources = append(b.sources, source{layer: b.layer, class: class})
	}
	return &b.sources[i]
}

// line adds the edges of a line, cut where it crosses longitude 180.
func (b *builder) line(points []Point) {
	b.open = false
	for i := range len(points) - 1 {
		p, q := points[i], points[i+1]
		if b.seams.has(p, q) {
			b.open = false
			continue
		}
		d := step(p, q)
		if d == q.Longitude-p.Longitude {
			b.edge(p, q)
			continue
		}
		side := 180.0
		if d < 0 {
			side = -180
		}
		before, after := side-p.Longitude, q.Longitude+side // exact, unlike d
		lat := p.Latitude + (q.Latitude-p.Latitude)*(before/(before+after))
		b.edge(p, Point{lat, side})
		b.edge(Point{lat, -side}, q)
	}
	b.open = false
}

func (b *builder) polygon(rings []Ring) {
	p := polygon{shape: uint32(len(b.shapes) - 1)}
	for i, r := range rings {
		b.line(r)
		points, _ := unrolled(r[:len(r)-1])
		if i == 0 {
			p.shore = newRing(points)
		} else {
			p.holes = append(p.holes, newRing(points))
		}
	}
	b.polygons = append(b.polygons, p)
	for _, lon := range []float64{-360, 0, 360} {
		if bounds := p.shore.bounds.shifted(lon); bounds.high.Longitude >= -180 && bounds.low.Longitude <= 180 {
			b.areas = append(b.areas, bounds.tile())
			b.over.items = append(b.over.items, uint32(len(b.polygons)-1))
		}
	}
}

// seams are the edges along longitude 180 from one latitude to another at which a
// coverage goes on, or an island in it: it was cut there to be written. Each has the
// sides that have it, 1 the eastern and 2 the western, four times that of an island's.
type seams map[[2]float64]uint8

// seamsOf finds the seams of a coverage. Water needs none: from in it a seam is not
// looked at, and from outside it is never the nearest.
func seamsOf(f *feature) seams {
	if f.covers.Empty() {
		return nil
	}
	s := seams{}
	for _, p := range f.shape.polygons {
		for k, r := range p {
			s.of(r, k > 0)
		}
	}
	return s
}

// of notes the edges of a ring along longitude 180, by the side on which the ring lies.
func (s seams) of(r Ring, island bool) {
	points, _ := unrolled(r[:len(r)-1])
	bounds := newRing(points).bounds
	for i := range len(r) - 1 {
		a, b := r[i], r[i+1]
		if a.Longitude != b.Longitude || math.Abs(a.Longitude) != 180 {
			continue
		}
		const rounding = 1e-9
		var sides uint8
		switch at := points[i].Longitude; {
		case at > bounds.high.Longitude-rounding:
			sides = 1
		case at < bounds.low.Longitude+rounding:
			sides = 2
		default:
			sides = 16 // on both: this is no seam
		}
		if island {
			sides *= 4
		}
		s[latitudes(a, b)] |= sides
	}
}

func latitudes(a, b Point) [2]float64 {
	return [2]float64{min(a.Latitude, b.Latitude), max(a.Latitude, b.Latitude)}
}

// has tells whether an edge of a coverage is none in truth: a seam, or an edge along
// a pole, which is a place and has other edges if the coverage ends there.
func (s seams) has(a, b Point) bool {
	switch {
	case s == nil:
		return false
	case a.Longitude == b.Longitude && math.Abs(a.Longitude) == 180:
		sides := s[latitudes(a, b)]
		return sides == 3 || sides == 4*3
	}
	return a.Latitude == b.Latitude && math.Abs(a.Latitude) == 90
}

// farStray is how far an edge in the index may stray from the straight way, in
// metres. A longer one is split, as its box would lie over too much that is far from
// it: this is an edge of 23 km.
const farStray = 10

// pieces is how many pieces an edge is split into, at most.
func pieces(p, q Point) int {
	n := 1
	for stray := sagitta(p, q); stray > farStray; stray /= 4 {
		n *= 2
	}
	return n
}

// edge adds an edge that does not cross longitude 180.
func (b *builder) edge(p, q Point) {
	stray := sagitta(p, q)
	if stray > farStray {
		middle := between(p, q)
		b.edge(p, middle)
		b.edge(middle, q)
		return
	}
	shape := uint32(len(b.shapes) - 1)
	if b.open = b.open && b.end == p; !b.open {
		b.edges = append(b.edges, edge{at: place(p), shape: shape})
	}
	i := len(b.edges) - 1
	b.edges[i].stray = above(stray)
	b.edges = append(b.edges, edge{at: place(q), shape: shape})
	box := boxOf(p, q).tile()
	if last := len(b.runs) - 1; b.open && b.runs[last].edges < edgesPerRun {
		b.runs[last].box = b.runs[last].box.with(box)
		b.runs[last].edges++
	} else {
		b.runs = append(b.runs, run{box: box, first: uint32(i), edges: 1})
	}
	b.open, b.end = true, q
}

func below(v float64) float32 {
	f := float32(v)
	if float64(f) > v {
		f = math.Nextafter32(f, float32(math.Inf(-1)))
	}
	return f
}

func above(v float64) float32 { return -below(-v) }

// finish gives the index when all features are in it.
func (b *builder) finish() index {
	b.plant()
	b.shapes = slices.Clip(b.shapes)
	for i := range b.sources {
		b.sources[i].origin = b.originOf(&b.sources[i])
	}
	for _, i := range b.lakes {
		if p := &b.polygons[i]; b.isCut(p) {
			b.shapes[p.shape].area = 0
		}
	}
	var stated rules.OneOf[rules.WaterClass]
	for i := range b.shapes {
		if s := &b.shapes[i]; s.state != 0 {
			stated |= rules.AnyOf(b.groups[s.group].class)
		}
	}
	for i := range b.shapes {
		s := &b.shapes[i]
		class := b.groups[s.group].class
		s.noted = class == rules.Lake || stated.Has(class)
	}
	return b.index
}

// plant makes the trees, and puts the runs of edges where they lie in them.
func (b *builder) plant() {
	boxes, points := make([]tile, len(b.runs)), 0
	for i, r := range b.runs {
		boxes[i] = r.box
		points += int(r.edges) + 1
	}
	b.near = newTree(boxes)
	edges := make([]edge, 0, points)
	for i, k := range b.near.items {
		r := &b.runs[k]
		b.near.items[i] = uint32(len(edges))
		edges = append(edges, b.edges[r.first:r.first+r.edges+1]...)
		edges[len(edges)-1].stray = endOfRun
	}
	b.edges = edges
	polygons := b.over.items
	b.over = newTree(b.areas)
	for i, k := range b.over.items {
		b.over.items[i] = polygons[k]
	}
}

// originOf is the origin nearest the water among what a layer shows of a class: from
// there all of its lines are at least as far as they are. A coverage that shows none
// says itself what it would show.
func (b *builder) originOf(s *source) rules.DistanceOrigin {
	origin := rules.BankTop
	for _, g := range s.water {
		origin = min(origin, b.groups[g].origin)
	}
	for _, g := range s.coverages {
		if o := b.groups[g].origin; o != 0 || len(s.water) == 0 {
			origin = min(origin, o)
		}
	}
	return origin
}
