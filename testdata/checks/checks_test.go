// Package checks_test holds the check files to the contract of their README, and
// the program to the check values.
package checks_test

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const columns = "id,quantity,input,expected,tolerance,expect,source"

// check is one row of a family's file.
type check struct{ id, quantity, input, expected, tolerance, expect, source string }

func TestEveryRowKeepsTheContract(t *testing.T) {
	ids := map[string]string{}
	for family, rows := range families(t) {
		for _, c := range rows {
			assert.NotContains(t, ids, c.id, "%s: %s is used twice", family, c.id)
			ids[c.id] = family
			assert.Empty(t, faults(c), "%s: %s", family, c.id)
		}
	}
}

func TestEveryQuantityIsDocumented(t *testing.T) {
	readme, err := os.ReadFile("README.md")
	require.NoError(t, err)
	for family, rows := range families(t) {
		for _, c := range rows {
			assert.True(t, strings.Contains(string(readme), "`"+c.quantity+"`"), "%s: %s: the README does not explain %s", family, c.id, c.quantity)
			for _, key := range keys(c.input) {
				assert.True(t, strings.Contains(string(readme), "`"+key+"`"), "%s: %s: the README does not explain %s", family, c.id, key)
			}
		}
	}
}

func TestTheCountsAreThoseOfTheReadme(t *testing.T) {
	readme, err := os.ReadFile("README.md")
	require.NoError(t, err)
	var all [4]int
	for family, rows := range families(t) {
		marks := countMarks(rows)
		holdsLine(t, readme, countLine(family, marks))
		for i, n := range marks {
			all[i] += n
		}
	}
	holdsLine(t, readme, countLine("**all**", all))
}

func holdsLine(t *testing.T, readme []byte, line string) {
	t.Helper()
	assert.True(t, strings.Contains(string(readme), line), "the README lacks the line %s", line)
}

// countLine writes a line of the README's table of counts.
func countLine(name string, marks [4]int) string {
	return fmt.Sprintf("| %s | %d | %d | %d | %d | %d |\n",
		name, marks[0]+marks[1]+marks[2]+marks[3], marks[0], marks[1], marks[2], marks[3])
}

// countMarks counts the rows read, computed, from memory and of common practice.
func countMarks(rows []check) (marks [4]int) {
	for _, c := range rows {
		switch {
		case strings.HasPrefix(c.source, "arithmetic from "):
			marks[1]++
		case strings.HasPrefix(c.source, "from memory: "):
			marks[2]++
		case strings.HasPrefix(c.source, "common practice, no source"):
			marks[3]++
		default:
			marks[0]++
		}
	}
	return marks
}

// faults lists what is wrong with a row.
func faults(c check) []string {
	var found []string
	note := func(wrong bool, what string) {
		if wrong {
			found = append(found, what)
		}
	}
	_, notNumber := strconv.ParseFloat(c.expected, 64)
	tolerance, badTolerance := strconv.ParseFloat(c.tolerance, 64)
	note(c.expected == "", "expected is empty")
	note(c.tolerance != "exact" && (badTolerance != nil || tolerance <= 0), "tolerance is neither exact nor above zero")
	note(c.tolerance != "exact" && notNumber != nil, "a word has a tolerance")
	note(c.expect != "equal" && c.expect != "not_equal", "expect is neither equal nor not_equal")
	note(len(c.source) < 12, "the source is no sentence")
	note(c.input != "" && slices.Contains(keys(c.input), ""), "the input is not key=value pairs joined by ;")
	return found
}

// keys lists an input's keys; a pair without a key or value gives an empty one.
func keys(input string) []string {
	if input == "" {
		return nil
	}
	var list []string
	for pair := range strings.SplitSeq(input, ";") {
		key, value, _ := strings.Cut(pair, "=")
		if value == "" {
			key = ""
		}
		list = append(list, key)
	}
	return list
}

// families reads every file here, by the name of its family.
func families(t *testing.T) map[string][]check {
	t.Helper()
	paths, err := filepath.Glob("*.csv")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	read := map[string][]check{}
	for _, path := range paths {
		file, err := os.Open(path)
		require.NoError(t, err)
		records, err := csv.NewReader(file).ReadAll()
		require.NoError(t, file.Close())
		require.NoError(t, err, path)
		require.Equal(t, columns, strings.Join(records[0], ","), path)
		family := strings.TrimSuffix(path, ".csv")
		for _, r := range records[1:] {
			read[family] = append(read[family], check{r[0], r[1], r[2], r[3], r[4], r[5], r[6]})
		}
	}
	return read
}
