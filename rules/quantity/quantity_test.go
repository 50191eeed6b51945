package quantity_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"example.org/rootward/rules/quantity"
)

// The same length in two systems is the same number of micrometres, with
// neighbours on either side.
func TestALimitMeetsItselfInBothSystems(t *testing.T) {
	cases := []struct {
		name          string
		customary     quantity.Micrometres
		metric        quantity.Micrometres
		justUnder     quantity.Micrometres
		justOver      quantity.Micrometres
		inMicrometres int64
	}{
		{"6 in is 15.24 cm", quantity.Inches(6), quantity.Centimetres(15.24), quantity.Centimetres(15.2399), quantity.Centimetres(15.2401), 152_400},
		{"1 in is 2.54 cm", quantity.Inches(1), quantity.Centimetres(2.54), quantity.Inches(0.9999), quantity.Inches(1.0001), 25_400},
		{"12 in is 30.48 cm", quantity.Inches(12), quantity.Centimetres(30.48), quantity.Centimetres(30.4799), quantity.Centimetres(30.4801), 304_800},
		{"10 ft is 3.048 m", quantity.Feet(10), quantity.Metres(3.048), quantity.Feet(9.9999), quantity.Feet(10.0001), 3_048_000},
		{"60 ft is 18.288 m", quantity.Feet(60), quantity.Metres(18.288), quantity.Metres(18.287999), quantity.Metres(18.288001), 18_288_000},
		{"4.5 ft is breast height", quantity.Feet(4.5), quantity.BreastHeight, quantity.Feet(4.4999), quantity.Feet(4.5001), 1_371_600},
		{"5280 ft is a mile", quantity.Feet(5280), quantity.Mile, quantity.Feet(5279.9999), quantity.Feet(5280.0001), 1_609_344_000},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.customary, c.metric)
			assert.EqualValues(t, c.inMicrometres, c.customary)
			assert.Less(t, c.justUnder, c.customary)
			assert.Greater(t, c.justOver, c.customary)
		})
	}
}

// Decimal tenths of an inch and of a millimetre are whole micrometres, so that
// no two spellings of a survey's figure differ.
func TestFieldFiguresAreWholeMicrometres(t *testing.T) {
	for tenths := range int64(5_000) {
		assert.EqualValues(t, tenths*2_540, quantity.Inches(float64(tenths)/10))
		assert.EqualValues(t, tenths*1_000, quantity.Centimetres(float64(tenths)/10))
	}
}

func TestReadingAQuantityBackGivesIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := quantity.Micrometres(rapid.Int64Range(-1e12, 1e12).Draw(t, "length"))
		assert.Equal(t, l, quantity.Inches(l.Inches()))
		assert.Equal(t, l, quantity.Feet(l.Feet()))
		assert.Equal(t, l, quantity.Centimetres(l.Centimetres()))
		assert.Equal(t, l, quantity.Metres(l.Metres()))

		a := quantity.SquareMillimetres(rapid.Int64Range(0, 1e14).Draw(t, "area"))
		assert.Equal(t, a, quantity.Acres(a.Acres()))
		assert.Equal(t, a, quantity.SquareFeet(a.SquareFeet()))
		assert.Equal(t, a, quantity.SquareMetres(a.SquareMetres()))

		v := quantity.Microlitres(rapid.Int64Range(0, 1e13).Draw(t, "volume"))
		assert.Equal(t, v, quantity.Gallons(v.Gallons()))
		assert.Equal(t, v, quantity.FluidOunces(v.FluidOunces()))
		assert.Equal(t, v, quantity.Millilitres(v.Millilitres()))
		assert.Equal(t, v, quantity.Litres(v.Litres()))

		thousandths := float64(rapid.Int64Range(0, 20_000).Draw(t, "strength")) / 1_000
		assert.InEpsilon(t, 1+thousandths, 1+quantity.PoundsPerGallon(thousandths).PoundsPerGallon(), 1e-12)
		assert.InEpsilon(t, 1+thousandths, 1+quantity.GramsPerLitre(thousandths).GramsPerLitre(), 1e-12)
		assert.Equal(t, thousandths, quantity.Percent(thousandths).Percent())
	})
}

// U01 to U08 of the facts of the trade: NIST Handbook 44 Appendix C, the inch of
// 2.54 cm, and arithmetic from them; the acre in square metres is from memory,
// its arithmetic checked.
func TestUnits(t *testing.T) {
	cases := []struct {
		name      string
		got, want float64
		tolerance float64
	}{
		{"U01: a gallon is 231 cubic inches", quantity.Gallons(1).Millilitres(), 231 * 2.54 * 2.54 * 2.54, 0.0005},
		{"U05: a fluid ounce is 29.5735295625 mL", quantity.FluidOunces(1e6).Millilitres() / 1e6, 29.5735295625, 1e-9},
		{"U06: a gallon is 3.785411784 L", quantity.Gallons(1e3).Litres() / 1e3, 3.785411784, 1e-9},
		{"128 fluid ounces are a gallon", float64(quantity.FluidOunces(128)), float64(quantity.Gallons(1)), 0},
		{"U07: an acre is 43,560 square feet", quantity.Acres(1).SquareFeet(), 43_560, 1e-5},
		{"U08: an acre is 4046.8564224 m2", quantity.Acres(1000).SquareMetres() / 1000, 4046.8564224, 1e-9},
		{"a square foot is 144 square inches", quantity.SquareFeet(100).SquareInches() / 100, 144, 1e-9},
		{"a hectare is 10,000 m2", quantity.Hectares(1).SquareMetres(), 10_000, 0},
		{"a hectare is 2.47105381 acres", quantity.Hectares(1).Acres(), 2.4710538146717, 1e-9},
		{"U10: 2 lb/gal is 239.653 g/L", quantity.PoundsPerGallon(2).GramsPerLitre(), 239.652854, 1e-6},
		{"U10: 3 lb/gal is 359.479 g/L", quantity.PoundsPerGallon(3).GramsPerLitre(), 359.479281, 1e-6},
		{"U10: 4 lb/gal is 479.306 g/L", quantity.PoundsPerGallon(4).GramsPerLitre(), 479.305709, 1e-6},
		{"8 lb/acre is 8.966809 kg/ha", quantity.PoundsPerAcre(8).PoundsPerAcre(), quantity.KilogramsPerHectare(8.966809).PoundsPerAcre(), 1e-6},
		{"a gallon an acre is 9.353956 L/ha", quantity.GallonsPerAcre(1).On(quantity.Hectare).Litres(), 9.353956, 1e-6},
		{"a carrier volume reads back", quantity.GallonsPerAcre(20).GallonsPerAcre(), 20, 1e-6},
		{"a wetting rate reads back", quantity.MillilitresPerSquareInch(0.3).MillilitresPerSquareInch(), 0.3, 5e-6},
		{"M01: basal area constant pi/576", quantity.BasalAreaSquareFeet(quantity.Inch), 0.005454154, 1e-9},
		{"M10: girth of 31.4 in is 9.995 in through", quantity.DiameterFromGirth(quantity.Inches(31.4)).Inches(), 9.99493, 1e-5},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { assert.InDelta(t, c.want, c.got, c.tolerance) })
	}
}

// A12 to A15 and T05 of the facts: shares of a product's strength.
func TestAcidEquivalents(t *testing.T) {
	four, three := quantity.PoundsPerGallon(4), quantity.PoundsPerGallon(3)
	litre := quantity.Litre
	t.Run("A12: 20 % of 4 lb ae/gal is 95.9 g/L", func(t *testing.T) {
		assert.InDelta(t, 95.861, four.In(quantity.Percent(20).Of(litre)).Grams(), 0.001)
	})
	t.Run("A13: 50 % of 3 lb ae/gal is 179.7 g/L", func(t *testing.T) {
		assert.InDelta(t, 179.740, three.In(quantity.Percent(50).Of(litre)).Grams(), 0.001)
	})
	t.Run("A15: 6 lb ae is in 1.5 gal of 4 lb ae/gal", func(t *testing.T) {
		assert.InDelta(t, 6, four.In(quantity.Gallons(1.5)).Pounds(), 1e-6)
	})
	t.Run("T05: 5 mL of 4 lb ae/gal hold 2.397 g", func(t *testing.T) {
		assert.InDelta(t, 2.39653, four.In(5*quantity.Millilitre).Grams(), 1e-5)
	})
	t.Run("half of 4 lb ae/gal is exactly 2", func(t *testing.T) {
		product, ok := four.Dilute(quantity.Litre, quantity.PoundsPerGallon(2))
		assert.True(t, ok)
		assert.Equal(t, quantity.Litre/2, product)
	})
	t.Run("a gram per litre is a microgram per microlitre", func(t *testing.T) {
		assert.Equal(t, 479*quantity.GramAE, quantity.GramsPerLitre(479).In(quantity.Litre))
	})
}

// The acre is not a whole number of square millimetres: the area of one acre is
// 0.4 mm2 short, and what a rate allows on it one microgram. It errs to the safe
// side; who compares a dose with On compares it with that.
func TestWhatAnAcreAllowsIsNotAboveTheRate(t *testing.T) {
	rate := quantity.PoundsPerAcre(2)
	assert.EqualValues(t, 907_184_740, rate)
	assert.EqualValues(t, 907_184_739, rate.On(quantity.Acres(1)))
	assert.EqualValues(t, 10*907_184_740, rate.On(quantity.Acres(10)))
}

func TestWhatIsNoNumberIsZero(t *testing.T) {
	nan := math.NaN()
	assert.Zero(t, quantity.Inches(nan))
	assert.Zero(t, quantity.Acres(nan))
	assert.Zero(t, quantity.Gallons(nan))
	assert.Zero(t, quantity.Percent(nan))
	assert.Zero(t, quantity.PoundsPerGallon(nan))
	assert.Zero(t, quantity.GramsPerLitre(nan))
	assert.Zero(t, quantity.PoundsPerAcre(nan))
	assert.Zero(t, quantity.KilogramsPerHectare(nan))
	assert.Zero(t, quantity.GallonsPerAcre(nan))
	assert.Zero(t, quantity.MillilitresPerSquareInch(nan))
}

func TestWhatIsTooLargeSaturates(t *testing.T) {
	for _, v := range []float64{1e19, 1e300, math.Inf(1)} {
		assert.EqualValues(t, math.MaxInt64, quantity.Inches(v))
		assert.EqualValues(t, math.MaxInt64, quantity.Acres(v))
		assert.EqualValues(t, math.MaxInt64, quantity.Hectares(v))
		assert.EqualValues(t, math.MaxInt64, quantity.Gallons(v))
		assert.EqualValues(t, math.MaxInt64, quantity.Percent(v))
		assert.EqualValues(t, math.MaxInt64, quantity.PoundsPerGallon(v))
		assert.EqualValues(t, math.MaxInt64, quantity.GramsPerLitre(v))
		assert.EqualValues(t, math.MaxInt64, quantity.PoundsPerAcre(v))
		assert.EqualValues(t, math.MaxInt64, quantity.KilogramsPerHectare(v))
		assert.EqualValues(t, math.MaxInt64, quantity.GallonsPerAcre(v))
		assert.EqualValues(t, math.MinInt64, quantity.Inches(-v))
	}
	const most = math.MaxInt64
	assert.EqualValues(t, most, quantity.Circle(most))
	assert.EqualValues(t, most, quantity.Band(most, most))
	assert.EqualValues(t, most, quantity.Strength(most).In(most))
	assert.EqualValues(t, most, quantity.WettingRate(most).On(most))
	assert.EqualValues(t, most, quantity.CarrierVolume(most).On(most))
	assert.EqualValues(t, most, quantity.CarrierVolume(1).On(most), "an area too large for the sum needs more than there is")
	assert.EqualValues(t, most, quantity.ArealRate(most).On(most))
	assert.EqualValues(t, most, quantity.PerMillion(4_000_000).Of(1<<62), "a product whose upper half is the divisor")
}

// No quantity above zero comes out below zero, whatever is put in.
func TestNothingWraps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Int64Min(0).Draw(t, "a"), rapid.Int64Min(0).Draw(t, "b")
		v := math.Abs(rapid.Float64().Draw(t, "v"))
		product, _ := quantity.Strength(a).Dilute(quantity.Microlitres(b), quantity.Strength(a/2))
		rate, _ := quantity.RateOf(quantity.MicrogramsAE(a), quantity.SquareMillimetres(b))
		for name, got := range map[string]int64{
			"PoundsPerGallon": int64(quantity.PoundsPerGallon(v)), "GramsPerLitre": int64(quantity.GramsPerLitre(v)),
			"PoundsPerAcre": int64(quantity.PoundsPerAcre(v)), "KilogramsPerHectare": int64(quantity.KilogramsPerHectare(v)),
			"Circle": int64(quantity.Circle(quantity.Micrometres(a))), "Band": int64(quantity.Band(quantity.Micrometres(a), quantity.Micrometres(b))),
			"In": int64(quantity.Strength(a).In(quantity.Microlitres(b))), "Dilute": int64(product),
			"On": int64(quantity.ArealRate(a).On(quantity.SquareMillimetres(b))), "RateOf": int64(rate),
			"Of": int64(quantity.PerMillion(a).Of(quantity.Microlitres(b))), "wetting": int64(quantity.WettingRate(a).On(quantity.SquareMillimetres(b))),
			"carrier": int64(quantity.CarrierVolume(a).On(quantity.SquareMillimetres(b))), "girth": int64(quantity.DiameterFromGirth(quantity.Micrometres(a))),
		} {
			assert.GreaterOrEqual(t, got, int64(0), name)
		}
	})
}

// What is less than nothing holds nothing.
func TestNegativeAmountsGiveNothing(t *testing.T) {
	assert.Zero(t, quantity.PoundsPerGallon(-1))
	assert.Zero(t, quantity.PoundsPerAcre(-1))
	assert.Zero(t, quantity.KilogramsPerHectare(-1))
	assert.Zero(t, quantity.PoundsPerGallon(4).In(-1))
	assert.Zero(t, quantity.PoundsPerAcre(8).On(-1))
	assert.Zero(t, quantity.Percent(20).Of(-1))
	_, ok := quantity.Strength(0).Dilute(quantity.Litre, 0)
	assert.False(t, ok, "nothing can be made from a product without strength")
	for _, area := range []quantity.SquareMillimetres{0, -1, math.MaxInt64} {
		_, ok := quantity.RateOf(quantity.GramAE, area)
		assert.False(t, ok, "a rate on %d mm2 is unknown", area)
	}
}
