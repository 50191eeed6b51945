package quantity

import "math"

// Microlitres is a volume; a millilitre is 1,000 of them.
type Microlitres int64

// Volumes in whole microlitres.
const (
	Millilitre Microlitres = 1_000
	Litre      Microlitres = 1_000_000
)

const (
	// A US gallon is 231 cubic inches (NIST Handbook 44 Appendix C) of
	// 16.387064 mL each, so 3,785.411784 mL.
	microlitresPerGallon     = 3_785_411.784
	microlitresPerFluidOunce = microlitresPerGallon / 128
)

// Millilitres, Litres, Gallons and FluidOunces round to the nearest microlitre.
func Millilitres(v float64) Microlitres { return scale[Microlitres](v, float64(Millilitre)) }
func Litres(v float64) Microlitres      { return scale[Microlitres](v, float64(Litre)) }
func Gallons(v float64) Microlitres     { return scale[Microlitres](v, microlitresPerGallon) }
func FluidOunces(v float64) Microlitres { return scale[Microlitres](v, microlitresPerFluidOunce) }

// Millilitres gives the volume in millilitres, for people.
func (v Microlitres) Millilitres() float64 { return float64(v) / float64(Millilitre) }
func (v Microlitres) Litres() float64      { return float64(v) / float64(Litre) }
func (v Microlitres) Gallons() float64     { return float64(v) / microlitresPerGallon }
func (v Microlitres) FluidOunces() float64 { return float64(v) / microlitresPerFluidOunce }

// PerMillion is a share by volume: 500,000 is one half.
type PerMillion int64

// Percent rounds to the nearest millionth.
func Percent(v float64) PerMillion { return scale[PerMillion](v, 1e4) }

// Percent gives the share in percent, for people.
func (s PerMillion) Percent() float64 { return float64(s) / 1e4 }

// Of is this share of a volume, rounded down: what is measured into a mix never
// passes its limit by rounding.
func (s PerMillion) Of(v Microlitres) Microlitres {
	return Microlitres(mulDivFloor(int64(v), int64(s), 1_000_000))
}

// WettingRate is liquid on a surface, in nanolitres per square centimetre.
type WettingRate int64

// MillilitresPerSquareInch rounds to the nearest unit.
func MillilitresPerSquareInch(v float64) WettingRate {
	return scale[WettingRate](v, 1e6/6.4516)
}

// MillilitresPerSquareInch gives the rate as it is measured in the field.
func (r WettingRate) MillilitresPerSquareInch() float64 { return float64(r) * 6.4516 / 1e6 }

// On is the liquid that wets an area, rounded up to a whole microlitre.
func (r WettingRate) On(a SquareMillimetres) Microlitres {
	const nanolitresPerMicrolitre = 1_000
	return Microlitres(mulDivCeil(int64(r), int64(a), nanolitresPerMicrolitre*int64(SquareCentimetre)))
}

// CarrierVolume is spray per ground area, in microlitres per acre.
type CarrierVolume int64

// GallonsPerAcre rounds to the nearest unit.
func GallonsPerAcre(v float64) CarrierVolume { return scale[CarrierVolume](v, microlitresPerGallon) }

// GallonsPerAcre gives the carrier volume in gallons per acre, for people.
func (c CarrierVolume) GallonsPerAcre() float64 { return float64(c) / microlitresPerGallon }

// On is the spray for a ground area, rounded up to a whole microlitre.
func (c CarrierVolume) On(a SquareMillimetres) Microlitres {
	if a > math.MaxInt64/10 {
		return math.MaxInt64
	}
	return Microlitres(mulDivCeil(int64(c), int64(a)*10, tenthSquareMillimetresPerAcre))
}
