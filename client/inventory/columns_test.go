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

// tableOfColumns writes the columns of each class of water once for all, and those of
// each class of places.
func tableOfColumns() string {
	var b strings.Builder
	b.WriteString("| column | value | unit | required | term of | meaning |\n|---|---|---|---|---|---|\n")
	for _, c := range inventory.Columns() {
		name, ok := nameOfAll(c.Name)
		if !ok {
			continue
		}
		required := ""
		if c.Required {
			required = "yes"
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s | %s |\n", name, c.Type, c.Unit, required, c.Term, c.Meaning)
	}
	fmt.Fprintf(&b, "\n*water* is one of %s: `distance_lake_ft`, `ditch_state`.\n", wordsOf(rules.Words[rules.WaterClass]()))
	fmt.Fprintf(&b, "\n*place* is one of %s: `distance_school_ft`.\n", wordsOf(rules.Words[rules.PlaceClass]()))
	return b.String()
}

// nameOfAll is the name of a column with the class of water or places left open, and
// false for the columns of every class but the first.
func nameOfAll(column string) (string, bool) {
	for _, class := range rules.Words[rules.WaterClass]() {
		if rest, ok := strings.CutPrefix(column, "distance_"+class.String()+"_"); ok && !strings.HasPrefix(rest, "category") {
			return "`distance_`*water*`_" + rest + "`", class == rules.PerennialStream
		}
		if column == class.String()+"_state" {
			return "*water*`_state`", class == rules.PerennialStream
		}
	}
	for _, class := range rules.Words[rules.PlaceClass]() {
		if rest, ok := strings.CutPrefix(column, "distance_"+class.String()+"_"); ok {
			return "`distance_`*place*`_" + rest + "`", class == rules.School
		}
	}
	return "`" + column + "`", true
}

func wordsOf[V fmt.Stringer](classes []V) string {
	var words []string
	for _, c := range classes {
		words = append(words, c.String())
	}
	return strings.Join(words, ", ")
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
		assert.True(t, seen[class.String()+"_state"])
	}
	for _, class := range rules.Words[rules.PlaceClass]() {
		assert.True(t, seen["distance_"+class.String()+"_ft"])
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
