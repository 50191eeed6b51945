package water_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"
)

// wandering draws streams of 1,000 edges of about 30 m over a square whose side makes
// the density of edges that of a hilly state: about 0.5 km of stream a square
// kilometre (common practice, no source).
func wandering(edges int) (object, float64) {
	random := rand.New(rand.NewPCG(1, uint64(edges)))
	side := math.Sqrt(float64(edges)*0.03/0.5) / 111 // degrees
	features := []object{all()}
	for range edges / 1000 {
		lon, lat, way := random.Float64()*side, 40+random.Float64()*side, random.Float64()*2*math.Pi
		line := make([][2]float64, 1001)
		for i := range line {
			line[i] = [2]float64{lon, lat}
			way += random.NormFloat64() * 0.3
			lon, lat = lon+math.Cos(way)*30/85_000, lat+math.Sin(way)*30/111_000
		}
		features = append(features, stream(line...))
	}
	return collection(features...), side
}

func BenchmarkMeasure(b *testing.B) {
	for _, edges := range []int{10_000, 100_000, 1_000_000} {
		layer, side := wandering(edges)
		l := load(b, layer)
		random := rand.New(rand.NewPCG(2, 2))
		spots := make([]water.Spot, 100_000)
		for i := range spots {
			spots[i].Point = water.Point{Latitude: 40 + random.Float64()*side, Longitude: random.Float64() * side}
		}
		b.Run(fmt.Sprintf("edges=%d", edges), func(b *testing.B) {
			b.ReportAllocs()
			f := l.Finder(rules.AnyOf(rules.PerennialStream), reach)
			found, i := 0, 0
			for b.Loop() {
				m := f.Measure(&spots[i%len(spots)])
				if d, _ := m.Water.Get(rules.PerennialStream); !d.AtLeast {
					found++
				}
				i++
			}
			b.ReportMetric(float64(found)/float64(b.N), "found/op")
			b.ReportMetric(float64(l.IndexBytes())/float64(edges), "B/edge")
			b.ReportMetric(l.LoadTime().Seconds()*1e9/float64(edges), "load-ns/edge")
		})
	}
}

// Points beside water, each far from the one before, so that little of what a query looks at
// lies in a cache.
func BenchmarkMeasureBeside(b *testing.B) {
	layer, _ := wandering(1_000_000)
	l := load(b, layer)
	random := rand.New(rand.NewPCG(3, 3))
	spots := make([]water.Spot, 400_000)
	for i := range spots {
		at := layer["features"].([]object)[1+random.IntN(1000)]["geometry"].(object)["coordinates"].([][2]float64)[random.IntN(1000)]
		way, far := 2*math.Pi*random.Float64(), 250*random.Float64()
		spots[i].Point = water.Point{Latitude: at[1] + far*math.Sin(way)/111_000, Longitude: at[0] + far*math.Cos(way)/85_000}
	}
	b.ResetTimer()
	b.RunParallel(func(p *testing.PB) {
		f := l.Finder(rules.AnyOf(rules.PerennialStream), reach)
		var m water.Measured
		for i := random.Int(); p.Next(); i++ {
			f.MeasureInto(&spots[i%len(spots)], &m)
		}
	})
}

// The farthest that anybody may ask for, and a patch of 500 m about.
func BenchmarkMeasureFar(b *testing.B) {
	layer, side := wandering(1_000_000)
	l := load(b, layer)
	middle := water.Point{Latitude: 40 + side/2, Longitude: side / 2}
	for name, at := range map[string]*water.Spot{
		"stem":  {Point: middle},
		"patch": {Outline: [][]water.Ring{{ringOf(square(middle.Longitude, middle.Latitude, 60*metre))}}},
	} {
		for _, reach := range []quantity.Micrometres{reach, 10_000 * quantity.Metre} {
			b.Run(fmt.Sprintf("%s,reach=%vm", name, reach.Metres()), func(b *testing.B) {
				f := l.Finder(every, reach)
				for b.Loop() {
					f.Measure(at)
				}
			})
		}
	}
}

func ringOf(positions [][2]float64) (r water.Ring) {
	for _, p := range positions {
		r = append(r, water.Point{Latitude: p[1], Longitude: p[0]})
	}
	return r
}
