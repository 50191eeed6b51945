package inventory_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/client/inventory"
	"example.org/rootward/rules"
)

// The document lists the columns that are read, no more and no fewer.
func TestDocumentListsTheColumns(t *testing.T) {
	const begin, end = "-update -->\n", "<!-- end of columns -->"
	path := filepath.Join("..", "..", "docs", "inventory-format.md")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	head, rest, found := strings.Cut(string(text), begin)
	require.True(t, found)
	table, tail, found := strings.Cut(rest, end)
	require.True(t, found)
	if *update {
		table = tableOfColumns()
		require.NoError(t, os.WriteFile(path, []byte(head+begin+table+end+tail), 0o644))
	}
	assert.Equal(t, tableOfColumns(), table)
}

// tableOfColumns writes the three columns of each class of water once for all.
func tableOfColumns() string {
	var b strings.Builder
	b.WriteString("| column | value | unit | required | term of | meaning |\n|---|---|---|---|---|---|\n")
	first := rules.PerennialStream.String()
	for _, c := range inventory.Columns() {
		name := "`" + c.Name + "`"
		if rest, ok := strings.CutPrefix(c.Name, "distance_"); ok {
			if !strings.HasPrefix(rest, first) {
				continue
			}
			name = "`distance_`*water*`" + strings.TrimPrefix(rest, first) + "`"
		}
		required := ""
		if c.Required {
			required = "yes"
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s | %s |\n", name, c.Type, c.Unit, required, c.Term, c.Meaning)
	}
	fmt.Fprintf(&b, "\n*water* is one of %s: `distance_lake_ft`.\n", rules.AnyOf(rules.Words[rules.WaterClass]()...))
	return b.String()
}

func TestColumns(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range inventory.Columns() {
		assert.False(t, seen[c.Name], c.Name)
		seen[c.Name] = true
		assert.NotEmpty(t, c.Type, c.Name)
		assert.NotEmpty(t, c.Meaning, c.Name)
		if strings.HasPrefix(c.Type, "number") || strings.HasPrefix(c.Type, "whole") {
			assert.NotEmpty(t, c.Unit, c.Name)
		}
		_, err := inventory.NewCSV(strings.NewReader(withColumn(c.Name) + "\n"))
		assert.NoError(t, err)
	}
	for _, class := range rules.Words[rules.WaterClass]() {
		assert.True(t, seen["distance_"+class.String()+"_from"])
	}
	inventory.Columns()[0].Name = "changed"
	assert.Equal(t, "occurrenceID", inventory.Columns()[0].Name, "the list is a copy")
}

func withColumn(name string) string {
	if strings.Contains(","+header+",", ","+name+",") {
		return header
	}
	return header + "," + name
}
