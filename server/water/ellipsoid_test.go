package water_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"example.org/rootward/server/water"
)

// Points of edges of up to 3 degrees, and the poles and longitude 180 among them.
func anywhere(t *rapid.T, label string) water.Point {
	return water.Point{
		Latitude:  rapid.OneOf(rapid.Float64Range(-90, 90), rapid.SampledFrom([]float64{-90, 0, 90, 89.9999})).Draw(t, label+" latitude"),
		Longitude: rapid.OneOf(rapid.Float64Range(-180, 180), rapid.SampledFrom([]float64{-180, 0, 180})).Draw(t, label+" longitude"),
	}
}

func TestPlacesGivePointsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anywhere(t, "point")
		got := water.PointAt(water.Place(p))
		assert.InDelta(t, p.Latitude, got.Latitude, 1e-13)
		assert.InDelta(t, p.Longitude, got.Longitude, 1e-13)
	})
}

// No point of a line, straight in latitude and longitude, strays farther than bounded
// from the straight way.
func TestLinesStrayNoFartherThanBounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anywhere(t, "from")
		size := math.Pow(10, rapid.Float64Range(-5, 0.5).Draw(t, "size"))
		b := water.Point{
			Latitude:  clamp(a.Latitude+size*rapid.Float64Range(-1, 1).Draw(t, "north"), 90),
			Longitude: a.Longitude + size*rapid.Float64Range(-10, 10).Draw(t, "east"),
		}
		bound := water.Sagitta(a, b)
		for i := range 33 {
			s := float64(i) / 32
			p := water.Point{Latitude: a.Latitude + s*(b.Latitude-a.Latitude), Longitude: a.Longitude + s*(b.Longitude-a.Longitude)}
			assert.LessOrEqual(t, water.FromLine(p, a, b), bound+2e-8)
		}
		// And the bound is of use: a straight way along a meridian strays so far.
		m := water.Point{Latitude: a.Latitude / 2, Longitude: a.Longitude}
		n := water.Point{Latitude: m.Latitude + 1, Longitude: m.Longitude}
		middle := water.Point{Latitude: m.Latitude + 0.5, Longitude: m.Longitude}
		assert.InEpsilon(t, water.FromLine(middle, m, n), water.Sagitta(m, n), 0.05)
	})
}

// All that is within reach of a point lies in the box about it.
func TestBoxesHoldAllWithinReach(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anywhere(t, "point")
		reach := math.Pow(10, rapid.Float64Range(-1, 5).Draw(t, "reach"))
		lat, lon := water.Around(p.Latitude, reach)
		way := rapid.Float64Range(0, 2*math.Pi).Draw(t, "way")
		// A point that far off, found by halving; it may lie over a pole.
		q := water.Point{
			Latitude:  clamp(p.Latitude+reach/111_000*math.Sin(way), 90),
			Longitude: p.Longitude + reach*math.Cos(way)/(111_000*math.Max(1e-9, math.Cos(p.Latitude*math.Pi/180))),
		}
		if geodesic(p, q) > reach {
			return
		}
		assert.LessOrEqual(t, math.Abs(q.Latitude-p.Latitude), lat)
		assert.LessOrEqual(t, math.Abs(math.Remainder(q.Longitude-p.Longitude, 360)), lon)
	})
}

// What is said to be farther than a limit is, and nearly all that is farther is said to be.
func TestBeyondALimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := onGrid(anywhere(t, "point"))
		beside := func(label string) water.Point {
			size := math.Pow(10, rapid.Float64Range(-9, 0).Draw(t, label+" size"))
			return onGrid(water.Point{
				Latitude:  clamp(p.Latitude+size*rapid.Float64Range(-1, 1).Draw(t, label+" north"), 90),
				Longitude: p.Longitude + size*rapid.Float64Range(-1, 1).Draw(t, label+" east"),
			})
		}
		a, b := beside("from"), beside("to")
		if rapid.Bool().Draw(t, "a point") {
			b = a
		}
		d := water.FromLine(p, a, b)
		farthest := max(water.FromLine(p, a, a), water.FromLine(p, b, b))
		assert.False(t, water.Beyond(p, a, b, d))
		assert.False(t, water.Beyond(p, a, b, d*(1+1e-12)))
		assert.True(t, water.Beyond(p, a, b, d*0.999-1e-4*farthest) || d <= 2e-4*farthest)
	})
}

// onGrid moves a point to the nearest of whole 1e-15 degrees, a ten-millionth of a
// millimetre: nearer to latitude and longitude 0 two can be so little apart that squares
// of it are zero.
func onGrid(p water.Point) water.Point {
	return water.Point{Latitude: math.Round(p.Latitude*1e15) / 1e15, Longitude: math.Round(p.Longitude*1e15) / 1e15}
}
