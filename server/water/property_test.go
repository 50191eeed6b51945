package water_test

import (
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"
)

// What the program must reach: an error of at most 1 mm under 100 m, and of 0.01 %
// above, never on the far side.
func assertNear(t assert.TestingT, want, got float64) bool {
	return assert.LessOrEqual(t, got, want+2e-9*want+1e-7, "longer than the true one") && // the yardstick's rounding
		assert.GreaterOrEqual(t, got, want-max(1e-3, want*1e-4), "shorter than it may be")
}

func inMetres(um quantity.Micrometres) float64 { return float64(um) / 1e6 }

// A few lines anywhere on the earth, their edges of centimetres to many kilometres,
// against every edge measured over the ellipsoid.
func TestAgainstEveryEdge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := water.Point{
			Latitude:  rapid.SampledFrom([]float64{0, 12, -45, 67, -80, 89, 89.99, -89.9999, 90, -90}).Draw(t, "latitude"),
			Longitude: rapid.SampledFrom([]float64{0, 77, 170, -100, -180, 180, 179.99999, -179.999}).Draw(t, "longitude"),
		}
		size := math.Pow(10, rapid.Float64Range(-7, 0).Draw(t, "size"))
		// Near a pole a degree of longitude is short.
		wide := min(300, 1/max(1e-9, math.Cos(at.Latitude*math.Pi/180)))
		near := func(label string) water.Point {
			return water.Point{
				Latitude:  clamp(at.Latitude+size*rapid.Float64Range(-1, 1).Draw(t, label), 90),
				Longitude: wrap(at.Longitude + min(359, wide*size)*rapid.Float64Range(-1, 1).Draw(t, label)),
			}
		}
		from := near("spot")
		far := quantity.Micrometres(rapid.Int64Range(1, int64(10_000*quantity.Metre)).Draw(t, "reach"))

		want := math.Inf(1)
		features := []object{all()}
		for range rapid.IntRange(1, 3).Draw(t, "lines") {
			line := []water.Point{near("point")}
			for range rapid.IntRange(1, 2*water.EdgesPerRun+1).Draw(t, "edges") {
				line = append(line, near("point"))
			}
			if f, ok := streamOf(line); ok {
				features = append(features, f)
				want = min(want, nearestOf(from, line))
			}
		}
		dir, err := os.MkdirTemp("", "water")
		require.NoError(t, err)
		defer os.RemoveAll(dir)
		l, err := water.Load(folder(t, dir, collection(features...)))
		require.NoError(t, err)

		measured := l.Finder(every, far).Measure(&water.Spot{Point: from})
		got, known := measured.Water.Get(rules.PerennialStream)
		require.True(t, known)
		if got.AtLeast {
			assert.Equal(t, far, got.Distance)
			assert.GreaterOrEqual(t, want, inMetres(far)-max(1e-3, want*1e-4), "water within reach was not found")
			return
		}
		assertNear(t, want, inMetres(got.Distance))
	})
}

func clamp(v, most float64) float64 { return max(-most, min(most, v)) }

func wrap(lon float64) float64 {
	switch {
	case lon > 180:
		return lon - 360
	case lon < -180:
		return lon + 360
	}
	return lon
}

// streamOf writes a stream, unless one of its edges goes all round the earth.
func streamOf(line []water.Point) (object, bool) {
	var positions [][2]float64
	for i, p := range line {
		if i > 0 && math.Abs(p.Longitude-line[i-1].Longitude) == 360 {
			return nil, false
		}
		positions = append(positions, [2]float64{p.Longitude, p.Latitude})
	}
	return stream(positions...), true
}

// nearestOf measures to every edge, across longitude 180 where that is the short way.
func nearestOf(p water.Point, line []water.Point) float64 {
	best := math.Inf(1)
	for i := range len(line) - 1 {
		a, b := line[i], line[i+1]
		if a.Latitude != b.Latitude || math.Abs(a.Latitude) != 90 {
			b.Longitude = a.Longitude + wrap(b.Longitude-a.Longitude)
		}
		best = min(best, nearest(p, a, b))
	}
	return best
}
