package treatment_test

import (
	"math"
	"testing"

	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// atSpeed is a measurement at so many miles per hour: 88 ft a minute each.
func atSpeed(gpm, mph, inches float64) treatment.TimeDistance {
	return treatment.TimeDistance{Output: gpm, Distance: 88 * mph, Time: 60, Swath: inches}
}

func TestTimeDistance(t *testing.T) {
	cases := []struct {
		name      string
		measured  treatment.TimeDistance
		want, tol float64
	}{
		// Albany County (Wyoming) Weed and Pest District, calibrating sprayers.
		{"a boom", atSpeed(3.75, 5, 222), 20.07, 0.005},
		// Arithmetic from the same formula, speed x width = 120.
		{"a small nozzle", atSpeed(0.25, 5, 24), 12.375, 1e-9},
		{"a larger nozzle", atSpeed(0.63, 3, 40), 31.185, 1e-9},
		// Larimer County (Colorado) weed district: 495 for a width in feet.
		{"the constant of a foot", atSpeed(1, 1, 12), 495, 1e-9},
		// Arithmetic from the corrected example of the Florida pest control examination
		// book, p. 213, method I.
		{"the corrected example", atSpeed(0.15, 5, 48), 3.7125, 1e-9},
		{"the corrected example, 20 fl oz a minute", atSpeed(0.15625, 5, 48), 3.87, 0.005},
		{"any course", treatment.TimeDistance{Output: 1, Distance: 200, Time: 45, Swath: 60}, 5_940 / (200.0 / 45 * 3_600 / 5_280 * 60), 1e-9},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			gpa, working, faults := c.measured.GallonsPerAcre()
			require.Empty(t, faults)
			assert.InDelta(t, c.want, gpa, c.tol)
			assert.Len(t, working, 3)
		})
	}
}

// The Florida pest control examination book, p. 213, method I, prints 327: its
// speed was not multiplied by 88.
func TestAPublishedMistakeIsNotRepeated(t *testing.T) {
	m := atSpeed(0.15, 5, 48)
	gpa, working, faults := m.GallonsPerAcre()
	require.Empty(t, faults)
	assert.InDelta(t, 3.71, gpa, 0.02)
	assert.Equal(t, []string{
		"speed = 440 ft / 60 s x 3600 s/h / 5280 ft/mi = 5 mph",
		"spray = 5940 x 0.15 gal/min / (5 mph x 48 in) = 3.7125 gal/acre",
		"3.7125 gal/acre = 34.727 L/ha",
	}, working)
}

func TestSmallPlot(t *testing.T) {
	// Catches: University of Florida IFAS, Alachua County extension, 2022; North
	// Carolina State University extension, on 340 square feet; extension slides.
	for _, m := range []treatment.SmallPlot{
		{Length: 18.5, Width: 18.5, Caught: 25}, {Length: 170.0 / 3, Width: 6, Caught: 7.5}, {Length: 18.5, Width: 18.5, Caught: 40},
		{Length: 340.3125, Width: 1, Caught: 1},
	} {
		gpa, working, faults := m.GallonsPerAcre()
		require.Empty(t, faults, "%v", m)
		assert.Equal(t, m.Caught, gpa)
		assert.Len(t, working, 3)
	}
}

func TestSmallPlotOfAnotherSize(t *testing.T) {
	cases := []struct {
		name          string
		length, width float64
		refused       bool
	}{
		// University of Florida IFAS, Alachua County extension, 4 February 2022,
		// prints 8.5 x 18.5 ft for 1/128 acre.
		{"the misprinted plot", 8.5, 18.5, true},
		{"a square of 18.5 ft", 18.5, 18.5, false},
		{"1 % larger", 343.7156, 1, false},
		{"more than 1 % larger", 343.7157, 1, true},
		{"1 % smaller", 336.9094, 1, false},
		{"more than 1 % smaller", 336.9093, 1, true},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			m := treatment.SmallPlot{Length: c.length, Width: c.width, Caught: 25}
			gpa, working, faults := m.GallonsPerAcre()
			if !c.refused {
				assert.Empty(t, faults)
				assert.Equal(t, 25.0, gpa)
				return
			}
			assert.Zero(t, gpa)
			assert.Empty(t, working)
			require.Len(t, faults, 1)
			assert.Equal(t, "small_plot", faults[0].Field)
		})
	}
	m := treatment.SmallPlot{Length: 8.5, Width: 18.5, Caught: 25}
	_, _, faults := m.GallonsPerAcre()
	assert.Equal(t, "8.5 x 18.5 ft are 157.25 square feet; the plot is 1/128 acre, 340.3125 square feet within 1 %: mark out 18.45 x 18.45 ft, or for this width a length of 18.4 ft", faults[0].Problem)
}

func TestWettingRate(t *testing.T) {
	// Two stems of 3 in and one of 6 in, bands of 15 in: 180 pi square inches. At 0.3
	// mL to the square inch (common practice, no source) they take 169.646 mL.
	m := treatment.Weighing{
		Before: 10_000, After: 10_000 - 0.3*180*math.Pi*0.85, Density: 0.85,
		Stems: []treatment.TreatedStem{{Diameter: 3, Band: 15, Count: 2}, {Diameter: 6, Band: 15, Count: 1}},
	}
	rate, working, faults := m.WettingRate()
	require.Empty(t, faults)
	assert.Equal(t, quantity.MillilitresPerSquareInch(0.3), rate)
	assert.Equal(t, []string{
		"mix = (10000 g - 9855.8 g) / 0.85 g/mL = 169.65 mL",
		"bark = sum of pi x diameter x band x count = 565.49 in²",
		"wetting = 169.65 mL / 565.49 in² = 0.3 mL/in²",
	}, working)
}

func TestWettingRateThatNoCrewCanMean(t *testing.T) {
	m := treatment.Weighing{Before: 10_000, After: 1_000, Density: 1, Stems: []treatment.TreatedStem{{Diameter: 3, Band: 15, Count: 2}}}
	rate, working, faults := m.WettingRate()
	assert.Zero(t, rate)
	assert.Empty(t, working)
	assert.Equal(t, []treatment.FieldFault{{
		Field: "weighing", Problem: "31.83 mL/in² is not 0.01 to 2: check the weights, the density and the list of stems",
	}}, faults)
}

func fields(faults []treatment.FieldFault) []string {
	var list []string
	for _, f := range faults {
		list = append(list, f.Field)
	}
	return list
}

func TestEveryFaultOfACalibrationAtOnce(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	timed := func(m treatment.TimeDistance) []string {
		_, _, faults := m.GallonsPerAcre()
		return fields(faults)
	}
	plot := func(m treatment.SmallPlot) []string {
		_, _, faults := m.GallonsPerAcre()
		return fields(faults)
	}
	weighed := func(m treatment.Weighing) []string {
		_, _, faults := m.WettingRate()
		return fields(faults)
	}
	stem := treatment.TreatedStem{Diameter: 3, Band: 15, Count: 1}
	cases := []struct {
		name      string
		got, want []string
	}{
		{"time and distance", timed(treatment.TimeDistance{nan, -1, 0, inf}),
			[]string{"time_distance.output_gal_per_min", "time_distance.distance_ft", "time_distance.time_s", "time_distance.swath_in"}},
		{"beyond the limits", timed(treatment.TimeDistance{1_001, 10_001, 36_001, 2_401}),
			[]string{"time_distance.output_gal_per_min", "time_distance.distance_ft", "time_distance.time_s", "time_distance.swath_in"}},
		{"a result that no sprayer puts out", timed(atSpeed(1_000, 1, 12)), []string{"time_distance"}},
		{"a result of next to nothing", timed(atSpeed(1e-9, 1, 12)), []string{"time_distance"}},
		{"plot", plot(treatment.SmallPlot{0, nan, inf}), []string{"small_plot.length_ft", "small_plot.width_ft", "small_plot.caught_fl_oz"}},
		{"the plot's size and the catch", plot(treatment.SmallPlot{8.5, 18.5, -1}), []string{"small_plot", "small_plot.caught_fl_oz"}},
		{"lighter than any mix", weighed(treatment.Weighing{500, 400, 0.69, []treatment.TreatedStem{stem}}), []string{"weighing.density_g_per_ml"}},
		{"nothing was used", weighed(treatment.Weighing{500, 500, 1, []treatment.TreatedStem{stem}}), []string{"weighing.after_g"}},
		{"no stems", weighed(treatment.Weighing{500, 400, 1, nil}), []string{"weighing.stems"}},
		{"too many entries", weighed(treatment.Weighing{500, 400, 1, make([]treatment.TreatedStem, 10_001)}), []string{"weighing.stems"}},
		{"weighing", weighed(treatment.Weighing{nan, -1, 1.5, []treatment.TreatedStem{stem, {inf, 61, 0}}}),
			[]string{"weighing.before_g", "weighing.after_g", "weighing.density_g_per_ml", "weighing.stems[1].diameter_in", "weighing.stems[1].band_in", "weighing.stems[1].count"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, c.got) })
	}
}
