package quantity_test

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules/quantity"
)

// The second computation of every quantity is in rational numbers. Pi is taken
// to 30 digits (from memory; checked against Machin's formula in TestPi).
const pi30 = "3.14159265358979323846264338328"

func TestPi(t *testing.T) {
	// pi = 16 arctan(1/5) - 4 arctan(1/239)
	arctan := func(inverse int64) *big.Rat {
		sum, power := new(big.Rat), big.NewRat(1, inverse)
		square := big.NewRat(1, inverse*inverse)
		for n := int64(0); n < 25; n++ {
			term := new(big.Rat).Mul(power, big.NewRat(1-n%2*2, 2*n+1))
			sum.Add(sum, term)
			power.Mul(power, square)
		}
		return sum
	}
	machin := new(big.Rat).Sub(new(big.Rat).Mul(big.NewRat(16, 1), arctan(5)), new(big.Rat).Mul(big.NewRat(4, 1), arctan(239)))
	off := new(big.Rat).Sub(machin, rat(t, pi30))
	assert.Negative(t, off.Abs(off).Cmp(rat(t, "1e-29")))
}

func rat(t require.TestingT, s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	require.True(t, ok, s)
	return r
}

func product(factors ...*big.Rat) *big.Rat {
	p := big.NewRat(1, 1)
	for _, f := range factors {
		p.Mul(p, f)
	}
	return p
}

func whole(v int64) *big.Rat { return new(big.Rat).SetInt64(v) }

func over(a, b *big.Rat) *big.Rat { return new(big.Rat).Quo(a, b) }

func floor(r *big.Rat) int64 { return new(big.Int).Div(r.Num(), r.Denom()).Int64() }

func ceil(r *big.Rat) int64 { return -floor(new(big.Rat).Neg(r)) }

// isNearest reports whether got is the whole number nearest to r, with so much
// grace at the half as floating point needs there.
func isNearest(r *big.Rat, got int64) bool {
	off := new(big.Rat).Sub(r, whole(got))
	return off.Abs(off).Cmp(big.NewRat(500_001, 1_000_000)) <= 0
}

func TestBarkAreasAreExact(t *testing.T) {
	pi := rat(t, pi30)
	rapid.Check(t, func(t *rapid.T) {
		// To five metres through and ten high: no stem is larger.
		d := rapid.Int64Range(0, 5_000_000).Draw(t, "diameter")
		h := rapid.Int64Range(0, 10_000_000).Draw(t, "height")
		mm := big.NewRat(d, 1_000)
		circle := product(pi, mm, mm, big.NewRat(1, 4))
		assert.True(t, isNearest(circle, int64(quantity.Circle(quantity.Micrometres(d)))), "circle %s", circle.FloatString(3))
		band := product(pi, mm, big.NewRat(h, 1_000))
		assert.True(t, isNearest(band, int64(quantity.Band(quantity.Micrometres(d), quantity.Micrometres(h)))), "band %s", band.FloatString(3))
		girth := over(whole(d), pi)
		assert.True(t, isNearest(girth, int64(quantity.DiameterFromGirth(quantity.Micrometres(d)))), "girth %s", girth.FloatString(3))
		inches := over(whole(d), whole(25_400))
		basal, _ := product(pi, inches, inches, big.NewRat(1, 576)).Float64()
		assert.InDelta(t, basal, quantity.BasalAreaSquareFeet(quantity.Micrometres(d)), 1e-12*(1+basal))
	})
}

// Acid equivalent rounds up, products and caps round down.
func TestRoundingDirections(t *testing.T) {
	gallon, pound, acre := rat(t, "3785411.784"), rat(t, "453592370"), rat(t, "4046856422.4")
	rapid.Check(t, func(t *rapid.T) {
		thousandths := rapid.Int64Range(1, 20_000).Draw(t, "lb ae/gal, thousandths")
		v := quantity.Microlitres(rapid.Int64Range(0, 1e12).Draw(t, "volume"))
		a := quantity.SquareMillimetres(rapid.Int64Range(1, 1e15).Draw(t, "area"))

		s := quantity.PoundsPerGallon(float64(thousandths) / 1_000)
		ae := product(whole(int64(v)), big.NewRat(thousandths, 1_000), pound, over(whole(1), gallon))
		assert.Equal(t, ceil(ae), int64(s.In(v)), "acid equivalent rounds up")
		for _, m := range []quantity.MicrogramsAE{s.In(v) - 1, s.In(v), s.In(v) + 1, -1, 0} {
			assert.Equal(t, s.In(v) <= m, s.Holds(v, m), "%d in %d", m, v)
		}

		rate := quantity.PoundsPerAcre(float64(thousandths) / 1_000)
		pounds := product(big.NewRat(thousandths, 1_000), pound)
		assert.Equal(t, floor(pounds), int64(rate), "a rate rounds down")
		assert.Equal(t, floor(product(whole(int64(rate)), over(whole(int64(a)), acre))), int64(rate.On(a)), "a cap rounds down")

		hectare := quantity.KilogramsPerHectare(float64(thousandths) / 1_000)
		perAcre := product(big.NewRat(thousandths, 1_000), whole(1e9), over(acre, whole(1e10)))
		assert.Equal(t, floor(perAcre), int64(hectare), "a metric rate rounds down")

		share := rapid.Int64Range(0, 1_000_000).Draw(t, "share")
		assert.Equal(t, floor(product(whole(int64(v)), big.NewRat(share, 1_000_000))), int64(quantity.PerMillion(share).Of(v)), "a share rounds down")

		wetting := rapid.Int64Range(0, 1_000_000).Draw(t, "nL/cm2")
		small := a % 1e11
		assert.Equal(t, ceil(product(whole(wetting), whole(int64(small)), big.NewRat(1, 100_000))), int64(quantity.WettingRate(wetting).On(small)), "what wets rounds up")

		carrier := rapid.Int64Range(0, 1e9).Draw(t, "uL/acre")
		assert.Equal(t, ceil(product(whole(carrier), over(whole(int64(a)), acre))), int64(quantity.CarrierVolume(carrier).On(a)), "spray rounds up")
	})
}

func TestDiluteNeverMakesAMixTooStrong(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := quantity.PoundsPerGallon(float64(rapid.Int64Range(1, 20_000).Draw(t, "product")) / 1_000)
		wanted := quantity.GramsPerLitre(float64(rapid.Int64Range(0, 2_400_000).Draw(t, "mix")) / 1_000)
		mix := quantity.Microlitres(rapid.Int64Range(0, 1e13).Draw(t, "volume"))
		got, ok := s.Dilute(mix, wanted)
		assert.Equal(t, wanted <= s, ok)
		if !ok {
			assert.Zero(t, got)
			return
		}
		assert.LessOrEqual(t, got, mix)
		assert.LessOrEqual(t, s.In(got), wanted.In(mix))
		exact := product(whole(int64(mix)), over(whole(int64(wanted)), whole(int64(s))))
		assert.Equal(t, floor(exact), int64(got))
	})
}

func TestRatesAndAreasAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := quantity.SquareMillimetres(rapid.Int64Range(1, 1e15).Draw(t, "area"))
		m := quantity.MicrogramsAE(rapid.Int64Range(0, 1e15).Draw(t, "mass"))
		rate := quantity.ArealRate(rapid.Int64Range(0, 1e13).Draw(t, "rate"))

		of, ok := quantity.RateOf(m, a)
		require.True(t, ok)
		if of < 1<<62 { // not saturated
			assert.GreaterOrEqual(t, of.On(a), m, "what the mass amounts to allows the mass")
		}
		back, ok := quantity.RateOf(rate.On(a), a)
		require.True(t, ok)
		assert.LessOrEqual(t, back, rate, "what a rate allows does not exceed the rate")
	})
}

// A larger area, volume or strength never needs or allows less.
func TestQuantitiesAreMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Int64Range(0, 1e14).Draw(t, "x")
		y := x + rapid.Int64Range(0, 1e14).Draw(t, "more")
		r := rapid.Int64Range(0, 1e14).Draw(t, "rate")
		assert.LessOrEqual(t, quantity.ArealRate(r).On(quantity.SquareMillimetres(x)), quantity.ArealRate(r).On(quantity.SquareMillimetres(y)))
		assert.LessOrEqual(t, quantity.WettingRate(r).On(quantity.SquareMillimetres(x)), quantity.WettingRate(r).On(quantity.SquareMillimetres(y)))
		assert.LessOrEqual(t, quantity.CarrierVolume(r).On(quantity.SquareMillimetres(x)), quantity.CarrierVolume(r).On(quantity.SquareMillimetres(y)))
		assert.LessOrEqual(t, quantity.Strength(r).In(quantity.Microlitres(x)), quantity.Strength(r).In(quantity.Microlitres(y)))
		assert.LessOrEqual(t, quantity.Band(quantity.Micrometres(x), quantity.Metre), quantity.Band(quantity.Micrometres(y), quantity.Metre))
		assert.LessOrEqual(t, quantity.Circle(quantity.Micrometres(x)), quantity.Circle(quantity.Micrometres(y)))
	})
}
