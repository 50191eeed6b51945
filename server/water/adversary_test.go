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

// Where lakes are cut at a border, each side may be in a file of its own.
func TestTheAreaOfALakeThatWasCutAtABorder(t *testing.T) {
	const m = metre
	box := func(west, south, east, north float64) [][2]float64 {
		return [][2]float64{{west * m, south * m}, {east * m, south * m}, {east * m, north * m}, {west * m, north * m}, {west * m, south * m}}
	}
	covers := func(west, east float64) object { return coverage("lake", box(west, -1000, east, 1000)) }
	half, rest := lake(box(20, 0, 300, 40)), lake(box(300, 0, 2900, 400))
	bank := lake(box(300, 0, 2900, 400))
	bank["properties"].(object)["origin"] = "bank_top"
	for name, layers := range map[string][]object{
		"two files, each with its half and its coverage":     {collection(covers(-1000, 300), half), collection(covers(300, 3000), rest)},
		"two files, each with its coverage, and one is lost": {collection(covers(-1000, 300), half), collection(covers(300, 3000))},
		"two files, one with the coverage of both":           {collection(covers(-1000, 3000), half), collection(rest)},
		"the coverages in files of their own":                {collection(covers(-1000, 300)), collection(half), collection(covers(300, 3000))},
		"one file, and two origins":                          {collection(covers(-1000, 3000), half, bank)},
	} {
		got := load(t, layers...).Finder(every, reach).Measure(spot(0, 0))
		assert.Contains(t, short(&got.Water, rules.Lake), "20", name)
		assert.Zero(t, got.LakeArea, name)
	}
	got := load(t, collection(covers(-1000, 150), covers(150, 3000), half)).Finder(every, reach).Measure(spot(0, 0))
	assert.Positive(t, got.LakeArea, "one file, of which two coverages abut")
}

// An area is told of lakes alone that are drawn as polygons are to be.
func TestTheAreaOfALakeThatIsDrawnAmiss(t *testing.T) {
	const m = metre
	box := func(west, south, east, north float64) [][2]float64 {
		return [][2]float64{{west * m, south * m}, {east * m, south * m}, {east * m, north * m}, {west * m, north * m}, {west * m, south * m}}
	}
	line := func(at ...[2]float64) (ring [][2]float64) {
		for _, p := range at {
			ring = append(ring, [2]float64{p[0] * m, p[1] * m})
		}
		return append(ring, ring[0])
	}
	blurred := lake(box(20, 0, 50, 30))
	blurred["properties"].(object)["uncertainty_m"] = 10
	parts := func(polygons ...[][][2]float64) object {
		return shape("MultiPolygon", polygons, object{"water_class": "lake", "origin": "water_edge"})
	}
	type rings = [][][2]float64
	for _, c := range []struct {
		name string
		lake object
		want float64 // m2; 0: not known
	}{
		{"with two islands", lake(box(20, 0, 220, 200), box(30, 10, 50, 30), box(60, 10, 80, 30)), 200*200 - 2*20*20},
		{"with a point twice, and one on its shore", lake(line([2]float64{20, 0}, [2]float64{70, 0}, [2]float64{120, 0}, [2]float64{120, 0}, [2]float64{120, 100}, [2]float64{20, 100})), 100 * 100},
		{"of two parts", parts(rings{box(20, 0, 40, 20)}, rings{box(60, 0, 80, 20)}), 2 * 20 * 20},
		{"of a part on an island of another", parts(rings{box(20, 0, 220, 200), box(40, 20, 200, 180)}, rings{box(60, 40, 180, 160)}), 200*200 - 160*160 + 120*120},
		{"a shore that crosses itself", lake(line([2]float64{20, 0}, [2]float64{120, 100}, [2]float64{120, 0}, [2]float64{20, 99})), 0},
		{"a shore that meets itself at a point", lake(line([2]float64{20, 0}, [2]float64{70, 50}, [2]float64{120, 100}, [2]float64{120, 0}, [2]float64{70, 50}, [2]float64{20, 99})), 0},
		{"a shore that meets itself at a side", lake(line([2]float64{20, 0}, [2]float64{120, 0}, [2]float64{120, 100}, [2]float64{20, 100}, [2]float64{20, 60}, [2]float64{120, 60}, [2]float64{20, 50})), 0},
		{"an island drawn twice", lake(box(20, 0, 220, 200), box(30, 10, 170, 150), box(30, 10, 170, 150)), 0},
		{"an island in another", lake(box(20, 0, 220, 200), box(30, 10, 170, 150), box(40, 20, 160, 140)), 0},
		{"islands that overlap", lake(box(20, 0, 220, 200), box(30, 10, 170, 150), box(150, 20, 190, 140)), 0},
		{"an island outside", lake(box(20, 0, 120, 100), box(300, 0, 395, 95)), 0},
		{"an island across the shore", lake(box(20, 0, 120, 100), box(100, 10, 200, 90)), 0},
		{"an island about the shore", lake(box(20, 0, 120, 100), box(10, -10, 130, 110)), 0},
		{"a part in another", parts(rings{box(20, 0, 220, 200)}, rings{box(40, 20, 200, 180)}), 0},
		{"parts that overlap", parts(rings{box(20, 0, 220, 200)}, rings{box(40, 20, 300, 180)}), 0},
		{"it may lie elsewhere", blurred, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := load(t, collection(all(), c.lake)).Finder(every, reach).Measure(spot(0, 0))
			// A degree of longitude is 0.7 % longer than one of latitude at the equator.
			assert.InEpsilon(t, c.want+1, got.LakeArea.SquareMetres()+1, 0.007)
		})
	}
}

// A lake over longitude 180 is cut there, or written on.
func TestTheAreaOfALakeAtTheDateLine(t *testing.T) {
	box := func(west, east, south, north float64) [][2]float64 {
		return [][2]float64{{west, south}, {east, south}, {east, north}, {west, north}, {west, south}}
	}
	area := func(polygons ...[][][2]float64) float64 {
		f := shape("MultiPolygon", polygons, object{"water_class": "lake", "origin": "water_edge"})
		got := load(t, collection(all(), f)).Finder(every, reach).Measure(spot(180, 5.0005))
		return got.LakeArea.SquareMetres()
	}
	type rings = [][][2]float64
	whole := area(rings{box(179.99, -179.99, 5, 5.02)})
	assert.InEpsilon(t, 0.02*0.02*110_574*110_896, whole, 0.001)
	assert.InEpsilon(t, whole, area(rings{box(179.99, 180, 5, 5.02)}, rings{box(-180, -179.99, 5, 5.02)}), 1e-9, "cut")
	assert.InEpsilon(t, whole*(1-0.25*0.9), area(rings{box(179.99, -179.99, 5, 5.02), box(-179.998, -179.993, 5.001, 5.019)}), 0.001, "an island, west of it")
	assert.Zero(t, area(rings{box(179.99, -179.99, 5, 5.02), box(-179.995, -179.985, 5.001, 5.019)}), "an island across its shore")
}
