package inventory

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Degrees are read as strconv.ParseFloat reads them (the standard library, which knows
// nothing of this), whatever stands behind them, or with the care that all others need.
func TestDegreesAreReadAsTheStandardLibraryReadsThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[0-9]{0,5}\.?[0-9]{0,10}[^0-9]?`).Draw(t, "text")
		if rapid.IntRange(0, 3).Draw(t, "odd") == 0 && text != "" {
			b := []byte(text)
			b[rapid.IntRange(0, len(b)-1).Draw(t, "at")] = rapid.Byte().Draw(t, "byte")
			text = string(b)
		}
		behind := rapid.StringMatching(`(,[0-9.,]{0,20})?`).Draw(t, "behind")
		whole := []byte(text + behind)
		v, decimals, ok := plainDegrees(whole[:len(text)])
		exact, exactDecimals, exactOK := plainDecimals([]byte(text))
		require.Equal(t, exactOK, ok, text)
		if !ok {
			return
		}
		want, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		require.Equal(t, want, v, text)
		require.Equal(t, exact, v)
		require.Equal(t, exactDecimals, decimals, text)
	})
	for _, text := range []string{"0.0", "180.0", "89.99999999", "43.005980", "123.12345678", "000.1", "9.9", "999.99999999"} {
		v, decimals, ok := plainDegrees([]byte(text + "                ")[:len(text)])
		want, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		require.True(t, ok)
		require.Equal(t, want, v)
		require.Equal(t, halfUnit(text), halfUnits[decimals], text)
	}
}
