package checks_test

import (
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
			if where, waits := waiting[c.quantity]; waits {
				t.Skipf("%s waits for %s", c.quantity, where)
			}
			compute, wired := computed[c.quantity]
			require.True(t, wired, "nothing computes %s: wire it, or list what it waits for", c.quantity)
			in := &input{t: t, values: valuesOf(t, c.input), used: map[string]bool{}}
			got := compute(in)
			for key := range in.values {
				require.True(t, in.used[key], "the computation of %s leaves out %s", c.quantity, key)
			}
			compare(t, c, got)
		})
	}
}

// Every quantity is computed or waits, none does both, and none is listed that
// no row asks for. Every file has a test.
func TestEveryQuantityIsComputedOrWaits(t *testing.T) {
	asked := map[string]bool{}
	for family, rows := range families(t) {
		assert.Contains(t, driven, family, "%s.csv has no test", family)
		for _, c := range rows {
			asked[c.quantity] = true
			_, wired := computed[c.quantity]
			_, waits := waiting[c.quantity]
			assert.True(t, wired != waits, "%s: computed %t, waiting %t", c.quantity, wired, waits)
		}
	}
	for q := range computed {
		assert.True(t, asked[q], "%s is computed, and no row asks for it", q)
	}
	for q := range waiting {
		assert.True(t, asked[q], "%s waits, and no row asks for it", q)
	}
}

var driven = []string{
	"units", "acid_equivalents", "calibration", "mixing", "basal_area", "cuts", "windows", "entry_intervals",
	"exclusion_zones", "buffers", "efficacy", "toxicity", "records", "cut_stump", "basal_bark",
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

// window reads from and to, each MM-DD.
func (in *input) window() civil.Window {
	day := func(key string) civil.DayOfYear {
		d, err := civil.Parse("2028-" + in.text(key)) // a leap year
		require.NoError(in.t, err)
		return d.DayOfYear()
	}
	return civil.Window{From: day("from"), To: day("to")}
}
