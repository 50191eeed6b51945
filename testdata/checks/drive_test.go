package checks_test

import (
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// One test a family; each row is a subtest.

func TestUnits(t *testing.T)           { drive(t, "units") }
func TestAcidEquivalents(t *testing.T) { drive(t, "acid_equivalents") }
func TestCalibration(t *testing.T)     { drive(t, "calibration") }
func TestMixing(t *testing.T)          { drive(t, "mixing") }
func TestBasalArea(t *testing.T)       { drive(t, "basal_area") }
func TestCuts(t *testing.T)            { drive(t, "cuts") }
func TestWindows(t *testing.T)         { drive(t, "windows") }
func TestEntryIntervals(t *testing.T)  { drive(t, "entry_intervals") }
func TestExclusionZones(t *testing.T)  { drive(t, "exclusion_zones") }
func TestBuffers(t *testing.T)         { drive(t, "buffers") }
func TestEfficacy(t *testing.T)        { drive(t, "efficacy") }
func TestToxicity(t *testing.T)        { drive(t, "toxicity") }
func TestRecords(t *testing.T)         { drive(t, "records") }
func TestCutStump(t *testing.T)        { drive(t, "cut_stump") }
func TestBasalBark(t *testing.T)       { drive(t, "basal_bark") }

// drive computes each row of a family and compares.
func drive(t *testing.T, family string) {
	rows := families(t)[family]
	require.NotEmpty(t, rows, "no rows in %s.csv", family)
	for _, c := range rows {
		t.Run(c.id, func(t *testing.T) {
			if why, only := held[c.id]; only {
				t.Skip(why)
			}
			compute, wired := program[c.quantity]
			if !wired {
				compute, wired = reference[c.quantity]
			}
			require.True(t, wired, "nothing computes %s: wire it to the program", c.quantity)
			in := &input{t: t, values: valuesOf(t, c.input), used: map[string]bool{}}
			got := compute(in)
			for key := range in.values {
				require.True(t, in.used[key], "the computation of %s leaves out %s", c.quantity, key)
			}
			compare(t, c, got)
		})
	}
}

// Every row is computed by the program, by the test alone or not at all, nothing
// is listed that no row asks for, and every file has a test.
func TestEveryRowHasOnePlace(t *testing.T) {
	asked := map[string]bool{}
	for family, rows := range families(t) {
		assert.Contains(t, driven, family, "%s.csv has no test", family)
		for _, c := range rows {
			asked[c.quantity], asked[c.id] = true, true
			_, byProgram := program[c.quantity]
			_, byTest := reference[c.quantity]
			_, only := held[c.id]
			assert.False(t, byProgram && byTest, "%s has two places", c.quantity)
			assert.True(t, byProgram || byTest || only, "%s has no place", c.id)
		}
	}
	for _, listed := range slices.Concat(slices.Collect(maps.Keys(program)), slices.Collect(maps.Keys(reference)), slices.Collect(maps.Keys(held))) {
		assert.True(t, asked[listed], "%s is listed, and no row asks for it", listed)
	}
}

// The README says how many rows hold the program to their value.
func TestThePlacesAreThoseOfTheReadme(t *testing.T) {
	readme, err := os.ReadFile("README.md")
	require.NoError(t, err)
	var all [3]int
	for family, rows := range families(t) {
		places := countPlaces(rows)
		holdsLine(t, readme, placeLine(family, places))
		for i, n := range places {
			all[i] += n
		}
	}
	holdsLine(t, readme, placeLine("**all**", all))
}

// placeLine writes a line of the README's table of places.
func placeLine(name string, places [3]int) string {
	return fmt.Sprintf("| %s | %d | %d | %d |\n", name, places[0], places[1], places[2])
}

// countPlaces counts the rows computed by the program, by the test alone, and not.
func countPlaces(rows []check) (places [3]int) {
	for _, c := range rows {
		_, only := held[c.id]
		_, byTest := reference[c.quantity]
		switch {
		case only:
			places[2]++
		case byTest:
			places[1]++
		default:
			places[0]++
		}
	}
	return places
}

// program is how the program computes each quantity.
var program = together(units, sprayers, mixes, stems, law, dates, weathers)

func together(families ...map[string]func(*input) answer) map[string]func(*input) answer {
	all := map[string]func(*input) answer{}
	for _, f := range families {
		maps.Copy(all, f)
	}
	return all
}

var driven = []string{
	"units", "acid_equivalents", "calibration", "mixing", "basal_area", "cuts", "windows", "entry_intervals",
	"exclusion_zones", "buffers", "efficacy", "toxicity", "records", "cut_stump", "basal_bark", "weather",
}

// answer is what was computed: a word, or a number with the size of the smallest
// step in which the program holds it, in the number's unit. Within that step a
// number is as exact as it can be.
type answer struct {
	word   string
	number float64
	step   float64
}

func word(s string) answer { return answer{word: s} }

func number(v float64) answer { return answer{number: v} }

// inSteps is a number that the program holds in whole steps.
func inSteps(v, step float64) answer { return answer{number: v, step: step} }

// either gives one of two words.
func either(ok bool, yes, no string) answer {
	if ok {
		return word(yes)
	}
	return word(no)
}

func compare(t *testing.T, c check, got answer) {
	if got.word != "" {
		if c.expect == "not_equal" {
			assert.NotEqual(t, c.expected, got.word)
			return
		}
		assert.Equal(t, c.expected, got.word)
		return
	}
	want, err := strconv.ParseFloat(c.expected, 64)
	require.NoError(t, err)
	tolerance := 1e-12 * math.Abs(want) // what binary fractions cost
	if c.tolerance != "exact" {
		tolerance, err = strconv.ParseFloat(c.tolerance, 64)
		require.NoError(t, err)
	}
	off := math.Abs(got.number - want)
	if c.expect == "not_equal" {
		assert.Greater(t, off, tolerance+got.step, "%v", got.number)
		return
	}
	// The tolerance is met to within what its own decimal digits leave open.
	assert.LessOrEqual(t, off, tolerance*(1+1e-9)+got.step, "%v, not %v", got.number, want)
}

// input is the keys and values of one row.
type input struct {
	t      *testing.T
	values map[string]string
	used   map[string]bool
}

func valuesOf(t *testing.T, text string) map[string]string {
	values := map[string]string{}
	if text == "" {
		return values
	}
	for pair := range strings.SplitSeq(text, ";") {
		key, value, ok := strings.Cut(pair, "=")
		require.True(t, ok, text)
		values[key] = value
	}
	return values
}

func (in *input) has(key string) bool { return in.values[key] != "" }

func (in *input) text(key string) string {
	require.True(in.t, in.has(key), "the input has no %s", key)
	in.used[key] = true
	return in.values[key]
}

func (in *input) number(key string) float64 {
	v, err := strconv.ParseFloat(in.text(key), 64)
	require.NoError(in.t, err)
	return v
}

// length reads name_in, name_ft, name_cm or name_m.
func (in *input) length(name string) quantity.Micrometres {
	return oneOf(in, name, map[string]func(float64) quantity.Micrometres{
		"in": quantity.Inches, "ft": quantity.Feet, "cm": quantity.Centimetres, "m": quantity.Metres,
	})
}

// area reads name_ac, name_m2 or name_ft2.
func (in *input) area(name string) quantity.SquareMillimetres {
	return oneOf(in, name, map[string]func(float64) quantity.SquareMillimetres{
		"ac": quantity.Acres, "m2": quantity.SquareMetres, "ft2": quantity.SquareFeet,
	})
}

func oneOf[T any](in *input, name string, units map[string]func(float64) T) T {
	given := slices.DeleteFunc(slices.Collect(maps.Keys(units)), func(unit string) bool { return !in.has(name + "_" + unit) })
	require.Len(in.t, given, 1, "%s is to be given in one unit", name)
	return units[given[0]](in.number(name + "_" + given[0]))
}

func (in *input) date(key string) civil.Date {
	d, err := civil.Parse(in.text(key))
	require.NoError(in.t, err)
	return d
}

// words reads words of the vocabulary joined by +.
func words[T rules.Vocabulary](in *input, key string) []T {
	var list []T
	for text := range strings.SplitSeq(in.text(key), "+") {
		w, err := rules.ParseWord[T](text)
		require.NoError(in.t, err)
		list = append(list, w)
	}
	return list
}

// vocabulary reads one word of the vocabulary.
func vocabulary[T rules.Vocabulary](in *input, key string) T {
	list := words[T](in, key)
	require.Len(in.t, list, 1)
	return list[0]
}
