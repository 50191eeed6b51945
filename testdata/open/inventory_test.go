package open_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/testdata/open"
)

func TestConvertingAgainGivesTheCheckedInInventory(t *testing.T) {
	checkedIn, err := os.ReadFile("inventory.csv")
	require.NoError(t, err)
	again, err := open.Inventory(os.DirFS("."))
	require.NoError(t, err)
	assert.True(t, bytes.Equal(checkedIn, again), "run: go run ./testdata/open/convert")
}

func TestNoStemIsDropped(t *testing.T) {
	rows := map[string]int{}
	for _, r := range inventory(t) {
		rows[r["locationID"]]++
	}
	assert.Equal(t, map[string]int{"longleaf": 584, "waka": 504, "finpines": 126, "cherry": 31}, rows)
	assert.Len(t, inventory(t), 1245)
}

func TestEveryStemHasOneDiameterAndAPosition(t *testing.T) {
	ids := map[string]bool{}
	for _, r := range inventory(t) {
		id := r["occurrenceID"]
		assert.False(t, ids[id], "%s is used twice", id)
		ids[id] = true
		assert.NotEqual(t, r["dbh_cm"] == "", r["root_collar_cm"] == "", id)
		assert.InDelta(t, 43.01, degrees(t, r["decimalLatitude"]), 0.02, id)
		assert.InDelta(t, -37.99, degrees(t, r["decimalLongitude"]), 0.02, id)
	}
}

func TestSitesLieTwoKilometresApart(t *testing.T) {
	first := map[string]map[string]string{}
	for _, r := range inventory(t) {
		if first[r["locationID"]] == nil {
			first[r["locationID"]] = r
		}
	}
	// Degrees of a metre at 43 N on WGS 84, from the series for the length of a
	// degree: 111132.95 - 559.85 cos 2L + 1.17 cos 4L north, and
	// 111412.88 cos L - 93.50 cos 3L + 0.12 cos 5L east (from memory).
	latitude := 43.0 * math.Pi / 180
	north := 111132.95 - 559.85*math.Cos(2*latitude) + 1.17*math.Cos(4*latitude)
	east := 111412.88*math.Cos(latitude) - 93.50*math.Cos(3*latitude) + 0.12*math.Cos(5*latitude)
	for _, c := range []struct {
		site           string
		eastM, northM  float64 // of the site's first stem, from 43 N 38 W
		toleranceMetre float64
	}{
		{"longleaf", 200, 8.8, 0.05},
		{"waka", 2002.77, 0.73, 0.05},
		{"finpines", -1.993875, 2000.9297642, 0.05},
		{"cherry", 2010, 2010, 0.05},
	} {
		r := first[c.site]
		assert.InDelta(t, c.eastM, (degrees(t, r["decimalLongitude"])+38)*east, c.toleranceMetre, c.site)
		assert.InDelta(t, c.northM, (degrees(t, r["decimalLatitude"])-43)*north, c.toleranceMetre, c.site)
	}
}

func degrees(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

// inventory reads the checked-in file, each row by its columns' names.
func inventory(t *testing.T) []map[string]string {
	t.Helper()
	return table(t, "inventory.csv")
}

func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	file, err := os.Open(name)
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
