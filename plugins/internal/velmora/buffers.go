package velmora

import (
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

const (
	steepSlope  = 300 // permille
	steepBuffer = 50 * quantity.Foot
	basalBuffer = 25 * quantity.Foot
	wellSprayed = 100 * quantity.Foot
	wellOnCuts  = 50 * quantity.Foot
)

var openWater = rules.AnyOf(rules.PerennialStream, rules.Lake, rules.Estuary)

func (e Edition) buffers() []rules.Row {
	steep := rules.Selector{Methods: foliar, Ranges: []rules.Range{rules.Above(rules.Slope, steepSlope)}}
	ester := rules.Selector{Methods: rules.AnyOf(rules.BasalBark), Formulations: rules.AnyOf(rules.Ester)}
	return slices.Concat(
		fromWater("buffer-foliar-backpack", "A foliar spray from a backpack keeps its distance from ", 21, e.BackpackFoliar,
			rules.Selector{Methods: foliar, Equipment: rules.AnyOf(rules.Backpack)}),
		fromWater("buffer-foliar-handgun", "A foliar spray from a handgun or a boom keeps its distance from ", 22, e.HandgunFoliar,
			rules.Selector{Methods: foliar, Equipment: rules.AnyOf(rules.Handgun, rules.Boom)}),
		fromWater("buffer-foliar-steep", "On ground steeper than 30 percent a foliar spray keeps a wider distance from ", 23, steepBuffer, steep),
		fromWater("buffer-basal-ester", "An ester on bark keeps its distance from ", 24, basalBuffer, ester),
		wells(),
	)
}

// fromWater gives a buffer twice: open water counts from its edge, a wetland from
// its landward limit.
func fromWater(id, purpose string, number int, distance quantity.Micrometres, when rules.Selector) []rules.Row {
	return []rules.Row{{
		ID: id + "-open-water", Purpose: purpose + "open water.", Citation: rule(number), When: when,
		Effect: rules.Buffer{Water: openWater, Distance: distance, From: rules.WaterEdge},
	}, {
		ID: id + "-wetland", Purpose: purpose + "a wetland.", Citation: rule(number), When: when,
		Effect: rules.Buffer{Water: rules.AnyOf(rules.Wetland), Distance: distance, From: rules.WetlandBoundary},
	}}
}

func wells() []rules.Row {
	well := func(id, purpose string, m rules.OneOf[rules.Method], distance quantity.Micrometres) rules.Row {
		return rules.Row{
			ID: id, Purpose: purpose, Citation: rule(25), When: rules.Selector{Methods: m},
			Effect: rules.Buffer{Water: rules.AnyOf(rules.Well), Distance: distance, From: rules.WaterEdge},
		}
	}
	return []rules.Row{
		well("buffer-well-sprayed", "Nothing is sprayed within 100 ft of a well.", sprayed, wellSprayed),
		well("buffer-well-on-cuts", "No cut is treated within 50 ft of a well.", onCuts, wellOnCuts),
	}
}
