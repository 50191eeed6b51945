package inventory_test

import (
	"fmt"
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/client/inventory"
)

// cartesian gives a point of the ellipsoid of WGS 84 in metres (a and f of NIMA
// TR8350.2).
func cartesian(latitude, longitude float64) [3]float64 {
	const a, f = 6_378_137.0, 1 / 298.257223563
	const e2 = f * (2 - f)
	lat, lon := latitude*math.Pi/180, longitude*math.Pi/180
	n := a / math.Sqrt(1-e2*math.Sin(lat)*math.Sin(lat))
	return [3]float64{n * math.Cos(lat) * math.Cos(lon), n * math.Cos(lat) * math.Sin(lon), n * (1 - e2) * math.Sin(lat)}
}

func chord(p, q [3]float64) float64 {
	return math.Sqrt((p[0]-q[0])*(p[0]-q[0]) + (p[1]-q[1])*(p[1]-q[1]) + (p[2]-q[2])*(p[2]-q[2]))
}

// Whatever is rounded to a position lies within its rounding, which is not much more
// than it has to be.
func TestRoundingHoldsWhatWasRounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		latitude, longitude := rapid.Float64Range(-89, 89).Draw(t, "latitude"), rapid.Float64Range(-179, 179).Draw(t, "longitude")
		write := func(v float64, name string) string {
			return strconv.FormatFloat(v, 'f', rapid.IntRange(1, 8).Draw(t, name), 64)
		}
		lat, lon := write(latitude, "decimals of latitude"), write(longitude, "decimals of longitude")
		read := func(text string) float64 { v, _ := strconv.ParseFloat(text, 64); return v }
		off := chord(cartesian(latitude, longitude), cartesian(read(lat), read(lon)))
		const noise = 1e-8 // metres, of the arithmetic here
		assert.LessOrEqual(t, off, inventory.Rounding(lat, lon)+noise)
	})
}

// The lengths of degrees: at the equator one of longitude has 111,319.49 m and one of
// latitude 110,574.28 m, at a pole one of latitude has 111,693.98 m (a·π/180,
// a(1-e²)·π/180 and a²/b·π/180 of WGS 84).
func TestRounding(t *testing.T) {
	for _, c := range []struct {
		lat, lon string
		metres   float64
	}{
		{"0.00000", "10.00000", 0.79},  // half of 1.113 m and of 1.106 m
		{"43.00000", "10.00000", 0.69}, // half of 1.111 m and of 0.816 m
		{"43.000000", "-37.97", 407.5}, // half of 816 m
		{"43", "10.000000", 55_847},
		{"89.999999", "10", 0.056},  // nearly no longitude is left
		{"-43.5", "170.5", 6_900.0}, // half of 11,110 m and of 8,100 m
	} {
		got := inventory.Rounding(c.lat, c.lon)
		assert.InEpsilon(t, c.metres, got, 0.02, "%s %s", c.lat, c.lon)
	}
}

func TestPositionsAreSent(t *testing.T) {
	const columns = "decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters"
	rec := rowOf(t, columns, "43.00000,10.00000,5")
	require.Empty(t, rec.Faults)
	assert.Equal(t, 43.0, rec.Stem.GetLatitudeDeg())
	assert.Equal(t, 10.0, rec.Stem.GetLongitudeDeg())
	assert.InDelta(t, 5.69, rec.Stem.GetCoordinateUncertaintyM(), 0.01, "the rounding is added")
	assert.Equal(t, 5.0, *rec.Uncertainty, "what was stated stays")

	rec = rowOf(t, columns, "43.00000,10.00000,")
	assert.Nil(t, rec.Stem.CoordinateUncertaintyM, "not known")
	assert.Nil(t, rec.WithRounding(nil))
	assert.InDelta(t, 8.69, *rec.WithRounding(ptr(8.0)), 0.01, "what holds for all rows")

	rec = rowOf(t, columns, "43.00000,10.00000,1000001")
	require.Len(t, rec.Faults, 1)
	assert.Contains(t, rec.Faults[0].String(), "more than 1000000 metres")
}

func ptr[T any](v T) *T { return &v }

func featureAt(geometry string) string {
	return fmt.Sprintf(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":%s,"properties":{"occurrenceID":"a1",
		"scientificName":"Ailanthus altissima","locationID":"s1","place":"us/velmora","form":"tree","coordinateUncertaintyInMeters":2}}]}`, geometry)
}

func TestPositionsOfFeatures(t *testing.T) {
	for name, c := range map[string]struct {
		geometry string
		metres   float64 // uncertainty with rounding
		rings    int
	}{
		"a point":                    {`{"type":"Point","coordinates":[10.00001,43.00001]}`, 2.69, 0},
		"a point with a height":      {`{"type":"Point","coordinates":[10.00001, 43.00001, 215.12345678]}`, 2.69, 0},
		"a point with an exponent":   {`{"type":"Point","coordinates":[1000001e-5,4300001e-5]}`, 2.69, 0},
		"an outline":                 {`{"type":"Polygon","coordinates":[[[10.00001,43.00001],[10.00101,43.00001],[10.001,43.001],[10.00001,43.00001]]]}`, 2.79, 1},
		"an outline with heights":    {`{"type":"Polygon","coordinates":[[[10.00001,43.00001,1.1234567],[10.00101,43.00001,2],[10.001,43.001,3],[10.00001,43.00001,1.1234567]]]}`, 2.79, 1},
		"outlines, one with a hole":  {`{"type":"MultiPolygon","coordinates":[[[[10,43],[10.01,43],[10.01,43.01],[10,43]],[[10.005,43.001],[10.006,43.001],[10.006,43.002],[10.005,43.001]]],[[[10.02,43.02],[10.03,43.02],[10.03,43.03],[10.02,43.02]]]]}`, 2 + 78.98, 3},
		"an outline to seven places": {`{"type":"Polygon","coordinates":[[[10,43],[10.0000005,43],[10.0012345,43.0012345],[10,43]]]}`, 2.008, 1},
	} {
		t.Run(name, func(t *testing.T) {
			rec := readGeoJSON(t, featureAt(c.geometry))[0]
			require.Empty(t, rec.Faults)
			assert.InDelta(t, c.metres, rec.Stem.GetCoordinateUncertaintyM(), 0.01)
			require.Len(t, rec.Stem.GetOutline(), c.rings)
			if c.rings == 0 {
				assert.Equal(t, 43.00001, rec.Stem.GetLatitudeDeg())
				return
			}
			assert.Nil(t, rec.Stem.LatitudeDeg, "an outline is where it lies")
			for i, ring := range rec.Stem.Outline {
				assert.Equal(t, i == 1, ring.Hole, i)
			}
			ring := rec.Stem.Outline[0]
			assert.Len(t, ring.LatitudeDeg, 3, "the last position repeats the first")
			assert.Equal(t, 10.0, math.Trunc(ring.LongitudeDeg[0]))
			assert.Equal(t, 43.0, math.Trunc(ring.LatitudeDeg[0]))
		})
	}
}

func TestPositionsInChunks(t *testing.T) {
	chunker := inventory.NewChunker()
	chunker.Uncertainty = ptr(8.0)
	list := readCSV(t, header+",decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters\n"+
		apart(good+",,,\n"+good+",43.00000,10.00000,5\n"+good+",43.00000,10.00000,\n"))
	list = append(list, readGeoJSON(t, featureAt(`{"type":"Polygon","coordinates":[[[10,43],[10.01,43],[10.01,43.01],[10,43]]]}`))...)
	for _, rec := range list {
		require.Empty(t, rec.Faults)
		require.True(t, chunker.Add(rec))
	}
	c := chunker.Take().Stems
	require.Len(t, c.LatitudeDeg, 4)
	assert.True(t, math.IsNaN(c.LatitudeDeg[0]) && math.IsNaN(c.LongitudeDeg[0]) && math.IsNaN(c.LatitudeDeg[3]))
	assert.Equal(t, []float64{43, 43}, c.LatitudeDeg[1:3])
	assert.Equal(t, []float64{10, 10}, c.LongitudeDeg[1:3])
	rounding := inventory.Rounding("43.00000", "10.00000")
	um := func(metres float64) int64 { return int64(math.Ceil(metres * 1e6)) }
	assert.Equal(t, []int64{-1, um(5 + rounding), um(8 + rounding)}, c.CoordinateUncertaintyUm[:3], "rounded up")
	require.Len(t, c.Outlines, 1)
	assert.EqualValues(t, 3, c.Outlines[0].Index)
	assert.Len(t, c.Outlines[0].Rings, 1)

	for _, rec := range readCSV(t, header+"\n"+good+"\n") {
		require.True(t, chunker.Add(rec))
	}
	next := chunker.Take().Stems
	assert.Empty(t, next.Outlines)
	assert.Empty(t, next.LatitudeDeg)
	assert.Empty(t, next.CoordinateUncertaintyUm)
}
