package inventory

import "math"

// The WGS 84 ellipsoid (defining constants as EPSG 7030 gives them, from memory).
const (
	equatorialRadius  = 6_378_137.0 // metres
	inverseFlattening = 298.257_223_563
)

var (
	flattening        = 1 / inverseFlattening
	eccentricity      = math.Sqrt(flattening * (2 - flattening))
	polarRadius       = equatorialRadius * (1 - flattening)
	polarRadiusHalved = polarRadius * polarRadius / 2
)

// area is what a ring encloses on the WGS 84 ellipsoid, in square metres,
// whichever way it is wound. Between two positions a ring runs straight in
// longitude and latitude, as RFC 7946 (3.1.1) says it does, and not along the
// shortest line.
//
// The area is the integral, along the ring, of the area between the ring's first
// parallel and the curve, taken edge by edge with the three-point rule of Gauss.
func (r ring) area() float64 {
	const radians = math.Pi / 180
	base := belt(r[0].lat * radians)
	sum := 0.0
	for i := range len(r) - 1 {
		a, b := r[i], r[i+1]
		middle, half := (a.lat+b.lat)/2*radians, (b.lat-a.lat)/2*radians
		const node = 0.774_596_669_241_483_4 // the square root of 3/5
		height := (5*belt(middle-node*half) + 8*belt(middle) + 5*belt(middle+node*half)) / 18
		sum += (b.lon - a.lon) * radians * (height - base)
	}
	return math.Abs(sum)
}

// belt is the area of the ellipsoid between the equator and a parallel, for each
// radian of longitude. (The integral of the radii of curvature in closed form,
// as textbooks on map projections give it for the authalic sphere; from memory.)
func belt(latitude float64) float64 {
	sin := math.Sin(latitude)
	e := eccentricity * sin
	return polarRadiusHalved * (sin/(1-e*e) + math.Atanh(e)/eccentricity)
}
