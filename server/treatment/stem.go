package treatment

import (
	"math"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Stem is a row of an inventory: one stem, several alike, or a patch. Zero means
// "not known" in every field; a field that must be known for a decision and is
// not makes the answer UNDETERMINED.
//
// What every stem is asked for lies together, with the rest around it: processors fetch
// what comes next by themselves.
type Stem struct {
	Places         rules.Places
	ID             string
	Species        string // scientific name
	Diameter       quantity.Micrometres
	Height         quantity.Micrometres
	Count          int64
	PerHectare     int64 // stem density of a patch
	Area           quantity.SquareMillimetres
	CrownWidth     quantity.Micrometres
	LargerCount    int64 // stems of the patch out of foliar reach
	LargerDiameter quantity.Micrometres
	Form           rules.GrowthForm
	Desirable      rules.Desirable
	LandUse        rules.LandUse
	Soil           rules.SoilState
	Bark           rules.BarkState
	RootCheck      rules.RootCheck
	SeedBearing    rules.YesNo
	HasSlope       bool                       // Slope is known
	Slope          int64                      // thousandths
	LakeArea       quantity.SquareMillimetres // of the largest lake or pond within reach of any rule
	Water          rules.Waters
}

// Site is ground that is treated as one.
type Site struct {
	ID      string
	Area    quantity.SquareMillimetres       // zero: not known
	Applied map[string]quantity.MicrogramsAE // in the calendar year, by active
	Shares  map[string]Share                 // this season's share of the stems, by active
	Granted []string                         // reductions of buffers, as "rule set/rule"
	// InPart says that the planner sees a part of the site's stems. Then only shares
	// that were made from the tallies of all parts keep the site within its maximum; the
	// planner does not hold its own sum against it.
	InPart bool
}

// FieldFault is what is wrong with one field of a row.
type FieldFault struct {
	Field   string
	Problem string // value, limit and remedy
}

// Limits of what can be a stem. Beyond them a row is taken for a slip of the pen.
const (
	MaxDiameter = 5 * quantity.Metre
	MaxHeight   = 120 * quantity.Metre
	MaxCount    = 1_000_000_000
	MaxID       = 200
	maxDensity  = 10_000_000 // per hectare
)

// species finds a species by name; nil if the catalogue has none.
func (c *Catalogue) species(name string) *Species {
	for i := range c.Species {
		if c.Species[i].Name == name {
			return &c.Species[i]
		}
	}
	return nil
}

// nearest names the species that may have been meant, if there is one.
func (c *Catalogue) nearest(name string) string {
	if c.names == nil {
		return ""
	}
	if near := c.names.To(name); near != "" {
		return "; " + near + " is the nearest"
	}
	return ""
}

// Stems is how many stems the row stands for.
func (s *Stem) Stems() int64 {
	switch {
	case s.PerHectare > 0:
		// Rounded up: the mix must not run out.
		hectares, rest := int64(s.Area/quantity.Hectare), int64(s.Area%quantity.Hectare)
		return max(1, s.PerHectare*hectares+(s.PerHectare*rest+int64(quantity.Hectare)-1)/int64(quantity.Hectare))
	case s.Count > 0:
		return s.Count
	}
	return 1
}

// Crown is the width of one crown; where nobody measured it half the height stands for
// it (common practice, no source; half a micrometre is dropped).
func (s *Stem) Crown() quantity.Micrometres {
	if s.CrownWidth > 0 {
		return s.CrownWidth
	}
	return s.Height / 2
}

// density is stems per hectare, rounded up, and false where the row has no area.
func (s *Stem) density() (int64, bool) {
	switch {
	case s.PerHectare > 0:
		return s.PerHectare, true
	case s.Area > 0:
		perHectare := math.Ceil(float64(s.Stems()) * float64(quantity.Hectare) / float64(s.Area))
		return int64(min(perHectare, math.MaxInt64/2)), true
	}
	return 0, false
}

// Surroundings is what the rules may know of the stem, and of what is around it.
func (s *Stem) Surroundings() rules.Surroundings { return s.surroundings() }

func (s *Stem) surroundings() rules.Surroundings {
	r := rules.Surroundings{Form: s.Form, Soil: s.Soil, Bark: s.Bark, Desirable: s.Desirable, Water: s.Water, Places: s.Places}
	set := func(known bool, m rules.Measure, v int64) {
		if known {
			r.Measures.Set(m, v)
		}
	}
	set(s.Diameter > 0, rules.Diameter, int64(s.Diameter))
	set(s.Height > 0, rules.Height, int64(s.Height))
	set(s.HasSlope, rules.Slope, s.Slope)
	set(s.Area > 0, rules.TreatedArea, int64(s.Area))
	set(s.LakeArea > 0, rules.LakeArea, int64(s.LakeArea))
	density, hasDensity := s.density()
	set(hasDensity, rules.StemDensity, density)
	return r
}
