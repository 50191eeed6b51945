package quantity

import (
	"math"
	"math/bits"
)

// MicrogramsAE is a mass of acid equivalent.
type MicrogramsAE int64

// GramAE is one gram of acid equivalent.
const GramAE MicrogramsAE = 1_000_000

// microgramsPerPound is exact: a pound is 453.59237 g.
const microgramsPerPound = 453_592_370

// Grams gives the mass in grams, for people.
func (m MicrogramsAE) Grams() float64 { return float64(m) / float64(GramAE) }

// Pounds gives the mass in pounds, for people.
func (m MicrogramsAE) Pounds() float64 { return float64(m) / microgramsPerPound }

// Strength is acid equivalent per volume of a formulation or of a mix, in units
// of 1/3,785,411,784,000 g/L. In that unit both a thousandth of a pound per
// gallon and a thousandth of a gram per litre are whole numbers, so half of
// 4 lb ae/gal is exactly 2 lb ae/gal and a dose is not a microlitre short.
type Strength int64

const (
	strengthPerGramPerLitre   = 3_785_411_784_000
	strengthPerPoundPerGallon = 453_592_370_000_000
)

// PoundsPerGallon rounds to the nearest thousandth of a pound per gallon.
func PoundsPerGallon(v float64) Strength { return thousandths(v, strengthPerPoundPerGallon) }

// GramsPerLitre rounds to the nearest thousandth of a gram per litre.
func GramsPerLitre(v float64) Strength { return thousandths(v, strengthPerGramPerLitre) }

func thousandths(v float64, unit int64) Strength {
	return Strength(mulDivFloor(scale[int64](v, 1e3), unit, 1_000))
}

// GramsPerLitre gives the strength in g ae/L, for people.
func (s Strength) GramsPerLitre() float64 { return float64(s) / strengthPerGramPerLitre }

// PoundsPerGallon gives the strength in lb ae/gal, for people.
func (s Strength) PoundsPerGallon() float64 { return float64(s) / strengthPerPoundPerGallon }

// In is the acid equivalent in a volume, rounded up: the sum that is held
// against a maximum is never understated.
func (s Strength) In(v Microlitres) MicrogramsAE {
	// One g/L is one microgram per microlitre.
	return MicrogramsAE(mulDivCeil(int64(v), int64(s), strengthPerGramPerLitre))
}

// Holds reports whether In(v) is at most m, in less time.
func (s Strength) Holds(v Microlitres, m MicrogramsAE) bool {
	if v <= 0 || s <= 0 {
		return m >= 0
	}
	if m < 0 {
		return false
	}
	hi, lo := bits.Mul64(uint64(v), uint64(s))
	mostHi, mostLo := bits.Mul64(uint64(m), strengthPerGramPerLitre)
	return hi < mostHi || hi == mostHi && lo <= mostLo || m == math.MaxInt64
}

// Dilute is how much of a product of strength s brings this much mix to the
// wanted strength, rounded down so that the mix is never stronger than wanted.
// It reports false when the product is weaker than the mix is to be.
func (s Strength) Dilute(mix Microlitres, wanted Strength) (Microlitres, bool) {
	if s <= 0 || wanted > s {
		return 0, false
	}
	return Microlitres(mulDivFloor(int64(mix), int64(wanted), int64(s))), true
}

// ArealRate is acid equivalent per ground area, in micrograms per acre.
type ArealRate int64

// PoundsPerAcre reads the rate to the nearest millionth of a pound and rounds
// down to a whole microgram: a maximum as it is printed is never loosened.
func PoundsPerAcre(v float64) ArealRate {
	return ArealRate(mulDivFloor(scale[int64](v, 1e6), microgramsPerPound, 1_000_000))
}

// KilogramsPerHectare reads the rate to the nearest milligram and rounds down to
// a whole microgram per acre.
func KilogramsPerHectare(v float64) ArealRate {
	// A kg/ha is 404,685,642.24 µg/acre.
	const hundredthsPerKilogramPerHectare = 40_468_564_224
	return ArealRate(mulDivFloor(scale[int64](v, 1e6), hundredthsPerKilogramPerHectare, 100*1_000_000))
}

// PoundsPerAcre gives the rate in lb ae/acre, for people.
func (r ArealRate) PoundsPerAcre() float64 { return float64(r) / microgramsPerPound }

// On is the most acid equivalent that the rate allows on an area, rounded down.
func (r ArealRate) On(a SquareMillimetres) MicrogramsAE {
	if a > maxTenth {
		a = maxTenth
	}
	return MicrogramsAE(mulDivFloor(int64(r), int64(a)*10, tenthSquareMillimetresPerAcre))
}

// maxTenth is the largest area that can be held in tenths of a square millimetre.
const maxTenth = SquareMillimetres(1<<63-1) / 10

// RateOf is the rate at which a mass lies on an area, rounded up. It reports
// false for an area of zero or less, for a rate without an area is unknown, and
// for one beyond 900,000 square kilometres.
func RateOf(m MicrogramsAE, a SquareMillimetres) (ArealRate, bool) {
	if a <= 0 || a > maxTenth {
		return 0, false
	}
	return ArealRate(mulDivCeil(int64(m), tenthSquareMillimetresPerAcre, int64(a)*10)), true
}
