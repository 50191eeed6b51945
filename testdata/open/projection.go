package open

import "math"

// WGS 84: the semi-major axis in metres and the flattening that define it.
const (
	semiMajor  = 6378137.0
	flattening = 1 / 298.257223563
)

// point is a position in degrees.
type point struct{ latitude, longitude float64 }

// offset gives the point so many metres east and north of p, in a local
// equirectangular projection about p: one scale along its meridian and one
// along its parallel. Within 6 mm over 200 m at 43 degrees.
func (p point) offset(east, north float64) point {
	latitude := p.latitude * math.Pi / 180
	sine := math.Sin(latitude)
	squared := flattening * (2 - flattening) // of the eccentricity
	w := 1 - squared*sine*sine
	primeVertical := semiMajor / math.Sqrt(w)
	meridian := primeVertical * (1 - squared) / w
	return point{
		latitude:  p.latitude + north/meridian*180/math.Pi,
		longitude: p.longitude + east/(primeVertical*math.Cos(latitude))*180/math.Pi,
	}
}
