package rules

import "strings"

// Text states to what the selector fits, in one clause for people; nothing for one
// that fits anything.
func (s *Selector) Text() string {
	var parts []string
	add := func(part, words string) {
		if words != "" {
			parts = append(parts, part+" "+spaced(words))
		}
	}
	add("species", strings.Join(s.Species, " or "))
	add("active ingredient", strings.Join(s.Actives, " or "))
	add("suckering", s.Suckering.String())
	add("growth form", s.Forms.String())
	add("method", s.Methods.String())
	add("equipment", s.Equipment.String())
	add("drift control", s.DriftControl.String())
	add("formulation", s.Formulations.String())
	add("soil activity", s.SoilActivity.String())
	add("registration for water", s.AquaticLabel.String())
	add("restricted use", s.RestrictedUse.String())
	add("toxicity category", s.Toxicity.String())
	add("droplets", s.Droplets.String())
	add("land use", s.LandUses.String())
	add("soil", s.Soil.String())
	add("bark", s.Bark.String())
	add("desirable vegetation", s.Desirable.String())
	for _, r := range s.Ranges {
		parts = append(parts, r.String())
	}
	return strings.Join(parts, " with ")
}
