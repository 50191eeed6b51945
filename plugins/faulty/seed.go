package main

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

const (
	streamBuffer = 100 * quantity.Foot
	schoolLimit  = 50 * quantity.Foot
	largeStem    = int64(6 * quantity.Inch)
)

var (
	invented   = "invented for a test"
	streams    = rules.AnyOf(rules.PerennialStream, rules.Lake)
	foliar     = rules.AnyOf(rules.LowVolumeFoliar)
	summer     = civil.Window{From: civil.DayOfYear{Month: time.July, Day: 15}, To: civil.DayOfYear{Month: time.September, Day: 30}}
	seedFrom   = civil.Of(2024, time.January, 1)
	stumpsFrom = civil.Of(2026, time.October, 1)
)

// sprayed is a foliar spray on a thin stem.
func sprayed() rules.Case {
	return rulesdk.Case(rulesdk.FoliarSpray(2026, time.August, 10), "sprayed", rulesdk.Gives(rules.Allowed),
		rulesdk.Measure(rules.Diameter, largeStem))
}

func onStump() rules.Case {
	return rulesdk.Case(sprayed(), "stump", rulesdk.On(2026, time.September, 1), rulesdk.With(func(t *rules.Treatment) {
		t.Method, t.Equipment, t.Droplet, t.ReleaseHeight = rules.CutStump, rules.HandTool, rules.DropletNone, 0
	}))
}

func by(s rules.Standing) rulesdk.Change {
	return rulesdk.With(func(t *rules.Treatment) { t.Standing = s })
}

// seed is a table in which all is well, with a limit of each kind and the cases that
// show it. Each seeded fault is a change of it.
func seed(id string) rules.Table {
	row := func(id, purpose string, when rules.Selector, effect rules.Effect) rules.Row {
		return rules.Row{ID: id, Purpose: purpose, Citation: invented, ValidFrom: seedFrom, When: when, Effect: effect}
	}
	stumps := rules.Selector{Methods: rules.AnyOf(rules.CutStump)}
	late := row("stumps-closed", "Stumps are left alone from October 2026 on.", stumps, rules.Prohibit{})
	late.ValidFrom = stumpsFrom
	return rules.Table{
		Manifest: rules.Manifest{
			ID: id, Version: "1", Title: "A rule set for tests", Publisher: "nobody",
			Layer: rules.District, Scope: "us/velmora/" + id, ValidFrom: seedFrom,
		},
		Rows: []rules.Row{
			row("stream", "No leaf is sprayed at a stream.", rules.Selector{Methods: foliar}, rules.Buffer{Water: streams, Distance: streamBuffer, From: rules.BankTop}),
			row("school", "No leaf is sprayed at a school.", rules.Selector{Methods: foliar}, rules.Setback{Places: rules.AnyOf(rules.School), Distance: schoolLimit}),
			row("summer", "Leaves are sprayed in summer.", rules.Selector{Methods: foliar}, rules.Window{Open: summer}),
			row("large-stems", "Leaves of large stems are not sprayed.",
				rules.Selector{Methods: foliar, Ranges: []rules.Range{rules.Above(rules.Diameter, largeStem)}}, rules.Prohibit{}),
			row("supervised", "Leaves are sprayed by those who are supervised.", rules.Selector{Methods: foliar}, rules.RequireStanding{AtLeast: rules.Supervised}),
			late,
		},
		Cases: slices.Concat(
			rulesdk.AtDistance(sprayed(), "stream", rules.Lake, streamBuffer, rules.BankTop),
			rulesdk.AtSetback(sprayed(), "school", rules.School, schoolLimit),
			rulesdk.AtEdges(sprayed(), "summer", summer, 2026),
			[]rules.Case{
				rulesdk.Case(sprayed(), "a large stem", rulesdk.Measure(rules.Diameter, largeStem+1), rulesdk.Forbidden("large-stems")),
				rulesdk.Case(sprayed(), "unlicensed", by(rules.Unlicensed), rulesdk.Forbidden("supervised")),
				rulesdk.Case(sprayed(), "supervised", by(rules.Supervised)),
				rulesdk.Case(onStump(), "a stump in September", rulesdk.On(2026, time.September, 30)),
				rulesdk.Case(onStump(), "a stump in October", rulesdk.On(2026, time.October, 1), rulesdk.Forbidden("stumps-closed")),
			},
		),
	}
}

// seeded are the faults that an author may leave in a table.
var seeded = map[string]func(*rules.Table){
	// What a row is.
	"id-missing":        func(t *rules.Table) { t.Rows[0].ID = "" },
	"id-not-a-slug":     func(t *rules.Table) { t.Rows[3].ID = "Large Stems" },
	"id-twice":          func(t *rules.Table) { t.Rows[1].ID = t.Rows[0].ID },
	"purpose-missing":   func(t *rules.Table) { t.Rows[0].Purpose = "" },
	"purpose-half":      func(t *rules.Table) { t.Rows[0].Purpose = "streams" },
	"citation-missing":  func(t *rules.Table) { t.Rows[0].Citation = " " },
	"validity-missing":  func(t *rules.Table) { t.Rows[0].ValidFrom = 0 },
	"validity-reversed": func(t *rules.Table) { t.Rows[0].ValidTo = t.Rows[0].ValidFrom - 1 },
	"effect-missing":    func(t *rules.Table) { t.Rows[0].Effect = nil },
	"effect-hidden":     func(t *rules.Table) { t.Rows[3].Effect = struct{ rules.Effect }{rules.Prohibit{}} },
	// What it says.
	"distance-zero": func(t *rules.Table) { t.Rows[0].Effect = rules.Buffer{Water: streams, From: rules.BankTop} },
	"distance-too-far": func(t *rules.Table) {
		t.Rows[0].Effect = rules.Buffer{Water: streams, From: rules.BankTop, Distance: 60 * quantity.Mile}
	},
	"distance-from-what": func(t *rules.Table) { t.Rows[0].Effect = rules.Buffer{Water: streams, Distance: streamBuffer} },
	"water-unknown-word": func(t *rules.Table) {
		t.Rows[0].Effect = rules.Buffer{Water: 1 << 31, Distance: streamBuffer, From: rules.BankTop}
	},
	"day-of-no-calendar": func(t *rules.Table) {
		t.Rows[2].Effect = rules.Window{Open: civil.Window{From: civil.DayOfYear{Month: time.February, Day: 31}, To: summer.To}}
	},
	"range-impossible": func(t *rules.Table) {
		t.Rows[3].When.Ranges = append(t.Rows[3].When.Ranges, rules.AtMost(rules.Diameter, largeStem))
	},
	"selector-unknown-word": func(t *rules.Table) { t.Rows[0].When.Methods = 1 << 31 },
	"name-with-spaces":      func(t *rules.Table) { t.Rows[0].When.Actives = []string{" glyphosate"} },
	"limit-upside-down": func(t *rules.Table) {
		t.Rows[0].Effect = rules.WeatherLimit{Factor: rules.WindSpeed, Min: 10, HasMin: true, Max: 3, HasMax: true}
	},
	// Whose law the table is.
	"scope-no-place":     func(t *rules.Table) { t.Manifest.Scope = "Velmora, the whole of it" },
	"publisher-missing":  func(t *rules.Table) { t.Manifest.Publisher = "" },
	"version-missing":    func(t *rules.Table) { t.Manifest.Version = "" },
	"layer-missing":      func(t *rules.Table) { t.Manifest.Layer = 0 },
	"set-validity-ended": func(t *rules.Table) { t.Manifest.ValidTo = t.Manifest.ValidFrom - 1 },
	"no-rows":            func(t *rules.Table) { t.Rows, t.Cases = nil, nil },
	"too-many-rows":      manyRows,
	// What its cases show.
	"case-lies":         func(t *rules.Table) { t.Cases[1].Want = rules.Prohibited },
	"case-lies-by-whom": func(t *rules.Table) { t.Cases[0].By = []string{"summer"} },
	"case-names-no-row": func(t *rules.Table) { t.Cases[0].By = []string{"streams"} },
	"case-out-of-force": func(t *rules.Table) { t.Cases[0].On = t.Manifest.ValidFrom - 1 },
	"row-not-covered":   func(t *rules.Table) { t.Cases = without(t, "large stem") },
	"row-never-missed":  func(t *rules.Table) { t.Rows, t.Cases = t.Rows[:3], without(t, "stump", "large stem", "unlicensed") },
	"buffer-one-side":   func(t *rules.Table) { t.Cases = without(t, "stream, lake, at the limit") },
	"setback-one-side":  func(t *rules.Table) { t.Cases = without(t, "school, school, just inside") },
	"window-one-side":   func(t *rules.Table) { t.Cases = without(t, "the day after it closes") },
	"window-other-side": func(t *rules.Table) { t.Cases = without(t, "first day") },
	"standing-one-side": func(t *rules.Table) { t.Cases = without(t, "supervised") },
	"range-not-at-its-limit": func(t *rules.Table) {
		t.Cases[caseOf(t, "a large stem")].Site.Measures.Set(rules.Diameter, 2*largeStem)
	},
	"validity-one-side": func(t *rules.Table) { t.Cases = without(t, "a stump in September") },
	"buffer-a-foot-too-short": func(t *rules.Table) {
		t.Rows[0].Effect = rules.Buffer{Water: streams, Distance: streamBuffer - quantity.Foot, From: rules.BankTop}
	},
	"window-a-day-too-long": func(t *rules.Table) {
		t.Rows[2].Effect = rules.Window{Open: civil.Window{From: summer.From, To: civil.DayOfYear{Month: time.October, Day: 1}}}
	},
	// How it is made.
	"chance":         func(t *rules.Table) { t.Manifest.Version = string(rune('a' + rand.N(26))) },
	"order-of-a-map": func(t *rules.Table) { t.Rows = anyOrder(t.Rows) },
	"the-time":       func(t *rules.Table) { t.Manifest.Title = "Made at " + time.Now().Format(time.RFC3339Nano) },
	"panics":         func(*rules.Table) { panic("row 3 of nothing") },
}

func manyRows(t *rules.Table) {
	const more = 4_097
	for len(t.Rows) < more {
		r := t.Rows[0]
		r.ID = fmt.Sprintf("row-%d", len(t.Rows))
		t.Rows = append(t.Rows, r)
	}
}

// without is the table's cases but for those whose names hold one of the words.
func without(t *rules.Table, words ...string) []rules.Case {
	return slices.DeleteFunc(slices.Clone(t.Cases), func(c rules.Case) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(c.Name, w) })
	})
}

func caseOf(t *rules.Table, name string) int {
	return slices.IndexFunc(t.Cases, func(c rules.Case) bool { return c.Name == name })
}

func anyOrder(rows []rules.Row) []rules.Row {
	byID := map[string]rules.Row{}
	for _, r := range rows {
		byID[r.ID] = r
	}
	var ordered []rules.Row
	for _, r := range byID {
		ordered = append(ordered, r)
	}
	return ordered
}

// serveSeeded serves the seed with the fault of that name.
func serveSeeded(name string) { rulesdk.Main(func() rules.Table { return seedWith(name) }) }

func seedWith(fault string) rules.Table {
	t := seed(fault)
	seeded[fault](&t)
	return t
}
