package demo_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/testdata/demo"
)

func TestGeneratingAgainGivesTheCheckedInFiles(t *testing.T) {
	rows := demo.Rows()
	for name, again := range map[string][]byte{
		"inventory.csv":     demo.CSV(rows),
		"inventory.geojson": demo.GeoJSON(rows),
		demo.MapFile:        demo.Map(),
	} {
		checkedIn, err := os.ReadFile(name)
		require.NoError(t, err)
		assert.True(t, string(checkedIn) == string(again), "%s: run go run ./testdata/demo/generate", name)
	}
}

func TestTheInventoryShowsEverythingItSays(t *testing.T) {
	rows := inventory(t)
	assert.Len(t, rows, 551)
	seen := map[string]map[string]int{}
	faults := 0
	for _, r := range rows {
		if isFault(r) {
			faults++
			continue
		}
		for column, value := range r {
			if seen[column] == nil {
				seen[column] = map[string]int{}
			}
			seen[column][value]++
		}
	}
	assert.Equal(t, 9, faults)
	assert.Len(t, seen["occurrenceID"], len(rows)-faults, "an occurrenceID is used twice")
	assert.Len(t, seen["scientificName"], 10)
	assert.Len(t, seen["locationID"], 10)
	for column, values := range map[string][]string{
		"place":                        {"us/velmora", "us/velmora/ossel-creek", "us/velmora/lower-fen"},
		"distance_perennial_stream_ft": {"9", "10", "24", "25", "49", "50", "59", "60", "99", "100"},
		"stem_density_per_ac":          {"1500", "1999", "2000", "8000"},
		"dbh_in":                       {"6.0", "6.1"},
		"larger_dbh_in":                {"2.5", "8.0"},
		"other_water_beyond_ft":        {"", "500"},
		"bark_state":                   {"", "dry", "wet", "frozen"},
		"desirable_vegetation":         {"", "none", "spray_reach", "root_reach"},
	} {
		for _, v := range values {
			assert.Positive(t, seen[column][v], "%s %q", column, v)
		}
	}
	for _, f := range rules.Words[rules.GrowthForm]() {
		assert.Positive(t, seen["form"][f.String()], f)
	}
}

func TestEveryWordIsOneOfTheVocabulary(t *testing.T) {
	// A blank is no word: it says that nobody knows.
	parse := map[string]func(string) error{
		"form":                           func(s string) error { _, err := rules.ParseWord[rules.GrowthForm](s); return err },
		"desirable_vegetation":           func(s string) error { _, err := rules.ParseWord[rules.Desirable](s); return err },
		"land_use":                       func(s string) error { _, err := rules.ParseWord[rules.LandUse](s); return err },
		"soil_state":                     func(s string) error { _, err := rules.ParseWord[rules.SoilState](s); return err },
		"bark_state":                     func(s string) error { _, err := rules.ParseWord[rules.BarkState](s); return err },
		"root_check":                     func(s string) error { _, err := rules.ParseWord[rules.RootCheck](s); return err },
		"seed_bearing":                   func(s string) error { _, err := rules.ParseWord[rules.YesNo](s); return err },
		"distance_perennial_stream_from": func(s string) error { _, err := rules.ParseWord[rules.DistanceOrigin](s); return err },
	}
	for _, r := range inventory(t) {
		for column, check := range parse {
			if r[column] != "" && !isFault(r) {
				assert.NoError(t, check(r[column]), "%s, %s", r["occurrenceID"], column)
			}
		}
	}
}

func TestEverySoundRowHasOneDiameterOrIsAPatch(t *testing.T) {
	for _, r := range inventory(t) {
		if isFault(r) {
			continue
		}
		given := 0
		for _, column := range []string{"dbh_in", "girth_in", "root_collar_in"} {
			if r[column] != "" {
				given++
			}
		}
		assert.Equal(t, 1, given, r["occurrenceID"])
		assert.NotEqual(t, r["individualCount"] == "", r["infested_area_ac"] == "", r["occurrenceID"])
	}
}

// The yearly maximum of 8 lb ae/ac and the doses are from memory and from the
// strength of 4 lb ae/gal; the test shows only that the demo can pass it.
func TestTwoSitesPassTheYearlyMaximum(t *testing.T) {
	const (
		gramsPerAcre   = 8 * 453.59237
		gramsPerMl     = 4 * 453.59237 / 3785.411784
		leastWetting   = 0.2 // mL to the square inch of bark, the low end of what is guessed
		bandInches     = 15
		basalStrength  = 0.2 // of the product in the mix
		hackStrength   = 0.5
		millilitresCut = 1
	)
	grams := map[string]float64{}
	for _, r := range inventory(t) {
		diameter := diameterInches(t, r)
		switch r["locationID"] {
		case "ferry-lane":
			ml := math.Pi * diameter * bandInches * leastWetting * basalStrength
			grams["ferry-lane"] += number(t, r["individualCount"]) * ml * gramsPerMl
		case "wind-row":
			ml := math.Ceil(diameter) * millilitresCut * hackStrength
			grams["wind-row"] += number(t, r["individualCount"]) * ml * gramsPerMl
		}
	}
	assert.Greater(t, grams["ferry-lane"], 0.3*gramsPerAcre)
	assert.Greater(t, grams["wind-row"], 0.05*gramsPerAcre)
}

func TestTheGeoJSONTwinAgreesWithTheCSV(t *testing.T) {
	byID := map[string]map[string]string{}
	for _, r := range inventory(t) {
		byID[r["occurrenceID"]] = r
	}
	polygons := 0
	features := twin(t)
	assert.InDelta(t, 25, len(features), 3)
	for _, f := range features {
		id, _ := f.Properties["occurrenceID"].(string)
		r := byID[id]
		require.NotNil(t, r, id)
		for name, value := range f.Properties {
			assert.Equal(t, r[name], text(value), "%s %s", id, name)
		}
		if f.Geometry.Type == "Polygon" {
			polygons++
			assert.NotContains(t, f.Properties, "infested_area_ac", id)
			acres := number(t, r["infested_area_ac"])
			assert.InEpsilon(t, acres, ringAcres(t, f.Geometry.Coordinates), 0.002, id)
			continue
		}
		var at [2]float64
		require.NoError(t, json.Unmarshal(f.Geometry.Coordinates, &at))
		assert.InDelta(t, number(t, r["decimalLongitude"]), at[0], 1e-9, id)
		assert.InDelta(t, number(t, r["decimalLatitude"]), at[1], 1e-9, id)
	}
	assert.Equal(t, 5, polygons)
}

type feature struct {
	Geometry struct {
		Type        string
		Coordinates json.RawMessage
	}
	Properties map[string]any
}

func twin(t *testing.T) []feature {
	t.Helper()
	content, err := os.ReadFile("inventory.geojson")
	require.NoError(t, err)
	var collection struct{ Features []feature }
	decoder := json.NewDecoder(strings.NewReader(string(content)))
	decoder.UseNumber()
	require.NoError(t, decoder.Decode(&collection))
	return collection.Features
}

// ringAcres is the area of a closed ring, above zero if counter-clockwise, on a
// sphere of the radius that WGS 84 has at 43 N (the root of both radii of
// curvature multiplied, 6,376,600 m).
func ringAcres(t *testing.T, coordinates json.RawMessage) float64 {
	t.Helper()
	var rings [][][2]float64
	require.NoError(t, json.Unmarshal(coordinates, &rings))
	ring := rings[0]
	require.Equal(t, ring[0], ring[len(ring)-1], "the ring is not closed")
	const radius, squareMetres = 6_376_600.0, 4046.8564224
	sum := 0.0
	for i := range ring[1:] {
		a, b := ring[i], ring[i+1]
		sum += (a[0] - b[0]) * math.Pi / 180 * (math.Sin(a[1]*math.Pi/180) + math.Sin(b[1]*math.Pi/180)) / 2
	}
	return sum * radius * radius / squareMetres
}

func text(v any) string {
	if n, ok := v.(json.Number); ok {
		return n.String()
	}
	return v.(string)
}

func isFault(r map[string]string) bool { return strings.HasPrefix(r["occurrenceRemarks"], "fault") }

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// diameterInches is of the rows of the two dense sites.
func diameterInches(t *testing.T, r map[string]string) float64 {
	t.Helper()
	switch {
	case r["locationID"] != "ferry-lane" && r["locationID"] != "wind-row":
		return 0
	case r["girth_in"] != "":
		return number(t, r["girth_in"]) / math.Pi
	}
	return number(t, r["dbh_in"])
}

// inventory reads the checked-in file, each row by its columns' names.
func inventory(t *testing.T) []map[string]string {
	t.Helper()
	file, err := os.Open("inventory.csv")
	require.NoError(t, err)
	defer file.Close()
	records, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	rows := make([]map[string]string, 0, len(records))
	for _, record := range records[1:] {
		row := map[string]string{}
		for i, column := range records[0] {
			row[column] = record[i]
		}
		rows = append(rows, row)
	}
	return rows
}
