package rules_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// What two layers ask for of one kind: the nation's row is "a", the state's "b".
func TestConflicts(t *testing.T) {
	lake, school := rules.AnyOf(rules.Lake), rules.AnyOf(rules.School)
	near := func(d quantity.Micrometres, from rules.DistanceOrigin) rules.Buffer {
		return rules.Buffer{Water: lake, Distance: d, From: from}
	}
	well := rules.Buffer{Water: rules.AnyOf(rules.Well), Distance: 9, From: rules.WaterEdge}
	mixing := near(90, rules.WaterEdge)
	mixing.Activity = rules.MixAndLoad
	wet := near(90, rules.WaterEdge)
	wet.WhileWet = true
	reducible := near(90, rules.WaterEdge)
	reducible.Reduction = rules.Reduction{Distance: 10, Evidence: "a survey", DecidedBy: "the district", RecordField: "reduction"}
	madeUp := near(30, rules.BankTop)
	madeUp.Allowance = rules.Allowance{Distance: 5, Basis: "a survey"}
	open := func(fromMonth time.Month, fromDay int, toMonth time.Month, toDay int) rules.Window {
		return rules.Window{Open: window(fromMonth, fromDay, toMonth, toDay)}
	}
	notice := func(to string, least, most int) rules.Notice {
		return rules.Notice{To: to, MinDays: least, MaxDays: most}
	}
	wind := func(most float64) rules.WeatherLimit {
		return rules.WeatherLimit{Factor: rules.WindSpeed, Max: most, HasMax: true}
	}
	hours := func(from, to int) rules.DailyHours {
		return rules.DailyHours{Open: rules.ClockHours{From: from, To: to}}
	}
	cases := []struct {
		name  string
		a, b  rules.Effect
		holds string // "": no conflict; "both"; "none"
	}{
		{"the same buffer", near(30, rules.WaterEdge), near(30, rules.WaterEdge), ""},
		{"a wider buffer", near(30, rules.WaterEdge), near(31, rules.WaterEdge), "b"},
		{"a buffer from farther inland", near(30, rules.BankTop), near(30, rules.WaterEdge), "a"},
		{"wider, and from farther inland", near(31, rules.WaterEdge), near(30, rules.BankTop), "both"},
		{"as wide, with an allowance", near(30, rules.BankTop), madeUp, "a"},
		{"wider, without an allowance", near(31, rules.BankTop), madeUp, "a"},
		{"narrower, without an allowance", near(29, rules.BankTop), madeUp, "both"},
		{"from farther inland, with an allowance", near(30, rules.WaterEdge), madeUp, "b"},
		{"of other water", near(30, rules.WaterEdge), well, ""},
		{"of mixing", near(30, rules.WaterEdge), mixing, ""},
		{"wider, while wet", near(30, rules.WaterEdge), wet, "both"},
		{"wider, but reducible", near(30, rules.WaterEdge), reducible, "both"},
		{"as wide, but reducible", near(90, rules.WaterEdge), reducible, "a"},
		{"a narrower window", open(time.July, 1, time.October, 1), open(time.August, 1, time.September, 1), "b"},
		{"windows that overlap", open(time.July, 1, time.September, 1), open(time.August, 1, time.October, 1), "both"},
		{"windows that meet on one day", open(time.July, 1, time.August, 1), open(time.August, 1, time.October, 1), "both"},
		{"windows with no common day", open(time.July, 1, time.July, 31), open(time.August, 1, time.October, 1), "none"},
		{"windows that wrap, with no common day", open(time.November, 1, time.February, 28), open(time.March, 1, time.October, 31), "none"},
		{"the same window", open(time.July, 1, time.July, 31), open(time.July, 1, time.July, 31), ""},
		{"a lower cap", rules.Cap{Active: "triclopyr", Rate: 9}, rules.Cap{Active: "Triclopyr", Rate: 8}, "b"},
		{"a lower cap over more ground", rules.Cap{Active: "triclopyr", Rate: 9}, rules.Cap{Active: "triclopyr", Rate: 8, Over: rules.OverParcel}, "both"},
		{"caps of other actives", rules.Cap{Active: "triclopyr", Rate: 9}, rules.Cap{Active: "imazapyr", Rate: 8}, ""},
		{"a longer entry interval", rules.EntryInterval{Hours: 48}, rules.EntryInterval{Hours: 12}, "a"},
		{"a wider exclusion zone", rules.ExclusionZone{Radius: 1}, rules.ExclusionZone{Radius: 2}, "b"},
		{"a narrower lead time", notice("neighbours", 3, 60), notice("neighbours", 14, 30), "b"},
		{"lead times that overlap", notice("neighbours", 3, 20), notice("Neighbours", 14, 30), "both"},
		{"no day for one notice", notice("neighbours", 14, 30), notice("neighbours", 4, 10), "both"},
		{"no day for one notice to two", notice("neighbours", 14, 0), notice("the minister", 4, 10), "both"},
		{"a day for notices to two", notice("neighbours", 3, 20), notice("the minister", 14, 30), ""},
		{"a higher standing", rules.RequireStanding{AtLeast: rules.Supervised}, rules.RequireStanding{AtLeast: rules.Certified}, "b"},
		{"other categories", rules.RequireStanding{AtLeast: rules.Certified, Categories: rules.AnyOf(rules.CertifiedForest)},
			rules.RequireStanding{AtLeast: rules.Certified, Categories: rules.AnyOf(rules.CertifiedAquatic)}, "both"},
		{"less wind", wind(10), wind(7), "b"},
		{"winds that nothing meets", wind(3), rules.WeatherLimit{Factor: rules.WindSpeed, Min: 4, HasMin: true}, "none"},
		{"gusts and winds", wind(3), rules.WeatherLimit{Factor: rules.WindSpeed, Max: 4, HasMax: true, Statistic: rules.Gust}, ""},
		{"a wider setback", rules.Setback{Places: school, Distance: 3}, rules.Setback{Places: school, Distance: 30}, "b"},
		{"a wider setback in hours", rules.Setback{Places: school, Distance: 3}, rules.Setback{Places: school, Distance: 30, Hours: rules.ClockHours{From: 1, To: 2}}, "both"},
		{"hours within hours", hours(300, 900), hours(360, 800), "b"},
		{"hours that touch", hours(300, 900), hours(900, 1_000), "none"},
		{"hours over midnight", hours(1_380, 300), hours(240, 360), "both"},
		{"hours from the sun", hours(300, 900), rules.DailyHours{Open: rules.ClockHours{FromAnchor: rules.Sunrise, ToAnchor: rules.Sunset}}, "both"},
		{"two kinds", rules.Prohibit{}, rules.EntryInterval{Hours: 1}, ""},
		{"two kinds, of time", open(time.July, 1, time.July, 31), hours(300, 900), ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			sets := []*rules.Set{setOf(t, "nation", rules.Federal, "us", row("a", c.a)), setOf(t, "velmora", rules.State, "us/velmora", row("b", c.b))}
			n := rules.Govern("us/velmora", midsummer, sets).Narrow(rules.Treatment{})
			conflicts := rules.Conflicts(n.Explain(&rules.Surroundings{}))
			if c.holds == "" {
				assert.Empty(t, conflicts)
				return
			}
			require.Len(t, conflicts, 1)
			got := conflicts[0]
			assert.Equal(t, c.holds == "both", got.Both)
			assert.Equal(t, c.holds == "none", got.Impossible)
			switch c.holds {
			case "both":
				assert.Contains(t, got.Text, "neither takes in the other")
			case "none":
				assert.Contains(t, got.Text, "nothing meets both")
			default:
				assert.Equal(t, c.holds, got.Holds.Row.ID)
				assert.Contains(t, got.Text, "/"+c.holds+" is the stricter and holds")
			}
			assert.Contains(t, got.Text, "nation/a asks: "+c.a.Text()+"; velmora/b asks: "+c.b.Text())
		})
	}
}

func TestRowsOfOneSetAreNoConflict(t *testing.T) {
	n := narrow(t, rules.Treatment{}, row("a", rules.EntryInterval{Hours: 12}), row("b", rules.EntryInterval{Hours: 48}))
	assert.Empty(t, rules.Conflicts(n.Explain(&rules.Surroundings{})))
}

// A wider buffer in a part of the year does not stand for a narrower one all year.
func TestConflictsInAPartOfTheYear(t *testing.T) {
	spring, autumn := window(time.March, 1, time.May, 31), window(time.September, 1, time.November, 30)
	year := window(time.January, 1, time.December, 31)
	cases := []struct {
		name          string
		narrow, wider civil.Window // in which the buffers apply
		holds         string
	}{
		{"the wider in spring", year, spring, "both"},
		{"the narrower in spring", spring, year, "b"},
		{"both in spring", spring, spring, "b"},
		{"the wider in spring and summer, the narrower in spring", spring, window(time.March, 1, time.August, 31), "b"},
		{"one in spring, one in autumn", spring, autumn, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			buffer := func(id string, d quantity.Micrometres, during civil.Window) rules.Row {
				r := when(id, rules.Selector{Soil: rules.AnyOf(rules.SoilDry)}, rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: d, From: rules.WaterEdge})
				if during != year {
					r.During = during
				}
				return r
			}
			sets := []*rules.Set{
				setOf(t, "nation", rules.Federal, "us", buffer("a", 30, c.narrow)), setOf(t, "velmora", rules.State, "us/velmora", buffer("b", 60, c.wider)),
			}
			conflicts := rules.Conflicts(rules.Govern("us/velmora", midsummer, sets).Narrow(rules.Treatment{}).Explain(&rules.Surroundings{}))
			if c.holds == "" {
				assert.Empty(t, conflicts)
				return
			}
			require.Len(t, conflicts, 1)
			assert.Equal(t, c.holds == "both", conflicts[0].Both)
			assert.Contains(t, conflicts[0].Text, ", if both apply, which is not known.", "nobody stated the soil")
		})
	}
}

// Whatever the stem, the row that holds is not looser than the other.
func TestTheRowThatHoldsIsNotLooser(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawEffect(t), drawEffect(t)
		table := func(id string, e rules.Effect) *rules.Set {
			table := validTable(row("row", e))
			table.Manifest.ID = id
			set, err := rules.NewSet(table)
			require.NoError(t, err)
			return set
		}
		treatment, site := drawStem(t)
		treatment.Granted = nil
		n := rules.Govern("us", midsummer, []*rules.Set{table("one", a), table("other", b)}).Narrow(treatment)
		findings := n.Explain(&site)
		for _, c := range rules.Conflicts(findings) {
			x, isBuffer := c.Holds.Row.Effect.(rules.Buffer)
			y, _ := c.Other.Row.Effect.(rules.Buffer)
			if isBuffer && x.Water != y.Water || c.Both || c.Impossible {
				continue // it holds on the waters that both name
			}
			if s, ok := c.Holds.Row.Effect.(rules.Setback); ok && s.Places != c.Other.Row.Effect.(rules.Setback).Places {
				continue
			}
			if c.Other.Decision == rules.Prohibited {
				assert.GreaterOrEqual(t, c.Holds.Decision, rules.Undetermined, c.Text)
			}
		}
	})
}
