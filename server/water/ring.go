package water

import "math"

// ring is a closed line that tells whether a point lies in it. Its longitudes go on
// past 180 where it crosses that meridian. Its edges are sorted into bands of
// latitude, so that few are looked at.
type ring struct {
	points []Point // the last is the first
	bounds box
	start  []uint32 // of each band in edges, and of the end
	edges  []uint32 // by the point that they start at
}

// edgesPerBand is how many edges a band of a ring of many short edges holds, about
// (measured: from 4 to 16 make no difference).
const edgesPerBand = 8

// newRing sorts the edges of a closed line.
func newRing(points []Point) ring {
	r := ring{points: points, bounds: boxOf(points[0], points[0])}
	for _, p := range points {
		r.bounds = r.bounds.with(boxOf(p, p))
	}
	bands := max(1, (len(points)-1)/edgesPerBand)
	for r.entries(bands) > 4*len(points) && bands > 1 { // tall edges lie in many bands
		bands /= 2
	}
	r.sort(bands)
	return r
}

// span is the bands that an edge lies in.
func (r *ring) span(i, bands int) (first, last int) {
	b := boxOf(r.points[i], r.points[i+1])
	return r.band(b.low.Latitude, bands), r.band(b.high.Latitude, bands)
}

func (r *ring) band(latitude float64, bands int) int {
	height := r.bounds.high.Latitude - r.bounds.low.Latitude
	if height <= 0 {
		return 0
	}
	return min(bands-1, int((latitude-r.bounds.low.Latitude)/height*float64(bands)))
}

func (r *ring) entries(bands int) int {
	n := 0
	for i := range len(r.points) - 1 {
		first, last := r.span(i, bands)
		n += last - first + 1
	}
	return n
}

func (r *ring) sort(bands int) {
	r.start = make([]uint32, bands+1)
	for i := range len(r.points) - 1 {
		first, last := r.span(i, bands)
		for b := first; b <= last; b++ {
			r.start[b+1]++
		}
	}
	for b := range bands {
		r.start[b+1] += r.start[b]
	}
	r.edges = make([]uint32, r.start[bands])
	next := append([]uint32(nil), r.start[:bands]...)
	for i := range len(r.points) - 1 {
		first, last := r.span(i, bands)
		for b := first; b <= last; b++ {
			r.edges[next[b]] = uint32(i)
			next[b]++
		}
	}
}

// northmost is the latitude nearest the pole.
var northmost = math.Nextafter(90, 0)

// turns tells how often the ring goes round a point: how many more of the edges that the
// way from it along its parallel eastwards crosses lead north than south. A ring that
// crosses itself, which no standard allows, may go round a point twice; whoever asks
// takes that for what is safe. A ring has its western and southern edges, and not the
// others: at longitude 180 and at the north pole a point a little off is taken, or the
// very same one.
func (r *ring) turns(at Point) int {
	if at.Longitude == 180 {
		at.Longitude = -180
	}
	at.Latitude = min(at.Latitude, northmost)
	switch {
	case r.bounds.has(at):
	case r.bounds.shifted(-360).has(at):
		at.Longitude += 360
	case r.bounds.shifted(360).has(at):
		at.Longitude -= 360
	default:
		return 0
	}
	turns := 0
	band := r.band(at.Latitude, len(r.start)-1)
	for _, i := range r.edges[r.start[band]:r.start[band+1]] {
		a, b := r.points[i], r.points[i+1]
		switch {
		case !crosses(a, b, at):
		case a.Latitude < b.Latitude:
			turns++
		default:
			turns--
		}
	}
	return turns
}

// holds tells whether a point lies in the ring, or may.
func (r *ring) holds(at Point) bool { return r.turns(at) != 0 }

// surelyHolds tells whether a point lies in the ring, whatever is made of its crossing
// itself.
func (r *ring) surelyHolds(at Point) bool { return r.turns(at)%2 != 0 }

// crosses tells whether the way from a point eastwards crosses an edge. An edge has
// its lower end, and not its upper one.
func crosses(a, b, at Point) bool {
	if (a.Latitude > at.Latitude) == (b.Latitude > at.Latitude) {
		return false
	}
	return at.Longitude < a.Longitude+(at.Latitude-a.Latitude)/(b.Latitude-a.Latitude)*(b.Longitude-a.Longitude)
}

// step is the way in longitude from one point of a line to the next: the way that is
// written, but across longitude 180 where that is shorter. At a pole every longitude
// is one place, and the written way closes an area cut at longitude 180.
func step(a, b Point) float64 {
	d := b.Longitude - a.Longitude
	switch {
	case a.Latitude == b.Latitude && (a.Latitude == 90 || a.Latitude == -90):
	case d > 180:
		d -= 360
	case d < -180:
		d += 360
	}
	return d
}

// unrolled gives a ring whose longitudes go on past 180, and false if it goes round
// a pole and so does not close.
func unrolled(r Ring) ([]Point, bool) {
	points := make([]Point, 0, len(r)+1)
	points = append(points, r[0])
	for i := 1; i <= len(r); i++ {
		last, next := r[i-1], r[i%len(r)]
		points = append(points, Point{next.Latitude, points[i-1].Longitude + step(last, next)})
	}
	first, last := points[0], &points[len(points)-1]
	if d := last.Longitude - first.Longitude; d > 1 || d < -1 {
		return nil, false
	}
	*last = first // but for rounding
	return points, true
}
