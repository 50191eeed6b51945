package inventory_test

import (
	"bytes"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/client/inventory"
	"example.org/rootward/testdata/many"
)

func readParquet(t testing.TB, file []byte) []*inventory.Record {
	t.Helper()
	r, err := inventory.NewParquet(bytes.NewReader(file), int64(len(file)))
	require.NoError(t, err)
	return collect(t, r)
}

// The same inventory in both formats gives the same stems, sites and faults.
func TestParquetIsReadAsCSVIs(t *testing.T) {
	const rows = 30_000
	var table, file bytes.Buffer
	require.NoError(t, many.WriteCSV(&table, 7, rows))
	require.NoError(t, many.WriteParquet(&file, 7, rows))
	want, got := readCSV(t, table.String()), readParquet(t, file.Bytes())
	require.Len(t, got, rows)
	differ := 0
	for i := range got {
		require.Equal(t, int64(i+1), got[i].Number)
		require.Equal(t, i+1, got[i].Line)
		if len(want[i].Faults) > 0 { // a diameter that is no number, which Parquet cannot hold
			differ++
			continue
		}
		// A number has no zeros at its end, so that the position may be rounded more.
		require.GreaterOrEqual(t, *got[i].Stem.CoordinateUncertaintyM, *want[i].Stem.CoordinateUncertaintyM)
		got[i].Stem.CoordinateUncertaintyM = want[i].Stem.CoordinateUncertaintyM
		require.True(t, proto.Equal(want[i].Stem, got[i].Stem), "%v\n%v", want[i].Stem, got[i].Stem)
		require.Empty(t, got[i].Faults)
		require.Equal(t, want[i].SiteID, got[i].SiteID)
	}
	assert.Greater(t, differ, 0)
	assert.Less(t, differ, rows/100)

	csvPath, parquetPath := write(t, "inventory.csv", table.String()), write(t, "inventory.parquet", file.String())
	a, err := inventory.SurveyOf(csvPath)
	require.NoError(t, err)
	b, err := inventory.SurveyOf(parquetPath)
	require.NoError(t, err)
	require.Equal(t, int64(rows), a.Rows)
	require.Equal(t, int64(rows), b.Rows)
	require.Len(t, b.Sites, len(a.Sites))
	for i := range a.Sites {
		require.True(t, proto.Equal(a.Sites[i], b.Sites[i]))
	}
}

// typed is a file with columns of other types than text and double.
type typed struct {
	ID       string     `parquet:"occurrenceID"`
	Species  *string    `parquet:"scientificName,optional,dict"`
	Form     string     `parquet:"form,enum"`
	Site     string     `parquet:"locationID"`
	Place    string     `parquet:"place"`
	Area     float32    `parquet:"site_area_ac"`
	Diameter *float64   `parquet:"dbh_in,optional"`
	Height   int32      `parquet:"height_ft"`
	Count    *uint64    `parquet:"individualCount,optional"`
	Larger   int64      `parquet:"larger_count"`
	Seed     *bool      `parquet:"seed_bearing,optional"`
	Day      int32      `parquet:"eventDate,date"` // since 1970
	Remarks  string     `parquet:"occurrenceRemarks,dict"`
	Distance string     `parquet:"distance_well_ft"`
	Unread   *time.Time `parquet:"-"`
}

func typedRow(id string) typed {
	return typed{
		ID: id, Species: new("Ailanthus altissima"), Form: "tree", Site: "n", Place: "us", Area: 6.5, Diameter: new(6.25), Height: 30,
		Count: new(uint64(3)), Larger: 0, Seed: new(true), Day: 20_512, Remarks: "by the gate, \"north\"\nof it", Distance: " 12.5 ",
	}
}

func fileOf[T any](t testing.TB, rows ...T) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, parquet.Write(&out, rows))
	return out.Bytes()
}

func TestColumnsOfParquetMayHaveTheirOwnTypes(t *testing.T) {
	plain := typedRow("b")
	plain.Diameter, plain.Count, plain.Seed, plain.Remarks = nil, nil, nil, ""
	list := readParquet(t, fileOf(t, typedRow("a"), plain))
	require.Empty(t, faultsOf(list))
	s := list[0].Stem
	assert.Equal(t, "Ailanthus altissima", s.ScientificName)
	assert.InDelta(t, 6.25*2.54, *s.DiameterCm, 1e-9)
	assert.InDelta(t, 30*0.3048, *s.HeightM, 1e-9)
	assert.EqualValues(t, 3, *s.Count)
	assert.EqualValues(t, 1, s.SeedBearing)
	assert.Equal(t, "2026-02-28", list[0].Surveyed.String())
	assert.Equal(t, `by the gate, "north" of it`, list[0].Remarks, "a line end is a space")
	assert.InDelta(t, 12.5*0.3048, s.WaterDistances[0].DistanceM, 1e-9)
	assert.Nil(t, list[1].Stem.DiameterCm)
	assert.Nil(t, list[1].Stem.Count)
	assert.Zero(t, list[1].Stem.SeedBearing)
}

func TestFaultsOfParquetNameTheRow(t *testing.T) {
	noSpecies, thick, again, moved := typedRow("a"), typedRow("b"), typedRow("a"), typedRow("d")
	noSpecies.Species, thick.Diameter, moved.Place = nil, new(-1.0), "us/velmora"
	bad := typedRow("e")
	bad.Form, bad.Distance = "bush", "about 6"
	file := fileOf(t, noSpecies, thick, again, moved, bad)
	assert.Equal(t, strings.Join([]string{
		"row 1, column scientificName: is missing; expected species, as the catalogue names it: text of at most 200 bytes",
		`row 2, column dbh_in, "-1": is not above 0; correct it, or leave the field empty where it is not known`,
		`row 3, column occurrenceID, "a": was given to the row in row 1 before; two rows for one stem are two doses for it: take one out, or give each row its own`,
		`row 4, column place, "us/velmora": is not us, the place of site "n" in row 1; a site has one place`,
		`row 5, column form, "bush": is not one of seedling, root_sucker, sapling, tree, stump, stump_sprout`,
		`row 5, column distance_well_ft, "about 6": is not a number; write a plain decimal number such as 12.5, or leave the field empty where it is not known`,
	}, "\n"), strings.TrimSpace(faultsOf(readParquet(t, file))))

	r, err := inventory.NewParquet(bytes.NewReader(file), int64(len(file)))
	require.NoError(t, err)
	block := &inventory.Block{}
	require.NoError(t, r.Fill(block))
	for i, want := range readParquet(t, file) {
		requireSameRecord(t, want, block.Record(i))
	}
	survey, err := inventory.SurveyOf(write(t, "inventory.parquet", string(file)))
	require.NoError(t, err)
	require.Len(t, survey.Conflicts, 1)
	assert.True(t, strings.HasPrefix(survey.Conflicts[0].String(), "row 4, "), survey.Conflicts[0])
}

func TestParquetThatIsRefused(t *testing.T) {
	type nested struct {
		ID   string   `parquet:"occurrenceID"`
		Tags []string `parquet:"tags"`
	}
	type moment struct {
		ID  string    `parquet:"occurrenceID"`
		Day time.Time `parquet:"eventDate,timestamp"`
	}
	type short struct {
		ID  string  `parquet:"occurrenceID"`
		DBH float64 `parquet:"dbh"`
	}
	type place struct {
		typed
		Latitude  float64 `parquet:"decimalLatitude"`
		Longitude float32 `parquet:"decimalLongitude"`
	}
	good := fileOf(t, typedRow("a"))
	for name, c := range map[string]struct {
		file []byte
		want string
	}{
		"a list":        {fileOf(t, nested{"a", []string{"b"}}), "column tags: holds lists or columns of its own"},
		"a moment":      {fileOf(t, moment{"a", time.Unix(0, 0)}), "column eventDate: is of type TIMESTAMP"},
		"a short float": {fileOf(t, place{typedRow("a"), 43.123457, 175.63324}), "column decimalLongitude: is of type FLOAT, whose 32 bits"},
		"no unit":       {fileOf(t, short{"a", 6}), "column dbh: does not say its unit"},
		"missing":       {fileOf(t, short{"a", 6}), "column scientificName: the column is missing"},
		"no Parquet":    {[]byte("occurrenceID,form\n"), "the file cannot be read as Parquet: "},
		"empty":         {nil, "the file cannot be read as Parquet: "},
		"broken off":    {good[:len(good)/2], "the file cannot be read as Parquet: "},
		"without lines": {fileOf(t, short{"a", 6}), "column dbh"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := inventory.Open(write(t, "inventory.parquet", string(c.file)))
			requireFileError(t, err)
			assert.Contains(t, err.Error(), c.want)
			assert.NotContains(t, err.Error(), "line ")
		})
	}
}

// A text that a small file holds once, and each row names, is not written out for many
// rows at a time.
func TestParquetWithAHugeTextTakesLittleMemory(t *testing.T) {
	const rows, size = 200, 4 << 20
	list, text := make([]typed, rows), strings.Repeat("x", size)
	for i := range list {
		list[i] = typedRow(strconv.Itoa(i))
		list[i].Remarks = text
	}
	file := fileOf(t, list...)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	got := readParquet(t, file)
	runtime.ReadMemStats(&after)
	require.Len(t, got, rows)
	for _, r := range got {
		require.True(t, r.Rejected())
		require.Contains(t, r.Faults[0].Problem, "longer than")
	}
	assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(rows*size/4))
}

// FuzzParquet reads anything as a Parquet file: an error, or rows with what a stem
// needs or with faults.
func FuzzParquet(f *testing.F) {
	var drawn bytes.Buffer
	require.NoError(f, many.WriteParquet(&drawn, 7, 20))
	f.Add(drawn.Bytes())
	f.Add(fileOf(f, typedRow("a"), typedRow("b")))
	f.Add([]byte("PAR1PAR1"))
	f.Fuzz(func(t *testing.T, file []byte) {
		r, err := inventory.NewParquet(bytes.NewReader(file), int64(len(file)))
		const most = 1_000 // a few bytes can state any number of rows
		var list []*inventory.Record
		for err == nil && len(list) < most {
			var rec *inventory.Record
			if rec, err = r.Next(); err == nil {
				list = append(list, rec)
			}
		}
		requireSound(t, list, most)
	})
}

func BenchmarkParquet(b *testing.B) {
	var drawn bytes.Buffer
	require.NoError(b, many.WriteParquet(&drawn, 1, benchmarkRows))
	path := filepath.Join(b.TempDir(), "inventory.parquet")
	require.NoError(b, os.WriteFile(path, drawn.Bytes(), 0o600))
	block := &inventory.Block{}
	b.SetBytes(int64(drawn.Len()))
	b.ReportAllocs()
	for b.Loop() {
		r, err := inventory.Open(path)
		require.NoError(b, err)
		for err = r.Fill(block); err == nil; err = r.Fill(block) {
		}
		require.NoError(b, r.Close())
	}
	rowsPerSecond(b)
}
