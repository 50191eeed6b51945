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

// Volume writes a volume given in millilitres, rounded down.
func (s System) Volume(ml float64) string {
	v := quantity.Millilitres(ml)
	switch {
	case s == Metric && ml >= 1000:
		return Down(v.Litres()) + " L"
	case s == Metric:
		return Down(ml) + " mL"
	case v.Gallons() >= 1:
		return Down(v.Gallons()) + " gal"
	}
	return Down(v.FluidOunces()) + " fl oz"
}

// Need writes a volume to buy, given in litres, rounded up.
func (s System) Need(l float64) string {
	v := quantity.Litres(l)
	switch {
	case s == Metric && l >= 1:
		return Up(l) + " L"
	case s == Metric:
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
