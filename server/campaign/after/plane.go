package after

import (
	"cmp"
	"math"
	"slices"
)

// Half axis in metres and squared eccentricity of the WGS 84 ellipsoid (NGA.STND.0036:
// a = 6,378,137 m, 1/f = 298.257223563).
const (
	halfAxis     = 6_378_137.0
	eccentricity = 6.69437999014e-3
)

// plane gives metres east and north of an origin.
type plane struct {
	origin      Position
	east, north float64 // metres per degree
	extent      float64 // of what it was made for, in metres from its origin
}

// planeRound touches the ellipsoid in the middle of the box round the grounds.
func planeRound(grounds []Ground) *plane {
	var all []Position
	for i := range grounds {
		if g := &grounds[i]; len(g.Outline) > 0 {
			all = append(all, slices.Concat(slices.Concat(g.Outline...)...)...)
		} else {
			all = append(all, *g.At)
		}
	}
	// Longitudes are counted from the least position, so that a site over longitude 180
	// stays together, and the order makes no difference.
	first := slices.MinFunc(all, func(a, b Position) int {
		return cmp.Or(cmp.Compare(a.Latitude, b.Latitude), cmp.Compare(a.Longitude, b.Longitude))
	})
	west, east, south, north := 0.0, 0.0, first.Latitude, first.Latitude
	for _, at := range all {
		d := math.Remainder(at.Longitude-first.Longitude, 360)
		west, east = min(west, d), max(east, d)
		south, north = min(south, at.Latitude), max(north, at.Latitude)
	}
	p := planeAt(Position{(south + north) / 2, first.Longitude + (west+east)/2})
	for _, at := range all {
		flat := p.exact(at)
		p.extent = max(p.extent, math.Hypot(flat.x, flat.y))
	}
	return p
}

func planeAt(origin Position) *plane {
	sin, cos := math.Sincos(origin.Latitude * math.Pi / 180)
	w := 1 - eccentricity*sin*sin
	return &plane{
		origin: origin,
		east:   math.Pi / 180 * halfAxis * cos / math.Sqrt(w),
		north:  math.Pi / 180 * halfAxis * (1 - eccentricity) / (w * math.Sqrt(w)),
	}
}

// grain is what positions in the plane are rounded to, in metres: about a millimetre, and
// a power of two, so that stems all but in one place are in one place, and differences
// are exact.
const grain = 1.0 / 1024

// to gives the place of a position, to the grain.
func (p *plane) to(at Position) point {
	flat := p.exact(at)
	return point{math.Round(flat.x/grain) * grain, math.Round(flat.y/grain) * grain}
}

func (p *plane) exact(at Position) point {
	return point{math.Remainder(at.Longitude-p.origin.Longitude, 360) * p.east, (at.Latitude - p.origin.Latitude) * p.north}
}

// from gives the position of a point, to a hundred-millionth of a degree (1 mm).
func (p *plane) from(at point) Position {
	const places = 1e8
	lon := math.Remainder(p.origin.Longitude+at.x/p.east, 360)
	return Position{math.Round((p.origin.Latitude+at.y/p.north)*places) / places, math.Round(lon*places) / places}
}

// stretch bounds by what part a length at the edge of the plane differs from that on
// the ground: parallels shrink with the tangent of the latitude, meridians hardly.
func (p *plane) stretch() float64 {
	return p.extent / 6_300_000 * (math.Abs(math.Tan(p.origin.Latitude*math.Pi/180)) + 0.02) * 1.1
}
