package treatment_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/server/catalogue"
	"example.org/rootward/server/treatment"
)

// A slip in a species is told with what may have been meant, and is rejected all the same.
func TestASlipInASpeciesNamesTheNearest(t *testing.T) {
	c, err := catalogue.Default()
	require.NoError(t, err)
	for species, near := range map[string]string{"ailanthus altisima": "; Ailanthus altissima is the nearest; correct it", "Nullius nullius": "catalogue of species; correct it"} {
		s := treatment.Stem{ID: "a", Species: species, Form: rules.Tree, Count: 1}
		faults := s.Check(c)
		require.Len(t, faults, 1)
		assert.Contains(t, faults[0].Problem, near)
	}
}
