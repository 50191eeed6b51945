package inventory

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// How far a row may lie from its position is remembered for latitudes between others: it
// comes to what the row alone comes to.
func TestRememberedUncertaintyIsThatOfTheRow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := &quick{}
		from := rapid.Float64Range(-90, 90).Draw(t, "latitude")
		metres := rapid.SampledFrom([]float64{0, 1, 2.5, 3, 1_000, 1_000_000}).Draw(t, "metres")
		half := rapid.SampledFrom(halfUnits[:]).Draw(t, "half a unit")
		apart := rapid.SampledFrom([]float64{1e-9, 1e-6, 1e-4, 0.01, 1}).Draw(t, "apart")
		for range rapid.IntRange(1, 200).Draw(t, "rows") {
			latitude := max(-90, min(90, from+apart*rapid.Float64Range(-1, 1).Draw(t, "away")))
			q.position[0][0], q.halfUnits[0][0], q.halfUnits[1][0] = latitude, half, half/10
			want := metresUp.convert(metres + roundingAt(latitude, half, half/10))
			require.Equal(t, want, q.withinAt(0, metres).value)
			text, size := encoded(colUncertainty, want)
			require.Equal(t, []uint64{text, uint64(size)}, []uint64{q.withinAt(0, metres).encoding, uint64(q.withinAt(0, metres).size)})
		}
	})
}
