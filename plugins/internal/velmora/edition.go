package velmora

import (
	"fmt"
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// Edition is what differs between the editions of the code.
type Edition struct {
	Version   string
	ValidFrom civil.Date
	// Suckering is when root-suckering species may be treated.
	Suckering civil.Window
	// BackpackFoliar and HandgunFoliar are the buffers of a foliar spray at water.
	BackpackFoliar, HandgunFoliar quantity.Micrometres
	// NoEsterInParks forbids esters in parks.
	NoEsterInParks bool
}

// Edition2024 is the code in force, Draft2027 the draft of the next one. The
// draft counts as law from 2026 on, so that it can be tried before it is adopted.
var (
	Edition2024 = Edition{
		Version:        "2024",
		ValidFrom:      civil.Of(2024, 1, 1),
		Suckering:      yearly(time.July, 15, time.October, 15),
		BackpackFoliar: 10 * quantity.Foot,
		HandgunFoliar:  25 * quantity.Foot,
	}
	Draft2027 = Edition{
		Version:        "2027-draft",
		ValidFrom:      civil.Of(2026, 1, 1),
		Suckering:      yearly(time.August, 15, time.October, 31),
		BackpackFoliar: 30 * quantity.Foot,
		HandgunFoliar:  50 * quantity.Foot,
		NoEsterInParks: true,
	}
)

// Table gives the rule table of the edition.
func (e Edition) Table() rules.Table {
	rows := slices.Concat(e.windows(), seasons(), e.buffers(), e.products(), people(), conditions())
	for i := range rows {
		rows[i].ValidFrom = e.ValidFrom
	}
	return rules.Table{
		Manifest: rules.Manifest{
			ID:        "velmora",
			Version:   e.Version,
			Title:     "Velmora, an invented state: rules for woody plant control",
			Publisher: "Velmora Department of Lands (invented for this demonstration)",
			Layer:     rules.State,
			Scope:     "us/velmora",
			ValidFrom: e.ValidFrom,
			ReviewBy:  civil.Of(2028, 12, 31),
		},
		Rows:  rows,
		Cases: e.cases(),
	}
}

// rule cites one rule of the code.
func rule(number int) string {
	return fmt.Sprintf("Velmora Administrative Code (invented for this demonstration), rule %d", number)
}

func yearly(from time.Month, fromDay int, to time.Month, toDay int) civil.Window {
	return civil.Window{From: civil.DayOfYear{Month: from, Day: fromDay}, To: civil.DayOfYear{Month: to, Day: toDay}}
}

// The methods, by how the herbicide reaches the plant.
var (
	foliar        = rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar)
	sprayed       = foliar | rules.AnyOf(rules.BasalBark)
	onCuts        = rules.AnyOf(rules.HackAndSquirt, rules.CutStump)
	withHerbicide = sprayed | onCuts
)
