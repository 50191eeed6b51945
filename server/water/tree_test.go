package water_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"example.org/rootward/server/water"
)

// A tree finds every box that meets one, on both sides of longitude 180, and none that is
// farther from it than two roundings.
func TestTreesFindWhatIsThere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := math.Pow(10, rapid.Float64Range(-6, 2.2).Draw(t, "size"))
		boxOf := func(label string, most float64) [2]water.Point {
			lat, lon := rapid.Float64Range(-90, 90).Draw(t, label+" south"), rapid.Float64Range(-180, 180).Draw(t, label+" west")
			if rapid.Bool().Draw(t, label+" is at 180") {
				lon = rapid.SampledFrom([]float64{-180, 180}).Draw(t, label+" at")
			}
			return [2]water.Point{{Latitude: lat, Longitude: lon}, {
				Latitude:  lat + size*rapid.Float64Range(0, 1).Draw(t, label+" height"),
				Longitude: min(most, lon+size*rapid.Float64Range(0, 1).Draw(t, label+" width")),
			}}
		}
		boxes := make([][2]water.Point, rapid.SampledFrom([]int{0, 1, 15, 16, 17, 255, 256, 257, 300}).Draw(t, "boxes"))
		for i := range boxes {
			boxes[i] = boxOf("box", 180)
		}
		in := boxOf("sought", 400)
		in[0].Longitude -= 1e-9 // all that are sought are wider, and so go past 180 if they are there
		in[1].Longitude += 1e-9
		found := map[uint32]bool{}
		for _, i := range water.Within(boxes, in) {
			found[i] = true
		}
		for i, b := range boxes {
			gap := apart(b, in)
			assert.True(t, gap > 0 || found[uint32(i)], "%v is not found", b)
			assert.True(t, gap < 1e-6 || !found[uint32(i)], "%v is found", b)
		}
	})
}

// apart is how many degrees are between two boxes, one of which may go on past 180.
func apart(b, in [2]water.Point) float64 {
	least := math.Inf(1)
	for _, round := range []float64{-360, 0, 360} {
		west, east := in[0].Longitude+round, in[1].Longitude+round
		least = min(least, max(0, b[0].Longitude-east, west-b[1].Longitude, b[0].Latitude-in[1].Latitude, in[0].Latitude-b[1].Latitude))
	}
	return least
}
