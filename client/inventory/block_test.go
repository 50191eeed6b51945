package inventory_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"example.org/rootward/client/inventory"
	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/testdata/many"
)

// requireSameBlocks reads a text in blocks and record by record, which must come to
// the same rows, the same columns and the same error.
func requireSameBlocks(t require.TestingT, text string, uncertainty *float64) (rows int) {
	byRecord, err := inventory.NewCSV(strings.NewReader(text))
	inBlocks, blocksErr := inventory.NewCSV(strings.NewReader(text))
	require.Equal(t, err, blocksErr)
	if err != nil {
		return 0
	}
	chunker := inventory.NewChunker()
	chunker.Uncertainty = uncertainty
	inBlocks.Uncertainty(uncertainty)
	block := &inventory.Block{}
	for {
		err := inBlocks.Fill(block)
		if err != nil {
			_, want := byRecord.Next()
			require.Equal(t, want, err)
			return rows
		}
		require.NotZero(t, block.Len())
		requireSameRows(t, byRecord, block, chunker)
		rows += block.Len()
	}
}

func requireSameRows(t require.TestingT, byRecord *inventory.Reader, block *inventory.Block, chunker *inventory.Chunker) {
	for i := range block.Len() {
		want, err := byRecord.Next()
		require.NoError(t, err)
		require.Equal(t, want.Number, block.Number(i))
		require.Equal(t, want.Line, block.Line(i))
		require.Equal(t, want.Place, block.Place(i))
		requireSameRecord(t, want, block.Record(i))
		require.Equal(t, want.Rejected(), block.Index(i) < 0, "%v", want.Faults)
		if !want.Rejected() {
			require.True(t, chunker.Add(want))
		}
	}
	want := chunker.Take()
	if want == nil {
		require.Empty(t, block.Message)
		return
	}
	got := &treatmentv1.StemChunk{}
	message := bytes.Join(block.Message, nil)
	require.NoError(t, proto.Unmarshal(message, got))
	require.True(t, proto.Equal(want.Stems, got), "%v\n%v", want.Stems, got)
	text, err := columnar.Append(nil, got)
	require.NoError(t, err)
	require.True(t, bytes.Equal(text, message), "the encoding is protobuf's")
	requireSameStems(t, got, block)
}

// requireSameStems holds what is kept at hand of a block's rows to what is sent.
func requireSameStems(t require.TestingT, sent *treatmentv1.StemChunk, block *inventory.Block) {
	known := func(column []int64, i int) int64 {
		if len(column) == 0 {
			return -1
		}
		return column[i]
	}
	degrees := func(column []float64, i int) string {
		if len(column) == 0 {
			return "NaN"
		}
		return fmt.Sprint(column[i])
	}
	require.Equal(t, columnar.Rows(sent), block.Good())
	require.Equal(t, sent.FirstRow, block.FirstRow)
	require.Equal(t, sent.Words, block.Words())
	for i := range block.Good() {
		s := block.Stem(i)
		require.Equal(t, columnar.ID(sent, i), string(block.ID(i)))
		require.Equal(t, []int32{sent.Site[i], sent.Species[i], int32(at(sent.Form, i))}, []int32{s.Site, s.Species, int32(s.Form)})
		require.Equal(t, known(sent.DiameterUm, i), s.DiameterUm)
		require.Equal(t, []string{degrees(sent.LatitudeDeg, i), degrees(sent.LongitudeDeg, i)}, []string{fmt.Sprint(s.Latitude), fmt.Sprint(s.Longitude)})
		want := int64(1)
		if density, area := known(sent.StemsPerHa, i), known(sent.AreaMm2, i); density >= 0 && area >= 0 {
			want = int64(math.Ceil(float64(density) * (float64(area) / 1e6) / 10_000))
		}
		if count := known(sent.Count, i); count >= 0 {
			want = count
		}
		require.Equal(t, want, s.Count)
	}
}

func requireSameRecord(t require.TestingT, want, got *inventory.Record) {
	require.True(t, proto.Equal(want.Stem, got.Stem), "%v\n%v", want.Stem, got.Stem)
	require.Equal(t, want.Faults, got.Faults)
	require.Equal(t, want.Geometry(), got.Geometry())
	a, b := *want, *got
	a.Stem, b.Stem = nil, nil
	require.Equal(t, a, b)
}

func TestBlocksHoldWhatRecordsDo(t *testing.T) {
	var drawn bytes.Buffer
	require.NoError(t, many.WriteCSV(&drawn, 3, 20_000))
	faults, err := os.ReadFile(filepath.Join("testdata", "faults.csv"))
	require.NoError(t, err)
	demo, err := os.ReadFile(filepath.Join("..", "..", "testdata", "demo", "inventory.csv"))
	require.NoError(t, err)
	open, err := os.ReadFile(filepath.Join("..", "..", "testdata", "open", "inventory.csv"))
	require.NoError(t, err)
	for name, text := range map[string]string{"drawn": drawn.String(), "faults": string(faults), "demo": string(demo), "open": string(open)} {
		t.Run(name, func(t *testing.T) {
			assert.NotZero(t, requireSameBlocks(t, text, nil))
			assert.NotZero(t, requireSameBlocks(t, strings.ReplaceAll(text, "\n", "\r\n"), new(2.5)))
		})
	}
}

// FuzzBlocks holds quick reading to careful reading, whatever the file.
func FuzzBlocks(f *testing.F) {
	columns := ",dbh_in,girth_cm,height_m,individualCount,distance_well_ft,distance_well_from,decimalLatitude,decimalLongitude,eventDate,site_area_ac,occurrenceRemarks"
	f.Add(header+columns, good+",6,,30,,50,bank_top,43,-38,2026-06-01,6,\"by the gate, north\"\n"+good+",6,,30,,50,,43.25,-38.5,,6,\n", 0.0)
	f.Add(header+columns, good+",6\"\n\n"+good+",6,18,,,,,,,,,\r\n\"open,\n"+good, 1.0)
	f.Add(header, strings.Repeat(good+"\n", 3)+"\xEF\xBB\xBF\xff\n\"a\"b,c\n,,,,\n\r\n\r\r\n\r", 0.0)
	f.Add(header+",dbh_in,dbh_cm,coordinateUncertaintyInMeters,decimalLatitude,decimalLongitude,other_water_beyond_m,slope_percent",
		good+",.5,,3,-0,-0.0,.1,0.05\n"+good+",5.,,0,1,,1e3,-0\n"+good+", 5,,+3,91,5,00012,1000.01\n", 7.5)
	f.Add("dbh", "6 in", 0.0)
	whole, err := os.ReadFile(filepath.Join("testdata", "faults.csv"))
	require.NoError(f, err)
	head, rows, _ := strings.Cut(string(whole), "\n")
	for row := range strings.Lines(rows) {
		f.Add(head, row+row, 3.0)
	}
	f.Fuzz(func(t *testing.T, head, rows string, uncertainty float64) {
		var metres *float64
		if uncertainty > 0 && uncertainty < 1000 {
			metres = &uncertainty
		}
		requireSameBlocks(t, head+"\n"+rows, metres)
	})
}

// Rows are drawn from cells that are right, wrong or odd; most lines have each
// column once.
func TestQuickReadingIsCarefulReading(t *testing.T) {
	cells := map[string][]string{
		"occurrenceID": {"a", "b", "c-1", "", " a", "é", strings.Repeat("x", 201)}, "scientificName": {"Ailanthus altissima", "Robinia pseudoacacia", ""},
		"form": {"tree", "sapling", "bush", "tree "}, "locationID": {"n", "m"}, "place": {"us", "us/velmora", "US"},
		"site_area_ac": {"", "6", "7"}, "site_latitude_deg": {"", "43"}, "site_longitude_deg": {"", "-38"},
		"decimalLatitude": {"", "43", "43.10", "-0", "95", "4e1"}, "decimalLongitude": {"", "-38.125", "-38", "43", "200"},
		"coordinateUncertaintyInMeters": {"", "3", "0", "2.25", "2000000"},
		"dbh_in":                        {"", "6", "6.", ".6", "0", "1000", "6.123456789", "6,5", "\"6\"", "6 in"}, "girth_cm": {"", "", "", "30"},
		"individualCount": {"", "1", "0", "007", "1.0"}, "slope_percent": {"", "0", "12.34", "0.1"},
		"distance_well_ft": {"", "0", "12.3456789", "99999999"}, "distance_well_from": {"", "bank_top", "bank"}, "well_state": {"", "dry"},
		"distance_school_m": {"", "5.0000001"}, "other_water_beyond_ft": {"", "500", "0"}, "stem_density_per_ac": {"", "100.1"},
		"infested_area_m2": {"", "12.5"}, "eventDate": {"", "2026-02-28", "2026-02-30"}, "occurrenceStatus": {"", "present", "absent"},
		"occurrenceRemarks": {"", "\"a, b\"", "\"a \"\"b\"\"\"", "\"a\nb\"", "x\xff"}, "country": {"", "somewhere"},
	}
	var names []string
	for _, c := range inventory.Columns() {
		if cells[c.Name] != nil {
			names = append(names, c.Name)
		}
	}
	require.Len(t, names, len(cells))
	rapid.Check(t, func(t *rapid.T) {
		lines := []string{strings.Join(names, ",")}
		quoted := rapid.Bool().Draw(t, "quoted")
		for range rapid.IntRange(1, 12).Draw(t, "rows") {
			line := make([]string, len(names))
			for i, name := range names {
				line[i] = cells[name][0]
				if name != "occurrenceID" && cells[name][0] == "" && rapid.IntRange(0, 2).Draw(t, "stated") == 0 || cells[name][0] != "" && rapid.IntRange(0, 9).Draw(t, "other") == 0 {
					line[i] = rapid.SampledFrom(cells[name]).Draw(t, name)
				}
			}
			if line[0] == "a" {
				line[0] = fmt.Sprintf("a-%d", len(lines))
			}
			for i, cell := range line {
				if quoted && !strings.Contains(cell, `"`) {
					line[i] = `"` + cell + `"`
				}
			}
			lines = append(lines, strings.Join(line, ","))
		}
		var metres *float64
		if rapid.Bool().Draw(t, "stated uncertainty") {
			metres = new(1.5)
		}
		requireSameBlocks(t, strings.Join(lines, "\n")+"\n", metres)
	})
}

func TestBlocksOfOneSite(t *testing.T) {
	var drawn bytes.Buffer
	require.NoError(t, many.WriteCSV(&drawn, 3, 5_000))
	r, err := inventory.NewCSV(&drawn)
	require.NoError(t, err)
	r.Only("ossel-bank-00002")
	block, rows := &inventory.Block{}, 0
	for err = r.Fill(block); err == nil; err = r.Fill(block) {
		for i := range block.Len() {
			assert.Equal(t, "ossel-bank-00002", block.Record(i).SiteID)
			rows++
		}
	}
	require.True(t, errors.Is(err, io.EOF))
	assert.Equal(t, 2_000, rows)
}

// A quoted blank is as blank as any: what it would come to as a number or a word nobody
// stated. The first row of a site is read with care, those that follow it quickly.
func TestQuotedBlanksAreNotKnown(t *testing.T) {
	given := []string{"occurrenceID", "locationID", "scientificName", "form", "place"}
	for _, c := range inventory.Columns() {
		if slices.Contains(given, c.Name) {
			continue
		}
		t.Run(c.Name, func(t *testing.T) {
			lines := []string{strings.Join(append(slices.Clone(given), c.Name), ",")}
			for i, cell := range []string{"", "", `""`, `""`} {
				lines = append(lines, fmt.Sprintf("%d,north,Ailanthus altissima,tree,us/velmora,%s", i, cell))
			}
			assert.Equal(t, 4, requireSameBlocks(t, strings.Join(lines, "\n")+"\n", nil))
		})
	}
}
