package main

import (
	"fmt"
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

func table() rules.Table {
	return rulesdk.RuleSet{
		Manifest: rules.Manifest{
			ID:        "kinds",
			Version:   "2025",
			Title:     "Marl Fen district, an invented district: bylaws of every kind",
			Publisher: "Marl Fen District (invented for this demonstration)",
			Layer:     rules.District,
			Scope:     "us/velmora/marl-fen",
			ValidFrom: civil.Of(2025, time.January, 1),
			ReviewBy:  civil.Of(2029, time.December, 31),
		},
		Rows:  slices.Concat(waterRows(), neighbourRows(), classRows(), amountRows(), weatherRows(), lifeRows(), recordRows(), peopleRows()),
		Cases: slices.Concat(waterCases(), neighbourCases(), classCases(), amountCases(), weatherCases(), lifeCases(), recordCases(), peopleCases()),
	}.Table()
}

// row begins a bylaw that is law as long as the set.
func row(number int, id, purpose string) rulesdk.NeedsEffect {
	return cited(number, id, purpose).From(2025, time.January, 1)
}

func cited(number int, id, purpose string) rulesdk.NeedsValidity {
	return rulesdk.Row(id).Purpose(purpose).
		Citation(fmt.Sprintf("Marl Fen District bylaws (invented for this demonstration), bylaw %d", number))
}

var (
	foliar        = rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar)
	sprayed       = foliar | rules.AnyOf(rules.BasalBark)
	withHerbicide = sprayed | rules.AnyOf(rules.HackAndSquirt, rules.CutStump)
)

// perHectare gives spray in the unit of a carrier volume, a part of a millilitre
// dropped, as the planner of a treatment does.
func perHectare(v quantity.CarrierVolume) rulesdk.MillilitresPerHectare {
	return rulesdk.MillilitresPerHectare(v.On(quantity.Hectare) / quantity.Millilitre)
}

// spray is the case that the others start from: a forester sprays leaves in summer,
// far from everything. The bylaws that set conditions for every herbicide make it
// CONDITIONAL.
func spray() rules.Case {
	return rulesdk.Case(rulesdk.FoliarSpray(2026, time.August, 10), "leaves are sprayed far from everything",
		rulesdk.Gives(rules.Conditional, "mix-and-load", "wind-recorded"),
		with(func(t *rules.Treatment) {
			t.Categories, t.DriftControl = rules.AnyOf(rules.CertifiedForest), rules.DriftStandard
			t.CarrierMlPerHa = int64(perHectare(quantity.GallonsPerAcre(20)))
		}))
}

// by is the base with another method, from the hand.
func by(m rules.Method) rulesdk.Change {
	return with(func(t *rules.Treatment) {
		t.Method, t.Equipment, t.Droplet, t.ReleaseHeight, t.CarrierMlPerHa = m, rules.HandTool, rules.DropletNone, 0, 0
	})
}

func from(e rules.Equipment) rulesdk.Change {
	return with(func(t *rules.Treatment) { t.Equipment = e })
}

func on(u rules.LandUse) rulesdk.Change {
	return with(func(t *rules.Treatment) { t.LandUse = u })
}

func with(change func(*rules.Treatment)) rulesdk.Change { return rulesdk.With(change) }

// pulled is hand pulling, with which no bylaw has to do.
func pulled() rules.Case {
	return rulesdk.Case(spray(), "a seedling is pulled", rulesdk.Gives(rules.Allowed), with(func(t *rules.Treatment) {
		*t = rules.Treatment{Species: t.Species, Suckering: t.Suckering, Method: rules.HandPull, LandUse: t.LandUse, NoHerbicide: true}
	}))
}
