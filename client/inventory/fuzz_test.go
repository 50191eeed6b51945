package inventory_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/client/inventory"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// FuzzCSV reads anything as the rows of an inventory: each line or record comes
// out once, with what a stem needs or with a fault.
func FuzzCSV(f *testing.F) {
	columns := ",dbh_in,girth_cm,height_m,individualCount,distance_well_ft,distance_well_from,decimalLatitude,decimalLongitude,eventDate,site_area_ac,occurrenceRemarks"
	f.Add(header+columns, good+",6,,30,,50,bank_top,43,-38,2026-06-01,6,\"by the gate, \"\"north\"\"\"\n")
	f.Add(header+columns, good+",6\"\n\n"+good+",6,18,,,,,,,,,\r\n\"open,\n"+good)
	f.Add(header, strings.Repeat(good+"\n", 3)+"\xEF\xBB\xBF\xff\n\"a\"b,c\n,,,,\n\r\n\r\r\n\r")
	f.Add("\xEF\xBB\xBF"+header, good)
	f.Add("dbh", "6 in")
	f.Add(header+",footprintWKT,coordinateUncertaintyInMeters", good+",\"POLYGON ((10.00 43, +10.1 043., -.5 43.1, 10.00 43), (10 43, 10.1 43, 10.1 43.1, 10 43))\",2\n")
	whole, err := os.ReadFile(filepath.Join("testdata", "faults.csv"))
	require.NoError(f, err)
	head, rows, _ := strings.Cut(string(whole), "\n")
	for row := range strings.Lines(rows) {
		f.Add(head, row)
	}
	f.Fuzz(func(t *testing.T, head, rows string) {
		text := head + "\n" + rows
		r, err := inventory.NewCSV(strings.NewReader(text))
		if err != nil {
			requireFileError(t, err)
			return
		}
		list := collect(t, r)
		requireSound(t, list, strings.Count(text, "\n")+1)
		if want, known := countCSV(text); known {
			require.Len(t, list, want)
		}
	})
}

// countCSV counts rows by the reader of the standard library, where it accepts
// the text, and by lines where quotes have no say.
func countCSV(text string) (int, bool) {
	text = strings.TrimPrefix(text, "\xEF\xBB\xBF")
	if len(text) >= 64<<10 {
		return 0, false
	}
	if !strings.Contains(text, `"`) {
		n := -1
		for line := range strings.SplitSeq(text, "\n") {
			if line != "" && line != "\r" {
				n++
			}
		}
		return n, true
	}
	reader := csv.NewReader(strings.NewReader(text))
	reader.FieldsPerRecord = -1
	records, err := reader.ReadAll()
	return len(records) - 1, err == nil
}

// FuzzGeoJSON reads anything as GeoJSON: each feature of a collection comes out
// once, with what a stem needs or with a fault.
func FuzzGeoJSON(f *testing.F) {
	f.Add([]byte(collection(point("[-38,43]"), outline("Polygon", "[[[-38,43],[-37.999,43],[-37.999,43.001],[-38,43]]]", `,"dbh_in":6`))))
	f.Add([]byte(`{"features":[null,1,"a",[],{}],"type":"FeatureCollection","crs":null}`))
	f.Add([]byte(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"MultiPolygon","coordinates":[[[[null]]]]},"properties":null}]}`))
	whole, err := os.ReadFile(filepath.Join("testdata", "faults.geojson"))
	require.NoError(f, err)
	for line := range bytes.Lines(whole) {
		f.Add([]byte(collection(strings.TrimSuffix(string(bytes.TrimSpace(line)), ","))))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		r, err := inventory.NewGeoJSON(bytes.NewReader(text))
		var list []*inventory.Record
		for err == nil {
			var rec *inventory.Record
			if rec, err = r.Next(); err == nil {
				list = append(list, rec)
			}
		}
		requireSound(t, list, bytes.Count(text, []byte("\n"))+1)
		if !errors.Is(err, io.EOF) {
			requireFileError(t, err)
			return
		}
		var whole map[string]json.RawMessage
		var features []json.RawMessage
		require.NoError(t, json.Unmarshal(text, &whole))
		require.NoError(t, json.Unmarshal(whole["features"], &features))
		require.Len(t, list, len(features))
	})
}

func requireFileError(t *testing.T, err error) {
	t.Helper()
	var refused *inventory.FileError
	require.ErrorAs(t, err, &refused)
	require.NotEmpty(t, refused.Faults)
	require.NotEmpty(t, refused.Error())
	require.LessOrEqual(t, len(refused.Faults), 50)
}

// requireSound checks what holds for the rows of any file of so many lines.
func requireSound(t *testing.T, list []*inventory.Record, lines int) {
	t.Helper()
	chunker := inventory.NewChunker()
	last := 1
	for i, rec := range list {
		require.Equal(t, int64(i+1), rec.Number)
		require.LessOrEqual(t, last, rec.Line)
		require.LessOrEqual(t, rec.Line, lines)
		last = rec.Line
		require.NotNil(t, rec.Stem)
		if rec.Geometry() != nil {
			require.True(t, json.Valid(rec.Geometry()))
		}
		for _, fault := range rec.Faults {
			require.NotEmpty(t, fault.Problem)
			require.LessOrEqual(t, len(fault.Value), 70)
			require.GreaterOrEqual(t, fault.Line, rec.Line)
			require.LessOrEqual(t, fault.Line, lines)
		}
		if !rec.Rejected() {
			requireStem(t, rec)
			require.True(t, chunker.Add(rec))
		}
	}
}

// requireStem checks a good record against the limits that the API states.
func requireStem(t *testing.T, rec *inventory.Record) {
	t.Helper()
	s := rec.Stem
	require.NotEmpty(t, s.StemId)
	require.LessOrEqual(t, len(s.StemId), 200)
	require.NotEmpty(t, s.ScientificName)
	require.NotEmpty(t, rec.SiteID)
	require.NotEmpty(t, rec.Place)
	require.NotZero(t, s.Form)
	require.Equal(t, rec.Lat == nil, rec.Lon == nil)
	within := func(v *float64, least, most float64) {
		require.True(t, v == nil || *v >= least && *v <= most && !math.IsNaN(*v), "%v", v)
	}
	const some = math.SmallestNonzeroFloat64
	within(rec.Lat, -90, 90)
	within(rec.Lon, -180, 180)
	within(s.DiameterCm, some, 500)
	within(s.HeightM, some, 120)
	within(s.AreaM2, some, 1e9)
	within(s.SlopePercent, 0, 1000)
	for _, d := range s.WaterDistances {
		within(&d.DistanceM, 0, math.MaxFloat32)
	}
	requireCount(t, s)
}

func requireCount(t *testing.T, s *treatmentv1.Stem) {
	t.Helper()
	require.True(t, s.Count == nil || *s.Count >= 1 && *s.Count <= 1_000_000_000)
	require.True(t, s.LargerCount == nil || *s.LargerCount >= 0 && *s.LargerCount <= 1_000_000_000)
}
