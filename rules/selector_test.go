package rules_test

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Every part of a selector: what fits is forbidden, what does not is not, and
// what is not known keeps the answer open and says what is missing.
func TestSelectorParts(t *testing.T) {
	type facts struct {
		t rules.Treatment
		s rules.Surroundings
	}
	cases := []struct {
		part     string
		selector rules.Selector
		fits     func(*facts)
		misses   func(*facts)
		missing  string
		product  bool // a property of what is applied
	}{
		{"species", rules.Selector{Species: []string{"Ailanthus altissima"}},
			func(f *facts) { f.t.Species = "Ailanthus altissima" }, func(f *facts) { f.t.Species = "Morus alba" }, "species", false},
		{"species in other capitals", rules.Selector{Species: []string{"Ailanthus altissima"}},
			func(f *facts) { f.t.Species = "ailanthus Altissima" }, func(f *facts) { f.t.Species = "Ailanthus" }, "species", false},
		{"active ingredient", rules.Selector{Actives: []string{"imazapyr", "picloram"}},
			func(f *facts) { f.t.Active = "picloram" }, func(f *facts) { f.t.Active = "triclopyr" }, "active ingredient", true},
		{"suckering", rules.Selector{Suckering: rules.AnyOf(rules.SuckeringStrong)},
			func(f *facts) { f.t.Suckering = rules.SuckeringStrong }, func(f *facts) { f.t.Suckering = rules.SuckeringNone }, "suckering of the species", false},
		{"method", rules.Selector{Methods: rules.AnyOf(rules.CutStump)},
			func(f *facts) { f.t.Method = rules.CutStump }, func(f *facts) { f.t.Method = rules.BasalBark }, "method", false},
		{"equipment", rules.Selector{Equipment: rules.AnyOf(rules.Boom)},
			func(f *facts) { f.t.Equipment = rules.Boom }, func(f *facts) { f.t.Equipment = rules.HandTool }, "equipment", true},
		{"formulation", rules.Selector{Formulations: rules.AnyOf(rules.Ester)},
			func(f *facts) { f.t.Formulation = rules.Ester }, func(f *facts) { f.t.Formulation = rules.WaterSalt }, "kind of formulation", true},
		{"soil activity", rules.Selector{SoilActivity: rules.AnyOf(rules.SoilStrong)},
			func(f *facts) { f.t.SoilActivity = rules.SoilStrong }, func(f *facts) { f.t.SoilActivity = rules.SoilNone }, "soil activity", true},
		{"aquatic label", rules.Selector{AquaticLabel: rules.AnyOf(rules.AquaticNotRegistered)},
			func(f *facts) { f.t.AquaticLabel = rules.AquaticNotRegistered }, func(f *facts) { f.t.AquaticLabel = rules.AquaticRegistered }, "registration for water", true},
		{"restricted use", rules.Selector{RestrictedUse: rules.AnyOf(rules.RestrictedUseProduct)},
			func(f *facts) { f.t.RestrictedUse = rules.RestrictedUseProduct }, func(f *facts) { f.t.RestrictedUse = rules.GeneralUse }, "restricted use", true},
		{"toxicity", rules.Selector{Toxicity: rules.AnyOf(rules.CategoryI)},
			func(f *facts) { f.t.Toxicity = rules.CategoryI }, func(f *facts) { f.t.Toxicity = rules.CategoryII }, "toxicity category", true},
		{"droplets", rules.Selector{Droplets: rules.AnyOf(rules.DropletFine)},
			func(f *facts) { f.t.Droplet = rules.DropletFine }, func(f *facts) { f.t.Droplet = rules.DropletMedium }, "droplet size", true},
		{"land use", rules.Selector{LandUses: rules.AnyOf(rules.Park, rules.Residential)},
			func(f *facts) { f.t.LandUse = rules.Residential }, func(f *facts) { f.t.LandUse = rules.Forest }, "land use", false},
		{"form", rules.Selector{Forms: rules.AnyOf(rules.Stump)},
			func(f *facts) { f.s.Form = rules.Stump }, func(f *facts) { f.s.Form = rules.Tree }, "growth form", false},
		{"soil", rules.Selector{Soil: rules.AnyOf(rules.SoilWet)},
			func(f *facts) { f.s.Soil = rules.SoilWet }, func(f *facts) { f.s.Soil = rules.SoilDry }, "soil state", false},
		{"bark", rules.Selector{Bark: rules.AnyOf(rules.BarkWet)},
			func(f *facts) { f.s.Bark = rules.BarkWet }, func(f *facts) { f.s.Bark = rules.BarkDry }, "bark state", false},
		{"desirable", rules.Selector{Desirable: rules.AnyOf(rules.DesirableRootReach)},
			func(f *facts) { f.s.Desirable = rules.DesirableRootReach }, func(f *facts) { f.s.Desirable = rules.DesirableNone }, "desirable vegetation", false},
		{"a measure", rules.Selector{Ranges: []rules.Range{rules.Above(rules.Slope, 300)}},
			func(f *facts) { f.s.Measures.Set(rules.Slope, 301) }, func(f *facts) { f.s.Measures.Set(rules.Slope, 300) }, "slope_permille", false},
		{"height of release", rules.Selector{Ranges: []rules.Range{rules.Above(rules.ReleaseHeight, int64(quantity.Foot))}},
			func(f *facts) { f.t.ReleaseHeight = quantity.Foot + 1 }, func(f *facts) { f.t.ReleaseHeight = quantity.Foot }, "height of release", true},
		{"a word this program does not know", rules.Selector{Methods: rules.AnyOf(rules.CutStump)},
			func(f *facts) { f.t.Method = rules.CutStump }, func(f *facts) { f.t.Method = rules.BasalBark }, "method", false},
	}
	for _, c := range cases {
		t.Run(c.part, func(t *testing.T) {
			r := when("row", c.selector, rules.Prohibit{})
			var fits, misses, open facts
			c.fits(&fits)
			c.misses(&misses)
			if c.part == "a word this program does not know" {
				open.t.Method = 200
			}
			assert.Equal(t, rules.Prohibited, decide(t, fits.t, fits.s, r), "fits")
			assert.Equal(t, rules.Allowed, decide(t, misses.t, misses.s, r), "does not fit")
			assert.Equal(t, rules.Undetermined, decide(t, open.t, open.s, r), "not known")

			findings := narrow(t, open.t, r).Explain(&open.s)
			require.Len(t, findings, 1)
			assert.False(t, findings[0].Certain)
			assert.Equal(t, []string{c.missing}, findings[0].Missing)

			open.t.NoHerbicide = true
			want := rules.Undetermined
			if c.product {
				want = rules.Allowed // nothing is applied, so nothing of it can fit
			}
			assert.Equal(t, want, decide(t, open.t, open.s, r), "no herbicide")
		})
	}
}

// Nothing applied fits no part that names what is applied, even where the
// treatment states a word.
func TestNoHerbicideOutweighsWords(t *testing.T) {
	treatment := rules.Treatment{Method: rules.HandPull, Equipment: rules.HandTool, Droplet: rules.DropletNone, NoHerbicide: true}
	var site rules.Surroundings
	for name, s := range map[string]rules.Selector{
		"equipment": {Equipment: rules.AnyOf(rules.HandTool)},
		"droplets":  {Droplets: rules.AnyOf(rules.DropletNone)},
	} {
		assert.Equal(t, rules.Allowed, decide(t, treatment, site, when("row", s, rules.Prohibit{})), name)
	}
	assert.Equal(t, rules.Prohibited, decide(t, treatment, site, when("row", rules.Selector{Methods: rules.AnyOf(rules.HandPull)}, rules.Prohibit{})))
	assert.Equal(t, rules.Prohibited, decide(t, treatment, site, row("row", rules.Prohibit{})), "a row about everything is about pulling too")
}

// The height of a spray that nobody stated is not zero.
func TestReleaseHeightThatIsNotStated(t *testing.T) {
	r := when("row", rules.Selector{Ranges: []rules.Range{rules.Above(rules.ReleaseHeight, int64(quantity.Foot))}}, rules.Prohibit{})
	low := when("row", rules.Selector{Ranges: []rules.Range{rules.AtMost(rules.ReleaseHeight, int64(quantity.Foot))}}, rules.Prohibit{})
	cases := []struct {
		name      string
		treatment rules.Treatment
		high, low rules.Decision
	}{
		{"sprayed", rules.Treatment{Droplet: rules.DropletMedium}, rules.Undetermined, rules.Undetermined},
		{"droplets not stated", rules.Treatment{}, rules.Undetermined, rules.Undetermined},
		{"not sprayed", rules.Treatment{Droplet: rules.DropletNone}, rules.Allowed, rules.Prohibited},
		{"nothing applied", rules.Treatment{NoHerbicide: true}, rules.Allowed, rules.Prohibited},
		{"sprayed high", rules.Treatment{Droplet: rules.DropletMedium, ReleaseHeight: 4 * quantity.Foot}, rules.Prohibited, rules.Allowed},
		{"sprayed low", rules.Treatment{Droplet: rules.DropletMedium, ReleaseHeight: quantity.Foot}, rules.Allowed, rules.Prohibited},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.high, decide(t, c.treatment, rules.Surroundings{}, r))
			assert.Equal(t, c.low, decide(t, c.treatment, rules.Surroundings{}, low))
		})
	}
}

// A part that does not fit ends it, whatever else is not known.
func TestPartsThatDoNotFitOutweighPartsNotKnown(t *testing.T) {
	r := when("row", rules.Selector{Methods: rules.AnyOf(rules.CutStump), Soil: rules.AnyOf(rules.SoilWet), Species: []string{"Morus alba"}}, rules.Prohibit{})
	assert.Equal(t, rules.Allowed, decide(t, rules.Treatment{Method: rules.BasalBark}, rules.Surroundings{}, r))
	assert.Equal(t, rules.Allowed, decide(t, rules.Treatment{}, rules.Surroundings{Soil: rules.SoilDry}, r))
	findings := narrow(t, rules.Treatment{}, r).Explain(&rules.Surroundings{})
	require.Len(t, findings, 1)
	assert.Equal(t, []string{"species", "method", "soil state"}, findings[0].Missing)
}

func TestRangeEnds(t *testing.T) {
	const v = 152_400
	closed := rules.Range{Of: rules.Diameter, Min: v, Max: v + 10}
	open := rules.Range{Of: rules.Diameter, Min: v, Max: v + 10, MinOpen: true, MaxOpen: true}
	cases := []struct {
		name    string
		r       rules.Range
		in, out []int64
		text    string
	}{
		{"at least", rules.AtLeast(rules.Diameter, v), []int64{v, v + 1, math.MaxInt64}, []int64{v - 1, math.MinInt64}, "diameter_um >= 152400"},
		{"above", rules.Above(rules.Diameter, v), []int64{v + 1, math.MaxInt64}, []int64{v, v - 1}, "diameter_um > 152400"},
		{"at most", rules.AtMost(rules.Diameter, v), []int64{v, v - 1, math.MinInt64}, []int64{v + 1}, "diameter_um <= 152400"},
		{"below", rules.Below(rules.Diameter, v), []int64{v - 1, math.MinInt64}, []int64{v, v + 1}, "diameter_um < 152400"},
		{"closed", closed, []int64{v, v + 10}, []int64{v - 1, v + 11}, "diameter_um >= 152400 and <= 152410"},
		{"open", open, []int64{v + 1, v + 9}, []int64{v, v + 10}, "diameter_um > 152400 and < 152410"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			for _, v := range c.in {
				assert.True(t, c.r.Holds(v), "%d", v)
			}
			for _, v := range c.out {
				assert.False(t, c.r.Holds(v), "%d", v)
			}
			assert.Equal(t, c.text, c.r.String())
			for _, v := range append(c.in, c.out...) {
				var site rules.Surroundings
				site.Measures.Set(rules.Diameter, v)
				want := rules.Allowed
				if c.r.Holds(v) {
					want = rules.Prohibited
				}
				assert.Equal(t, want, decide(t, rules.Treatment{}, site, when("row", rules.Selector{Ranges: []rules.Range{c.r}}, rules.Prohibit{})))
			}
		})
	}
}

func TestMeasures(t *testing.T) {
	var m rules.Measures
	for _, q := range rules.Words[rules.Measure]() {
		_, known := m.Get(q)
		assert.False(t, known, "%s is known before anyone took it", q)
		m.Set(q, int64(q))
		v, known := m.Get(q)
		assert.True(t, known)
		assert.EqualValues(t, q, v)
	}
	var two rules.Measures
	two.Set(rules.Slope, 0)
	two.Set(rules.Diameter, 152_400)
	text, err := json.Marshal(two)
	require.NoError(t, err)
	assert.JSONEq(t, `{"diameter_um":152400,"slope_permille":0}`, string(text))
}

// Every part of a selector is said.
func TestSelectorsInWords(t *testing.T) {
	assert.Empty(t, (&rules.Selector{}).Text())
	for _, r := range everyRows() {
		if r.ID != "buffer" {
			continue
		}
		s := r.When
		s.Species = []string{"Ailanthus altissima", "Rhamnus cathartica"}
		assert.Equal(t, "species Ailanthus altissima or Rhamnus cathartica with active ingredient triclopyr with suckering strong"+
			" with growth form tree with method basal bark, cut stump with equipment backpack with drift control approved"+
			" with formulation ester with soil activity some with registration for water not registered with restricted use general use"+
			" with toxicity category III with droplets medium or coarser with land use forest with soil moist with bark dry"+
			" with desirable vegetation none with diameter_um > 10 and < 90", s.Text())
	}
}
