package ruletest_test

import (
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
	"example.org/rootward/rules/ruletest"
)

// everyLimit has a row for each fact in which a limit can lie, and one worked case, far
// from all of them.
func everyLimit() rules.Table {
	t := table()
	t.Rows = t.Rows[:1]
	add := func(id string, e rules.Effect, ranges ...rules.Range) {
		t.Rows = append(t.Rows, rules.Row{
			ID: strings.ReplaceAll(id, "_", "-"), Purpose: "It has a limit.", Citation: "invented for a test",
			ValidFrom: t.Manifest.ValidFrom, When: rules.Selector{Ranges: ranges}, Effect: e,
		})
	}
	base := rulesdk.Case(rulesdk.FoliarSpray(2026, time.July, 15), "far from every limit", rulesdk.Gives(rules.Allowed),
		rulesdk.With(func(t *rules.Treatment) { t.CarrierMlPerHa, t.DosePermille = 1, 1 }))
	for _, c := range rules.Words[rules.WaterClass]() {
		from := rules.Words[rules.DistanceOrigin]()[int(c)%3]
		add("water-"+c.String(), rules.Buffer{Water: rules.AnyOf(c), Distance: 50 * quantity.Foot, From: from})
	}
	for _, c := range rules.Words[rules.PlaceClass]() {
		add("place-"+c.String(), rules.Setback{Places: rules.AnyOf(c), Distance: 50 * quantity.Foot})
	}
	for _, q := range rules.Words[rules.Measure]() {
		add("measure-"+q.String(), rules.Warn{Message: "small"}, rules.Range{Of: q, Min: math.MinInt64, Max: 6_000_000})
		base.Site.Measures.Set(q, 1)
	}
	add("standing", rules.RequireStanding{AtLeast: rules.Certified})
	t.Cases = []rules.Case{base}
	return t
}

// pasted is a program with the cases where an author puts them, who named the case
// that they are like as the template does.
const pasted = `package main

import (
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

var base = rulesdk.FoliarSpray(2026, time.July, 15)

var cases = []rules.Case{
CASES}

func main() { println(len(cases)) }
`

// Each case to add compiles where it is pasted, whatever the fact it states.
func TestCasesToAddCompile(t *testing.T) {
	set, err := rules.NewSet(everyLimit())
	require.NoError(t, err)
	var cases strings.Builder
	found := map[string]bool{}
	for _, gap := range ruletest.Untested(set) {
		if _, code, ok := strings.Cut(gap, "\n\t"); ok {
			cases.WriteString("\t" + code + "\n")
			found[strings.Fields(gap)[1]] = true
		}
	}
	for _, r := range set.Table.Rows {
		assert.True(t, found[r.ID], "row %s has a case to add", r.ID)
	}
	program := filepath.Join(t.TempDir(), "main.go")
	require.NoError(t, os.WriteFile(program, []byte(strings.Replace(pasted, "CASES", cases.String(), 1)), 0o600))
	out, err := exec.CommandContext(t.Context(), "go", "build", "-o", os.DevNull, program).CombinedOutput()
	require.NoError(t, err, "%s\n%s", out, cases.String())
}
