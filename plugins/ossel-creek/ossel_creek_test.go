package main

import (
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/ruletest"
	"github.com/stretchr/testify/assert"
)

func TestRules(t *testing.T) { ruletest.Run(t, table, ".") }

// The worked cases take their limits from the constants; here the limits stand as
// numbers, in micrometres (1 ft is 304,800).
func TestLimits(t *testing.T) {
	want := map[string]quantity.Micrometres{
		"buffer-foliar":         30_480_000,
		"buffer-basal":          15_240_000,
		"buffer-on-cuts":        4_572_000,
		"buffer-drinking-water": 91_440_000,
	}
	found := map[string]quantity.Micrometres{}
	for _, r := range table().Rows {
		switch e := r.Effect.(type) {
		case rules.Buffer:
			found[r.ID] = e.Distance
		case rules.Window:
			assert.Equal(t, "1 August to 30 September", e.Open.String())
		}
	}
	assert.Equal(t, want, found)
}
