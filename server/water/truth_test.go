package water_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"
)

// bank is the cross-section of a stream north of the spot: where each origin is, in
// metres from it.
type bank map[rules.DistanceOrigin]float64

// Streams are drawn on the ground, 30 m wide, and layers of them: each shows all within its
// coverage, as the line of an origin, and outside of it this one and that. Whatever
// they show, and wherever the stem truly is, no buffer is kept that the ground breaks.
func TestNoBufferIsKeptThatTheGroundBreaks(t *testing.T) {
	origins := rules.Words[rules.DistanceOrigin]()
	kept := 0
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.Float64Range(1, 140)
		var streams []bank
		for range rapid.IntRange(0, 3).Draw(t, "streams") {
			edge := at.Draw(t, "edge")
			wetland := edge - rapid.Float64Range(0, 20).Draw(t, "wetland")
			streams = append(streams, bank{rules.WaterEdge: edge, rules.WetlandBoundary: wetland, rules.BankTop: wetland - rapid.Float64Range(0, 20).Draw(t, "bank")})
		}
		var layers []object
		for range rapid.IntRange(1, 3).Draw(t, "layers") {
			layers = append(layers, drawnLayer(t, streams))
		}
		dir, err := os.MkdirTemp("", "water")
		require.NoError(t, err)
		defer os.RemoveAll(dir)
		l, err := water.Load(folder(t, dir, layers...))
		require.NoError(t, err)

		uncertainty := rapid.Int64Range(0, 20).Draw(t, "uncertainty")
		truly := rapid.Float64Range(-1, 1).Draw(t, "truly") * float64(uncertainty) // north of the spot
		spot := &water.Spot{Uncertainty: quantity.Micrometres(uncertainty) * quantity.Metre}
		m := l.Finder(every, 100*quantity.Metre).Measure(spot)
		d, known := m.Water.Get(rules.PerennialStream)
		if !known {
			return
		}
		for _, from := range origins {
			limit := rapid.Float64Range(1, 100).Draw(t, "limit")
			// As package rules has it: see the table of TestWhereDistancesStart there.
			if d.Origin < from || d.Distance < quantity.Metres(limit) {
				continue
			}
			kept++
			for _, s := range streams {
				assert.GreaterOrEqual(t, s[from]-truly, limit-0.001, "counted from %s: %+v", from, d)
			}
		}
	})
	if !testing.Short() { // a few draws may have none
		assert.Positive(t, kept, "no buffer was ever kept")
	}
}

// drawnLayer shows all streams whose line lies in its coverage, and some others.
func drawnLayer(t *rapid.T, streams []bank) object {
	area := [2]float64{-rapid.Float64Range(20, 200).Draw(t, "south"), rapid.Float64Range(20, 200).Draw(t, "north")}
	features := []object{}
	if rapid.IntRange(0, 3).Draw(t, "covers") > 0 {
		f := coverage("perennial_stream", rectangle(area[0], area[1]))
		f["properties"].(object)["origin"] = rapid.SampledFrom([]any{"water_edge", "wetland_boundary", "bank_top"}).Draw(t, "would show")
		features = append(features, f)
	}
	one := rapid.SampledFrom(rules.Words[rules.DistanceOrigin]()).Draw(t, "origin")
	mixed := rapid.Bool().Draw(t, "mixed")
	for _, s := range streams {
		origin := one
		if mixed {
			origin = rapid.SampledFrom(rules.Words[rules.DistanceOrigin]()).Draw(t, "origin")
		}
		// It is shown if any of it is in the coverage; what would be shown is of what is.
		inside := s[rules.BankTop] <= area[1] && s[rules.WaterEdge]+30 >= area[0]
		if !inside && rapid.Bool().Draw(t, "left out") {
			continue
		}
		off := rapid.SampledFrom([]float64{0, 0, 5, 20}).Draw(t, "uncertainty of the map")
		drawn := s[origin] + off*rapid.Float64Range(-1, 1).Draw(t, "drawn off")
		f := lake(rectangle(drawn, max(drawn+1, s[rules.WaterEdge]+30)))
		f["properties"].(object)["uncertainty_m"] = off
		f["properties"].(object)["water_class"] = "perennial_stream"
		f["properties"].(object)["origin"] = rapid.SampledFrom([]any{origin.String(), origin.String(), nil}).Draw(t, "stated")
		features = append(features, f)
	}
	return collection(features...)
}
