package treatment

import (
	"fmt"
	"math"

	"example.org/rootward/rules/quantity"
)

// A calibration turns a measurement in the field into a setting. It gives the
// setting with its working, formulas with their numbers, a line a step; or all
// that is wrong with the measurement, and then neither. Fields are named by their
// path in the request.

// TimeDistance is what a sprayer puts out, how fast it moves, and how wide it
// covers.
type TimeDistance struct {
	Output   float64 // gal/min
	Distance float64 // ft
	Time     float64 // s, for the distance
	Swath    float64 // in
}

// GallonsPerAcre gives the spray by the time-distance method: gallons per
// acre = 5940 x gal/min / (mph x in) (a county weed and pest district of Wyoming,
// calibrating sprayers).
func (m *TimeDistance) GallonsPerAcre() (float64, []string, []FieldFault) {
	var in limits
	in.above0(m.Output, 1_000, "time_distance.output_gal_per_min", "gal/min", "catch the output for a minute")
	in.above0(m.Distance, 10_000, "time_distance.distance_ft", "ft", "measure the course")
	in.above0(m.Time, 36_000, "time_distance.time_s", "s", "time the course")
	in.above0(m.Swath, 2_400, "time_distance.swath_in", "in", "measure the width that is covered")
	if len(in.faults) > 0 {
		return 0, nil, in.faults
	}
	// A mile is 5,280 ft and an hour 3,600 s. Without this step the result is out by
	// 88, the feet per minute in a mile per hour; such a mistake is in print.
	mph := m.Distance / m.Time * 3_600 / 5_280
	gpa := 5_940 * m.Output / (mph * m.Swath)
	working := []string{
		fmt.Sprintf("speed = %.6g ft / %.6g s x 3600 s/h / 5280 ft/mi = %.5g mph", m.Distance, m.Time, mph),
		fmt.Sprintf("spray = 5940 x %.6g gal/min / (%.5g mph x %.6g in) = %.5g gal/acre", m.Output, mph, m.Swath, gpa),
	}
	return in.spray(gpa, working, "time_distance", "check output, speed and swath")
}

// SmallPlot is what is sprayed on a plot of 1/128 acre. A gallon has 128 fluid
// ounces, so ounces on the plot are gallons on the acre.
type SmallPlot struct {
	Length float64 // ft
	Width  float64 // ft
	Caught float64 // fl oz
}

const (
	// smallPlot is 1/128 of the 43,560 square feet of an acre.
	smallPlot = 43_560.0 / 128
	// smallPlotShare is how far a plot may be off, as a share. A square of 18.5 ft,
	// which extension slides give for it, is 0.6 % too large.
	smallPlotShare = 0.01
)

// GallonsPerAcre gives the spray by the 1/128-acre method.
func (m *SmallPlot) GallonsPerAcre() (float64, []string, []FieldFault) {
	var in limits
	in.above0(m.Length, 1_000, "small_plot.length_ft", "ft", "measure the plot")
	in.above0(m.Width, 1_000, "small_plot.width_ft", "ft", "measure the plot")
	area := m.Length * m.Width
	if len(in.faults) == 0 && math.Abs(area-smallPlot) > smallPlotShare*smallPlot {
		in.fault("small_plot", "%.6g x %.6g ft are %.6g square feet; the plot is 1/128 acre, %.4f square feet within %g %%: mark out 18.45 x 18.45 ft, or for this width a length of %.4g ft",
			m.Length, m.Width, area, smallPlot, 100*smallPlotShare, smallPlot/m.Width)
	}
	in.above0(m.Caught, 2_000, "small_plot.caught_fl_oz", "fl oz", "catch the spray for the time that the plot takes")
	if len(in.faults) > 0 {
		return 0, nil, in.faults
	}
	working := []string{
		fmt.Sprintf("plot = %.6g ft x %.6g ft = %.6g square feet, %+.2g %% off 43560 / 128 = %.4f", m.Length, m.Width, area, 100*(area/smallPlot-1), smallPlot),
		fmt.Sprintf("spray = %.6g fl oz x 128 plots/acre / 128 fl oz/gal = %.5g gal/acre", m.Caught, m.Caught),
	}
	return in.spray(m.Caught, working, "small_plot", "check the time and the catch")
}

// LitresPerHectare gives gallons per acre in metric measure.
func LitresPerHectare(gallonsPerAcre float64) float64 {
	// A gallon in litres; an acre of the international foot in hectares.
	return gallonsPerAcre * 3.785411784 / 0.40468564224
}

// Weighing is the weight of the sprayer before and after basal treatment.
type Weighing struct {
	Before  float64 // g
	After   float64 // g
	Density float64 // g/mL, of the mix
	Stems   []TreatedStem
}

// TreatedStem is stems alike, with a band of mix all the way round.
type TreatedStem struct {
	Diameter float64 // in
	Band     float64 // in, its height
	Count    int64
}

// maxTreated is the most entries of one weighing.
const maxTreated = 10_000

// WettingRate gives the wetting rate: the volume that is gone over the bark that it
// wetted (weighing before and after, as a cut-stump trial did it).
func (m *Weighing) WettingRate() (quantity.WettingRate, []string, []FieldFault) {
	var in limits
	m.check(&in)
	if len(in.faults) > 0 {
		return 0, nil, in.faults
	}
	var bark float64
	for _, s := range m.Stems {
		bark += math.Pi * s.Diameter * s.Band * float64(s.Count)
	}
	gone := (m.Before - m.After) / m.Density
	working := []string{
		fmt.Sprintf("mix = (%.6g g - %.6g g) / %.4g g/mL = %.5g mL", m.Before, m.After, m.Density, gone),
		fmt.Sprintf("bark = sum of pi x diameter x band x count = %.5g in²", bark),
		fmt.Sprintf("wetting = %.5g mL / %.5g in² = %.4g mL/in²", gone, bark, gone/bark),
	}
	return in.wetting(gone/bark, working)
}

func (m *Weighing) check(in *limits) {
	const weigh = "weigh the sprayer full, before the first stem, and after the last"
	in.above0(m.Before, 1e6, "weighing.before_g", "g", weigh)
	if !(m.After >= 0) || m.Before > 0 && m.After >= m.Before {
		in.fault("weighing.after_g", "%.6g g is not 0 to less than the %.6g g before: %s", m.After, m.Before, weigh)
	}
	if !(m.Density >= 0.7 && m.Density <= 1.4) {
		in.fault("weighing.density_g_per_ml", "%.4g g/mL is not 0.7 to 1.4: weigh a litre of the mix", m.Density)
	}
	if n := len(m.Stems); n < 1 || n > maxTreated {
		in.fault("weighing.stems", "%d entries are not 1 to %d: list the stems that were treated between the weighings", n, maxTreated)
		return
	}
	for i, s := range m.Stems {
		field := fmt.Sprintf("weighing.stems[%d].", i)
		in.above0(s.Diameter, MaxDiameter.Inches(), field+"diameter_in", "in", "measure the stem")
		in.above0(s.Band, 60, field+"band_in", "in", "measure the band")
		if s.Count < 1 || s.Count > MaxCount {
			in.fault(field+"count", "%d is not 1 to %d: count the stems", s.Count, int64(MaxCount))
		}
	}
}

// limits gathers what is wrong with a measurement.
type limits struct {
	faults []FieldFault
}

func (in *limits) fault(field, format string, args ...any) {
	in.faults = append(in.faults, FieldFault{field, fmt.Sprintf(format, args...)})
}

// above0 demands a value above zero and at most a limit beyond which it is taken
// for a slip of the pen.
func (in *limits) above0(v, limit float64, field, unit, remedy string) {
	if !(v > 0 && v <= limit) {
		in.fault(field, "%.6g %s is not above 0 and at most %.6g: %s", v, unit, limit, remedy)
	}
}

// spray refuses a result that no sprayer puts out.
func (in *limits) spray(gpa float64, working []string, field, remedy string) (float64, []string, []FieldFault) {
	// Far beyond what the settings take, 1 to 400 gallons per acre: a boom or an
	// aircraft may be calibrated too.
	const low, high = 0.1, 2_000
	if !(gpa >= low && gpa <= high) {
		in.fault(field, "%.5g gal/acre comes out, which is not %g to %d: %s", gpa, low, high, remedy)
		return 0, nil, in.faults
	}
	return gpa, append(working, fmt.Sprintf("%.5g gal/acre = %.5g L/ha", gpa, LitresPerHectare(gpa))), nil
}

// wetting refuses a result that the settings would not take.
func (in *limits) wetting(rate float64, working []string) (quantity.WettingRate, []string, []FieldFault) {
	s := DefaultSettings()
	s.Wetting = quantity.MillilitresPerSquareInch(rate)
	for _, f := range s.Check(&Catalogue{}) {
		in.fault("weighing", "%s: check the weights, the density and the list of stems", f.Problem)
	}
	if len(in.faults) > 0 {
		return 0, nil, in.faults
	}
	return s.Wetting, working, nil
}
