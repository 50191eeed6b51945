package phenology_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/phenology"
)

// The published values are in degrees Fahrenheit, of which hundredths do as well.
func TestPublishedDegreeDays(t *testing.T) {
	capped := phenology.Model{Method: phenology.CappedAverage, Base: 50_00, Cap: 86_00}
	plain50 := phenology.Model{Method: phenology.PlainAverage, Base: 50_00}
	plain65 := phenology.Model{Method: phenology.PlainAverage, Base: 65_00}
	cases := []struct {
		name, source    string
		model           phenology.Model
		greatest, least int32
		want            float64
	}{
		{"90/65", "a Wisconsin county extension, 2018", capped, 90_00, 65_00, 25.5},
		{"72/46", "a Wisconsin county extension, 2018", capped, 72_00, 46_00, 11},
		{"63/42", "a Wisconsin county extension, 2018", capped, 63_00, 42_00, 6.5},
		{"the most there is", "Iowa State University, Agronomy 541, lesson 2b", capped, 110_00, 95_00, 36},
		{"70/50", "Iowa State University, Agronomy 541, lesson 2b", plain50, 70_00, 50_00, 10},
		{"a mean of 75", "Midwestern Regional Climate Center", plain65, 85_00, 65_00, 10},
		{"a mean of 65", "Midwestern Regional Climate Center", plain65, 75_00, 55_00, 0},
		{"a mean below 65", "Midwestern Regional Climate Center", plain65, 70_00, 50_00, 0},
	}
	for _, c := range cases {
		t.Run(c.model.Method.String()+" "+c.name, func(t *testing.T) {
			assert.Equal(t, phenology.DegreeDays(c.want*10_000), c.model.Day(c.least, c.greatest), c.source)
			assert.InDelta(t, c.want, c.model.Day(c.greatest, c.least).Float(), 0, "in the other order")
		})
	}
	june := phenology.Temperatures{First: civil.Of(2018, 6, 1), Least: []int32{65_00, 46_00, 42_00}, Greatest: []int32{90_00, 72_00, 63_00}}
	sum, ok := capped.Sum(june, civil.Of(2018, 6, 1), civil.Of(2018, 6, 3))
	require.True(t, ok)
	assert.Equal(t, 43*phenology.DegreeDay, sum, "a Wisconsin county extension, 2018")
}

// The values are worked out here from the formulae of Met Éireann, cases I to IV,
// which gives no numbers.
func TestFourCase(t *testing.T) {
	m := phenology.Model{Method: phenology.FourCase, Base: 10_00}
	cases := []struct {
		name            string
		least, greatest int32
		want            float64
	}{
		{"I, least above the base: (20+12)/2 - 10", 12_00, 20_00, 6},
		{"I, least at the base: (20+10)/2 - 10", 10_00, 20_00, 5},
		{"II, greatest below the base", 2_00, 9_00, 0},
		{"II, greatest at the base", 2_00, 10_00, 0},
		{"III, mean above the base: (20-10)/2 - (10-4)/4", 4_00, 20_00, 3.5},
		{"III and IV agree where the mean is the base: (16-10)/4", 4_00, 16_00, 1.5},
		{"IV, mean below the base: (14-10)/4", 2_00, 14_00, 1},
		{"a quarter of a hundredth of a degree", 2_00, 10_01, 0.0025},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.InDelta(t, c.want, m.Day(c.least, c.greatest).Float(), 0)
		})
	}
}

// The single sine against the area under the curve, summed in small steps.
func TestSingleSineIsTheAreaUnderTheCurve(t *testing.T) {
	m := phenology.Model{Method: phenology.SingleSine, Base: 10_00}
	assert.InDelta(t, 10/math.Pi, m.Day(0, 20_00).Float(), 0.00005, "a mean at the base: amplitude / pi")
	rapid.Check(t, func(t *rapid.T) {
		low, high := rapid.Int32Range(-30_00, 45_00).Draw(t, "least"), rapid.Int32Range(-30_00, 45_00).Draw(t, "greatest")
		const steps = 20_000
		mean, amplitude := float64(low+high)/200, math.Abs(float64(high-low))/200
		area := 0.0
		for i := range steps {
			area += max(0, mean+amplitude*math.Sin(2*math.Pi*(float64(i)+0.5)/steps)-10) / steps
		}
		require.InDelta(t, area, m.Day(low, high).Float(), 0.0002)
	})
}

// Whatever the temperatures: never below zero, never less for a warmer day, and no
// method beyond a greatest temperature that lasts all day.
func TestDegreeDaysOfAnyDay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := phenology.Model{
			Method: phenology.Method(rapid.IntRange(1, 4).Draw(t, "method")),
			Base:   rapid.Int32().Draw(t, "base"), Cap: rapid.Int32().Draw(t, "cap"),
		}
		a, b := rapid.Int32().Draw(t, "a"), rapid.Int32().Draw(t, "b")
		got := m.Day(a, b)
		require.GreaterOrEqual(t, got, phenology.DegreeDays(0))
		require.LessOrEqual(t, got, max(0, phenology.DegreeDays(int64(max(a, b))-int64(m.Base))*100))
		warmer := rapid.Int32Range(max(a, b), math.MaxInt32).Draw(t, "warmer")
		require.GreaterOrEqual(t, m.Day(min(a, b), warmer), got)
	})
	assert.Zero(t, phenology.Model{}.Day(50_00, 90_00), "no method")
}

func TestReached(t *testing.T) {
	first := civil.Of(2026, time.January, 1)
	tenADay := phenology.Temperatures{First: first, Least: []int32{20_00, 20_00, 20_00, 20_00}, Greatest: []int32{20_00, 20_00, 20_00, 20_00}}
	m := phenology.Model{Method: phenology.PlainAverage, Base: 10_00}
	cases := []struct {
		name  string
		model phenology.Model
		from  civil.Date
		days  int
		sum   phenology.DegreeDays
		want  string
	}{
		{"exactly", m, first, 4, 30 * phenology.DegreeDay, "2026-01-03"},
		{"a little more takes a day more", m, first, 4, 30*phenology.DegreeDay + 1, "2026-01-04"},
		{"not by then", m, first, 4, 41 * phenology.DegreeDay, "unknown"},
		{"no days to count", m, first, 0, phenology.DegreeDay, "unknown"},
		{"reached before the temperatures end", m, first, 100, 40 * phenology.DegreeDay, "2026-01-04"},
		{"the temperatures end before it", m, first, 5, 41 * phenology.DegreeDay, "from 2026-01-01 to 2026-01-04; state those from 2026-01-01 to 2026-01-05"},
		{"the temperatures begin later", m, first - 1, 5, phenology.DegreeDay, "state those from 2025-12-31"},
		{"no method", phenology.Model{}, first, 4, phenology.DegreeDay, "none to count degree days by"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			day, err := c.model.Reached(tenADay, c.from, c.from.AddDays(c.days-1), c.sum)
			if err != nil {
				assert.ErrorContains(t, err, c.want)
				return
			}
			assert.Equal(t, c.want, day.String())
		})
	}
	_, err := m.Reached(phenology.Temperatures{}, first, first, phenology.DegreeDay)
	assert.ErrorContains(t, err, "known for no day")
	_, ok := m.Sum(tenADay, first, first+4)
	assert.False(t, ok)
}

func TestMethodsHaveNames(t *testing.T) {
	assert.Equal(t, "single sine", phenology.SingleSine.String())
	assert.Equal(t, "method 0", phenology.Method(0).String())
	assert.Equal(t, "method 9", phenology.Method(9).String())
}
