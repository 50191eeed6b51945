package water_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/rootward/server/water"
)

// geodesic is the distance in metres over the ellipsoid of WGS 84: the inverse
// formulae of Vincenty (Survey Review 23, 1975, number 176), right to 0.1 mm where
// the points do not lie opposite each other. It shares nothing with what it checks.
func geodesic(p, q water.Point) float64 {
	const a, f = 6378137.0, 1 / 298.257223563
	b := a * (1 - f)
	u1, u2 := math.Atan((1-f)*math.Tan(p.Latitude*math.Pi/180)), math.Atan((1-f)*math.Tan(q.Latitude*math.Pi/180))
	l := math.Remainder(q.Longitude-p.Longitude, 360) * math.Pi / 180
	sinU1, cosU1 := math.Sincos(u1)
	sinU2, cosU2 := math.Sincos(u2)
	var sinS, cosS, s, cosA2, cos2m float64
	for lambda, i := l, 0; i < 100; i++ {
		sinL, cosL := math.Sincos(lambda)
		sinS = math.Hypot(cosU2*sinL, cosU1*sinU2-sinU1*cosU2*cosL)
		if sinS == 0 {
			return 0
		}
		cosS = sinU1*sinU2 + cosU1*cosU2*cosL
		s = math.Atan2(sinS, cosS)
		sinA := cosU1 * cosU2 * sinL / sinS
		cosA2 = 1 - sinA*sinA
		cos2m = 0
		if cosA2 > 0 {
			cos2m = cosS - 2*sinU1*sinU2/cosA2
		}
		c := f / 16 * cosA2 * (4 + f*(4-3*cosA2))
		next := l + (1-c)*f*sinA*(s+c*sinS*(cos2m+c*cosS*(2*cos2m*cos2m-1)))
		if math.Abs(next-lambda) < 1e-15 {
			break
		}
		lambda = next
	}
	k := cosA2 * (a*a - b*b) / (b * b)
	bigA := 1 + k/16384*(4096+k*(-768+k*(320-175*k)))
	bigB := k / 1024 * (256 + k*(-128+k*(74-47*k)))
	delta := bigB * sinS * (cos2m + bigB/4*(cosS*(2*cos2m*cos2m-1)-bigB/6*cos2m*(4*sinS*sinS-3)*(4*cos2m*cos2m-3)))
	return b * bigA * (s - delta)
}

// The yardstick itself: Flinders Peak to Buninyong, and a metre at the equator.
func TestGeodesic(t *testing.T) {
	// Geocentric Datum of Australia technical manual, version 2.4, section 4.1: the
	// ellipsoid is GRS 80, which differs from WGS 84 by 0.1 mm in its polar radius.
	flinders := water.Point{Latitude: -(37 + 57/60.0 + 3.72030/3600), Longitude: 144 + 25/60.0 + 29.52440/3600}
	buninyong := water.Point{Latitude: -(37 + 39/60.0 + 10.15610/3600), Longitude: 143 + 55/60.0 + 35.38390/3600}
	assert.InDelta(t, 54972.271, geodesic(flinders, buninyong), 0.001)
	assert.InDelta(t, 1, geodesic(water.Point{}, water.Point{Longitude: 180 / math.Pi / 6378137}), 1e-9)
}

// nearest is the distance from a point to a line that is straight in longitude and
// latitude. The line is looked at in so many pieces, then ever closer about the best.
func nearest(p, a, b water.Point) float64 {
	at := func(s float64) float64 {
		return geodesic(p, water.Point{Latitude: a.Latitude + s*(b.Latitude-a.Latitude), Longitude: a.Longitude + s*(b.Longitude-a.Longitude)})
	}
	low, high, where, best := 0.0, 1.0, 0.0, math.Inf(1)
	for range 12 {
		const pieces = 64
		step := (high - low) / pieces
		for i := range pieces + 1 {
			if d := at(low + float64(i)*step); d < best {
				best, where = d, low+float64(i)*step
			}
		}
		low, high = max(0, where-step), min(1, where+step)
	}
	return best
}
