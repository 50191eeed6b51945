package rules_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// hidden wraps an effect so that its kind reads as another.
type hidden struct{ rules.Effect }

func (hidden) Kind() rules.EffectKind { return rules.KindWarn }

// One case for each thing that can be wrong with a table: the fault is the only
// one, says where it is, and says what.
func TestEachFault(t *testing.T) {
	manifest := func(change func(*rules.Manifest)) func(*rules.Table) {
		return func(t *rules.Table) { change(&t.Manifest) }
	}
	first := func(change func(*rules.Row)) func(*rules.Table) {
		return func(t *rules.Table) { change(&t.Rows[0]) }
	}
	selector := func(change func(*rules.Selector)) func(*rules.Table) {
		return first(func(r *rules.Row) { change(&r.When) })
	}
	effect := func(e rules.Effect) func(*rules.Table) {
		return first(func(r *rules.Row) { r.Effect = e })
	}
	withCase := func(change func(*rules.Case)) func(*rules.Table) {
		return func(t *rules.Table) {
			t.Cases = []rules.Case{{Name: "plain", On: midsummer}}
			change(&t.Cases[0])
		}
	}
	lake := rules.AnyOf(rules.Lake)
	never := civil.Window{}
	cases := []struct {
		name   string
		change func(*rules.Table)
		where  string // empty: the manifest
		says   string
	}{
		{"id empty", manifest(func(m *rules.Manifest) { m.ID = "" }), "", "not a lower-case slug"},
		{"id in capitals", manifest(func(m *rules.Manifest) { m.ID = "Nation" }), "", "not a lower-case slug"},
		{"version blank", manifest(func(m *rules.Manifest) { m.Version = " " }), "", "version is empty"},
		{"title blank", manifest(func(m *rules.Manifest) { m.Title = "\t" }), "", "title is empty"},
		{"publisher empty", manifest(func(m *rules.Manifest) { m.Publisher = "" }), "", "publisher is empty"},
		{"layer not stated", manifest(func(m *rules.Manifest) { m.Layer = 0 }), "", "layer is not stated"},
		{"layer unknown", manifest(func(m *rules.Manifest) { m.Layer = 99 }), "", "layer is not stated"},
		{"scope no place", manifest(func(m *rules.Manifest) { m.Scope = "us/" }), "", "is not a place"},
		{"valid-from missing", manifest(func(m *rules.Manifest) { m.ValidFrom = 0 }), "", "valid-from is missing"},
		{"valid-to before valid-from", manifest(func(m *rules.Manifest) { m.ValidTo = m.ValidFrom - 1 }), "", "lies before"},
		{"no rows", func(t *rules.Table) { t.Rows = nil }, "", "needs 1 to"},
		{"too many rows", func(t *rules.Table) {
			for i := range 4_096 {
				t.Rows = append(t.Rows, row(fmt.Sprintf("row-%d", i), rules.Prohibit{}))
			}
		}, "", "has 4097 rows"},
		{"too many cases", func(t *rules.Table) {
			t.Cases = slices.Repeat([]rules.Case{{Name: "plain", On: midsummer}}, 4_097)
		}, "", "has 4097 worked cases"},

		{"row id", first(func(r *rules.Row) { r.ID = "Not a slug" }), "row 1", "not a lower-case slug"},
		{"row id twice", func(t *rules.Table) { t.Rows = append(t.Rows, t.Rows[0]) }, "caution", "used twice"},
		{"purpose no sentence", first(func(r *rules.Row) { r.Purpose = "Keep away from water" }), "caution", "ends in a full stop"},
		{"purpose too short", first(func(r *rules.Row) { r.Purpose = "Rule." }), "caution", "one sentence"},
		{"citation blank", first(func(r *rules.Row) { r.Citation = "  " }), "caution", "citation is empty"},
		{"row valid-from missing", first(func(r *rules.Row) { r.ValidFrom = 0 }), "caution", "valid-from is missing"},
		{"row valid-to early", first(func(r *rules.Row) { r.ValidTo = r.ValidFrom - 1 }), "caution", "lies before"},

		{"selector word unknown", selector(func(s *rules.Selector) { s.Methods = 1 << 30 }), "caution", "methods holds a word"},
		{"selector not-stated word", selector(func(s *rules.Selector) { s.Soil = rules.AnyOf[rules.SoilState](0) }), "caution", "soil holds a word"},
		{"species empty", selector(func(s *rules.Selector) { s.Species = []string{""} }), "caution", "stray spaces"},
		{"species with a stray space", selector(func(s *rules.Selector) { s.Species = []string{"Ailanthus  altissima"} }), "caution", "stray spaces"},
		{"active with a stray space", selector(func(s *rules.Selector) { s.Actives = []string{"triclopyr "} }), "caution", "stray spaces"},
		{"measure unknown", selector(func(s *rules.Selector) { s.Ranges = []rules.Range{rules.AtLeast(99, 0)} }), "caution", "about a measure"},
		{"range upside down", selector(func(s *rules.Selector) { s.Ranges = []rules.Range{{Of: rules.Slope, Min: 2, Max: 1}} }), "caution", "no value"},
		{"range of one open end", selector(func(s *rules.Selector) { s.Ranges = []rules.Range{{Of: rules.Slope, Min: 2, Max: 2, MaxOpen: true}} }), "caution", "no value"},
		{"range between neighbours", selector(func(s *rules.Selector) {
			s.Ranges = []rules.Range{{Of: rules.Slope, Min: 1, Max: 2, MinOpen: true, MaxOpen: true}}
		}), "caution", "no value"},
		{"range above everything", selector(func(s *rules.Selector) { s.Ranges = []rules.Range{rules.Above(rules.Slope, math.MaxInt64)} }), "caution", "no value"},
		{"range below everything", selector(func(s *rules.Selector) { s.Ranges = []rules.Range{rules.Below(rules.Slope, math.MinInt64)} }), "caution", "no value"},
		{"ranges that exclude each other", selector(func(s *rules.Selector) {
			s.Ranges = []rules.Range{rules.AtLeast(rules.Slope, 5), rules.AtMost(rules.Diameter, 1), rules.Below(rules.Slope, 5)}
		}), "caution", "no value lies in both slope_permille >= 5 and slope_permille < 5"},
		{"season by more than species", first(func(r *rules.Row) {
			r.Effect = rules.InSeason{Season: rules.Dormant, During: window(time.December, 1, time.March, 1)}
			r.When.LandUses = rules.AnyOf(rules.Forest)
		}), "caution", "species alone"},

		{"no effect", effect(nil), "caution", "effect is missing"},
		{"pointer to an effect", effect(&rules.Prohibit{}), "caution", "effect is missing"},
		{"pointer to no effect", effect((*rules.Buffer)(nil)), "caution", "effect is missing"},
		{"effect hidden in another type", effect(hidden{rules.Prohibit{}}), "caution", "effect is missing"},
		{"buffer of no water", effect(rules.Buffer{Distance: 1, From: rules.WaterEdge}), "caution", "water names no class"},
		{"buffer of an unknown water", effect(rules.Buffer{Water: 1 << 20, Distance: 1, From: rules.WaterEdge}), "caution", "water names no class"},
		{"buffer of no width", effect(rules.Buffer{Water: lake, From: rules.WaterEdge}), "caution", "not above 0"},
		{"buffer too wide", effect(rules.Buffer{Water: lake, Distance: 50*quantity.Mile + 1, From: rules.WaterEdge}), "caution", "at most 50 miles"},
		{"buffer from nowhere", effect(rules.Buffer{Water: lake, Distance: 1}), "caution", "where the distance starts"},
		{"window of no days", effect(rules.Window{Open: never}), "caution", "not a part of the year"},
		{"season of no days", effect(rules.InSeason{Season: rules.Dormant, During: never}), "caution", "not a part of the year"},
		{"season unknown", effect(rules.InSeason{Season: 9, During: window(time.March, 1, time.May, 1)}), "caution", "season is not one of"},
		{"cap on nothing", effect(rules.Cap{Rate: 1}), "caution", "not a name"},
		{"cap of zero", effect(rules.Cap{Active: "triclopyr"}), "caution", "not above 0"},
		{"cap beyond sense", effect(rules.Cap{Active: "triclopyr", Rate: quantity.PoundsPerAcre(100) + 1}), "caution", "at most 100"},
		{"standing unknown", effect(rules.RequireStanding{}), "caution", "standing is not one of"},
		{"permit from nobody", effect(rules.Permit{Name: "a permit"}), "caution", "who gives it"},
		{"notice to nobody", effect(rules.Notice{MinDays: 1}), "caution", "who is told"},
		{"notice after the day", effect(rules.Notice{To: "neighbours", MinDays: -1}), "caution", "days before is not"},
		{"notice with no day left", effect(rules.Notice{To: "neighbours", MinDays: 5, MaxDays: 4}), "caution", "lies after the latest"},
		{"notice over less than nothing", effect(rules.Notice{To: "neighbours", Within: -1}), "caution", "below zero"},
		{"sign that says nothing", effect(rules.Posting{}), "caution", "what the sign says"},
		{"signs less than nothing apart", effect(rules.Posting{Says: "keep out", Every: -1}), "caution", "below zero"},
		{"weather factor unknown", effect(rules.WeatherLimit{HasMax: true}), "caution", "factor is not one of"},
		{"weather without a limit", effect(rules.WeatherLimit{Factor: rules.WindSpeed}), "caution", "neither a lower nor"},
		{"weather limit no number", effect(rules.WeatherLimit{Factor: rules.WindSpeed, Max: math.NaN(), HasMax: true}), "caution", "not a finite number"},
		{"weather limit without end", effect(rules.WeatherLimit{Factor: rules.WindSpeed, Max: math.Inf(1), HasMax: true}), "caution", "not a finite number"},
		{"weather limits crossed", effect(rules.WeatherLimit{Factor: rules.WindSpeed, Min: 3, Max: 2, HasMin: true, HasMax: true}), "caution", "lies above the upper"},
		{"record of nothing", effect(rules.Record{}), "caution", "what is recorded"},
		{"record never due", effect(rules.Record{Fields: []string{"date"}, WithinDays: -1}), "caution", "out of range"},
		{"entry interval of nothing", effect(rules.EntryInterval{}), "caution", "not 1 to 8760"},
		{"exclusion zone beyond sense", effect(rules.ExclusionZone{Radius: quantity.Mile + 1}), "caution", "0 to one mile"},
		{"warning that says nothing", effect(rules.Warn{}), "caution", "says nothing"},

		{"case without a name", withCase(func(c *rules.Case) { c.Name = "" }), "case ", "has no name"},
		{"case without a date", withCase(func(c *rules.Case) { c.On = 0 }), "case plain", "its date is unknown"},
		{"case before the set is law", withCase(func(c *rules.Case) { c.On = lawFrom - 1 }), "case plain", "a day on which it decides"},
		{"case that wants no decision", withCase(func(c *rules.Case) { c.Want = 4 }), "case plain", "not a decision"},
		{"case by a row that is not there", withCase(func(c *rules.Case) { c.By = []string{"ban"} }), "case plain", "not in the table"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			table := validTable()
			c.change(&table)
			faults := rules.Validate(&table)
			require.Len(t, faults, 1, "%v", faults)
			assert.Equal(t, c.where, faults[0].Row)
			assert.Contains(t, faults[0].Problem, c.says)
			set, err := rules.NewSet(table)
			assert.Nil(t, set)
			assert.ErrorContains(t, err, c.says)
		})
	}
}

func TestNothingIsWrongWithAValidTable(t *testing.T) {
	table := validTable(fullRows()...)
	assert.Empty(t, rules.Validate(&table))
}

// Every fault is told at once, each on its line.
func TestAllFaultsAtOnce(t *testing.T) {
	broken := rules.Table{Rows: []rules.Row{{}, {Effect: rules.Buffer{}}}, Cases: []rules.Case{{}}}
	faults := rules.Validate(&broken)
	var manifest, rows, cases int
	for _, f := range faults {
		switch {
		case f.Row == "":
			manifest++
		case strings.HasPrefix(f.Row, "row "):
			rows++
		default:
			cases++
		}
	}
	assert.Equal(t, 7, manifest, "id, version, title, publisher, layer, scope, valid-from: %v", faults)
	assert.Equal(t, 13, rows, "twice id, purpose, citation, valid-from, and one effect, one id twice, three of the buffer: %v", faults)
	assert.Equal(t, 2, cases, "name and date: %v", faults)
	_, err := rules.NewSet(broken)
	var all rules.Faults
	require.ErrorAs(t, err, &all)
	assert.Equal(t, faults, all)
	assert.Len(t, strings.Split(err.Error(), "\n"), len(faults))
	assert.Contains(t, err.Error(), "manifest: ")
}
