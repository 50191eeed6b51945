package treatment_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
)

// doubted gives the caution about a stem's measures, and nothing where there is none.
func doubted(t testing.TB, s treatment.Stem) string {
	t.Helper()
	_, e := prescribe(t, law(t, summer), s)
	if strings.HasPrefix(e.Cautions[0], "Check ") { // as no other caution does
		return e.Cautions[0]
	}
	return ""
}

// measured is the stems of testdata/open that have a diameter: 584 longleaf pines, 504 trees of
// a forest in Gabon, 118 saplings and 31 cherries; its README names the sources.
func measured(t testing.TB) []treatment.Stem {
	t.Helper()
	file, err := os.Open("../../testdata/open/inventory.csv")
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	var stems []treatment.Stem
	for _, row := range rows[1:] {
		value := func(name string) float64 {
			v, err := strconv.ParseFloat(row[column[name]], 64)
			require.True(t, err == nil || row[column[name]] == "", err)
			return v
		}
		s := stem(rules.Tree, 0, 0)
		s.Diameter = quantity.Centimetres(max(value("dbh_cm"), value("root_collar_cm")))
		s.Height = quantity.Metres(value("height_m"))
		if s.Diameter > 0 {
			stems = append(stems, s)
		}
	}
	require.Len(t, stems, 1_237)
	return stems
}

func TestNoMeasuredStemIsDoubted(t *testing.T) {
	for _, s := range measured(t) {
		require.Empty(t, doubted(t, s), "%g cm, %g m", s.Diameter.Centimetres(), s.Height.Metres())
	}
}

// Feet written under metres are told of every cherry: 63 to 87 ft at 8.3 to 20.6 in.
func TestHeightsInTheWrongUnitAreDoubted(t *testing.T) {
	cherries := 0
	for _, s := range measured(t) {
		if s.Height < 15*quantity.Metre {
			continue
		}
		cherries++
		s.Height = quantity.Metres(s.Height.Feet())
		assert.Contains(t, doubted(t, s), "bend under its own weight", "%g in, %g ft", s.Diameter.Inches(), s.Height.Metres())
	}
	assert.Equal(t, 31, cherries)
}

func TestWhatMeasuresAreDoubted(t *testing.T) {
	const (
		thick   = "Check the diameter and its unit before anything is mixed: it is thicker than 140 cm (55.1 in)"
		stout   = "Check diameter and height and their units before anything is mixed: it is less than 10 times as high as it is thick"
		slender = "Check diameter and height and their units before anything is mixed: so tall a stem of this thickness would bend"
	)
	sized := func(form rules.GrowthForm, cm, m float64) treatment.Stem {
		return with(stem(form, 0, 0), func(s *treatment.Stem) { s.Diameter, s.Height = quantity.Centimetres(cm), quantity.Metres(m) })
	}
	for name, tc := range map[string]struct {
		stem treatment.Stem
		says string
	}{
		"150 cm under an inch header, 45 ft": {stem(rules.Tree, 150, 45), thick},
		"at the thickest":                    {sized(rules.Tree, 140, 30), ""},
		"above it, of any height":            {sized(rules.Tree, 140.0001, 0), thick},
		"a stump above it":                   {sized(rules.Stump, 141, 0.3), thick},
		"larger stems of a patch": {with(sized(rules.RootSucker, 1, 2), func(s *treatment.Stem) {
			s.Area, s.Count, s.LargerCount, s.LargerDiameter = quantity.Acres(1), 50, 1, quantity.Inches(60)
		}), thick},
		"a tenth of the height":             {sized(rules.Tree, 50, 5), ""},
		"above it":                          {sized(rules.Tree, 50.0001, 5), stout},
		"a stump is cut low":                {sized(rules.Stump, 50, 0.3), ""},
		"a sprout that is mown":             {sized(rules.StumpSprout, 10, 0.3), ""},
		"no height":                         {sized(rules.Tree, 50, 0), ""},
		"no diameter":                       {sized(rules.Tree, 0, 20), ""},
		"as tall as black oak can stand":    {sized(rules.Tree, 91.44, 90.2), ""},
		"a fifth more":                      {sized(rules.Tree, 91.44, 108), slender},
		"high as the tape, of a millimetre": {sized(rules.Sapling, 0.1, 1.37), ""},
		"an inch under a centimetre header": {sized(rules.Tree, 8.3, quantity.Feet(70).Metres()), slender},
	} {
		t.Run(name, func(t *testing.T) {
			says := doubted(t, tc.stem)
			if tc.says == "" {
				assert.Empty(t, says)
				return
			}
			assert.True(t, strings.HasPrefix(says, tc.says), says)
		})
	}
}

// A doubt decides nothing, and the rows that have it have words of their own.
func TestADoubtDecidesNothing(t *testing.T) {
	settings := treatment.DefaultSettings()
	p := treatment.NewPlanner(shipped(t), law(t, summer), &tenAcres, &settings)
	sure, odd := stem(rules.Tree, 20, 60), stem(rules.Tree, 20, 16)
	one, other := p.Plan(&sure), p.Plan(&odd)
	require.Equal(t, treatment.Prescribed, other.Outcome)
	assert.Equal(t, one.Dose, other.Dose)
	assert.NotEqual(t, one.Key, other.Key)
	assert.NotEqual(t, one.Held, other.Held)
	said, more := p.Explain(&sure, &one), p.Explain(&odd, &other)
	assert.Equal(t, said.Cautions, more.Cautions[1:])
	more.Cautions = said.Cautions
	assert.Equal(t, said, more)
}

// The load under which a standing column of length h buckles is q h³/(E I) = 9/4 x², x being the
// first zero of the Bessel function of order -1/3: Greenhill's 7.837 (from memory). For a round one
// h³ = 7.837 E d²/(16 ρ g). Green wood of 12 GPa and 800 to 1,000 kg/m³ (from memory) lies about
// the bound.
func TestTheBoundOfSlendernessIsThatOfWood(t *testing.T) {
	bessel := func(x float64) float64 { // its series, but for a factor that has no zero
		sum, term := 0.0, 1.0
		for k := 1.0; k < 30; k++ {
			sum += term
			term *= -x * x / 4 / k / (k - 1.0/3)
		}
		return sum
	}
	low, high := 1.0, 2.5
	for range 60 {
		if mid := (low + high) / 2; bessel(mid) > 0 {
			low = mid
		} else {
			high = mid
		}
	}
	greenhill := 9.0 / 4 * low * low
	require.InDelta(t, 7.837, greenhill, 0.001)
	wood := func(density float64) float64 { return greenhill * 12e9 / (16 * density * 9.81) }
	assert.Less(t, wood(1_000), treatment.Slender)
	assert.Less(t, treatment.Slender, wood(600))
	assert.InDelta(t, 90.2, math.Cbrt(treatment.Slender*0.9144*0.9144), 0.2)
}

// Stems that are told at once are told what the bound says.
func TestSlendernessIsTheCubeByTheSquare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := stem(rules.Tree, 0, 0)
		s.Diameter = quantity.Micrometres(rapid.Int64Range(1, int64(10*quantity.Centimetre)).Draw(t, "diameter")) // none is stout
		times := rapid.Float64Range(0, 300).Draw(t, "times")
		s.Height = quantity.Micrometres(min(int64(1.37*float64(quantity.Metre))+int64(times*float64(s.Diameter)), int64(treatment.MaxHeight)))
		high, across := float64(s.Height-1_370*quantity.Millimetre)/float64(quantity.Metre), float64(s.Diameter)/float64(quantity.Metre)
		bound := treatment.Slender * across * across
		if cube := high * high * high; math.Abs(cube-bound) > 1e-9*bound {
			assert.Equal(t, cube > bound, s.IsDoubted(), "%v high and %v thick", s.Height, s.Diameter)
		}
	})
}
