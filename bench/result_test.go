package main

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAGoalIsMetInItsDirection(t *testing.T) {
	most, least := line{"at most", 2, true}, line{"at least", 2, false}
	for name, c := range map[string]struct {
		result result
		met    bool
	}{
		"at most, at the goal":   {result{line: most, ratio: 2}, true},
		"at most, above":         {result{line: most, ratio: 2.01}, false},
		"at least, at the goal":  {result{line: least, ratio: 2}, true},
		"at least, below":        {result{line: least, ratio: 1.99}, false},
		"not measured, at most":  {most.missing(errors.New("no peer")), false},
		"not measured, at least": {least.missing(errors.New("no peer")), false},
		"met but for more":       {result{line: most, ratio: 1, failed: "too much in all"}, false},
	} {
		assert.Equal(t, c.met, c.result.met(), name)
	}
}

func TestWhatIsWritten(t *testing.T) {
	path := filepath.Join(t.TempDir(), "results", "latest.json")
	require.NoError(t, write(path, []result{
		{line: decisionLine, ratio: 1.234567}, duckLine.missing(errors.New("no compiler")),
	}))
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	var f struct {
		Machine, Date string
		Rows          []map[string]any
	}
	require.NoError(t, json.Unmarshal(text, &f))
	assert.NotEmpty(t, f.Machine)
	assert.NotEmpty(t, f.Date)
	assert.Equal(t, []map[string]any{
		{"name": decisionLine.name, "ratio": 1.235, "goal": 2.0, "met": true},
		{"name": duckLine.name, "ratio": nil, "goal": 2.0, "met": false},
	}, f.Rows)
}

func TestEveryLineHasOneGroup(t *testing.T) {
	seen := map[string]int{}
	for _, g := range groups {
		for _, l := range g.lines {
			seen[l.name]++
		}
	}
	assert.Len(t, seen, 13, "lines of the design's numbers")
	for name, n := range seen {
		assert.Equal(t, 1, n, name)
	}
}

func TestGrowthIsThePowerOfTheWholeTime(t *testing.T) {
	alike := growth{sizes: []int{10, 1_000}, each: []float64{5, 5}, times: []int{10, 1_000}}
	assert.InDelta(t, 1, alike.exponent(), 1e-9, "as long for each of a hundred times as many")
	square := growth{sizes: []int{10, 1_000}, each: []float64{5, 500}, times: []int{10, 1_000}}
	assert.InDelta(t, 2, square.exponent(), 1e-9)
	root := growth{sizes: []int{1, 100}, each: []float64{5, 50}}
	assert.InDelta(t, 0.5, root.exponent(), 1e-9)
	assert.False(t, math.IsNaN(root.exponent()))
}

func TestTheDocumentSaysWhatWasMeasured(t *testing.T) {
	path := filepath.Join(t.TempDir(), "document.md")
	require.NoError(t, os.WriteFile(path, []byte("before\n<!-- results -->\nold\n<!-- end of results -->\nafter\n"), 0o600))
	require.NoError(t, insert(path, "results", "new\n"))
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "before\n<!-- results -->\nnew\n<!-- end of results -->\nafter\n", string(text))
	assert.ErrorContains(t, insert(path, "growth", "new\n"), "has no part between")
	assert.Contains(t, table([]result{sqlLine.missing(errors.New("absent"))}), "| not measured | at least 1.5 | **no** |")
}
