package water_test

import (
	"math"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"
)

func distance(t assert.TestingT, m water.Measured, class rules.WaterClass) rules.WaterDistance {
	d, known := m.Water.Get(class)
	assert.True(t, known, "%s is not known", class)
	return d
}

func TestInsideIsZero(t *testing.T) {
	island := square(20, 10, 0.002)
	cut := shape("MultiPolygon", [][][][2]float64{
		{{{179.99, 5}, {180, 5}, {180, 5.02}, {179.99, 5.02}, {179.99, 5}}},
		{{{-180, 5}, {-179.99, 5}, {-179.99, 5.02}, {-180, 5.02}, {-180, 5}}},
	}, object{"water_class": "lake", "origin": "water_edge"})
	uncut := lake([][2]float64{{179.99, -5}, {-179.99, -5}, {-179.99, -4.98}, {179.99, -4.98}, {179.99, -5}})
	polar := lake([][2]float64{{-180, 89.9}, {-90, 89.9}, {0, 89.9}, {90, 89.9}, {180, 89.9}, {180, 90}, {-180, 90}, {-180, 89.9}})
	f := load(t, collection(all(), lake(square(20, 10, 0.01), island), cut, uncut, polar)).Finder(every, reach)
	for _, c := range []struct {
		name   string
		at     *water.Spot
		inside bool
	}{
		{"in a lake", spot(20.005, 10.005), true},
		{"on an island", spot(20, 10), false},
		{"in a lake, near its island", spot(20, 10.0021), true},
		{"beside a lake", spot(20.011, 10), false},
		{"east in a lake cut at 180", spot(179.995, 5.01), true},
		{"west in it", spot(-179.995, 5.01), true},
		{"on the cut", spot(180, 5.01), true},
		{"on the cut, from the other side", spot(-180, 5.01), true},
		{"north of it", spot(180, 5.0201), false},
		{"east in a lake over 180", spot(179.995, -4.99), true},
		{"west in it", spot(-179.995, -4.99), true},
		{"at 180 in it", spot(180, -4.99), true},
		{"at -180 in it", spot(-180, -4.99), true},
		{"at the antipodes of it", spot(0, -4.99), false},
		{"in a lake about the pole", spot(45, 89.95), true},
		{"at the pole in it", spot(7, 90), true},
		{"at the other pole", spot(7, -90), false},
		{"south of it", spot(45, 89.89), false},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := distance(t, f.Measure(c.at), rules.Lake)
			assert.Equal(t, c.inside, got.Distance == 0 && !got.AtLeast, "%+v", got)
		})
	}
}

func TestWhereNothingIsKnown(t *testing.T) {
	l := load(t, collection(all(), stream([2]float64{0, 0}, [2]float64{1, 1})))
	f := l.Finder(every, reach)
	for name, at := range map[string]*water.Spot{
		"a latitude past the pole":     spot(0, 90.1),
		"a longitude past 180":         spot(-180.1, 0),
		"no number":                    spot(math.NaN(), 0),
		"an uncertainty below zero":    {Uncertainty: -1},
		"an uncertainty of a country":  {Uncertainty: 100_001 * quantity.Metre},
		"an outline off the earth":     {Outline: [][]water.Ring{{{{0, 0}, {0, 1e-4}, {91, 0}}}}},
		"an outline of many countries": {Outline: [][]water.Ring{{{{0, 0}, {0, 10}, {10, 0}}}}},
		"an outline round a pole":      {Outline: [][]water.Ring{{{{89.9999, 0}, {89.9999, 120}, {89.9999, -120}}}}},
		"an outline without end":       {Outline: [][]water.Ring{{make(water.Ring, 10_001)}}},
		"an outline without a point":   {Outline: [][]water.Ring{{{}}}},
		"an outline without a ring":    {Outline: [][]water.Ring{{}}},
	} {
		assert.Equal(t, water.Measured{}, f.Measure(at), name)
	}
	var none *water.Layers
	assert.Equal(t, water.Measured{}, none.Finder(every, reach).Measure(spot(0, 0)), "no layers")
	assert.Equal(t, water.Measured{}, l.Finder(every, 0).Measure(spot(0, 0)), "no reach")
	assert.Equal(t, water.Measured{}, l.Finder(0, reach).Measure(spot(0, 0)), "no classes")
	assert.Zero(t, none.IndexBytes())
	assert.Zero(t, none.LoadTime())
	assert.Empty(t, none.Describe())
}

// The spot's finder is used again for each, so that what one leaves behind would show.
func TestOutlines(t *testing.T) {
	const m = metre
	box := func(lon, lat, half float64) water.Ring {
		var r water.Ring
		for _, p := range square(lon, lat, half)[:4] {
			r = append(r, water.Point{Latitude: p[1], Longitude: p[0]})
		}
		return r
	}
	f := load(t, collection(coverage([]string{"lake", "perennial_stream", "well"}, square(0, 0, 1000*m)),
		lake(square(0, 200*m, 50*m)), well([2]float64{0, -300 * m}), stream([2]float64{400 * m, -1}, [2]float64{400 * m, 1}))).
		Finder(every, 100*quantity.Metre)
	for _, c := range []struct {
		name               string
		outline            [][]water.Ring
		lake, well, stream string
	}{
		{"far from all", [][]water.Ring{{box(0, 0, 20*m)}}, ">=100", ">=100", ">=100"},
		{"from its nearest side", [][]water.Ring{{box(0, 90*m, 20*m)}}, "40", ">=100", ">=100"},
		{"across a shore", [][]water.Ring{{box(0, 140*m, 20*m)}}, "0", ">=100", ">=100"},
		{"in a lake", [][]water.Ring{{box(0, 200*m, 20*m)}}, "0", ">=100", ">=100"},
		{"about a lake", [][]water.Ring{{box(0, 200*m, 120*m)}}, "0", ">=100", ">=100"},
		{"about a lake, which lies in a hole of it", [][]water.Ring{{box(0, 200*m, 120*m), box(0, 200*m, 80*m)}}, "30", ">=100", ">=100"},
		{"about a well", [][]water.Ring{{box(0, -300*m, 120*m)}}, ">=100", "0", ">=100"},
		{"two patches, one of them near", [][]water.Ring{{box(0, 0, 20*m)}, {box(350*m, 0, 20*m)}}, ">=100", ">=100", "30"},
		{"across a line", [][]water.Ring{{box(400*m, 0, 20*m)}}, ">=100", ">=100", "0"},
		{"near the edge of what is covered", [][]water.Ring{{box(-930*m, 0, 20*m)}}, ">=50", ">=50", ">=50"},
		{"across the edge of what is covered", [][]water.Ring{{box(-990*m, 0, 20*m)}}, "unknown", "unknown", "unknown"},
		{"one patch outside of what is covered", [][]water.Ring{{box(0, 0, 20*m)}, {box(0, 1, 20*m)}}, "unknown", "unknown", "unknown"},
		{"about all that is covered", [][]water.Ring{{box(0, 0, 1100*m)}}, "0", "0", "0"},
		{"a line", [][]water.Ring{{{{0, 0}, {140 * m, 0}}}}, "10", ">=100", ">=100"},
		{"a point", [][]water.Ring{{{{140 * m, 0}}}}, "10", ">=100", ">=100"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := f.Measure(&water.Spot{Outline: c.outline})
			for class, want := range map[rules.WaterClass]string{rules.Lake: c.lake, rules.Well: c.well, rules.PerennialStream: c.stream} {
				assert.Equal(t, want, short(&got.Water, class), class)
			}
		})
	}
}

func short(w *rules.Waters, class rules.WaterClass) string {
	d, known := w.Get(class)
	switch {
	case !known:
		return "unknown"
	case d.AtLeast:
		return ">=" + meters(d.Distance)
	}
	return meters(d.Distance)
}

func TestLakeArea(t *testing.T) {
	stated := func(f object, area float64) object {
		f["properties"].(object)["area_m2"] = area
		return f
	}
	roughly := func(f object) object {
		f["properties"].(object)["uncertainty_m"] = 5
		return f
	}
	one, other := square(0, 0, 10*metre), square(40*metre, 0, 10*metre)
	for _, c := range []struct {
		name     string
		features []object
		want     float64 // m2
	}{
		{"computed", []object{all(), lake(one)}, 20 * 20},
		{"computed, but for the island", []object{all(), lake(one, square(0, 0, 5*metre))}, 20*20 - 10*10},
		{"stated", []object{all(), stated(lake(one), 1234)}, 1234},
		{"less stated than is drawn", []object{all(), stated(lake(one), 4)}, 20 * 20},
		{"less stated than is drawn, and drawn roughly", []object{all(), stated(roughly(lake(one)), 4)}, 0},
		{"nearly as much stated as is drawn, and drawn roughly", []object{all(), stated(roughly(lake(one)), 399)}, 20 * 20},
		{"less stated than is drawn, in parts that abut", []object{all(), stated(shape("MultiPolygon", [][][][2]float64{{one}, {square(20*metre, 0, 10*metre)}}, object{"water_class": "lake", "origin": "water_edge"}), 4)}, 0},
		{"more stated than is drawn, and drawn roughly", []object{all(), stated(roughly(lake(one)), 1234)}, 1234},
		{"two lakes", []object{all(), lake(one), lake(other)}, 0},
		{"none", []object{all(), lake(square(1, 0, 10*metre))}, 0},
		{"there may be another", []object{lake(one)}, 0},
		{"there may be another where nothing is covered", []object{coverage("lake", square(0, 0, 100*metre)), lake(one)}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := load(t, collection(c.features...)).Finder(every, reach).Measure(spot(20*metre, 0))
			// A degree of longitude is 0.7 % longer than one of latitude at the equator.
			assert.InEpsilon(t, c.want+1, got.LakeArea.SquareMetres()+1, 0.007)
		})
	}
}

// An eighth of the earth, of lakes of five degrees.
func TestSurface(t *testing.T) {
	sum := 0.0
	for lon := 2.5; lon < 90; lon += 5 {
		for lat := 2.5; lat < 90; lat += 5 {
			f := load(t, collection(all(), lake(square(lon, lat, 2.5)))).Finder(every, reach) // one alone: beside another it may have been cut
			m := f.Measure(spot(lon, lat))
			sum += m.LakeArea.SquareMetres()
		}
	}
	// Moritz, Geodetic Reference System 1980, gives the radius of the sphere of equal
	// surface; its ellipsoid is that of WGS 84 to a tenth of a millimetre.
	const radius = 6_371_007.1810
	assert.InEpsilon(t, 4*math.Pi*radius*radius/8, sum, 1e-9)
}

func TestStates(t *testing.T) {
	dry := func(at float64, state any) object {
		f := stream([2]float64{-1, at * metre}, [2]float64{1, at * metre})
		f["properties"].(object)["state"] = state
		return f
	}
	for _, c := range []struct {
		name     string
		features []object
		want     rules.WaterState
	}{
		{"dry", []object{all(), dry(20, "dry"), dry(80, "dry")}, rules.WaterDry},
		{"wet", []object{all(), dry(20, "wet")}, rules.WaterWet},
		{"a wet one beyond a dry one", []object{all(), dry(20, "dry"), dry(80, "wet")}, rules.WaterWet},
		{"one that does not say", []object{all(), dry(20, "dry"), dry(80, nil)}, 0},
		{"a wet one out of reach", []object{all(), dry(20, "dry"), dry(180, "wet")}, rules.WaterDry},
		{"one of which nothing is shown may be wet", []object{coverage("perennial_stream", square(0, 0, 100*metre)), dry(20, "dry")}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := load(t, collection(c.features...)).Finder(every, reach).Measure(spot(0, 0))
			assert.Equal(t, c.want, distance(t, got, rules.PerennialStream).State)
		})
	}
}

// What no coverage vouches for may be wet all the same.
func TestStatesOfWaterThatIsMerelySeen(t *testing.T) {
	wet := stream([2]float64{-1, 20 * metre}, [2]float64{1, 20 * metre})
	wet["properties"].(object)["state"] = "wet"
	got := load(t, collection(wet)).Finder(every, reach).Measure(spot(0, 0))
	_, known := got.Water.Get(rules.PerennialStream)
	assert.False(t, known)
	seen, known := got.Seen.Get(rules.PerennialStream)
	assert.True(t, known)
	assert.Equal(t, rules.WaterWet, seen.State)
}

// Finders of many goroutines give what one gives.
func TestGoroutinesShareLayers(t *testing.T) {
	layer, side := wandering(5_000)
	l := load(t, layer)
	at := func(i int) *water.Spot { return spot(float64(i%100)/100*side, 40+float64(i/100)/20*side) }
	const spots = 2_000
	want := make([]water.Measured, spots)
	f := l.Finder(every, reach)
	for i := range want {
		want[i] = f.Measure(at(i))
	}
	var group sync.WaitGroup
	for range 4 {
		group.Go(func() {
			f := l.Finder(every, reach)
			for i := range want {
				assert.Equal(t, want[i], f.Measure(at(i)))
			}
		})
	}
	group.Wait()
}

func TestMeasuringAStemAllocatesNothing(t *testing.T) {
	f := load(t, collection(all(), lake(square(0, 0, 20*metre)), stream([2]float64{-1, 0.001}, [2]float64{1, 0.001}))).Finder(every, reach)
	at := spot(30*metre, 0)
	assert.Zero(t, testing.AllocsPerRun(100, func() { f.Measure(at) }))
}

// What is measured does not depend on what the memory held before.
func TestMemoryThatWasUsedTellsTheSame(t *testing.T) {
	l := load(t, collection(all(), stream([2]float64{0, -1}, [2]float64{0, 1}), stream([2]float64{300 * metre, -1}, [2]float64{300 * metre, 1})))
	f := l.Finder(every, reach)
	var again water.Measured
	for i := range 60 {
		at := spot(float64(i-30)*20*metre, float64(i%7)*metre)
		f.MeasureInto(at, &again)
		want := f.Measure(at)
		for _, c := range rules.Words[rules.WaterClass]() {
			a, known := want.Water.Get(c)
			b, alike := again.Water.Get(c)
			require.Equal(t, known, alike)
			require.Equal(t, a, b)
			a, known = want.Seen.Get(c)
			b, alike = again.Seen.Get(c)
			require.Equal(t, known, alike)
			require.Equal(t, a, b)
		}
		require.Equal(t, want.LakeArea, again.LakeArea)
	}
}
