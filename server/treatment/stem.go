package treatment

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Stem is a row of an inventory: one stem, several alike, or a patch. Zero means
// "not known" in every field; a field that must be known for a decision and is
// not makes the answer UNDETERMINED.
type Stem struct {
	ID             string
	Species        string // scientific name
	Form           rules.GrowthForm
	Diameter       quantity.Micrometres
	Height         quantity.Micrometres
	Count          int64
	PerHectare     int64 // stem density of a patch
	Area           quantity.SquareMillimetres
	CrownWidth     quantity.Micrometres
	LargerCount    int64 // stems of the patch out of foliar reach
	LargerDiameter quantity.Micrometres
	Desirable      rules.Desirable
	LandUse        rules.LandUse
	Soil           rules.SoilState
	Bark           rules.BarkState
	RootCheck      rules.RootCheck
	SeedBearing    rules.YesNo
	Slope          int64 // thousandths; HasSlope tells whether it is known
	HasSlope       bool
	Water          rules.Waters
}

// Site is ground that is treated as one.
type Site struct {
	ID      string
	Area    quantity.SquareMillimetres       // zero: not known
	Applied map[string]quantity.MicrogramsAE // in the calendar year, by active
	Shares  map[string]Share                 // this season's share of the stems, by active
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

// Check lists everything that keeps a row from being read as a stem, sorted by
// field.
func (s *Stem) Check(c *Catalogue) []FieldFault {
	var faults []FieldFault
	unless := func(ok bool, field, format string, args ...any) {
		if !ok {
			faults = append(faults, FieldFault{field, fmt.Sprintf(format, args...)})
		}
	}
	unless(s.ID != "" && len(s.ID) <= MaxID, "stem_id", "has %d bytes; give each row an id of 1 to %d", len(s.ID), MaxID)
	unless(c.species(s.Species) != nil, "scientific_name", "%q is not in the catalogue of species; correct it, or add the species with its sources", s.Species)
	unless(rules.Known(s.Form), "form", "is not stated; use one of %v", rules.Words[rules.GrowthForm]())
	unless(s.Diameter >= 0 && s.Diameter <= MaxDiameter, "diameter_cm", "%g is not above 0 and at most %g", s.Diameter.Centimetres(), MaxDiameter.Centimetres())
	unless(s.Height >= 0 && s.Height <= MaxHeight, "height_m", "%g is not above 0 and at most %g", s.Height.Metres(), MaxHeight.Metres())
	unless(s.Count >= 0 && s.Count <= MaxCount, "count", "%d is not 1 to %d", s.Count, int64(MaxCount))
	unless(s.PerHectare >= 0 && s.PerHectare <= maxDensity, "stem_density_per_ha", "%d is not above 0 and at most %d", s.PerHectare, int64(maxDensity))
	unless(s.PerHectare == 0 || s.Area > 0, "area_m2", "is missing; a stem density needs the area of the patch")
	unless(s.PerHectare == 0 || s.Count == 0, "count", "is given beside a stem density; give one of the two")
	unless(s.Area >= 0 && s.Area <= 100_000*quantity.Hectare, "area_m2", "%g is not above 0 and at most 1e9", s.Area.SquareMetres())
	unless(s.CrownWidth >= 0 && s.CrownWidth <= MaxHeight, "crown_width_m", "%g is not above 0 and at most %g", s.CrownWidth.Metres(), MaxHeight.Metres())
	unless(s.LargerCount >= 0 && s.LargerCount <= MaxCount, "larger_count", "%d is not 0 to %d", s.LargerCount, int64(MaxCount))
	unless(s.LargerCount == 0 || s.LargerDiameter > 0, "larger_diameter_cm", "is missing; larger stems need their diameter")
	density, _ := s.density()
	unless(density <= maxDensity, "count", "%d stems on %g m² are more than %d to the hectare; check count and area", s.Count, s.Area.SquareMetres(), int64(maxDensity))
	unless(s.LargerDiameter >= 0 && s.LargerDiameter <= MaxDiameter, "larger_diameter_cm", "%g is not above 0 and at most %g", s.LargerDiameter.Centimetres(), MaxDiameter.Centimetres())
	unless(s.Slope >= 0 && s.Slope <= 10_000, "slope_percent", "%g is not 0 to 1000", float64(s.Slope)/10)
	slices.SortStableFunc(faults, func(a, b FieldFault) int { return cmp.Compare(a.Field, b.Field) })
	return faults
}

// species finds a species by name; nil if the catalogue has none.
func (c *Catalogue) species(name string) *Species {
	for i := range c.Species {
		if c.Species[i].Name == name {
			return &c.Species[i]
		}
	}
	return nil
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

// surroundings is what the rules may know of the stem.
func (s *Stem) surroundings() rules.Surroundings {
	r := rules.Surroundings{Form: s.Form, Soil: s.Soil, Bark: s.Bark, Desirable: s.Desirable, Water: s.Water}
	set := func(known bool, m rules.Measure, v int64) {
		if known {
			r.Measures.Set(m, v)
		}
	}
	set(s.Diameter > 0, rules.Diameter, int64(s.Diameter))
	set(s.Height > 0, rules.Height, int64(s.Height))
	set(s.HasSlope, rules.Slope, s.Slope)
	set(s.Area > 0, rules.TreatedArea, int64(s.Area))
	density, hasDensity := s.density()
	set(hasDensity, rules.StemDensity, density)
	return r
}
