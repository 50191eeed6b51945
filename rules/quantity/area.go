package quantity

import "math"

// SquareMillimetres is an area. An acre of the international foot is
// 4,046,856,422.4 of them (arithmetic: 43,560 square feet of 304.8 mm).
type SquareMillimetres int64

// Areas in whole square millimetres.
const (
	SquareCentimetre SquareMillimetres = 100
	SquareMetre      SquareMillimetres = 1_000_000
	Hectare          SquareMillimetres = 10_000 * SquareMetre
)

const (
	squareMillimetresPerAcre       = 4_046_856_422.4
	squareMillimetresPerSquareFoot = 92_903.04
	squareMillimetresPerSquareInch = 645.16
	// tenthSquareMillimetresPerAcre is the acre in the unit in which it is whole.
	tenthSquareMillimetresPerAcre = 40_468_564_224
)

// Acres, Hectares, SquareMetres and SquareFeet round to the nearest square millimetre.
func Acres(v float64) SquareMillimetres {
	return scale[SquareMillimetres](v, squareMillimetresPerAcre)
}
func Hectares(v float64) SquareMillimetres { return scale[SquareMillimetres](v, float64(Hectare)) }
func SquareMetres(v float64) SquareMillimetres {
	return scale[SquareMillimetres](v, float64(SquareMetre))
}
func SquareFeet(v float64) SquareMillimetres {
	return scale[SquareMillimetres](v, squareMillimetresPerSquareFoot)
}

// Acres gives the area in acres, for people.
func (a SquareMillimetres) Acres() float64 { return float64(a) / squareMillimetresPerAcre }

// SquareMetres gives the area in square metres, for people.
func (a SquareMillimetres) SquareMetres() float64 { return float64(a) / float64(SquareMetre) }

// SquareFeet gives the area in square feet, for people.
func (a SquareMillimetres) SquareFeet() float64 { return float64(a) / squareMillimetresPerSquareFoot }

// SquareInches gives the area in square inches, for people.
func (a SquareMillimetres) SquareInches() float64 { return float64(a) / squareMillimetresPerSquareInch }

// Circle is the area of a circle of this diameter, to the nearest square millimetre.
func Circle(diameter Micrometres) SquareMillimetres {
	mm := float64(diameter) / float64(Millimetre)
	return scale[SquareMillimetres](mm*mm, math.Pi/4)
}

// Band is the area of bark on a stem of this diameter from the ground line to
// this height, all the way round, to the nearest square millimetre.
func Band(diameter, height Micrometres) SquareMillimetres {
	return scale[SquareMillimetres](float64(diameter)/1e3*float64(height)/1e3, math.Pi)
}

// BasalAreaSquareFeet is the cross-section of a stem at breast height, in
// square feet (constant pi/576 with the diameter in inches).
func BasalAreaSquareFeet(dbh Micrometres) float64 {
	return math.Pi / 576 * dbh.Inches() * dbh.Inches()
}
