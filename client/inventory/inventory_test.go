package inventory_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/client/inventory"
)

var update = flag.Bool("update", false, "write the golden files and the table of columns anew")

// The columns that every inventory has, and a row that has nothing else.
const (
	header = "occurrenceID,scientificName,locationID,place,form"
	good   = "a1,Ailanthus altissima,s1,us/velmora,tree"
)

// readCSV reads a whole CSV text.
func readCSV(t testing.TB, text string) []*inventory.Record {
	t.Helper()
	r, err := inventory.NewCSV(strings.NewReader(text))
	require.NoError(t, err)
	return collect(t, r)
}

// readGeoJSON reads a whole GeoJSON text.
func readGeoJSON(t testing.TB, text string) []*inventory.Record {
	t.Helper()
	r, err := inventory.NewGeoJSON(strings.NewReader(text))
	require.NoError(t, err)
	return collect(t, r)
}

func collect(t testing.TB, r *inventory.Reader) []*inventory.Record {
	t.Helper()
	var list []*inventory.Record
	drain(t, r, func(rec *inventory.Record) { list = append(list, rec) })
	return list
}

// rowOf reads one row with further columns.
func rowOf(t testing.TB, columns, values string) *inventory.Record {
	t.Helper()
	list := readCSV(t, header+","+columns+"\n"+good+","+values+"\n")
	require.Len(t, list, 1)
	return list[0]
}

var goodID = regexp.MustCompile(`\ba1\b`)

// apart numbers the rows of a text that are made of good: a1, a2, and so on.
func apart(text string) string {
	n := 0
	return goodID.ReplaceAllStringFunc(text, func(string) string {
		n++
		return fmt.Sprint("a", n)
	})
}

// golden compares with a file in testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(want), got)
}

// faultsOf lists the faults of rows, a line each.
func faultsOf(list []*inventory.Record) string {
	var b strings.Builder
	for _, rec := range list {
		for _, f := range rec.Faults {
			b.WriteString(f.String() + "\n")
		}
	}
	return b.String()
}
