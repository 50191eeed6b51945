package water

import "math"

// The ellipsoid of WGS 84 (NGA.STND.0036, table 3.1): its equatorial radius in
// metres and its flattening.
const (
	equatorial = 6_378_137.0
	flattening = 1 / 298.257223563

	polar        = equatorial * (1 - flattening)
	eccentricity = flattening * (2 - flattening) // its square

	// tightest and flattest are the radii of curvature of a meridian at the equator
	// and at the poles, the least and the greatest there are.
	tightest = equatorial * (1 - eccentricity)
	flattest = equatorial * equatorial / polar
)

// vector is a position, or a way, in metres from the centre of the earth: the axes of
// latitude 0 longitude 0, of latitude 0 longitude 90, and of the north pole. Straight
// lines between such positions need no care at the poles or at longitude 180, and are
// never longer than the way over the ground.
type vector struct{ x, y, z float64 }

func (a vector) minus(b vector) vector { return vector{a.x - b.x, a.y - b.y, a.z - b.z} }
func (a vector) plus(b vector, s float64) vector {
	return vector{a.x + s*b.x, a.y + s*b.y, a.z + s*b.z}
}
func (a vector) dot(b vector) float64 { return a.x*b.x + a.y*b.y + a.z*b.z }
func (a vector) length() float64      { return math.Sqrt(a.dot(a)) }

const degree = math.Pi / 180

// place is where a point is, on the ellipsoid itself.
func place(p Point) vector {
	sinLat, cosLat := math.Sincos(p.Latitude * degree)
	sinLon, cosLon := math.Sincos(p.Longitude * degree)
	n := equatorial / math.Sqrt(1-eccentricity*sinLat*sinLat)
	return vector{n * cosLat * cosLon, n * cosLat * sinLon, n * (1 - eccentricity) * sinLat}
}

// pointAt is the point of a place, with the longitude that it was made with even at a
// pole and at 180: no cosine of a number of 53 bits is so near zero that it is lost,
// and none of two such longitudes has the other's sign.
func pointAt(v vector) Point {
	p := math.Hypot(v.x, v.y)
	return Point{math.Atan2(v.z, (1-eccentricity)*p) / degree, math.Atan2(v.y, v.x) / degree}
}

// sagitta bounds how far the line between two points, straight in latitude and
// longitude as RFC 7946 section 3.1.1 has it, strays from the straight way between
// their places. A curve strays at most an eighth of its greatest second derivative,
// which is here made of three: along the meridian, along the parallel, and across.
// Each half of the line strays at most a quarter as far.
func sagitta(a, b Point) float64 {
	lat, lon := math.Abs(b.Latitude-a.Latitude)*degree, math.Abs(b.Longitude-a.Longitude)*degree
	high := min(90, max(math.Abs(a.Latitude), math.Abs(b.Latitude)))
	low := min(math.Abs(a.Latitude), math.Abs(b.Latitude))
	if a.Latitude*b.Latitude < 0 {
		low = 0
	}
	along := flattest * (1 + 3*eccentricity) // curvature, and its change with latitude
	across := flattest * math.Sin(high*degree)
	parallel := flattest * math.Cos(low*degree)
	return (along*lat*lat + 2*across*lat*lon + parallel*lon*lon) / 8
}

// around is half the height and half the width, in degrees, of a box round a point
// that holds all that is within reach of it. The way to anything within reach stays
// between two latitudes; no meridian is bent tighter than at the equator, and no
// parallel on the way is shorter than the one nearest a pole. Past a pole the box is
// all round it.
func around(latitude, reach float64) (lat, lon float64) {
	const margin = 1 + 1e-9 // far beyond all rounding
	lat = margin*reach/tightest/degree + 1e-9
	highest := math.Abs(latitude) + lat
	if highest >= 89.999_999 {
		return lat, 360
	}
	return lat, min(360, margin*reach/(equatorial*math.Cos(highest*degree))/degree+1e-9)
}

// between is the point midway on the line between two.
func between(a, b Point) Point {
	return Point{(a.Latitude + b.Latitude) / 2, a.Longitude + step(a, b)/2}
}

// fromLine is the distance of a place from the straight way between two others.
func fromLine(p, a, b vector) float64 {
	way, to := b.minus(a), p.minus(a)
	along := to.dot(way)
	if along <= 0 {
		return to.length()
	}
	if whole := way.dot(way); along < whole {
		return to.plus(way, -along/whole).length()
	}
	return p.minus(b).length()
}

// apart is the distance between two straight ways. It is between an end of one and
// the other, unless they pass each other nearest somewhere between their ends.
func apart(a, b, c, d vector) float64 {
	nearest := min(fromLine(a, c, d), fromLine(b, c, d), fromLine(c, a, b), fromLine(d, a, b))
	u, v, w := b.minus(a), d.minus(c), a.minus(c)
	uu, uv, vv, uw, vw := u.dot(u), u.dot(v), v.dot(v), u.dot(w), v.dot(w)
	if det := uu*vv - uv*uv; det > 0 {
		s, t := (uv*vw-vv*uw)/det, (uu*vw-uv*uw)/det
		if s > 0 && s < 1 && t > 0 && t < 1 {
			nearest = min(nearest, w.plus(u, s).plus(v, -t).length())
		}
	}
	return nearest
}
