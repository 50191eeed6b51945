package checks_test

import (
	"regexp"
	"strconv"
	"strings"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
)

// sprayers is what calibration computes.
var sprayers = map[string]func(*input) answer{
	"gpa_time_distance": func(in *input) answer {
		// A mile an hour is 88 feet a minute.
		m := treatment.TimeDistance{Output: in.number("gpm"), Distance: 88 * in.number("mph"), Time: 60, Swath: in.length("width").Inches()}
		return spray(in, m.GallonsPerAcre)
	},
	"gpa_128th": func(in *input) answer {
		m := treatment.SmallPlot{Length: 18.45, Width: 18.45, Caught: in.number("fl_oz")}
		return spray(in, m.GallonsPerAcre)
	},
	// A plot of any size is a course with a swath of 10 ft that takes a minute.
	"gpa_plot": func(in *input) answer {
		gallons := in.number("fl_oz") / 128
		m := treatment.TimeDistance{Output: gallons, Distance: in.number("area_ft2") / 10, Time: 60, Swath: 120}
		return spray(in, m.GallonsPerAcre)
	},
	"plot_128th": func(in *input) answer {
		return either(len(plotFaults(in, in.number("length_ft"), in.number("width_ft"))) == 0, "accept", "reject")
	},
	"plot_area_ft2": func(in *input) answer {
		return number(figure(in, plotFaults(in, in.number("length_ft"), in.number("width_ft")), `ft are (\S+) square feet`))
	},
	// The remedy for a plot of the wrong size names the length for its width, in
	// four digits. It knows the plot of 1/128 acre alone, 340.3 square feet.
	"course_length_ft": func(in *input) answer {
		assert.InEpsilon(in.t, 340.3125, in.number("area_ft2"), 0.01)
		return inSteps(figure(in, plotFaults(in, 1, in.number("swath_ft")), `a length of (\S+) ft`), 0.05)
	},
	"mph_from_course": func(in *input) answer {
		m := treatment.TimeDistance{Output: 1, Distance: in.number("ft"), Time: in.number("s"), Swath: 120}
		_, working, faults := m.GallonsPerAcre()
		require.Empty(in.t, faults)
		return number(figure(in, strings.Join(working, "\n"), `= (\S+) mph\n`))
	},
	"gpm_from_catch": func(in *input) answer {
		return inSteps(quantity.FluidOunces(many*in.number("fl_oz")).Gallons()/many*60/in.number("s"), 1e-9)
	},
}

func spray(in *input, calibrate func() (float64, []string, []treatment.FieldFault)) answer {
	gallons, _, faults := calibrate()
	require.Empty(in.t, faults)
	return number(gallons)
}

// plotFaults is what is wrong with a plot of 1/128 acre; empty if nothing is.
func plotFaults(in *input, length, width float64) string {
	m := treatment.SmallPlot{Length: length, Width: width, Caught: 25}
	gallons, _, faults := m.GallonsPerAcre()
	if len(faults) == 0 {
		require.Equal(in.t, 25.0, gallons)
		return ""
	}
	require.Len(in.t, faults, 1)
	require.Equal(in.t, "small_plot", faults[0].Field)
	return faults[0].Problem
}

// figure reads the number that the program wrote.
func figure(in *input, text, pattern string) float64 {
	found := regexp.MustCompile(pattern).FindStringSubmatch(text)
	require.Len(in.t, found, 2, "%q is not in %q", pattern, text)
	v, err := strconv.ParseFloat(found[1], 64)
	require.NoError(in.t, err)
	return v
}
