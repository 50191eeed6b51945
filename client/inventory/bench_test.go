package inventory_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/client/inventory"
	"example.org/rootward/testdata/many"
)

const benchmarkRows = 20_000

// inventoryOf writes an inventory with most columns in use.
func inventoryOf(rows int) []byte {
	var b bytes.Buffer
	b.WriteString("occurrenceID,scientificName,locationID,place,site_area_ac,decimalLatitude,decimalLongitude,form,dbh_in,height_ft," +
		"individualCount,desirable_vegetation,land_use,soil_state,bark_state,seed_bearing,slope_percent,distance_well_ft,distance_well_from," +
		"other_water_beyond_ft,occurrenceRemarks\n")
	for i := range rows {
		fmt.Fprintf(&b, "row-%07d,Ailanthus altissima,site-%d,us/velmora/ossel-creek,6,43.%06d,-38.010345,tree,%d.%d,42,1,none,forest,moist,dry,no,12,310,water_edge,500,\"by the gate, north\"\n",
			i, i%20, i%1_000_000, 2+i%20, i%10)
	}
	return b.Bytes()
}

func BenchmarkCSV(b *testing.B) {
	text := inventoryOf(benchmarkRows)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		r, err := inventory.NewCSV(bytes.NewReader(text))
		require.NoError(b, err)
		require.Equal(b, benchmarkRows, drain(b, r, func(*inventory.Record) {}))
	}
	rowsPerSecond(b)
}

// BenchmarkStandardCSV is what of BenchmarkCSV is the standard library's reader.
func BenchmarkStandardCSV(b *testing.B) {
	text := inventoryOf(benchmarkRows)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		r := csv.NewReader(bytes.NewReader(text))
		r.ReuseRecord = true
		for n := 0; ; n++ {
			if _, err := r.Read(); err == io.EOF {
				require.Equal(b, benchmarkRows+1, n)
				break
			}
		}
	}
	rowsPerSecond(b)
}

func BenchmarkCSVToChunks(b *testing.B) {
	text := inventoryOf(benchmarkRows)
	chunker := inventory.NewChunker()
	b.ReportAllocs()
	for b.Loop() {
		r, err := inventory.NewCSV(bytes.NewReader(text))
		require.NoError(b, err)
		drain(b, r, func(rec *inventory.Record) {
			if !chunker.Add(rec) {
				chunker.Take()
				chunker.Add(rec)
			}
		})
		chunker.Take()
	}
	rowsPerSecond(b)
}

// BenchmarkBlocks is the way that files take to the server.
func BenchmarkBlocks(b *testing.B) {
	var drawn bytes.Buffer
	require.NoError(b, many.WriteCSV(&drawn, 1, benchmarkRows))
	for name, text := range map[string][]byte{"most columns": inventoryOf(benchmarkRows), "drawn": drawn.Bytes()} {
		b.Run(name, func(b *testing.B) {
			block := &inventory.Block{}
			b.SetBytes(int64(len(text)))
			b.ReportAllocs()
			for b.Loop() {
				r, err := inventory.NewCSV(bytes.NewReader(text))
				require.NoError(b, err)
				for err = r.Fill(block); err == nil; err = r.Fill(block) {
				}
				require.Equal(b, io.EOF, err)
			}
			rowsPerSecond(b)
		})
	}
}

func BenchmarkSites(b *testing.B) {
	path := filepath.Join(b.TempDir(), "inventory.csv")
	require.NoError(b, os.WriteFile(path, inventoryOf(benchmarkRows), 0o600))
	for b.Loop() {
		sites, _, err := inventory.Sites(path)
		require.NoError(b, err)
		require.Len(b, sites, 20)
	}
	rowsPerSecond(b)
}

func BenchmarkGeoJSON(b *testing.B) {
	var text bytes.Buffer
	text.WriteString(`{"type":"FeatureCollection","features":[`)
	for i := range benchmarkRows {
		if i > 0 {
			text.WriteString(",\n")
		}
		fmt.Fprintf(&text, `{"type":"Feature","geometry":{"type":"Point","coordinates":[-38.01,43.%06d]},"properties":{"occurrenceID":"row-%d",`+
			`"scientificName":"Ailanthus altissima","locationID":"site-1","place":"us/velmora","site_area_ac":6,"form":"tree","dbh_in":10.3,"height_ft":42}}`, i, i)
	}
	text.WriteString("]}")
	b.ReportAllocs()
	for b.Loop() {
		r, err := inventory.NewGeoJSON(bytes.NewReader(text.Bytes()))
		require.NoError(b, err)
		require.Equal(b, benchmarkRows, drain(b, r, func(*inventory.Record) {}))
	}
	rowsPerSecond(b)
}

func rowsPerSecond(b *testing.B) {
	b.ReportMetric(float64(b.N)*benchmarkRows/b.Elapsed().Seconds(), "rows/s")
}

// drain reads to the end and counts the rows.
func drain(t testing.TB, r *inventory.Reader, each func(*inventory.Record)) int {
	t.Helper()
	for n := 0; ; n++ {
		rec, err := r.Next()
		if err == io.EOF {
			return n
		}
		require.NoError(t, err)
		each(rec)
	}
}
