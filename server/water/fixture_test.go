package water_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"
)

// every is the set of all classes.
var every = rules.AnyOf(rules.Words[rules.WaterClass]()...)

// world covers the earth.
var world = [][2]float64{{-180, -90}, {0, -90}, {180, -90}, {180, 90}, {0, 90}, {-180, 90}, {-180, -90}}

// object is a GeoJSON object.
type object map[string]any

func collection(features ...object) object {
	return object{"type": "FeatureCollection", "features": features}
}

func shape(kind string, coordinates any, properties object) object {
	return object{"type": "Feature", "properties": properties, "geometry": object{"type": kind, "coordinates": coordinates}}
}

func stream(line ...[2]float64) object {
	return shape("LineString", line, object{"water_class": "perennial_stream", "origin": "water_edge"})
}

// bed is a stream that runs east at a latitude, in metres, and is a metre wide from
// there on.
func bed(at float64, origin any) object {
	far := at + math.Copysign(1, at)
	return shape("Polygon", [][][2]float64{rectangle(at, far)}, object{"water_class": "perennial_stream", "origin": origin})
}

// rectangle reaches from one latitude to another, in metres, and far to both sides.
func rectangle(from, to float64) [][2]float64 {
	return [][2]float64{{-1, from * metre}, {1, from * metre}, {1, to * metre}, {-1, to * metre}, {-1, from * metre}}
}

func lake(rings ...[][2]float64) object {
	return shape("Polygon", rings, object{"water_class": "lake", "origin": "water_edge"})
}

func well(at [2]float64) object {
	return shape("Point", at, object{"water_class": "well", "origin": "water_edge"})
}

func coverage(of any, rings ...[][2]float64) object {
	return shape("Polygon", rings, object{"coverage_of": of})
}

// all covers every class on the earth.
func all() object {
	var words []string
	for _, class := range rules.Words[rules.WaterClass]() {
		words = append(words, class.String())
	}
	f := coverage(words, world)
	f["properties"].(object)["origin"] = "bank_top"
	return f
}

// folder writes layers, named by their place in the list, as GeoJSON.
func folder(t require.TestingT, dir string, layers ...object) string {
	for i, l := range layers {
		text, err := json.Marshal(l)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("layer%d.geojson", i)), text, 0o600))
	}
	return dir
}

func load(t testing.TB, layers ...object) *water.Layers {
	t.Helper()
	l, err := water.Load(folder(t, t.TempDir(), layers...))
	require.NoError(t, err)
	return l
}

func spot(lon, lat float64) *water.Spot {
	return &water.Spot{Point: water.Point{Latitude: lat, Longitude: lon}}
}

const reach = 150 * quantity.Metre

// square is a closed ring about a point, half a side in degrees.
func square(lon, lat, half float64) [][2]float64 {
	return [][2]float64{{lon - half, lat - half}, {lon + half, lat - half}, {lon + half, lat + half}, {lon - half, lat + half}, {lon - half, lat - half}}
}
