package treatment

import (
	"cmp"
	"fmt"
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Check lists everything that keeps a row from being read as a stem, sorted by
// field.
func (s *Stem) Check(c *Catalogue) []FieldFault {
	return s.faultsByField(c, c.species(s.Species) != nil)
}

// isSound reports whether nothing is wrong with a row of a known species.
func (s *Stem) isSound() bool { return s.isSingle() || len(s.faultsByField(nil, true)) == 0 }

// faultsByField is Check for a species that the catalogue has, or has not.
func (s *Stem) faultsByField(c *Catalogue, known bool) []FieldFault {
	var f faults
	if s.ID == "" || len(s.ID) > MaxID {
		f.add("stem_id", "has %d bytes; give each row an id of 1 to %d", len(s.ID), MaxID)
	}
	if !known {
		f.add("scientific_name", "%q is not in the catalogue of species%s; correct it, or add the species with its sources", s.Species, c.nearest(s.Species))
	}
	if !rules.Known(s.Form) {
		f.add("form", "is not stated; use one of %v", rules.Words[rules.GrowthForm]())
	}
	s.checkExtent(&f)
	s.checkLarger(&f)
	if s.Diameter < 0 || s.Diameter > MaxDiameter {
		f.add("diameter_cm", "%g is not above 0 and at most %g", s.Diameter.Centimetres(), MaxDiameter.Centimetres())
	}
	if s.Height < 0 || s.Height > MaxHeight {
		f.add("height_m", "%g is not above 0 and at most %g", s.Height.Metres(), MaxHeight.Metres())
	}
	if s.CrownWidth < 0 || s.CrownWidth > MaxHeight {
		f.add("crown_width_m", "%g is not above 0 and at most %g", s.CrownWidth.Metres(), MaxHeight.Metres())
	}
	if s.Slope < 0 || s.Slope > 10_000 {
		f.add("slope_percent", "%g is not 0 to 1000", float64(s.Slope)/10)
	}
	return f.sorted()
}

// isSingle reports whether a row is without faults and no patch. Most are, and are told so
// at once: what is below zero is, without its sign, beyond every limit.
func (s *Stem) isSingle() bool {
	return len(s.ID) > 0 && len(s.ID) <= MaxID && rules.Known(s.Form) &&
		uint64(s.Count) <= MaxCount && s.PerHectare|int64(s.Area)|s.LargerCount == 0 &&
		uint64(s.Diameter) <= uint64(MaxDiameter) && uint64(s.LargerDiameter) <= uint64(MaxDiameter) &&
		uint64(s.Height) <= uint64(MaxHeight) && uint64(s.CrownWidth) <= uint64(MaxHeight) && uint64(s.Slope) <= 10_000
}

// checkExtent checks how many stems the row stands for, and on how much ground.
func (s *Stem) checkExtent(f *faults) {
	if s.Count < 0 || s.Count > MaxCount {
		f.add("count", "%d is not 1 to %d", s.Count, int64(MaxCount))
	}
	if s.PerHectare < 0 || s.PerHectare > maxDensity {
		f.add("stem_density_per_ha", "%d is not above 0 and at most %d", s.PerHectare, int64(maxDensity))
	}
	if s.PerHectare != 0 && s.Area <= 0 {
		f.add("area_m2", "is missing; a stem density needs the area of the patch")
	}
	if s.PerHectare != 0 && s.Count != 0 {
		f.add("count", "is given beside a stem density; give one of the two")
	}
	if s.Area < 0 || s.Area > 100_000*quantity.Hectare {
		f.add("area_m2", "%g is not above 0 and at most 1e9", s.Area.SquareMetres())
	}
	if density, _ := s.density(); density > maxDensity {
		f.add("count", "%d stems on %g m² are more than %d to the hectare; check count and area", s.Count, s.Area.SquareMetres(), int64(maxDensity))
	}
}

func (s *Stem) checkLarger(f *faults) {
	if s.LargerCount < 0 || s.LargerCount > MaxCount {
		f.add("larger_count", "%d is not 0 to %d", s.LargerCount, int64(MaxCount))
	}
	if s.LargerCount != 0 && s.LargerDiameter <= 0 {
		f.add("larger_diameter_cm", "is missing; larger stems need their diameter")
	}
	if s.LargerDiameter < 0 || s.LargerDiameter > MaxDiameter {
		f.add("larger_diameter_cm", "%g is not above 0 and at most %g", s.LargerDiameter.Centimetres(), MaxDiameter.Centimetres())
	}
}

type faults []FieldFault

func (f *faults) add(field, format string, args ...any) {
	*f = append(*f, FieldFault{field, fmt.Sprintf(format, args...)})
}

// sorted sorts by field; what is wrong with one field stays in order.
func (f faults) sorted() []FieldFault {
	if len(f) > 1 {
		slices.SortStableFunc(f, func(a, b FieldFault) int { return cmp.Compare(a.Field, b.Field) })
	}
	return f
}
