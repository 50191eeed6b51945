package api

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"
)

// position is where a row says it lies.
type position struct {
	at             water.Point
	uncertainty    quantity.Micrometres
	outline        [][]water.Ring // the parts of a patch: the edge, then the holes
	known          bool           // at is
	hasUncertainty bool
}

// uncertainty is rounded up: the true position may then lie farther off. No position is
// exact: 0 would take away the margin of every buffer.
var uncertainty = scaled("coordinate_uncertainty_m", float64(quantity.Metre)).upTo(maxDistance)

// readPosition reads where a Stem message lies.
func (r *row) readPosition(p *treatmentv1.Stem) {
	r.setPoint(p.LatitudeDeg, p.LongitudeDeg)
	n, stated := r.real("", uncertainty, p.CoordinateUncertaintyM)
	r.position.uncertainty, r.position.hasUncertainty = quantity.Micrometres(n), stated
	r.setOutline(p.GetOutline())
}

// readPositionColumns reads where a row of a chunk lies.
func (r *row) readPositionColumns(k *chunkRows, i int) {
	r.position.known, r.position.outline = false, nil
	if la, lo := k.LatitudeDeg, k.LongitudeDeg; i < len(la) && i < len(lo) && isOnEarth(la[i], lo[i]) {
		r.position.known, r.position.at = true, water.Point{Latitude: la[i], Longitude: lo[i]}
	} else if len(la) > 0 || len(lo) > 0 {
		r.setPoint(degreesAt(la, i), degreesAt(lo, i))
	}
	n, stated := r.stated(uncertainty, &k.uncertainty, i)
	r.position.uncertainty, r.position.hasUncertainty = quantity.Micrometres(n), stated
	if list := k.Outlines; len(list) > 0 {
		at, found := slices.BinarySearchFunc(list, i, func(o *treatmentv1.RowOutline, i int) int { return cmp.Compare(int(o.GetIndex()), i) })
		if found {
			r.setOutline(list[at].GetRings())
		}
	}
}

// passOverPositions leaves out where the rows lie, if there is nothing wrong with it in any.
func (k *chunkRows) passOverPositions() {
	k.placed = len(k.Outlines) > 0 || !k.uncertainty.sound || !areSound(k.LatitudeDeg, k.LongitudeDeg)
}

// areSound reports whether each position is on the earth, or not known. It compares bits,
// since those of a number are in the order of its size; only where one is beyond is each
// looked at.
func areSound(latitudes, longitudes []float64) bool {
	if len(latitudes) != len(longitudes) {
		return false
	}
	const size = math.MaxInt64 // of a number, without its sign
	north, east := int64(math.Float64bits(90)), int64(math.Float64bits(180))
	var beyond int64
	for i, at := range latitudes {
		beyond |= (north - int64(math.Float64bits(at)&size)) | (east - int64(math.Float64bits(longitudes[i])&size))
	}
	if beyond >= 0 {
		return true
	}
	for i, at := range latitudes {
		if !isOnEarth(at, longitudes[i]) && !(math.IsNaN(at) && math.IsNaN(longitudes[i])) {
			return false
		}
	}
	return true
}

// degreesAt gives a value of a column of degrees, nil where it is not known.
func degreesAt(column []float64, i int) *float64 {
	if len(column) == 0 || math.IsNaN(column[i]) {
		return nil
	}
	return &column[i]
}

func (r *row) setPoint(latitude, longitude *float64) {
	switch {
	case latitude == nil && longitude == nil:
	case latitude != nil && longitude != nil && isOnEarth(*latitude, *longitude):
		r.position.known, r.position.at = true, water.Point{Latitude: *latitude, Longitude: *longitude}
	default:
		r.unless((latitude == nil) == (longitude == nil), "latitude_deg", "and longitude_deg belong together: state both, or neither")
		r.between("latitude_deg", latitude, -90, 90, "degrees")
		r.between("longitude_deg", longitude, -180, 180, "degrees")
	}
}

// isOnEarth is false for what is not a number.
func isOnEarth(latitude, longitude float64) bool {
	return latitude >= -90 && latitude <= 90 && longitude >= -180 && longitude <= 180
}

// setOutline reads the edge of a patch. A row with an outline lies there, also where
// it states no point.
func (r *row) setOutline(rings []*treatmentv1.Ring) {
	r.position.outline = r.parts("outline", rings)
	if len(r.position.outline) > 0 && !r.position.known {
		r.position.known, r.position.at = true, r.position.outline[0][0][0]
	}
}

// parts reads the parts of a patch, each its edge and then its holes, and gives none if
// anything is wrong with them.
func (f *faults) parts(field string, list []*treatmentv1.Ring) [][]water.Ring {
	before := len(f.list)
	var parts [][]water.Ring
	for i, p := range list {
		path := fmt.Sprintf("%s[%d].", field, i)
		ring := f.ring(path, p)
		switch last := len(parts) - 1; {
		case !p.GetHole():
			parts = append(parts, []water.Ring{ring})
		case last < 0:
			f.add(path+"hole", "is true, and no ring before it is one of ground: put the hole behind the ring that it is a hole in")
		default:
			parts[last] = append(parts[last], ring)
		}
	}
	if len(f.list) > before {
		return nil
	}
	return parts
}

// ring reads a closed line. It complains of the first position alone.
func (f *faults) ring(path string, p *treatmentv1.Ring) water.Ring {
	n := len(p.GetLatitudeDeg())
	f.unless(n == len(p.GetLongitudeDeg()), path+"longitude_deg", "has %d values, there are %d latitudes: give as many", len(p.GetLongitudeDeg()), n)
	f.unless(n >= 3, path+"latitude_deg", "has %d values: give at least 3, the corners of the patch", n)
	ring := make(water.Ring, min(n, len(p.GetLongitudeDeg())))
	for i := range ring {
		ring[i] = water.Point{Latitude: p.LatitudeDeg[i], Longitude: p.LongitudeDeg[i]}
		if !isOnEarth(ring[i].Latitude, ring[i].Longitude) {
			f.between(fmt.Sprintf("%slatitude_deg[%d]", path, i), &p.LatitudeDeg[i], -90, 90, "degrees")
			f.between(fmt.Sprintf("%slongitude_deg[%d]", path, i), &p.LongitudeDeg[i], -180, 180, "degrees")
			break
		}
	}
	return ring
}

// outlines checks that the outlines of a chunk name its rows in their order.
func (f *faults) outlines(list []*treatmentv1.RowOutline, rows int) {
	due := 0
	for i, o := range list {
		if at := int(o.GetIndex()); at < due || at >= rows {
			f.add(fmt.Sprintf("chunk.outlines[%d].index", i), "is %d, and %d to %d can be: give the outlines in the order of their rows, each once", at, due, rows-1)
			return
		}
		due = int(o.GetIndex()) + 1
	}
}
