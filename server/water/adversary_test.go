package water_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"
)

// part is one of a patch: its edge, and then its holes.
func part(rings ...[][2]float64) (list []water.Ring) {
	for _, r := range rings {
		var ring water.Ring
		for _, p := range r {
			ring = append(ring, water.Point{Latitude: p[1], Longitude: p[0]})
		}
		list = append(list, ring)
	}
	return list
}

// pentagram is a ring that goes twice round its middle.
func pentagram(lon, lat, half float64) [][2]float64 {
	return [][2]float64{{lon, lat + half}, {lon + 0.588*half, lat - 0.809*half}, {lon - 0.951*half, lat + 0.309*half},
		{lon + 0.951*half, lat + 0.309*half}, {lon - 0.588*half, lat - 0.809*half}, {lon, lat + half}}
}

// Of rings that cross, which no standard allows, nothing is told that may be too far.
func TestRingsThatCross(t *testing.T) {
	const m = metre
	at := func(of object, class rules.WaterClass, outline ...[]water.Ring) quantity.Micrometres {
		f := load(t, collection(all(), of)).Finder(every, 1_000*quantity.Metre)
		s := spot(0, 0)
		s.Outline = outline
		got := f.Measure(s)
		d, known := got.Water.Get(class)
		require.True(t, known)
		return d.Distance
	}
	spring := well([2]float64{0, 0})
	assert.Zero(t, at(spring, rules.Well, part(square(20*m, 0, 30*m)), part(square(-20*m, 0, 30*m))), "two parts that overlap")
	assert.Zero(t, at(spring, rules.Well, part(square(0, 0, 30*m)), part(square(0, 0, 30*m))), "a part drawn twice")
	assert.Zero(t, at(spring, rules.Well, part(square(0, 0, 40*m)), part(square(0, 0, 25*m))), "a part in another")
	assert.Zero(t, at(spring, rules.Well, part(square(0, 0, 25*m)), part(square(0, 0, 40*m))), "a part in the next")
	ditch := shape("LineString", [][2]float64{{-2 * m, 0}, {2 * m, 0}}, object{"water_class": "ditch", "origin": "water_edge"})
	assert.Zero(t, at(ditch, rules.Ditch, part(square(0, 0, 40*m)), part(square(0, 0, 25*m))), "a part in another, about a ditch")
	letterC := [][2]float64{{-130 * m, -22 * m}, {70 * m, -22 * m}, {70 * m, 18 * m}, {-90 * m, 18 * m}, {-90 * m, 138 * m}, {70 * m, 138 * m}, {70 * m, 178 * m}, {-130 * m, 178 * m}, {-130 * m, -22 * m}}
	bar := [][2]float64{{-30 * m, -17 * m}, {30 * m, -17 * m}, {30 * m, 173 * m}, {-30 * m, 173 * m}, {-30 * m, -17 * m}}
	assert.Zero(t, at(spring, rules.Well, part(letterC), part(bar)), "a part across another that is bent")
	assert.Zero(t, at(spring, rules.Well, part(square(-14*m, 0, 50*m), square(-14*m, 0, 10*m)), part(square(-6*m, 0, 9*m))), "a part over a hole's rim, beside the hole")
	assert.Zero(t, at(spring, rules.Well, part(square(0, 0, 50*m), square(0, 0, 10*m)), part(square(8*m, 0, 9*m))), "a part over a hole's rim, in the hole")
	assert.Zero(t, at(spring, rules.Well, part(square(0, 0, 50*m), square(0, 0, 10*m)), part(square(0, 0, 50*m), square(40*m, 0, 5*m))), "a hole of one part, in another")
	assert.Zero(t, at(spring, rules.Well, part(square(0, 0, 50*m), square(0, 0, 10*m), square(0, 0, 10*m))), "a hole drawn twice")
	assert.Positive(t, at(spring, rules.Well, part(square(0, 0, 30*m), square(0, 0, 20*m))), "in a hole")
	assert.Zero(t, at(spring, rules.Well, part(square(0, 0, 50*m), square(0, 0, 40*m)), part(square(0, 0, 20*m))), "on an island in a hole")
	assert.Zero(t, at(spring, rules.Well, part(pentagram(0, 0, 50*m))), "twice round")

	assert.Zero(t, at(lake(pentagram(0, 0, 50*m)), rules.Lake), "a shore twice round")
	assert.Zero(t, at(lake(square(0, 0, 50*m), square(0, 0, 30*m), square(0, 0, 10*m)), rules.Lake), "a pond on an island, drawn as one polygon")
	assert.Positive(t, at(lake(square(0, 0, 50*m), square(0, 0, 30*m)), rules.Lake), "an island")

	covered := func(rings ...[][2]float64) bool {
		f := load(t, collection(coverage("well", rings...))).Finder(every, 10*quantity.Metre)
		got := f.Measure(spot(0, 0))
		_, known := got.Water.Get(rules.Well)
		return known
	}
	assert.True(t, covered(square(0, 0, 50*m)))
	assert.False(t, covered(pentagram(0, 0, 50*m)), "twice round")
	assert.False(t, covered(square(0, 0, 50*m), square(0, 0, 30*m), square(0, 0, 20*m)), "two holes")
	assert.False(t, covered(square(0, 0, 50*m), pentagram(0, 0, 30*m)), "a hole twice round")
}

// A coverage nearly round the earth is not taken for what it leaves out.
func TestACoverageIsNotTurnedInsideOut(t *testing.T) {
	_, err := water.Load(folder(t, t.TempDir(), collection(coverage("well", [][2]float64{{-170, -10}, {170, -10}, {170, 10}, {-170, 10}, {-170, -10}}))))
	require.ErrorContains(t, err, "goes from longitude -170 to 170")
}

// An edge along longitude 180 is a seam only where a coverage goes on beyond it.
func TestEdgesAtTheDateLineThatAreNoSeams(t *testing.T) {
	box := func(west, east, south, north float64) [][2]float64 {
		return [][2]float64{{west, south}, {east, south}, {east, north}, {west, north}, {west, south}}
	}
	known := func(polygons ...[][][2]float64) bool {
		layer := collection(shape("MultiPolygon", polygons, object{"coverage_of": "well", "origin": "water_edge"}))
		f := load(t, layer).Finder(every, 1_000*quantity.Metre)
		got := f.Measure(spot(-179.999, 0.5))
		d, _ := got.Water.Get(rules.Well)
		return d.Distance == 1_000*quantity.Metre
	}
	type rings = [][][2]float64
	west := rings{box(-180, -179, 0, 1)}
	assert.True(t, known(rings{box(179, 180, 0, 1)}, west), "cut there")
	assert.False(t, known(west), "ends there")
	assert.False(t, known(rings{box(179, 180, -1, 2), box(179.5, 180, 0, 1)}, west), "an island ends there")
	assert.True(t, known(rings{world[:], box(170, 180, 2, 3), box(-180, -170, 2, 3)}), "an island that is cut there, far off")
}

// A lake that was cut at the edge of what its layer covers may be larger than is drawn.
func TestTheAreaOfALakeThatWasCut(t *testing.T) {
	const m = metre
	area := func(lakes ...object) quantity.SquareMillimetres {
		layer := collection(append(lakes, coverage("lake", square(0, 0, 500*m)))...)
		return load(t, layer).Finder(every, reach).Measure(spot(0, 0)).LakeArea
	}
	to := func(east float64) [][2]float64 {
		return [][2]float64{{100 * m, 0}, {east, 0}, {east, 50 * m}, {100 * m, 50 * m}, {100 * m, 0}}
	}
	assert.Positive(t, area(lake(to(400*m))), "whole")
	assert.Positive(t, area(lake(to(900*m))), "drawn beyond the edge")
	assert.Zero(t, area(lake(to(500*m))), "cut at the edge")
	assert.Zero(t, area(lake(to(400*m)), lake(square(425*m, 25*m, 25*m))), "cut into two")
	assert.Positive(t, area(lake(to(400*m)), lake(square(440*m, 25*m, 25*m))), "another is beside it")
	stated := lake(to(500 * m))
	stated["properties"].(object)["area_m2"] = 70_000
	assert.Positive(t, area(stated), "cut, and its area is stated")
	stated["properties"].(object)["area_m2"] = 7
	assert.Zero(t, area(stated), "cut, and less is stated than is drawn")
}
