package open_test

import (
	"flag"
	"fmt"
	"math/big"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write expected.csv anew")

// measured says where a file keeps its diameter and height, and in which units
// of a micrometre. It repeats nothing of the conversion: the count must not
// share the conversion's mistakes.
var measured = []struct {
	site, file, diameter string
	diameterUnit         int64
	height               string
	heightUnit           int64
}{
	{"longleaf", "longleaf.csv", "dbh_cm", 10_000, "", 0},
	{"waka", "waka.csv", "dbh_cm", 10_000, "", 0},
	{"finpines", "finpines.csv", "diameter_cm", 10_000, "height_m", 1_000_000},
	{"cherry", "trees.csv", "girth_in", 25_400, "height_ft", 304_800},
}

func TestExpectedCountsAreThoseOfTheMeasuredFiles(t *testing.T) {
	counts := map[string]int{}
	for _, m := range measured {
		for _, row := range table(t, m.file) {
			height := "not_measured"
			if m.height != "" {
				height = heightClass(micrometres(t, row[m.height], m.heightUnit))
			}
			diameter := diameterClass(micrometres(t, row[m.diameter], m.diameterUnit))
			counts[m.site+","+diameter+","+height]++
		}
	}
	counted := expectedFile(counts)
	if *update {
		require.NoError(t, os.WriteFile("expected.csv", []byte(counted), 0o644))
	}
	checkedIn, err := os.ReadFile("expected.csv")
	require.NoError(t, err)
	assert.Equal(t, string(checkedIn), counted, "run: go test ./testdata/open -update")
}

// expectedFile writes the counts, sorted by site and class.
func expectedFile(counts map[string]int) string {
	lines := make([]string, 0, len(counts))
	for key, n := range counts {
		lines = append(lines, fmt.Sprintf("%s,%d\n", key, n))
	}
	slices.Sort(lines)
	return "site,diameter_class,height_class,stems\n" + strings.Join(lines, "")
}

func diameterClass(um *big.Rat) string {
	switch {
	case um.Sign() == 0:
		return "zero"
	case um.Cmp(big.NewRat(25_400, 1)) < 0:
		return "under_1_in"
	case um.Cmp(big.NewRat(152_400, 1)) <= 0:
		return "1_in_to_6_in"
	}
	return "over_6_in"
}

func heightClass(um *big.Rat) string {
	switch {
	case um.Cmp(big.NewRat(1_370_000, 1)) < 0:
		return "below_breast_height"
	case um.Cmp(big.NewRat(3_048_000, 1)) <= 0:
		return "up_to_10_ft"
	}
	return "over_10_ft"
}

// micrometres reads a decimal without rounding.
func micrometres(t *testing.T, text string, unit int64) *big.Rat {
	t.Helper()
	v, ok := new(big.Rat).SetString(text)
	require.True(t, ok, text)
	return v.Mul(v, big.NewRat(unit, 1))
}
