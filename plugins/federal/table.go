package main

import (
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulesdk"
)

// The rows hold what was read of federal law, in the editions that their
// citations name; "from memory" marks what nobody read again. The label of the
// product at hand, and state and local law, stand beside all of it.
//
// The set is law from 2024-12-03: before that day the rule on exclusion zones was
// another, which this set does not hold, so that it does not answer for it.
func table() rules.Table {
	return rules.Table{
		Manifest: rules.Manifest{
			ID:        "federal",
			Version:   "2024-12-03.2",
			Title:     "United States federal pesticide rules",
			Publisher: "Rootward project, from published federal regulations; not a publication of any agency",
			Layer:     rules.Federal,
			Scope:     "us",
			ValidFrom: civil.Of(2024, 12, 3),
			ReviewBy:  civil.Of(2027, 6, 30),
		},
		Rows:  slices.Concat(standingRows(), entryRows(), exclusionRows(), recordRows(), waterRows(), noticeRows()),
		Cases: slices.Concat(standingCases(), entryCases(), exclusionCases(), recordCases(), waterCases(), noticeCases()),
	}
}

var (
	// The 2015 annual editions are those that were read: title 7 is revised as of
	// 1 January of the year, title 40 as of 1 July.
	title7Edition  = civil.Of(2015, 1, 1)
	title40Edition = civil.Of(2015, 7, 1)

	withHerbicide = rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar, rules.BasalBark, rules.HackAndSquirt, rules.CutStump)
)

// foliar is the case that the others start from: leaves sprayed by a certified
// applicator, far from water.
func foliar() rules.Case {
	return rulesdk.FoliarSpray(2026, time.August, 10)
}

// cutSurface is foliar with the herbicide put into cuts by hand.
func cutSurface() rules.Case {
	return rulesdk.Case(foliar(), "hack-and-squirt far from water", rulesdk.With(func(t *rules.Treatment) {
		t.Method, t.Equipment, t.Droplet, t.ReleaseHeight = rules.HackAndSquirt, rules.HandTool, rules.DropletNone, 0
	}))
}
