package water

import (
	"math"
	"slices"

	"example.org/rootward/rules"
)

// surface is the area in square metres of a closed line of unrolled points. A strip
// along a parallel has the area of its width times what lies between it and another
// parallel (Snyder, Map Projections, 1987, equation 3-12); along an edge it is
// summed by Gauss and Legendre's rule of three points.
func surface(points []Point) float64 {
	base := authalic(points[0].Latitude)
	sum := 0.0
	for i := range len(points) - 1 {
		a, b := points[i], points[i+1]
		middle, half := (a.Latitude+b.Latitude)/2, (b.Latitude-a.Latitude)/2
		out := half * math.Sqrt(3.0/5)
		height := 8*(authalic(middle)-base) + 5*(authalic(middle-out)-base) + 5*(authalic(middle+out)-base)
		sum += (b.Longitude - a.Longitude) * degree * height / 18
	}
	return math.Abs(sum)
}

// besideLake is how near a shore is to what it may have been cut along, in degrees:
// 3 m, as positions have five decimals or more (common practice, no source).
const besideLake = 3e-5

// isCut tells whether a shore goes along the edge of where all lakes are shown, or along
// another lake of the layer. It may have been cut there, and the lake be larger.
func (b *builder) isCut(lake *polygon) bool {
	if !b.isBeside(lake) {
		return false
	}
	for _, p := range lake.shore.points {
		covered := 0
		for _, to := range [...]Point{{besideLake, 0}, {-besideLake, 0}, {0, besideLake}, {0, -besideLake}} {
			at := normal(Point{max(-90, min(90, p.Latitude+to.Latitude)), p.Longitude + to.Longitude})
			shown, other := b.lakesAt(at, lake.shape)
			if other {
				return true
			}
			if shown {
				covered++
			}
		}
		if covered%4 != 0 {
			return true
		}
	}
	return false
}

// isBeside tells quickly of most lakes that no other edge is near.
func (b *builder) isBeside(lake *polygon) bool {
	b.found = b.near.within(normalBox(lake.shore.bounds.grown(besideLake, besideLake)), b.found[:0])
	return slices.ContainsFunc(b.found, func(i uint32) bool {
		s := b.edges[i].shape
		g := &b.groups[b.shapes[s].group]
		return g.lakes || s != lake.shape && g.class == rules.Lake
	})
}

// lakesAt tells whether any layer states that it shows all lakes at a point, and whether
// the point is in another lake of the same layer.
func (b *builder) lakesAt(at Point, lake uint32) (shown, other bool) {
	b.found = b.over.within(boxOf(at, at), b.found[:0])
	for _, i := range b.found {
		p := &b.polygons[i]
		switch g := b.shapes[p.shape].group; {
		case b.groups[g].lakes:
			shown = shown || p.surelyHolds(at)
		case g == b.shapes[lake].group && p.shape != lake:
			other = other || p.holds(at)
		}
	}
	return shown, other
}

// authalic is the area between the equator and a parallel, for each radian of
// longitude.
func authalic(latitude float64) float64 {
	e, sin := math.Sqrt(eccentricity), math.Sin(latitude*degree)
	return polar * polar / 2 * (sin/(1-eccentricity*sin*sin) + math.Atanh(e*sin)/e)
}
