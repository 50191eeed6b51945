package inventory_test

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/client/inventory"
	"example.org/rootward/testdata/many"
)

// Lines are read several at a time: whatever is odd about some of them, the others come to
// what they are.
func TestOddRowsAmongMany(t *testing.T) {
	var drawn bytes.Buffer
	require.NoError(t, many.WriteCSV(&drawn, 5, 5_000))
	lines := strings.Split(strings.TrimSuffix(drawn.String(), "\n"), "\n")
	odd := []string{"", `""`, `"a, b"`, `"6"`, " 6", "6,5", "é", "\xff", "x\r", "6\x00", "none\x00", "\"a\nb\"", "-0", "0", "91", "tree", "us", "m-0000000001", strings.Repeat("x", 300), "99999999999999", "1e3", "6.", ".6"}
	rapid.Check(t, func(t *rapid.T) {
		first := rapid.IntRange(1, 4_500).Draw(t, "first")
		text := append([]string{lines[0]}, lines[first:first+rapid.IntRange(1, 300).Draw(t, "rows")]...)
		for range rapid.IntRange(0, 12).Draw(t, "odd rows") {
			at := rapid.IntRange(1, len(text)-1).Draw(t, "row")
			cells := strings.Split(text[at], ",")
			cells[rapid.IntRange(0, len(cells)-1).Draw(t, "cell")] = rapid.SampledFrom(odd).Draw(t, "text")
			switch text[at] = strings.Join(cells, ","); rapid.IntRange(0, 9).Draw(t, "line") {
			case 0:
				text[at] = ""
			case 1:
				text[at] = text[len(text)-at]
			}
		}
		end := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "line end")
		whole := strings.Join(text, end)
		if rapid.Bool().Draw(t, "ended") {
			whole += end
		}
		if rapid.IntRange(0, 3).Draw(t, "quoted") == 0 {
			whole = strings.NewReplacer(",", `","`, end, `"`+end+`"`).Replace(`"` + whole + `"`)
		}
		var metres *float64
		if rapid.Bool().Draw(t, "stated uncertainty") {
			metres = new(1.5)
		}
		requireSameBlocks(t, whole, metres)
	})
}

// A line that is too long to be read quickly is read carefully, and those beside it are not lost.
func TestLongLinesAmongShortOnes(t *testing.T) {
	text := &strings.Builder{}
	text.WriteString("occurrenceID,locationID,scientificName,form,place,occurrenceRemarks\n")
	for i := range 40 {
		fmt.Fprintf(text, "i%d,north,Ailanthus altissima,tree,us/velmora,%s\n", i, strings.Repeat("r", i%2*66_000))
		fmt.Fprintf(text, "k%d,north,Ailanthus altissima,tree,us/velmora,\n", i)
	}
	requireSameBlocks(t, text.String(), nil)
}

// Blocks end with the row that would make a chunk too large, wherever it is in what is read
// together, as chunks that are made row by row do: batches know theirs again by what is in them.
func TestBlocksEndWhereChunksDo(t *testing.T) {
	text := &strings.Builder{}
	text.WriteString("occurrenceID,locationID,scientificName,form,place,decimalLatitude,decimalLongitude,dbh_in,slope_percent\n")
	for i := range 40_000 {
		site, slope := "north", ""
		if i%3_000 == 2_999 {
			site, slope = "south", strconv.Itoa(i%70)
		}
		fmt.Fprintf(text, "%0*d,%s,%0*d,tree,us/velmora,%d.%05d,-%d.5,%d,%s\n", 150+i%50, i, site, 100+i%80, i%7_000, i%3, i, i%40, i%60+1, slope)
	}
	byRecord, err := inventory.NewCSV(strings.NewReader(text.String()))
	require.NoError(t, err)
	chunker, rows, want := inventory.NewChunker(), 0, []int{}
	chunker.Uncertainty = new(2.0)
	drain(t, byRecord, func(r *inventory.Record) {
		if !chunker.Add(r) {
			want, rows = append(want, rows), 0
			chunker.Take()
			require.True(t, chunker.Add(r))
		}
		rows++
	})
	inBlocks, err := inventory.NewCSV(strings.NewReader(text.String()))
	require.NoError(t, err)
	inBlocks.Uncertainty(new(2.0))
	block, got := &inventory.Block{}, []int{}
	for err = inBlocks.Fill(block); err == nil; err = inBlocks.Fill(block) {
		got = append(got, block.Len())
	}
	require.ErrorIs(t, err, io.EOF)
	require.Equal(t, append(want, rows), got)
	require.Less(t, got[0], 16_384)
	require.Equal(t, 40_000, requireSameBlocks(t, text.String(), new(2.0)))
}

// Far more texts than are remembered of a column, each several times among few lines: what
// one takes the place of, the lines before it still come to.
func TestTextsThatTakeEachOthersPlace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := &strings.Builder{}
		text.WriteString("occurrenceID,locationID,scientificName,form,place,dbh_in,root_collar_in,height_ft,slope_percent\n")
		some := rapid.IntRange(1, 2_000).Draw(t, "texts")
		drawn := rapid.SliceOfN(rapid.IntRange(1, some), 64, 400).Draw(t, "of lines")
		for i, n := range drawn {
			dbh, collar := fmt.Sprintf("%d.%02d", n/100, n%100+1), ""
			if n%3 == 0 {
				dbh, collar = collar, dbh
			}
			fmt.Fprintf(text, "t-%d,north,Ailanthus altissima,tree,us/velmora,%s,%s,%d,%d\n", i, dbh, collar, n%90+1, n%37)
		}
		requireSameBlocks(t, text.String(), nil)
	})
}
