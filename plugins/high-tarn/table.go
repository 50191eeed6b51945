package main

import (
	"fmt"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulesdk"
)

// The ids of the rows, which are computed.
const (
	foliarRow = "window-foliar-by-altitude"
	barkRow   = "window-bark-by-warmth"
)

// table gives rules that no place has: they demonstrate windows that are computed for
// each site.
func table() rules.Table {
	from := civil.Of(2025, 1, 1)
	return rules.Table{
		Manifest: rules.Manifest{
			ID:        "high-tarn",
			Version:   "2025",
			Title:     "High Tarn district, an invented mountain district: bylaws on seasons",
			Publisher: "High Tarn District (invented for this demonstration)",
			Layer:     rules.District,
			Scope:     "us/velmora/high-tarn",
			ValidFrom: from,
			ReviewBy:  civil.Of(2029, 12, 31),
		},
		Rows: []rules.Row{{
			ID:        foliarRow,
			Purpose:   "Leaves are sprayed from full leaf until they turn, which comes later and sooner higher up.",
			Citation:  bylaw(1),
			ValidFrom: from,
			When:      rules.Selector{Methods: rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar)},
			Effect: rules.Computed{
				Method: "Hopkins' bioclimatic law, from the valley station, spring later going west",
				Needs:  rules.AnyOf(rules.FactPosition, rules.FactElevation),
			},
		}, {
			ID:        barkRow,
			Purpose:   "Bark and cuts are treated once the spring flow of sap is over, which warmth brings about.",
			Citation:  bylaw(2),
			ValidFrom: from,
			When:      rules.Selector{Methods: rules.AnyOf(rules.BasalBark, rules.HackAndSquirt)},
			Effect: rules.Computed{
				Method: "degree days above 10 °C from 1 January, four-case method",
				Needs:  rules.AnyOf(rules.FactTemperatures),
			},
		}},
		Cases: cases(),
	}
}

// bylaw cites one bylaw of the district.
func bylaw(number int) string {
	return fmt.Sprintf("High Tarn District bylaws (invented for this demonstration), bylaw %d", number)
}

// cases show when the rows apply. What they say of a site is not in the table: until
// it is computed, nothing is decided.
func cases() []rules.Case {
	spray := rulesdk.FoliarSpray(2026, time.August, 10)
	method := func(m rules.Method) rulesdk.Change {
		return rulesdk.With(func(t *rules.Treatment) { t.Method = m })
	}
	return []rules.Case{
		rulesdk.Case(spray, "leaves are sprayed", rulesdk.Gives(rules.Undetermined, foliarRow)),
		rulesdk.Case(spray, "bark is sprayed", method(rules.BasalBark), rulesdk.Gives(rules.Undetermined, barkRow)),
		rulesdk.Case(spray, "stumps have no season", method(rules.CutStump), rulesdk.Gives(rules.Allowed)),
	}
}
