package inventory_test

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/client/inventory"
)

// The repository's own inventories, counted apart by the standard library.
func TestInventoriesOfTheRepository(t *testing.T) {
	cases := []struct {
		path            string
		sites, rejected int
	}{
		{"demo/inventory.csv", 10, 8},
		{"demo/inventory.geojson", 10, 0},
		{"open/inventory.csv", 4, 8},
	}
	for _, c := range cases {
		t.Run(c.path, func(t *testing.T) {
			path := filepath.Join("..", "..", "testdata", filepath.FromSlash(c.path))
			sites, conflicts, err := inventory.Sites(path)
			require.NoError(t, err)
			assert.Empty(t, conflicts)
			assert.Len(t, sites, c.sites)

			list := openAll(t, path)
			assert.Len(t, list, count(t, path))
			var rejected []*inventory.Record
			for _, rec := range list {
				if rec.Rejected() {
					rejected = append(rejected, rec)
				}
			}
			assert.Len(t, rejected, c.rejected, faultsOf(rejected))
		})
	}
}

func count(t *testing.T, path string) int {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	if strings.HasSuffix(path, ".csv") {
		records, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
		require.NoError(t, err)
		return len(records) - 1
	}
	var whole struct{ Features []json.RawMessage }
	require.NoError(t, json.Unmarshal(text, &whole))
	return len(whole.Features)
}
