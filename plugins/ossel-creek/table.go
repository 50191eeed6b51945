package main

import (
	"fmt"
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// table gives rules that no place has: they demonstrate how a district that lives
// from its water restricts further what its state allows.
func table() rules.Table {
	from := civil.Of(2024, 1, 1)
	rows := slices.Concat(bufferRows(), useRows(), peopleRows())
	for i := range rows {
		rows[i].ValidFrom = from
	}
	return rules.Table{
		Manifest: rules.Manifest{
			ID:        "ossel-creek",
			Version:   "2024",
			Title:     "Ossel Creek watershed district, an invented district: bylaws on herbicides",
			Publisher: "Ossel Creek Watershed District (invented for this demonstration)",
			Layer:     rules.District,
			Scope:     "us/velmora/ossel-creek",
			ValidFrom: from,
			ReviewBy:  civil.Of(2028, 12, 31),
		},
		Rows:  rows,
		Cases: slices.Concat(bufferCases(), useCases(), peopleCases()),
	}
}

// bylaw cites one bylaw of the district.
func bylaw(number int) string {
	return fmt.Sprintf("Ossel Creek Watershed District bylaws (invented for this demonstration), bylaw %d", number)
}

var (
	foliar        = rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar)
	sprayed       = foliar | rules.AnyOf(rules.BasalBark)
	onCuts        = rules.AnyOf(rules.HackAndSquirt, rules.CutStump)
	withHerbicide = sprayed | onCuts

	creekWater   = rules.AnyOf(rules.PerennialStream, rules.IntermittentStream, rules.Lake, rules.Wetland)
	drinkingWell = rules.AnyOf(rules.Well, rules.Spring, rules.Intake)

	lowWater = civil.Window{
		From: civil.DayOfYear{Month: time.August, Day: 1},
		To:   civil.DayOfYear{Month: time.September, Day: 30},
	}
)

const (
	foliarBuffer   = 100 * quantity.Foot
	basalBuffer    = 50 * quantity.Foot
	cutsBuffer     = 15 * quantity.Foot
	drinkingBuffer = 300 * quantity.Foot
)
