package quantity

import "math"

// Micrometres is a length. An inch is exactly 25,400 of them (the international
// yard and pound agreement of 1959, as NIST Handbook 44 Appendix C states it).
type Micrometres int64

// Lengths in whole micrometres.
const (
	Millimetre Micrometres = 1_000
	Centimetre Micrometres = 10_000
	Metre      Micrometres = 1_000_000
	Inch       Micrometres = 25_400
	Foot       Micrometres = 12 * Inch
	Mile       Micrometres = 5_280 * Foot
)

// BreastHeight is where a tree's diameter is measured: 4.5 ft above ground
// (1.37 m; forest inventory practice of the United States, from memory).
const BreastHeight = 4*Foot + 6*Inch

// Inches, Feet, Centimetres and Metres round to the nearest micrometre.
func Inches(v float64) Micrometres      { return scale[Micrometres](v, float64(Inch)) }
func Feet(v float64) Micrometres        { return scale[Micrometres](v, float64(Foot)) }
func Centimetres(v float64) Micrometres { return scale[Micrometres](v, float64(Centimetre)) }
func Metres(v float64) Micrometres      { return scale[Micrometres](v, float64(Metre)) }

// Inches gives the length in inches, for people; decisions compare micrometres.
func (l Micrometres) Inches() float64      { return float64(l) / float64(Inch) }
func (l Micrometres) Feet() float64        { return float64(l) / float64(Foot) }
func (l Micrometres) Centimetres() float64 { return float64(l) / float64(Centimetre) }
func (l Micrometres) Metres() float64      { return float64(l) / float64(Metre) }

// DiameterFromGirth divides a stem's girth by pi, to the nearest micrometre.
func DiameterFromGirth(girth Micrometres) Micrometres {
	return Micrometres(math.Round(float64(girth) / math.Pi))
}

// scale saturates at the ends of the type, and what is not a number gives zero: a
// caller that accepts numbers from outside checks them first, and a value out of
// range must not wrap.
func scale[T ~int64](v, unit float64) T {
	product := math.Round(v * unit)
	switch {
	case math.IsNaN(product):
		return 0
	case product >= math.MaxInt64:
		return T(math.MaxInt64)
	case product <= math.MinInt64:
		return T(math.MinInt64)
	}
	return T(product)
}
