package treatment_test

import (
	"hash/fnv"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// The hash of a lot is that of the standard library, of which it works out no more than
// the lot asks for.
func TestLotsAreThoseOfTheWholeHash(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		id := rapid.String().Draw(t, "id")
		h := fnv.New32a()
		h.Write([]byte(id))
		assert.Equal(t, int(h.Sum32()%treatment.Lots), treatment.LotOf(id))
	})
}

// Rows that are passed at once have no fault that a look at each field finds.
func TestRowsPassedAtOnceHaveNoFault(t *testing.T) {
	around := func(limits ...int64) *rapid.Generator[int64] {
		var list []int64
		for _, l := range append(limits, 0, 1<<62, -1<<63) {
			list = append(list, l-1, l, l+1)
		}
		return rapid.SampledFrom(list)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := treatment.Stem{
			ID:             rapid.SampledFrom([]string{"", "a", string(make([]byte, treatment.MaxID)), string(make([]byte, treatment.MaxID+1))}).Draw(t, "id"),
			Form:           rapid.Map(rapid.IntRange(0, 12), func(i int) rules.GrowthForm { return rules.GrowthForm(i) }).Draw(t, "form"),
			Diameter:       quantity.Micrometres(around(int64(treatment.MaxDiameter)).Draw(t, "diameter")),
			Height:         quantity.Micrometres(around(int64(treatment.MaxHeight)).Draw(t, "height")),
			Count:          around(treatment.MaxCount).Draw(t, "count"),
			PerHectare:     around(0).Draw(t, "density"),
			Area:           quantity.SquareMillimetres(around(0).Draw(t, "area")),
			CrownWidth:     quantity.Micrometres(around(int64(treatment.MaxHeight)).Draw(t, "crown")),
			LargerCount:    around(0).Draw(t, "larger count"),
			LargerDiameter: quantity.Micrometres(around(int64(treatment.MaxDiameter)).Draw(t, "larger diameter")),
			Slope:          around(10_000).Draw(t, "slope"),
		}
		assert.Equal(t, len(s.FaultsByField()) == 0, s.IsSound())
	})
}
