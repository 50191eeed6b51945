package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"

	"example.org/rootward/bench/postgres"
)

// reach is how far is looked for water, in metres.
const reach = 150

// rivers draws lines that wander about a region of two degrees, of about thirty metres an
// edge.
func rivers(edges int) [][2]postgres.Point {
	const perRiver = 1_000
	random := rand.New(rand.NewPCG(seed, 1))
	list := make([][2]postgres.Point, 0, edges)
	for len(list) < edges {
		at := postgres.Point{Longitude: -39 + 2*random.Float64(), Latitude: 42 + 2*random.Float64()}
		heading := 2 * math.Pi * random.Float64()
		for range min(perRiver, edges-len(list)) {
			heading += (random.Float64() - 0.5) * 0.8
			step := 0.00015 + 0.00025*random.Float64()
			next := postgres.Point{Longitude: at.Longitude + step*math.Cos(heading)/0.73, Latitude: at.Latitude + step*math.Sin(heading)}
			list = append(list, [2]postgres.Point{at, next})
			at = next
		}
	}
	return list
}

// near draws points up to about 250 m from water.
func near(edges [][2]postgres.Point, n int) []postgres.Point {
	random := rand.New(rand.NewPCG(seed, 2))
	points := make([]postgres.Point, n)
	for i := range points {
		at := edges[random.IntN(len(edges))][0]
		angle, far := 2*math.Pi*random.Float64(), 0.00225*random.Float64()
		points[i] = postgres.Point{Longitude: at.Longitude + far*math.Cos(angle)/0.73, Latitude: at.Latitude + far*math.Sin(angle)}
	}
	return points
}

// aroundRivers is where the layer of rivers shows all there is.
const aroundRivers = `
{"type":"Feature","properties":{"coverage_of":"perennial_stream"},"geometry":{"type":"Polygon","coordinates":[[[-42,39],[-34,39],[-34,47],[-42,47],[-42,39]]]}},`

// layers writes streams as a layer of water, and has the product load it.
func (b *bench) layers(edges [][2]postgres.Point, coverage string) (*water.Layers, error) {
	dir, err := os.MkdirTemp(b.dir, "water-")
	if err != nil {
		return nil, err
	}
	var text strings.Builder
	text.WriteString(`{"type":"FeatureCollection","water_class":"perennial_stream","origin":"water_edge","features":[` + coverage)
	for i := 0; i < len(edges); {
		if i > 0 {
			text.WriteString(",")
		}
		fmt.Fprintf(&text, "\n"+`{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[%.15g,%.15g]`, edges[i][0].Longitude, edges[i][0].Latitude)
		for last := edges[i][0]; i < len(edges) && edges[i][0] == last; i++ {
			last = edges[i][1]
			fmt.Fprintf(&text, ",[%.15g,%.15g]", last.Longitude, last.Latitude)
		}
		text.WriteString("]}}")
	}
	text.WriteString("]}\n")
	if err := os.WriteFile(filepath.Join(dir, "streams.geojson"), []byte(text.String()), 0o644); err != nil {
		return nil, err
	}
	return water.Load(dir)
}

// spots are points as the product takes them, stated exactly.
func spots(points []postgres.Point) []water.Spot {
	list := make([]water.Spot, len(points))
	for i, p := range points {
		list[i] = water.Spot{Point: water.Point{Latitude: p.Latitude, Longitude: p.Longitude}}
	}
	return list
}

func streams(l *water.Layers, metres int) *water.Finder {
	return l.Finder(rules.AnyOf(rules.PerennialStream), quantity.Micrometres(metres)*quantity.Metre)
}

// water compares distances to the nearest water with PostGIS by time, and with
// GeographicLib by what is wrong with them.
func (b *bench) water(ctx context.Context) ([]result, error) {
	timed, err := b.nearest(ctx)
	if err != nil {
		timed = postgisLine.missing(err)
	}
	exact, err := b.exact(ctx)
	if err != nil {
		exact = errorLine.missing(err)
	}
	return []result{timed, exact}, nil
}

func (b *bench) nearest(ctx context.Context) (result, error) {
	edges := rivers(b.size(1_000_000, 100_000))
	layers, err := b.layers(edges, aroundRivers)
	if err != nil {
		return result{}, err
	}
	forDatabase := b.size(5_000, 1_000)
	points := near(edges, b.size(400_000, 100_000))
	cluster, err := b.database(ctx)
	if err != nil {
		return result{}, err
	}
	conn, err := cluster.Connect(ctx)
	if err != nil {
		return result{}, err
	}
	defer conn.Close(ctx)
	if err := postgres.LoadWater(ctx, conn, edges, points[:forDatabase]); err != nil {
		return result{}, err
	}
	theirs, err := postgres.Distances(ctx, conn, reach)
	if err != nil {
		return result{}, err
	}
	if err := near150(layers, points, theirs); err != nil {
		return result{}, err
	}
	all := spots(points)
	medians, err := alternately(b.runs(),
		func() (time.Duration, error) { return measured(layers, all) },
		func() (time.Duration, error) { return postgres.Nearest(ctx, cluster, forDatabase, reach, cores) },
	)
	if err != nil {
		return result{}, err
	}
	ours, other := each(medians[0], int64(len(all))), each(medians[1], int64(forDatabase))
	return result{line: postgisLine, ratio: other / ours, measured: nanoseconds(ours), peer: nanoseconds(other)}, nil
}

func measured(layers *water.Layers, all []water.Spot) (time.Duration, error) {
	var finders [cores]*water.Finder
	var found [cores]water.Measured
	for w := range finders {
		finders[w] = streams(layers, reach)
	}
	return onCores(*usedCores, len(all), func(w, i int) error {
		finders[w].MeasureInto(&all[i], &found[w])
		return nil
	})
}

// asPostGIS is how far the two may differ: PostGIS finds the nearest point of an edge
// on a sphere.
const asPostGIS = 0.05 // metres

// near150 holds the product's distances against PostGIS's.
func near150(layers *water.Layers, points []postgres.Point, theirs []float64) error {
	finder := streams(layers, reach)
	for i, want := range theirs {
		m := finder.Measure(&water.Spot{Point: water.Point{Latitude: points[i].Latitude, Longitude: points[i].Longitude}})
		d, known := m.Water.Get(rules.PerennialStream)
		got := d.Distance.Metres()
		switch {
		case !known:
			return fmt.Errorf("point %v: nothing is known of water that the layer covers", points[i])
		case want < 0 && got > reach-asPostGIS, want >= 0 && math.Abs(got-want) < asPostGIS:
		default:
			return fmt.Errorf("point %v: the server measures %.4f m (at least: %t) and PostGIS %.4f m", points[i], got, d.AtLeast, want)
		}
	}
	return nil
}
