package water_test

import (
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/water"
)

// A GeoPackage that GDAL writes says what the GeoJSON says that it was made from; one
// that GDAL brings to another reference system is refused with that system's name.
func TestGeoPackagesOfGDAL(t *testing.T) {
	convert := oracle(t, "ogr2ogr")
	from := t.TempDir()
	covered := all()
	covered["properties"].(object)["coverage_of"] = "perennial_stream, lake" // a column holds one text
	features := []object{covered, lake(square(-1, 51, 0.1), square(-1, 51, 0.05))}
	for _, line := range rivers(t) {
		features = append(features, stream(positions(line)...))
	}
	folder(t, from, collection(features...))
	converted := func(args ...string) (*water.Layers, error) {
		dir := t.TempDir()
		args = append(args, "-f", "GPKG", filepath.Join(dir, "layer0.gpkg"), filepath.Join(from, "layer0.geojson"))
		out, err := exec.CommandContext(t.Context(), convert, args...).CombinedOutput()
		require.NoError(t, err, "%s", out)
		return water.Load(dir)
	}

	got, err := converted()
	require.NoError(t, err)
	want, err := water.Load(from)
	require.NoError(t, err)
	random := rand.New(rand.NewPCG(8, 8))
	s := shores{}
	for _, line := range rivers(t) {
		s.edges = append(s.edges, edge{line[0], line[1]})
	}
	ours, theirs := want.Finder(every, reach), got.Finder(every, reach)
	for range 5_000 {
		at := &water.Spot{Point: s.beside(random, s.edges[random.IntN(len(s.edges))], random.Float64()*200)}
		require.Equal(t, ours.Measure(at), theirs.Measure(at))
	}
	assert.Equal(t, ours.Measure(spot(-1, 51.07)), theirs.Measure(spot(-1, 51.07)), "in a lake")

	_, err = converted("-t_srs", "EPSG:3857")
	assert.ErrorContains(t, err, `srs_id: 3857 is "WGS 84 / Pseudo-Mercator" ("EPSG":3857), not WGS 84; convert the layer to EPSG:4326`)
}
