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

// surfaceOf is the area in square metres of polygons that are sound.
func surfaceOf(polygons []polygon) float64 {
	sum := 0.0
	for i := range polygons {
		sum += surface(polygons[i].shore.points)
		for k := range polygons[i].holes {
			sum -= surface(polygons[i].holes[k].points)
		}
	}
	return max(0, sum)
}

// besideLake is how near a shore is to what it may have been cut along, in degrees:
// 3 m, as positions have five decimals or more (common practice, no source).
const besideLake = 3e-5

// isCut tells whether a shore goes along the edge of where a layer shows all lakes, or
// along another lake. It may have been cut there, and the lake be larger. What one layer
// covers is not added to what another does: where they abut lakes are cut, too.
func (b *builder) isCut(lake *polygon) bool {
	if !b.isBeside(lake) {
		return false
	}
	sides := [...]Point{{besideLake, 0}, {-besideLake, 0}, {0, besideLake}, {0, -besideLake}}
	some := func(shown uint8) bool { return shown != 0 && shown != 1<<len(sides)-1 }
	for _, p := range lake.shore.points {
		b.shown = append(b.shown[:0], make([]uint8, b.layer+1)...)
		for i, to := range sides {
			at := normal(Point{max(-90, min(90, p.Latitude+to.Latitude)), p.Longitude + to.Longitude})
			if b.isOtherLake(at, lake.shape, 1<<i) {
				return true
			}
		}
		if slices.ContainsFunc(b.shown, some) {
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

// isOtherLake tells whether a point is in another lake, and notes the side that it is at
// for the layers that state that they show all lakes there.
func (b *builder) isOtherLake(at Point, lake uint32, side uint8) (other bool) {
	b.found = b.over.within(boxOf(at, at), b.found[:0])
	for _, i := range b.found {
		p := &b.polygons[i]
		switch g := &b.groups[b.shapes[p.shape].group]; {
		case g.lakes && p.surelyHolds(at):
			b.shown[g.layer] |= side
		case g.class == rules.Lake && p.shape != lake:
			other = other || p.holds(at)
		}
	}
	return other
}

// authalic is the area between the equator and a parallel, for each radian of
// longitude.
func authalic(latitude float64) float64 {
	e, sin := math.Sqrt(eccentricity), math.Sin(latitude*degree)
	return polar * polar / 2 * (sin/(1-eccentricity*sin*sin) + math.Atanh(e*sin)/e)
}
