package api

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
)

// Rows that are copied are read as those are that are looked at value by value, and all
// that has a fault is looked at.
func TestCopiedRowsAreThoseThatAreRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := &chunkRows{}
		k.look(wildChunk(t))
		for i := range columnar.Rows(k.StemChunk) {
			var copied, read row
			copied.readRow(k, i)
			read.stem.ID, read.stem.Species = copied.stem.ID, copied.stem.Species
			read.readColumns(k, i)
			assert.Equal(t, read.stem, copied.stem)
			assert.Equal(t, read.list, copied.list)
		}
	})
}

// wildChunk draws columns of numbers and words, some of which nobody may state. Each is
// left out now and then.
func wildChunk(t *rapid.T) *treatmentv1.StemChunk {
	rows := rapid.IntRange(1, 19).Draw(t, "rows")
	c := &treatmentv1.StemChunk{Words: []string{"ailanthus"}, Species: make([]int32, rows), Site: make([]int32, rows)}
	ids := make([]string, rows)
	columnar.SetIDs(c, ids...)
	number := rapid.SampledFrom([]int64{-1 << 63, -2, notKnown, 0, 1, 300, 20_000, 5_000_000, 5_000_001, 1 << 62, 1<<63 - 1})
	numbers := func(name string) []int64 {
		if rapid.Bool().Draw(t, name+" left out") {
			return nil
		}
		return rapid.SliceOfN(number, rows, rows).Draw(t, name)
	}
	words := func(name string) []byte {
		if rapid.Bool().Draw(t, name+" left out") {
			return nil
		}
		return rapid.SliceOfN(rapid.SampledFrom([]byte{0, 1, 2, 3, 9, 255}), rows, rows).Draw(t, name)
	}
	c.Form, c.Desirable, c.LandUse, c.Soil = words("form"), words("desirable"), words("land use"), words("soil")
	c.Bark, c.RootCheck, c.SeedBearing = words("bark"), words("root check"), words("seed")
	c.DiameterUm, c.HeightUm, c.Count, c.StemsPerHa = numbers("diameter"), numbers("height"), numbers("count"), numbers("density")
	c.AreaMm2, c.CrownWidthUm, c.LargerCount = numbers("area"), numbers("crown"), numbers("larger count")
	c.LargerDiameterUm, c.SlopePermille = numbers("larger diameter"), numbers("slope")
	return c
}

// A word that is none is found wherever in its column it stands.
func TestWordsAreSoundIfAllAreKnown(t *testing.T) {
	for v := range 256 {
		for rows := 1; rows <= 17; rows++ {
			for at := range rows {
				column := make([]byte, rows)
				column[at] = byte(v)
				require.Equal(t, isWord(rules.LandUse(v)), wordsOf[rules.LandUse](column).sound, "word %d at %d of %d rows", v, at, rows)
			}
		}
	}
}

// Positions are passed over only if none has a fault, and are then left as they were.
func TestPositionsThatArePassedOverHaveNoFault(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.IntRange(1, 9).Draw(t, "rows")
		degrees := func(name string, most float64) []float64 {
			if rapid.IntRange(0, 9).Draw(t, name+" left out") == 0 {
				return nil
			}
			edges := []float64{0, math.Copysign(0, -1), 1, -most, most, math.SmallestNonzeroFloat64}
			if rapid.Bool().Draw(t, name+" may be wrong") {
				edges = append(edges, math.Nextafter(most, 360), -math.Nextafter(most, 360), math.NaN(), -math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64)
			}
			return rapid.SliceOfN(rapid.SampledFrom(edges), rows, rows).Draw(t, name)
		}
		c := &treatmentv1.StemChunk{Species: make([]int32, rows), Words: []string{"ailanthus"}, LatitudeDeg: degrees("latitude", 90), LongitudeDeg: degrees("longitude", 180)}
		columnar.SetIDs(c, make([]string, rows)...)
		if rapid.Bool().Draw(t, "uncertain") {
			c.CoordinateUncertaintyUm = rapid.SliceOfN(rapid.SampledFrom([]int64{notKnown, 1, 1, 1, maxDistance + rapid.Int64Range(0, 1).Draw(t, "too far")}), rows, rows).Draw(t, "uncertainty")
		}
		if rapid.IntRange(0, 9).Draw(t, "with an outline") == 0 {
			c.Outlines = []*treatmentv1.RowOutline{{}}
		}
		k := &chunkRows{}
		k.look(c)
		faults := 0
		for i := range rows {
			var r row
			r.readRow(k, i)
			faults += len(r.list)
		}
		k.passOverPositions()
		if len(c.LatitudeDeg) == len(c.LongitudeDeg) {
			assert.Equal(t, faults > 0 || len(c.Outlines) > 0, k.placed)
		}
		if k.placed {
			return
		}
		assert.Zero(t, faults)
		r := row{position: position{known: true}}
		r.readRow(k, 0)
		assert.True(t, r.position.known, "it is left as it was")
	})
}
