package water_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"
)

// Whatever is read can be measured from, anywhere.
func assertMeasured(t *testing.T, l *water.Layers) {
	f := l.Finder(every, 1000*quantity.Metre)
	for _, at := range []*water.Spot{
		spot(0, 0), spot(180, 0), spot(-180, -90), spot(10, 90),
		{Outline: [][]water.Ring{{{{0, 0}, {0, 0.01}, {0.01, 0}}}}},
	} {
		m := f.Measure(at)
		for _, class := range every.Values() {
			d, _ := m.Water.Get(class)
			assert.GreaterOrEqual(t, d.Distance, quantity.Micrometres(0))
			assert.LessOrEqual(t, d.Distance, 1000*quantity.Metre)
		}
	}
}

func FuzzGeoJSON(f *testing.F) {
	for _, c := range []object{
		collection(), collection(all(), stream([2]float64{-0.001, 0}, [2]float64{0.001, 0.001}), well([2]float64{0, 0})),
		collection(coverage([]string{"lake"}, square(0, 0, 1)), lake(square(0, 0, 0.1), square(0, 0, 0.05))),
		collection(stream([2]float64{179, 89}, [2]float64{-179, 90}, [2]float64{0, 90})),
		collection(lake([][2]float64{{179, 1}, {-179, 1}, {-179, -1}, {179, -1}, {179, 1}})),
	} {
		text, err := json.Marshal(c)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte(`{"type":"FeatureCollection","crs":{},"features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2,null]}}]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		if l, err := water.ReadGeoJSON(text); err == nil {
			assertMeasured(t, l)
		}
	})
}

func FuzzGeoPackageGeometry(f *testing.F) {
	for _, g := range [][]byte{
		lineWKB([2]float64{0, 0}, [2]float64{1, 1}), polygonWKB(square(180, 0, 1)), wkb(5, uint32(1), lineWKB([2]float64{179, 0}, [2]float64{-179, 0})),
		wkb(1002, uint32(1), 1.0, 2.0, 3.0), wkb(7, uint32(1), wkb(7, uint32(0))), wkb(6, uint32(1), polygonWKB(square(0, 89, 1))),
	} {
		f.Add(gp(0, 4326, g))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if l, err := water.ReadBlob(data); err == nil {
			assertMeasured(t, l)
		}
	})
}
