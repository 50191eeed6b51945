package after_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/campaign/after"
)

// T17: suckers may emerge 50 ft from a large parent (Rutgers Plant & Pest Advisory,
// tree-of-heaven timing). 50 ft are 15.24 m by the international foot.
const reach = 15.24

// apart is the straight way between two positions through the earth, by the textbook
// formulas of geocentric coordinates on WGS 84 (NGA.STND.0036): a reckoning apart from
// the plane that is tested. Over a site it is the way over the ground to a micrometre.
func apart(p, q after.Position) float64 {
	place := func(p after.Position) (x, y, z float64) {
		const a, f = 6378137.0, 1 / 298.257223563
		e := f * (2 - f)
		sin, cos := math.Sincos(p.Latitude * math.Pi / 180)
		n := a / math.Sqrt(1-e*sin*sin)
		sinL, cosL := math.Sincos(p.Longitude * math.Pi / 180)
		return n * cos * cosL, n * cos * sinL, n * (1 - e) * sin
	}
	px, py, pz := place(p)
	qx, qy, qz := place(q)
	return math.Sqrt((px-qx)*(px-qx) + (py-qy)*(py-qy) + (pz-qz)*(pz-qz))
}

// off gives a position so many metres east and north of another, by the radii of
// curvature there.
func off(p after.Position, east, north float64) after.Position {
	const a, e = 6378137.0, 6.69437999014e-3
	sin, cos := math.Sincos(p.Latitude * math.Pi / 180)
	w := math.Sqrt(1 - e*sin*sin)
	lon := p.Longitude + east/(a*cos/w)*180/math.Pi
	return after.Position{Latitude: p.Latitude + north/(a*(1-e)/(w*w*w))*180/math.Pi, Longitude: math.Remainder(lon, 360)}
}

var middle = after.Position{Latitude: 40.4, Longitude: -75.2}

func stems(list ...after.Position) []after.Ground {
	var grounds []after.Ground
	for i := range list {
		grounds = append(grounds, after.Ground{ID: fmt.Sprint(i), At: &list[i]})
	}
	return grounds
}

func squareMetres(grounds []after.Ground) float64 {
	a := after.InspectionArea(grounds, 0)
	return a.Size.SquareMetres()
}

// Closed forms: the disc; two discs less their lens, 2 r² acos(d/2r) - d/2 sqrt(4r²-d²)
// (plane geometry); a convex patch and all within r of it, A + P r + pi r² (Steiner's
// formula).
func TestAreaAgainstClosedForms(t *testing.T) {
	disc := math.Pi * reach * reach
	assert.InDelta(t, disc, squareMetres(stems(middle)), 1e-5)
	assert.InDelta(t, disc, squareMetres(stems(middle, middle, middle)), 1e-5, "the same three times")
	two := func(d float64) float64 {
		if d >= 2*reach {
			return 2 * disc
		}
		d = max(d, 0)
		return 2*disc - 2*reach*reach*math.Acos(d/(2*reach)) + d/2*math.Sqrt(4*reach*reach-d*d)
	}
	for _, d := range []float64{1e-9, 0.001, 0.5, 7, reach, 25, 2*reach - 0.01, 2*reach - 1e-4} {
		for _, other := range []after.Position{off(middle, d, 0), off(middle, 0, d), off(middle, d*0.6, -d*0.8)} {
			got := squareMetres(stems(middle, other))
			const rounded = 0.0015 // positions are taken to the millimetre
			assert.GreaterOrEqual(t, got, two(d-rounded)-1e-4, "d = %g", d)
			assert.LessOrEqual(t, got, two(d+rounded)+1e-4, "d = %g", d)
		}
	}
	for _, d := range []float64{2 * reach, 2*reach + 1e-7, 40, 4000} {
		assert.InDelta(t, 2*disc, squareMetres(stems(middle, off(middle, 0, d))), 1e-4, "d = %g", d)
	}
	corners := []after.Position{middle, off(middle, 60, 0), off(middle, 60, 25), off(middle, 0, 25)}
	steiner := 60*25 + 2*(60+25)*reach + disc
	patch := after.Ground{ID: "patch", Outline: [][][]after.Position{{corners}}}
	assert.InDelta(t, steiner, squareMetres([]after.Ground{patch}), 0.3)
	slices.Reverse(corners)
	patch.Outline = [][][]after.Position{{append(corners, corners[0])}}
	assert.InDelta(t, steiner, squareMetres([]after.Ground{patch}), 0.3, "the other way round, and closed")
	patch = after.Ground{ID: "patch", At: &middle, Size: quantity.SquareMetres(math.Pi * 100)}
	assert.InDelta(t, math.Pi*(10+reach)*(10+reach), squareMetres([]after.Ground{patch}), 1e-4, "a patch of an area alone")
	unsure := after.Ground{ID: "stem", At: &middle, Uncertainty: 5 * quantity.Metre}
	assert.InDelta(t, math.Pi*(5+reach)*(5+reach), squareMetres([]after.Ground{unsure}), 1e-4, "a position that may be 5 m off")
	// A wide ring with a court of 100 m: within 15.24 m of the court's walls, and no more.
	outer := []after.Position{off(middle, -70, -70), off(middle, 70, -70), off(middle, 70, 70), off(middle, -70, 70)}
	court := []after.Position{off(middle, -50, -50), off(middle, 50, -50), off(middle, 50, 50), off(middle, -50, 50)}
	patch = after.Ground{ID: "ring", Outline: [][][]after.Position{{outer, court}}}
	inner := 100 - 2*reach
	assert.InDelta(t, 140*140+4*140*reach+disc-inner*inner, squareMetres([]after.Ground{patch}), 0.5)
	a := after.InspectionArea([]after.Ground{patch}, 0)
	require.Len(t, a.Rings, 1)
	assert.Len(t, a.Rings[0], 2, "the court is a gap")
	patch = after.Ground{ID: "parts", Outline: [][][]after.Position{{outer}, {court}}}
	assert.InDelta(t, 140*140+4*140*reach+disc, squareMetres([]after.Ground{patch}), 0.5, "a part in another")
}

// inside reports whether a position lies in the drawn area.
func inside(a *after.Area, p after.Position) bool {
	for _, polygon := range a.Rings {
		odd := false
		for _, ring := range polygon {
			for i := range len(ring) - 1 {
				b, c := ring[i], ring[i+1]
				if (b.Latitude > p.Latitude) != (c.Latitude > p.Latitude) &&
					math.Remainder(p.Longitude-b.Longitude, 360) < (p.Latitude-b.Latitude)/(c.Latitude-b.Latitude)*math.Remainder(c.Longitude-b.Longitude, 360) {
					odd = !odd
				}
			}
		}
		if odd {
			return true
		}
	}
	return false
}

func near(at []after.Position, p after.Position, r float64) bool {
	return slices.ContainsFunc(at, func(q after.Position) bool { return apart(p, q) <= r })
}

// The merged area against throws of a dart, within five standard errors, and
// its drawn outline against the same: what is within reach is in it, what is 5 cm
// beyond is not.
func TestAreaAgainstMonteCarlo(t *testing.T) {
	for seed, c := range []struct {
		n    int
		side float64
		at   after.Position
	}{{3, 30, middle}, {20, 100, after.Position{Latitude: -33.9, Longitude: 179.9999}}, {60, 200, after.Position{Latitude: 61, Longitude: 10}}, {200, 300, after.Position{}}} {
		t.Run(fmt.Sprint(c.n), func(t *testing.T) {
			random := rand.New(rand.NewPCG(17, uint64(seed)))
			var at []after.Position
			for range c.n {
				at = append(at, off(c.at, random.Float64()*c.side, random.Float64()*c.side))
			}
			a := after.InspectionArea(stems(at...), 0)
			require.Empty(t, a.Fault)
			const throws = 20_000
			hits, box := 0, c.side+2*reach+2
			for range throws {
				p := off(c.at, random.Float64()*box-reach-1, random.Float64()*box-reach-1)
				within := near(at, p, reach)
				if within {
					hits++
					assert.True(t, inside(&a, p), "%v is within reach and not drawn", p)
				} else if inside(&a, p) {
					assert.True(t, near(at, p, reach+0.05) || gapAt(at, p), "%v is drawn and not within reach", p)
				}
			}
			share := float64(hits) / throws
			sigma := math.Sqrt(share*(1-share)/throws) * box * box
			assert.InDelta(t, share*box*box, a.Size.SquareMetres(), 5*sigma)
		})
	}
}

// gapAt reports whether a position lies in a gap that is too small to be drawn: all
// round it, within a metre and a half, is area.
func gapAt(at []after.Position, p after.Position) bool {
	for n := range 16 {
		sin, cos := math.Sincos(float64(n) * math.Pi / 8)
		if !near(at, off(p, 1.5*cos, 1.5*sin), reach+0.05) {
			return false
		}
	}
	return true
}

func TestAreaThatIsNotKnown(t *testing.T) {
	a := after.InspectionArea(nil, 0)
	assert.False(t, a.Known())
	assert.Contains(t, a.Unknown(), "no treated stem is known")

	grounds := append(stems(middle), after.Ground{ID: "b"}, after.Ground{ID: "a", Outline: [][][]after.Position{{{middle}}}}, after.Ground{ID: "c", At: &after.Position{Latitude: math.NaN()}})
	a = after.InspectionArea(grounds, 0)
	assert.False(t, a.Known())
	assert.Equal(t, []string{"a", "b", "c"}, a.Unplaced)
	assert.Contains(t, a.Unknown(), "no position of a, b, c")
	assert.InDelta(t, math.Pi*reach*reach, a.Size.SquareMetres(), 1e-4, "what is known is still drawn")
	assert.Len(t, a.Rings, 1)

	for n := range 9 {
		grounds = append(grounds, after.Ground{ID: fmt.Sprint("x", n)})
	}
	a = after.InspectionArea(grounds, 0)
	assert.Contains(t, a.Unknown(), "a, b, c, x0, x1 and 7 more")

	a = after.InspectionArea(stems(middle, off(middle, 12_000, 0)), 0)
	assert.False(t, a.Known())
	assert.Contains(t, a.Unknown(), "one site reaches 5000 m")
	assert.Zero(t, a.Size)
}

func drawGrounds(t *rapid.T) []after.Ground {
	var grounds []after.Ground
	origin := after.Position{Latitude: rapid.Float64Range(-70, 70).Draw(t, "lat"), Longitude: rapid.SampledFrom([]float64{-180, -75.2, 0, 10, 179.9999}).Draw(t, "lon")}
	step := rapid.SampledFrom([]float64{0, 1e-9, 1e-4, 1, 10, reach, 2 * reach}).Draw(t, "step")
	place := func() after.Position {
		jitter := rapid.SampledFrom([]float64{0, 1e-8, 0.3}).Draw(t, "jitter")
		return off(origin, step*float64(rapid.IntRange(0, 4).Draw(t, "x"))+jitter, step*float64(rapid.IntRange(0, 4).Draw(t, "y")))
	}
	for i := range rapid.IntRange(1, 12).Draw(t, "n") {
		at := place()
		g := after.Ground{ID: fmt.Sprint(i), At: &at}
		switch rapid.IntRange(0, 5).Draw(t, "kind") {
		case 0:
			g.Size = quantity.SquareMetres(rapid.SampledFrom([]float64{1, 100, 2500}).Draw(t, "size"))
		case 1:
			g.Outline = [][][]after.Position{{{at, place(), place(), place()}}}
		case 2:
			g.Uncertainty = rapid.SampledFrom([]quantity.Micrometres{1, quantity.Metre}).Draw(t, "uncertainty")
		}
		grounds = append(grounds, g)
	}
	return grounds
}

// The merged area is no more than the sum of its parts, no less than the largest, grows
// with each, and does not depend on their order or on repeats. What is drawn is as large
// at least, in closed rings, the outer ones counter-clockwise (G02, G03: RFC 7946).
func TestMerging(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		grounds := drawGrounds(t)
		a := after.InspectionArea(grounds, 0)
		require.Empty(t, a.Fault)
		size, sum, largest := a.Size.SquareMetres(), 0.0, 0.0
		for i := range grounds {
			one := squareMetres(grounds[i : i+1])
			sum, largest = sum+one, max(largest, one)
		}
		const slack = 0.5 // of planes that touch elsewhere, and of positions to the millimetre
		assert.LessOrEqual(t, size, sum+slack)
		assert.GreaterOrEqual(t, size, largest-slack)
		assert.LessOrEqual(t, squareMetres(grounds[1:]), size+slack)

		mixed := append(rapid.Permutation(grounds).Draw(t, "order"), grounds[0])
		b := after.InspectionArea(mixed, 0)
		assert.Equal(t, a.Rings, b.Rings)
		assert.Equal(t, a.Size, b.Size)
		wider := after.InspectionArea(grounds, after.SuckerReach+quantity.Metre)
		assert.GreaterOrEqual(t, wider.Size.SquareMetres(), size)

		drawn := 0.0
		for _, polygon := range a.Rings {
			for i, ring := range polygon {
				require.Equal(t, ring[0], ring[len(ring)-1])
				s := signed(ring)
				assert.Equal(t, i == 0, s > 0)
				drawn += s
			}
		}
		assert.GreaterOrEqual(t, drawn, size)
		assert.LessOrEqual(t, drawn, size*1.01+sum*0.01+5)
	})
}

// signed is the area of a ring in square metres, round its first position.
func signed(ring []after.Position) float64 {
	sum := 0.0
	origin := ring[0]
	flat := func(p after.Position) (x, y float64) {
		unit := off(after.Position{Latitude: origin.Latitude}, 1, 1)
		return math.Remainder(p.Longitude-origin.Longitude, 360) / unit.Longitude, (p.Latitude - origin.Latitude) / (unit.Latitude - origin.Latitude)
	}
	for i := range len(ring) - 1 {
		ax, ay := flat(ring[i])
		bx, by := flat(ring[i+1])
		sum += (ax*by - bx*ay) / 2
	}
	return sum
}

// What is drawn holds whatever is within reach, wherever the site is.
func TestNothingWithinReachIsLeftOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		grounds := drawGrounds(t)
		a := after.InspectionArea(grounds, 0)
		g := rapid.SampledFrom(grounds).Draw(t, "ground")
		r := reach * math.Sqrt(rapid.Float64Range(0, 1).Draw(t, "r"))
		sin, cos := math.Sincos(rapid.Float64Range(0, 2*math.Pi).Draw(t, "angle"))
		p := off(*g.At, r*cos, r*sin)
		if apart(p, *g.At) <= reach {
			assert.True(t, inside(&a, p))
		}
	})
}

func BenchmarkInspectionArea(b *testing.B) {
	for _, c := range []struct {
		n    int
		side float64
	}{{100, 100}, {1000, 400}, {10_000, 400}, {10_000, 100}} {
		random := rand.New(rand.NewPCG(1, 2))
		var at []after.Position
		for range c.n {
			at = append(at, off(middle, random.Float64()*c.side, random.Float64()*c.side))
		}
		b.Run(fmt.Sprintf("%d in %.0f m", c.n, c.side), func(b *testing.B) {
			for b.Loop() {
				after.InspectionArea(stems(at...), 0)
			}
		})
	}
}

type spot struct{ x, y float64 }

// fromEdge is how far a spot lies from a straight edge.
func fromEdge(p, a, b spot) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	s := 0.0
	if long := dx*dx + dy*dy; long > 0 {
		s = min(1, max(0, ((p.x-a.x)*dx+(p.y-a.y)*dy)/long))
	}
	return math.Hypot(p.x-a.x-s*dx, p.y-a.y-s*dy)
}

// within reports whether a spot lies in an odd number of turns of a ring, or near it.
func within(p spot, ring []spot, r float64) bool {
	odd := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if fromEdge(p, a, b) <= r {
			return true
		}
		if (a.y > p.y) != (b.y > p.y) && p.x < a.x+(p.y-a.y)/(b.y-a.y)*(b.x-a.x) {
			odd = !odd
		}
	}
	return odd
}

// Patches of any shape, crossing each other and themselves, against a raster of half a
// metre. The raster's own error is some square metres.
func TestPatchesAgainstARaster(t *testing.T) {
	for seed := range uint64(12) {
		random := rand.New(rand.NewPCG(seed, 3))
		var rings [][]spot
		var grounds []after.Ground
		for i := range 1 + random.IntN(3) {
			var ring []spot
			var outline []after.Position
			for range 1 + 2*random.IntN(4) {
				p := spot{float64(random.IntN(80)), float64(random.IntN(80))}
				ring, outline = append(ring, p), append(outline, off(middle, p.x, p.y))
			}
			g := after.Ground{ID: fmt.Sprint(i), At: &outline[0]}
			if len(outline) > 2 {
				g.Outline = [][][]after.Position{{outline}}
			}
			rings, grounds = append(rings, ring), append(grounds, g)
		}
		const cell, r = 0.5, 5.0
		raster := 0.0
		for x := -10.0; x < 90; x += cell {
			for y := -10.0; y < 90; y += cell {
				if slices.ContainsFunc(rings, func(ring []spot) bool { return within(spot{x + cell/2, y + cell/2}, ring, r) }) {
					raster += cell * cell
				}
			}
		}
		a := after.InspectionArea(grounds, 5*quantity.Metre)
		require.True(t, a.Known(), a.Unknown())
		assert.InDelta(t, raster, a.Size.SquareMetres(), 15, "seed %d", seed)
	}
}

// A reader of a wide area has to know which position makes it so.
func TestTheWidestUncertaintyIsTold(t *testing.T) {
	grounds := stems(middle, off(middle, 100, 0), off(middle, 200, 0), off(middle, 300, 0))
	assert.Zero(t, after.InspectionArea(grounds, 0).Widest)
	grounds[1].Uncertainty, grounds[2].Uncertainty, grounds[3].Uncertainty = 5*quantity.Metre, 400*quantity.Metre, 400*quantity.Metre
	for range 2 {
		a := after.InspectionArea(grounds, 0)
		assert.Equal(t, 400*quantity.Metre, a.Widest)
		assert.Equal(t, "2", a.WidestID, "of equal ones the first by id")
		slices.Reverse(grounds)
	}
}
