package inventory_test

import (
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/client/inventory"
)

func TestAnIDIsGivenToOneRow(t *testing.T) {
	row := func(id, form string) string {
		return strings.Replace(strings.Replace(good, "a1", id, 1), "tree", form, 1) + "\n"
	}
	cases := []struct {
		name, rows string
		repeated   []int64 // Number of each row that is rejected for its id
	}{
		{"each its own", row("a", "tree") + row("b", "tree"), nil},
		{"the later row alone", row("a", "tree") + row("b", "tree") + row("a", "stump"), []int64{3}},
		{"every later row", row("a", "tree") + row("a", "tree") + row("a", "tree"), []int64{2, 3}},
		{"of a rejected row", row("a", "bush") + row("a", "tree"), []int64{2}},
		{"in a rejected row", row("a", "tree") + row("a", "bush"), []int64{2}},
		{"blanks around it", row("a", "tree") + row(" a ", "tree"), []int64{2}},
		{"another case", row("a", "tree") + row("A", "tree"), nil},
		{"none", row("", "tree") + row("", "tree"), nil},
		{"too long to be read", strings.Repeat(row(strings.Repeat("a", 201), "tree"), 2), nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			list := readCSV(t, header+"\n"+c.rows)
			assert.Len(t, list, strings.Count(c.rows, "\n"), "a rejected row comes out too")
			var repeated []int64
			for _, rec := range list {
				if strings.Contains(faultsOf([]*inventory.Record{rec}), "was given to the row on line 2 before") {
					repeated = append(repeated, rec.Number)
				}
			}
			assert.Equal(t, c.repeated, repeated)
		})
	}
}

// Both passes learn the site of a row that is rejected for its id.
func TestARepeatedIDStatesItsSite(t *testing.T) {
	path := write(t, "inventory.csv", header+",site_area_m2\n"+good+",\n"+good+",7\n"+strings.Replace(good, "a1", "a2", 1)+",8\n")
	sites, conflicts, err := inventory.Sites(path)
	require.NoError(t, err)
	require.Len(t, sites, 1)
	assert.Equal(t, 7.0, sites[0].GetAreaM2())
	require.Len(t, conflicts, 1)
	list := openAll(t, path)
	require.Len(t, list, 3)
	assert.Empty(t, list[0].Faults)
	require.Len(t, list[1].Faults, 1)
	assert.Equal(t, "occurrenceID", list[1].Faults[0].Column)
	assert.Equal(t, conflicts, list[2].Faults)
}

// Ids of any length, many of which differ in one character, are held against all before.
func TestManyIDsAreToldApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ids := rapid.SliceOfN(rapid.StringMatching(`[ab]{1,12}(-0000000[0-9]{1,4})?`), 1, 3_000).Draw(t, "ids")
		text := strings.Builder{}
		fmt.Fprintln(&text, header)
		for _, id := range ids {
			fmt.Fprintln(&text, strings.Replace(good, "a1", id, 1))
		}
		r, err := inventory.NewCSV(strings.NewReader(text.String()))
		require.NoError(t, err)
		seen := map[string]bool{}
		for _, id := range ids {
			record, err := r.Next()
			require.NoError(t, err)
			require.Equal(t, seen[id], record.Rejected(), id)
			seen[id] = true
		}
	})
}

// Ids are checked up to the limit that docs/inventory-format.md names, and memory
// stays flat.
func TestIDsAreCheckedInTheFirstRows(t *testing.T) {
	const checked, heap = 1 << 20, 64 << 20
	if testing.Short() {
		t.Skip("reads a million rows")
	}
	text, write := io.Pipe()
	defer text.Close()
	go func() {
		fmt.Fprintln(write, header)
		tail := strings.TrimPrefix(good, "a1") + "\n"
		var block strings.Builder
		for i := range checked - 1 {
			fmt.Fprint(&block, i, tail)
			if block.Len() > 1<<16 {
				io.WriteString(write, block.String())
				block.Reset()
			}
		}
		io.WriteString(write, block.String())
		io.WriteString(write, strings.Repeat("0"+tail, 2))
		write.Close()
	}()
	runtime.GC()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	r, err := inventory.NewCSV(text)
	require.NoError(t, err)
	var rejected []int64
	rows := drain(t, r, func(rec *inventory.Record) {
		if rec.Rejected() {
			rejected = append(rejected, rec.Number)
		}
	})
	runtime.GC()
	runtime.ReadMemStats(&after)
	runtime.KeepAlive(r)
	assert.Equal(t, checked+1, rows)
	assert.Equal(t, []int64{checked}, rejected)
	assert.Less(t, after.HeapAlloc-before.HeapAlloc, uint64(heap))
	t.Logf("%d bytes of heap for %d ids", after.HeapAlloc-before.HeapAlloc, checked)
}
