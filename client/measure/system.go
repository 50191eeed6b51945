package measure

import (
	"fmt"
	"math"
	"strconv"

	"example.org/rootward/rules/quantity"
)

// System is a system of units.
type System uint8

// The systems.
const (
	US     System = iota // inches, feet, acres, US gallons
	Metric               // centimetres, metres, hectares, litres
)

var names = [...]string{"us", "metric"}

// String gives the word.
func (s System) String() string { return names[s] }

// UnmarshalText reads "us" or "metric".
func (s *System) UnmarshalText(text []byte) error {
	for i, name := range names {
		if string(text) == name {
			*s = System(i)
			return nil
		}
	}
	return fmt.Errorf("units %q are not us or metric", text)
}

// The least that a crew can measure: half a millilitre by syringe, a dram by the marks of a US
// measure (common practice, no source).
const (
	leastMillilitres = 0.5
	LeastFluidOunces = 0.125
)

// TooLittle reports whether nobody can measure a volume that is wanted.
func TooLittle(ml float64) bool { return ml > 0 && ml < leastMillilitres }

// Volume writes a volume given in millilitres, rounded down, by what it can be measured with:
// little is in millilitres in both systems.
func (s System) Volume(ml float64) string {
	v := quantity.Millilitres(ml)
	switch {
	case TooLittle(ml):
		return "under 0.5 mL"
	case s == Metric && ml >= 1000:
		return Down(v.Litres()) + " L"
	case s == Metric || ml > 0 && v.FluidOunces() < LeastFluidOunces:
		return Down(ml) + " mL"
	case v.Gallons() >= 1:
		return Down(v.Gallons()) + " gal"
	}
	return Down(v.FluidOunces()) + " fl oz"
}

// Both writes a volume as Volume does, in both systems where they differ.
func Both(ml float64) string {
	us, metric := US.Volume(ml), Metric.Volume(ml)
	if us == metric {
		return us
	}
	return fmt.Sprintf("%s (%s)", us, metric)
}

// Need writes a volume to buy, given in litres, rounded up, in the units that Volume takes.
func (s System) Need(l float64) string {
	v := quantity.Litres(l)
	switch {
	case TooLittle(l * 1000):
		return "under 0.5 mL"
	case s == Metric && l >= 1:
		return Up(l) + " L"
	case s == Metric || l > 0 && v.FluidOunces() < LeastFluidOunces:
		return Up(v.Millilitres()) + " mL"
	case v.Gallons() >= 1:
		return Up(v.Gallons()) + " gal"
	}
	return Up(v.FluidOunces()) + " fl oz"
}

// Diameter writes a diameter given in centimetres, to a tenth.
func (s System) Diameter(cm float64) string {
	if s == Metric {
		return tenths(cm) + " cm"
	}
	return tenths(quantity.Centimetres(cm).Inches()) + " in"
}

// Length writes a length given in metres, to a tenth.
func (s System) Length(m float64) string {
	if s == Metric {
		return tenths(m) + " m"
	}
	return tenths(quantity.Metres(m).Feet()) + " ft"
}

// Nearer writes a distance given in metres, to a tenth and never more than it is.
func (s System) Nearer(m float64) string {
	v, unit := m, " m"
	if s == US {
		v, unit = quantity.Metres(m).Feet(), " ft"
	}
	return tenths(math.Floor(v*10*(1+slack))/10) + unit
}

// Area writes an area given in square metres.
func (s System) Area(m2 float64) string {
	a := quantity.SquareMetres(m2)
	if s == Metric {
		return significant(m2/10_000) + " ha"
	}
	return significant(a.Acres()) + " ac"
}

// kilogramsPerHectare is what a pound per acre is: 0.45359237 kg on 4,046.8564224
// m2, both by definition of the international pound and acre.
const kilogramsPerHectare = 0.45359237 / 0.40468564224

// Rate writes acid equivalent per area, given in pounds per acre.
func (s System) Rate(poundsPerAcre float64) string {
	if s == Metric {
		return significant(poundsPerAcre*kilogramsPerHectare) + " kg ae/ha"
	}
	return significant(poundsPerAcre) + " lb ae/ac"
}

// slack is what a whole number of microlitres can be short of the gallon that it
// stands for: one in 3,785,411. Without it 3 gal would read 2.99 gal.
const slack = 3e-7

// Down writes a number with three significant digits and never more than it is;
// from a hundred on it is whole.
func Down(v float64) string { return digits(v, math.Floor, slack) }

// Up writes a number with three significant digits and never less than it is;
// from a hundred on it is whole.
func Up(v float64) string { return digits(v, math.Ceil, -slack) }

func significant(v float64) string { return digits(v, math.Round, 0) }

// digits rounds in the given way, after a shift by a part of the number itself.
func digits(v float64, round func(float64) float64, shift float64) string {
	if v == 0 {
		return "0"
	}
	places := max(0, 2-int(math.Floor(math.Log10(math.Abs(v)))))
	scale := math.Pow10(min(places, 9))
	return strconv.FormatFloat(round(v*scale*(1+shift))/scale, 'f', -1, 64)
}

func tenths(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }
