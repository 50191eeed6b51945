package main

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

// The zones were written for agricultural establishments. Nothing that was read
// says that people elsewhere may stand nearer, so that they hold on every land
// use here.
const exclusionCitation = "40 CFR 170.405(a) (text of the rule effective 2024-12-03)"

var (
	exclusionFrom = civil.Of(2024, 12, 3)
	// A zone of these sizes is measured from the equipment.
	wideZone   = 100 * quantity.Foot
	narrowZone = 25 * quantity.Foot
	lowRelease = int64(12 * quantity.Inch)

	byHandSpray = rules.AnyOf(rules.Backpack, rules.Handgun, rules.Boom)
)

func exclusionRows() []rules.Row {
	zone := func(id, purpose string, when rules.Selector, radius quantity.Micrometres) rules.Row {
		return rules.Row{
			ID: id, Purpose: purpose, Citation: exclusionCitation, ValidFrom: exclusionFrom,
			When: when, Effect: rules.ExclusionZone{Radius: radius},
		}
	}
	medium := rules.AnyOf(rules.DropletMedium)
	return []rules.Row{
		zone("zone-aerial", "Nobody stays within 100 ft of an aerial application, on any land use.",
			rules.Selector{Equipment: rules.AnyOf(rules.Aerial)}, wideZone),
		zone("zone-air-blast", "Nobody stays within 100 ft of an air-blast or mist application, on any land use.",
			rules.Selector{Equipment: rules.AnyOf(rules.Mistblower)}, wideZone),
		zone("zone-fine-droplets", "Nobody stays within 100 ft of a spray whose droplets are finer than medium, from whatever height, on any land use.",
			rules.Selector{Droplets: rules.AnyOf(rules.DropletFine)}, wideZone),
		zone("zone-high-release", "Nobody stays within 25 ft of a spray of medium or larger droplets that is released from more than 12 inches, on any land use.",
			rules.Selector{Equipment: byHandSpray, Droplets: medium, Ranges: []rules.Range{rules.Above(rules.ReleaseHeight, lowRelease)}}, narrowZone),
		zone("zone-low-release", "A spray of medium or larger droplets that is released from 12 inches or less has no exclusion zone.",
			rules.Selector{Equipment: byHandSpray, Droplets: medium, Ranges: []rules.Range{rules.AtMost(rules.ReleaseHeight, lowRelease)}}, 0),
		zone("zone-no-spray", "What is put into cuts or on a stump by hand has no exclusion zone.",
			rules.Selector{Methods: rules.AnyOf(rules.HackAndSquirt, rules.CutStump), Droplets: rules.AnyOf(rules.DropletNone)}, 0),
	}
}

func exclusionCases() []rules.Case {
	spray := func(name, row string, e rules.Equipment, d rules.Droplet, height quantity.Micrometres) rules.Case {
		return rulesdk.Case(foliar(), name, rulesdk.Gives(rules.Conditional, row), rulesdk.With(func(t *rules.Treatment) {
			t.Equipment, t.Droplet, t.ReleaseHeight = e, d, height
		}))
	}
	return []rules.Case{
		spray("aerial", "zone-aerial", rules.Aerial, rules.DropletMedium, 30*quantity.Foot),
		spray("air blast", "zone-air-blast", rules.Mistblower, rules.DropletMedium, 4*quantity.Foot),
		spray("fine droplets near the ground", "zone-fine-droplets", rules.Backpack, rules.DropletFine, 6*quantity.Inch),
		spray("medium droplets from just above 12 in", "zone-high-release", rules.Backpack, rules.DropletMedium, 12*quantity.Inch+1),
		rulesdk.Case(foliar(), "medium droplets from 12 in", rulesdk.With(func(t *rules.Treatment) { t.ReleaseHeight = 12 * quantity.Inch })),
		cutSurface(),
	}
}
