package catalogue_test

import (
	"bytes"
	"flag"
	"os"
	"reflect"
	"strings"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/catalogue"
	"example.org/rootward/server/treatment"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestDefault(t *testing.T) {
	c, err := catalogue.Default()
	require.NoError(t, err)
	assert.GreaterOrEqual(t, len(c.Species), 8)
	f := c.Formulation("triclopyr-ester-4")
	require.NotNil(t, f)
	// Four pounds per gallon are 479.3 g/L (product label statements print the pair).
	assert.InDelta(t, 479.3, f.Strength.GramsPerLitre(), 0.05)
	assert.Equal(t, rules.Ester, f.Kind)
	assert.Equal(t, quantity.PoundsPerAcre(8), f.AnnualMax)
}

var update = flag.Bool("update", false, "write default.json anew")

// What is embedded is what people read and change.
func TestTheShippedCatalogueIsDefaultYAML(t *testing.T) {
	text, err := os.ReadFile("default.yaml")
	require.NoError(t, err)
	if *update {
		shipped, err := catalogue.AsJSON(text)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile("default.json", append(shipped, '\n'), 0o644))
		t.Skip("written; build anew to compare")
	}
	read := &treatment.Catalogue{}
	require.NoError(t, catalogue.Add(read, bytes.NewReader(text), "default.yaml"))
	shipped, err := catalogue.Default()
	require.NoError(t, err)
	assert.True(t, reflect.DeepEqual(read, shipped), "after a change to default.yaml: go test ./server/catalogue -update")
}

// A registration number names one product of one maker; plans print the sources.
func TestNoSourceNamesAProduct(t *testing.T) {
	text, err := os.ReadFile("default.yaml")
	require.NoError(t, err)
	assert.NotRegexp(t, `(?i)reg(istration|\.) (no\. )?\d`, string(text))
}

// A recipe that no formulation can serve, or a formulation that no recipe uses,
// would never be prescribed and nobody would notice.
func TestDefaultHasNoOrphans(t *testing.T) {
	c, err := catalogue.Default()
	require.NoError(t, err)
	serves := func(f treatment.Formulation, r treatment.Recipe) bool {
		return f.Active == r.Active && f.Kind == r.Kind && f.Methods.Has(r.Method) && r.Mix <= f.Strength
	}
	for _, r := range c.Recipes {
		found := false
		for _, f := range c.Formulations {
			found = found || serves(f, r)
		}
		assert.True(t, found, "no formulation for %s with %s", r.Method, r.Active)
	}
	for _, f := range c.Formulations {
		for _, m := range f.Methods.Values() {
			found := false
			for _, r := range c.Recipes {
				found = found || r.Method == m && serves(f, r)
			}
			assert.True(t, found, "no recipe for %s by %s", f.ID, m)
		}
	}
}

const own = `
formulations:
  - id: my-glyphosate
    name: glyphosate potassium salt, 540 g ae/L
    active: glyphosate
    kind: water_salt
    strength: 540 g ae/L
    methods: [hack_and_squirt]
    aquatic_label: not_registered
    soil_activity: none
    restricted_use: general_use
    toxicity: III
    entry_hours: 12
    rain_free_hours: 1
    annual_max: 8.9668 kg ae/ha
    container: 10 L
    sources: {strength: label, methods: label, aquatic_label: label, soil_activity: label, restricted_use: label,
      toxicity: label, entry_hours: label, rain_free_hours: label, annual_max: label, container: label}
`

func TestUsersOwnFormulation(t *testing.T) {
	c, err := catalogue.Default()
	require.NoError(t, err)
	require.NoError(t, catalogue.Add(c, strings.NewReader(own), "own.yaml"))
	f := c.Formulation("my-glyphosate")
	require.NotNil(t, f)
	assert.Equal(t, quantity.GramsPerLitre(540), f.Strength)
	assert.InDelta(t, 8.0, f.AnnualMax.PoundsPerAcre(), 0.001)
}

func TestFaults(t *testing.T) {
	cases := []struct{ name, old, new, want string }{
		{"percentage is no strength", "strength: 540 g ae/L", "strength: 41 %", `"41 %" is not a number above 0 with one of the units lb ae/gal, g ae/L`},
		{"no unit", "container: 10 L", "container: 10", "one of the units gal, L, fl oz"},
		{"unknown word", "kind: water_salt", "kind: powder", `"powder" is not one of water_salt, ester, dry_granule`},
		{"no source", "strength: label", `strength: ""`, "sources.strength: is empty"},
		{"id taken", "id: my-glyphosate", "id: triclopyr-ester-4", "is in the catalogue already"},
		{"unknown field", "rain_free_hours: 1", "rain_free_hours: 1\n    brand: x", "brand"},
		{"out of range", "entry_hours: 12", "entry_hours: 0", "entry_hours: 0 is not 1 to 720"},
		{"stronger than a litre can be", "strength: 540 g ae/L", "strength: 5400 g ae/L", "is more acid than a litre can hold"},
	}
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			c, err := catalogue.Default()
			require.NoError(t, err)
			before := len(c.Formulations)
			err = catalogue.Add(c, strings.NewReader(strings.Replace(own, tc.old, tc.new, 1)), "own.yaml")
			require.ErrorContains(t, err, tc.want)
			assert.Len(t, c.Formulations, before, "nothing is added from a faulty file")
		})
	}
}

func TestBasalBarkTakesEsterInOilAlone(t *testing.T) {
	c := &treatment.Catalogue{}
	err := catalogue.Add(c, strings.NewReader(`
recipes:
  - {method: basal_bark, active: triclopyr, kind: water_salt, mix: 0.8 lb ae/gal, carrier: water, source: test}
`), "r.yaml")
	require.ErrorContains(t, err, "ester in oil")
}

func FuzzAdd(f *testing.F) {
	f.Add(own)
	f.Add("species: [{name: x}]")
	f.Fuzz(func(t *testing.T, text string) {
		c := &treatment.Catalogue{}
		if err := catalogue.Add(c, strings.NewReader(text), "fuzz"); err != nil {
			assert.Empty(t, c.Formulations)
			return
		}
		for i := range c.Formulations {
			assert.Positive(t, c.Formulations[i].Strength)
			assert.Positive(t, c.Formulations[i].AnnualMax)
		}
	})
}
