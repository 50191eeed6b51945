package measure_test

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/client/measure"
)

func TestQuantitiesInBothSystems(t *testing.T) {
	for name, c := range map[string]struct {
		write      func(measure.System) string
		us, metric string
	}{
		// 1 US gallon is 231 cubic inches, 3785.411784 mL (NIST Handbook 44, appendix C).
		"a gallon":             {func(s measure.System) string { return s.Volume(3785.411784) }, "1 gal", "3.78 L"},
		"three in microlitres": {func(s measure.System) string { return s.Volume(11356.235) }, "3 gal", "11.3 L"},
		"under a gallon":       {func(s measure.System) string { return s.Volume(500) }, "16.9 fl oz", "500 mL"},
		"a few drops":          {func(s measure.System) string { return s.Volume(0.5) }, "0.5 mL", "0.5 mL"},
		"what nobody measures": {func(s measure.System) string { return s.Volume(0.49) }, "under 0.5 mL", "under 0.5 mL"},
		// 3.697 mL (NIST Handbook 44, appendix C).
		"a dram":                  {func(s measure.System) string { return s.Volume(3.697) }, "0.125 fl oz", "3.69 mL"},
		"under it":                {func(s measure.System) string { return s.Volume(3.69) }, "3.69 mL", "3.69 mL"},
		"both":                    {func(measure.System) string { return measure.Both(500) }, "16.9 fl oz (500 mL)", "16.9 fl oz (500 mL)"},
		"both, of little":         {func(measure.System) string { return measure.Both(2) }, "2 mL", "2 mL"},
		"nothing":                 {func(s measure.System) string { return s.Volume(0) }, "0 fl oz", "0 mL"},
		"a volume is cut off":     {func(s measure.System) string { return s.Volume(12.99) }, "0.439 fl oz", "12.9 mL"},
		"what is bought is more":  {func(s measure.System) string { return s.Need(7.8121) }, "2.07 gal", "7.82 L"},
		"and in very small":       {func(s measure.System) string { return s.Need(0.002001) }, "2.01 mL", "2.01 mL"},
		"and hardly any":          {func(s measure.System) string { return s.Need(0.000001) }, "under 0.5 mL", "under 0.5 mL"},
		"and in small":            {func(s measure.System) string { return s.Need(0.1201) }, "4.07 fl oz", "121 mL"},
		"six inches":              {func(s measure.System) string { return s.Diameter(15.24) }, "6.0 in", "15.2 cm"},
		"breast height":           {func(s measure.System) string { return s.Length(1.3716) }, "4.5 ft", "1.4 m"},
		"an acre":                 {func(s measure.System) string { return s.Area(4046.8564224) }, "1 ac", "0.405 ha"},
		"a maximum":               {func(s measure.System) string { return s.Rate(8) }, "8 lb ae/ac", "8.97 kg ae/ha"},
		"more than a hundred":     {func(s measure.System) string { return s.Volume(123_456) }, "32.6 gal", "123 L"},
		"more than a thousand":    {func(s measure.System) string { return s.Volume(12_345_678) }, "3261 gal", "12345 L"},
		"its own decimal is kept": {func(s measure.System) string { return s.Volume(0.59) }, "0.59 mL", "0.59 mL"},
	} {
		t.Run(name, func(t *testing.T) {
			assert.Equal(t, c.us, c.write(measure.US))
			assert.Equal(t, c.metric, c.write(measure.Metric))
		})
	}
}

func TestWhatIsPouredIsNeverMoreAndWhatIsBoughtNeverLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(1e-3, 1e6).Draw(t, "v")
		down, err := strconv.ParseFloat(measure.Down(v), 64)
		require.NoError(t, err)
		up, err := strconv.ParseFloat(measure.Up(v), 64)
		require.NoError(t, err)
		// The millionth part is the slack for binary arithmetic.
		assert.LessOrEqual(t, down, v*(1+1e-6))
		assert.GreaterOrEqual(t, up, v*(1-1e-6))
		assert.LessOrEqual(t, math.Abs(up-down), math.Max(1, v/99))
	})
}

func TestAnUnknownSystemIsRefusedWithTheWordsThereAre(t *testing.T) {
	var s measure.System
	require.NoError(t, s.UnmarshalText([]byte("metric")))
	assert.Equal(t, measure.Metric, s)
	err := s.UnmarshalText([]byte("imperial"))
	assert.True(t, err != nil && strings.Contains(err.Error(), "us or metric"), err)
}
