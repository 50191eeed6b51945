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

// plane is a polygon in metres about a place: the yardstick of what lies in what.
type plane [][2]float64

// star draws a polygon whose edges do not cross, seen from a middle.
func star(t *rapid.T, label string) plane {
	x, y := rapid.Float64Range(-150, 150).Draw(t, label+" x"), rapid.Float64Range(-150, 150).Draw(t, label+" y")
	size := rapid.SampledFrom([]float64{2, 20, 80, 200}).Draw(t, label+" size")
	n := rapid.IntRange(3, 7).Draw(t, label+" corners")
	var p plane
	for i := range n {
		r := size * rapid.Float64Range(0.3, 1).Draw(t, label+" corner")
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		p = append(p, [2]float64{x + r*cos, y + r*sin})
	}
	return p
}

// ring brings a polygon to the earth.
func (p plane) ring(at water.Point) (r water.Ring) {
	for _, v := range p {
		r = append(r, water.Point{
			Latitude:  at.Latitude + v[1]/111_195,
			Longitude: wrap(at.Longitude + v[0]/(111_195*math.Cos(at.Latitude*math.Pi/180))),
		})
	}
	return r
}

// holds counts how often a polygon winds about a point.
func (p plane) holds(v [2]float64) bool {
	sum := 0.0
	for i, a := range p {
		b := p[(i+1)%len(p)]
		sum += math.Remainder(math.Atan2(b[1]-v[1], b[0]-v[0])-math.Atan2(a[1]-v[1], a[0]-v[0]), 2*math.Pi)
	}
	return math.Abs(sum) > math.Pi
}

// shore gives points along the edges, so many on each.
func (p plane) shore(n int) (list [][2]float64) {
	for i, a := range p {
		b := p[(i+1)%len(p)]
		for k := range n {
			s := float64(k) / float64(n)
			list = append(list, [2]float64{a[0] + s*(b[0]-a[0]), a[1] + s*(b[1]-a[1])})
		}
	}
	return list
}

// touches tells whether two polygons, seen by points along their edges, have ground
// in common.
func (p plane) touches(q plane) bool {
	for _, v := range p.shore(50) {
		if q.holds(v) {
			return true
		}
	}
	for _, v := range q.shore(50) {
		if p.holds(v) {
			return true
		}
	}
	return false
}

// A patch beside, across, in, or about a lake.
func TestPatchesAgainstThePlane(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := water.Point{
			Latitude:  rapid.SampledFrom([]float64{0, 45, -60}).Draw(t, "latitude"),
			Longitude: rapid.SampledFrom([]float64{7, 180, -179.9995}).Draw(t, "longitude"),
		}
		patch, pond := star(t, "patch"), star(t, "pond")
		shore := positions(pond.ring(at))
		shore = append(shore, shore[0])

		dir, err := os.MkdirTemp("", "water")
		require.NoError(t, err)
		defer os.RemoveAll(dir)
		l, err := water.Load(folder(t, dir, collection(all(), lake(shore))))
		require.NoError(t, err)
		m := l.Finder(every, 1_000*quantity.Metre).Measure(&water.Spot{Outline: [][]water.Ring{{patch.ring(at)}}})
		got := distance(t, m, rules.Lake)

		least := math.Inf(1)
		if patch.touches(pond) {
			least = 0
		} else {
			ring, other := plane(patch.shore(20)).ring(at), plane(pond.shore(20)).ring(at)
			for _, p := range ring {
				for _, q := range other {
					least = math.Min(least, geodesic(p, q))
				}
			}
		}
		assert.LessOrEqual(t, inMetres(got.Distance), least+1e-6)
		// No point of an edge is farther from one that was looked at than half of a
		// twentieth of the longest edge, 400 m.
		assert.GreaterOrEqual(t, inMetres(got.Distance), least-20.1)
		if least > 21 {
			assert.Positive(t, got.Distance)
		}
	})
}
