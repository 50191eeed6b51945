package velmora

import (
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// windows says when which species may be treated. Hand pulling has no window.
func (e Edition) windows() []rules.Row {
	beforeSuckers := foliar | rules.AnyOf(rules.BasalBark, rules.HackAndSquirt)
	open := func(id, purpose string, number int, s rules.Suckering, m rules.OneOf[rules.Method], w civil.Window) rules.Row {
		return rules.Row{
			ID: id, Purpose: purpose, Citation: rule(number),
			When: rules.Selector{Suckering: rules.AnyOf(s), Methods: m}, Effect: rules.Window{Open: w},
		}
	}
	return []rules.Row{
		open("window-strong-suckerers", "Strongly root-suckering species are treated only while sugars move down to the roots.",
			11, rules.SuckeringStrong, beforeSuckers, e.Suckering),
		open("window-moderate-suckerers", "Species that sucker in part are treated only while sugars move down to the roots.",
			12, rules.SuckeringModerate, beforeSuckers, e.Suckering),
		open("window-sprouters-leaves", "Leaves of species without root suckers are sprayed only while they are fully out.",
			13, rules.SuckeringNone, foliar, sprouterLeaves),
		open("window-sprouters-stems", "Stems and stumps of species without root suckers are not treated while sap rises in spring.",
			14, rules.SuckeringNone, rules.AnyOf(rules.BasalBark)|onCuts, sprouterStems),
	}
}

var (
	sprouterLeaves = yearly(time.June, 1, time.September, 30)
	sprouterStems  = yearly(time.June, 1, time.February, 28) // over the turn of the year
)

// seasons names the parts of the year; they cover it and do not overlap.
func seasons() []rules.Row {
	name := func(id, purpose string, s rules.Season, w civil.Window) rules.Row {
		return rules.Row{ID: id, Purpose: purpose, Citation: rule(10), Effect: rules.InSeason{Season: s, During: w}}
	}
	return []rules.Row{
		name("season-sap-flow", "In spring the sap rises and nothing moves down.", rules.SapFlow, yearly(time.March, 1, time.May, 31)),
		name("season-growing", "In early summer the leaves are full and sugars go into growth.", rules.Growing, yearly(time.June, 1, time.July, 14)),
		name("season-translocation", "From mid-summer on sugars move down to the roots.", rules.Translocation, yearly(time.July, 15, time.September, 30)),
		name("season-leaf-drop", "In autumn the leaves colour and fall.", rules.LeafDrop, yearly(time.October, 1, time.November, 30)),
		name("season-dormant", "In winter there are no leaves.", rules.Dormant, yearly(time.December, 1, time.February, 28)),
	}
}
