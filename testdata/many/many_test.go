package many_test

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"testing"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client/inventory"
	"example.org/rootward/testdata/many"
)

const rows = 20_000

func table(t testing.TB, seed uint64, rows int64) string {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, many.WriteCSV(&out, seed, rows))
	return out.String()
}

func TestTheSeedDecides(t *testing.T) {
	assert.Equal(t, table(t, 1, 2_000), table(t, 1, 2_000))
	assert.NotEqual(t, table(t, 1, 2_000), table(t, 2, 2_000))
	long := table(t, 1, 3_000)
	assert.Equal(t, table(t, 1, 2_000), long[:len(table(t, 1, 2_000))], "a longer inventory begins as a shorter one does")
}

func TestChunksOfAnySizeHoldTheSameRows(t *testing.T) {
	collect := func(size int) []string {
		var list []string
		next := int64(1)
		for c := range many.Chunks(3, 1_000, size) {
			require.Equal(t, next, c.FirstRow)
			next += int64(columnar.Rows(c))
			for i, id := range columnar.IDs(c) {
				list = append(list, fmt.Sprint(id, c.Words[c.Site[i]], c.Words[c.Species[i]], c.Form[i], c.DiameterUm[i], c.Water[0].DistanceUm[i], c.LatitudeDeg[i]))
			}
		}
		return list
	}
	want := collect(1_000)
	require.Len(t, want, 1_000)
	for _, size := range []int{1, 7, 999, 5_000} {
		assert.Equal(t, want, collect(size))
	}
	for range many.Chunks(3, 1_000, 10) {
		break
	}
}

// The chunks are what the product reads from the table, but for the rows whose
// diameter is no number.
func TestChunksAreWhatTheTableIsReadAs(t *testing.T) {
	r, err := inventory.NewCSV(bytes.NewReader([]byte(table(t, 9, rows))))
	require.NoError(t, err)
	read := map[string]*inventory.Record{}
	for {
		record, err := r.Next()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		read[record.Stem.StemId] = record
	}
	unread, whole := 0, 0
	for want := range many.Chunks(9, rows, 1_000) {
		chunker := inventory.NewChunker()
		sound := true
		for i, id := range columnar.IDs(want) {
			if sound = sound && !read[id].Rejected(); read[id].Rejected() {
				require.Zero(t, want.DiameterUm[i])
				unread++
			}
		}
		if !sound {
			continue
		}
		whole++
		for _, id := range columnar.IDs(want) {
			require.True(t, chunker.Add(read[id]))
		}
		requireSameRows(t, want, chunker.Take().Stems)
	}
	assert.Positive(t, whole)
	assert.InDelta(t, rows/700, unread, 15)
}

// requireSameRows allows for the rounding of positions, which a reader adds to how
// far they may be off, and for columns that no row of the chunk states.
func requireSameRows(t *testing.T, want, got *treatmentv1.StemChunk) {
	t.Helper()
	require.Equal(t, want.StemIds, got.StemIds)
	for i := range columnar.Rows(want) {
		require.Equal(t, want.Words[want.Site[i]], got.Words[got.Site[i]])
		require.Equal(t, want.Words[want.Species[i]], got.Words[got.Species[i]])
		rounding := got.CoordinateUncertaintyUm[i] - want.CoordinateUncertaintyUm[i]
		require.Positive(t, rounding)
		require.Less(t, rounding, int64(1_000_000), "of six decimals, a metre at most")
	}
	want, got = proto.CloneOf(want), proto.CloneOf(got)
	for _, c := range []*treatmentv1.StemChunk{want, got} {
		c.FirstRow, c.Words, c.Site, c.Species, c.CoordinateUncertaintyUm = 0, nil, nil, nil, nil
		for _, column := range []*[]int64{&c.StemsPerHa, &c.AreaMm2, &c.LargerCount, &c.LargerDiameterUm, &c.OtherWaterBeyondUm, &c.Count} {
			if !slices.ContainsFunc(*column, func(v int64) bool { return v != -1 }) {
				*column = nil
			}
		}
		c.Desirable, c.Bark, c.Soil, c.RootCheck = known(c.Desirable), known(c.Bark), known(c.Soil), known(c.RootCheck)
		c.Water = slices.DeleteFunc(c.Water, func(w *treatmentv1.WaterColumn) bool {
			w.Origin, w.State = known(w.Origin), known(w.State)
			return !slices.ContainsFunc(w.DistanceUm, func(v int64) bool { return v != -1 })
		})
	}
	require.True(t, proto.Equal(want, got), "%v\n%v", want, got)
}

// known empties a column of words that states none.
func known(column []byte) []byte {
	if slices.ContainsFunc(column, func(v byte) bool { return v != 0 }) {
		return column
	}
	return nil
}

func TestBeginHasTheSitesOfTheRows(t *testing.T) {
	begin := many.Begin(rows)
	sites := map[string]*treatmentv1.Site{}
	for _, s := range begin.Sites {
		sites[s.SiteId] = s
	}
	require.Len(t, sites, rows/2_000)
	for c := range many.Chunks(1, rows, 5_000) {
		for _, at := range c.Site {
			require.Contains(t, sites, c.Words[at])
		}
	}
	assert.Equal(t, many.Date, fmt.Sprintf("%04d-%02d-%02d", begin.Date.Year, begin.Date.Month, begin.Date.Day))
	assert.LessOrEqual(t, len(many.Begin(10_000_000).Sites), 100_000)
}

func TestParquetHasTheRowsOfTheTable(t *testing.T) {
	var out bytes.Buffer
	require.NoError(t, many.WriteParquet(&out, 1, 100_001))
	file, err := parquet.OpenFile(bytes.NewReader(out.Bytes()), int64(out.Len()))
	require.NoError(t, err)
	assert.EqualValues(t, 100_001, file.NumRows())
	assert.Len(t, file.RowGroups(), 2)
	assert.Len(t, file.Root().Columns(), 31)
}

func BenchmarkChunks(b *testing.B) {
	for b.Loop() {
		for range many.Chunks(1, 100_000, 16_384) {
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*100_000), "ns/row")
}
