package shape_test

import (
	"testing"

	"example.org/rootward/plugins/tablefile/internal/shape"
	"example.org/rootward/rules/quantity"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestQuantities(t *testing.T) {
	for _, c := range []struct {
		kind shape.Kind
		text string
		want int64
	}{
		{shape.Length, "100 ft", int64(100 * quantity.Foot)},
		{shape.Length, "30m", int64(30 * quantity.Metre)},
		{shape.Length, "1.5 in", 38_100},
		{shape.Length, "just under 50 ft", int64(50*quantity.Foot) - 1},
		{shape.Length, "just over 0 ft", int64(1)},
		{shape.Length, "0.25 mi", int64(quantity.Mile / 4)},
		{shape.Area, "5 acres", int64(quantity.Acres(5))},
		{shape.Area, "25 sq ft", int64(quantity.SquareFeet(25))},
		{shape.Rate, "8 lb ae/acre", int64(quantity.PoundsPerAcre(8))},
		{shape.Rate, "3.6 lb ae/acre", int64(quantity.PoundsPerAcre(3.6))},
		{shape.Rate, "2 kg ae/ha", int64(quantity.KilogramsPerHectare(2))},
	} {
		got, err := shape.ParseQuantity(c.kind, c.text)
		require.NoError(t, err, c.text)
		assert.Equal(t, c.want, got, c.text)
		back, err := shape.ParseQuantity(c.kind, shape.FormatQuantity(c.kind, got))
		require.NoError(t, err)
		assert.Equal(t, got, back)
	}
}

func TestQuantitiesRefused(t *testing.T) {
	for _, c := range []struct {
		kind       shape.Kind
		text, says string
	}{
		{shape.Length, "100", "has no unit"},
		{shape.Length, "", "is not a number with a unit"},
		{shape.Length, "1e3 ft", "is not a unit"},
		{shape.Length, "100 feet", "is not a unit"},
		{shape.Length, "0.0000001 m", "not whole"},
		{shape.Length, "9999999999999999999 mi", "larger than"},
		{shape.Length, "just under 50", "has no unit"},
		{shape.Area, "9 sq ft", `write "836127 mm2" or "836128 mm2"`},
		{shape.Rate, "8 lb/acre", "is not a unit"},
	} {
		_, err := shape.ParseQuantity(c.kind, c.text)
		assert.ErrorContains(t, err, c.says, c.text)
	}
}

func TestCalendar(t *testing.T) {
	w, err := shape.ParseWindow("1 December to 29 February")
	require.NoError(t, err)
	assert.EqualValues(t, []int32{12, 1, 2, 29}, []int32{w.From.Month, w.From.Day, w.To.Month, w.To.Day})
	for _, text := range []string{"30 February to 1 March", "15 Jul to 1 August", "15 July", "July 15 to August 1", "1 May to 1 June to 1 July"} {
		_, err := shape.ParseWindow(text)
		assert.Error(t, err, text)
	}
	h, err := shape.ParseHours("sunrise + 0:30 to sunset - 1:00")
	require.NoError(t, err)
	assert.EqualValues(t, []int32{30, -60}, []int32{h.FromMin, h.ToMin})
	for _, text := range []string{"7 to 19", "7:60 to 8:00", "24:01 to 7:00", "noon to sunset", "7:00", "sunset -1:00 to 7:00"} {
		_, err := shape.ParseHours(text)
		assert.Error(t, err, text)
	}
}
