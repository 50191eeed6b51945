package rules

import (
	"fmt"
	"math"
	"reflect"
	"slices"
)

func (s *Selector) faults() []string {
	var problems []string
	checks := []struct {
		name string
		ok   bool
	}{
		{"suckering", s.Suckering.valid()}, {"forms", s.Forms.valid()}, {"methods", s.Methods.valid()},
		{"equipment", s.Equipment.valid()}, {"formulations", s.Formulations.valid()},
		{"soil activity", s.SoilActivity.valid()}, {"aquatic label", s.AquaticLabel.valid()},
		{"restricted use", s.RestrictedUse.valid()}, {"toxicity", s.Toxicity.valid()},
		{"droplets", s.Droplets.valid()}, {"land uses", s.LandUses.valid()}, {"soil", s.Soil.valid()},
		{"bark", s.Bark.valid()}, {"desirable", s.Desirable.valid()}, {"drift control", s.DriftControl.valid()},
	}
	for _, check := range checks {
		if !check.ok {
			problems = append(problems, "the selector's "+check.name+" holds a word this program does not know")
		}
	}
	for _, name := range slices.Concat(s.Species, s.Actives) {
		if !isName(name) {
			problems = append(problems, fmt.Sprintf("the name %q is empty or has stray spaces, so that it fits nothing", name))
		}
	}
	for i, r := range s.Ranges {
		if !Known(r.Of) {
			problems = append(problems, "a range is about a measure this program does not know")
		}
		if r.Min == math.MinInt64 && r.Max == math.MaxInt64 {
			problems = append(problems, fmt.Sprintf("a range of %s states neither end, so that every value lies in it", r.Of))
		}
		for _, other := range s.Ranges[:i+1] {
			if other.Of == r.Of && !r.meets(&other) {
				problems = append(problems, fmt.Sprintf("no value lies in both %s and %s, so that the row never applies", other, r))
			}
		}
	}
	return problems
}

// isEmpty reports whether the selector states nothing.
func (s *Selector) isEmpty() bool {
	bare := *s
	bare.Species, bare.Actives, bare.Ranges = nil, nil, nil
	return len(s.Species)+len(s.Actives)+len(s.Ranges) == 0 && reflect.ValueOf(bare).IsZero()
}

// meets reports whether a whole number lies in both ranges.
func (r *Range) meets(other *Range) bool {
	v := max(r.lowest(), other.lowest())
	return r.Holds(v) && other.Holds(v)
}

func (r *Range) lowest() int64 {
	if r.MinOpen && r.Min < math.MaxInt64 {
		return r.Min + 1
	}
	return r.Min
}
