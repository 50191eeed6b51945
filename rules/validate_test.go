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
	lake, school := rules.AnyOf(rules.Lake), rules.AnyOf(rules.School)
	reduced := func(from, to quantity.Micrometres, evidence string) rules.Buffer {
		r := rules.Reduction{Distance: to, Evidence: evidence, DecidedBy: "the district", RecordField: "reduction"}
		return rules.Buffer{Water: lake, Distance: from, From: rules.WaterEdge, Reduction: r}
	}
	superseding := func(end civil.Date) func(*rules.Table) {
		return func(t *rules.Table) {
			old := row("old", rules.Warn{Message: "take care"})
			old.ValidTo = end
			t.Rows[0].Supersedes = []string{"old"}
			t.Rows = append(t.Rows, old)
		}
	}
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
		{"federal law of a state", manifest(func(m *rules.Manifest) { m.Scope = "us/velmora" }), "", "no place of the layer federal"},
		{"state law of a nation", manifest(func(m *rules.Manifest) { m.Layer = rules.State }), "", "no place of the layer state"},
		{"state law of a district", manifest(func(m *rules.Manifest) { m.Layer, m.Scope = rules.State, creek }), "", "no place of the layer state"},
		{"district law of a state", manifest(func(m *rules.Manifest) { m.Layer, m.Scope = rules.District, "us/velmora" }), "", "no place of the layer district"},
		{"an owner of a state", manifest(func(m *rules.Manifest) { m.Layer, m.Scope = rules.Owner, "us/velmora" }), "", "no place of the layer owner"},
		{"scope no place", manifest(func(m *rules.Manifest) { m.Scope = "us/" }), "", "is not a place"},
		{"valid-from missing", manifest(func(m *rules.Manifest) { m.ValidFrom = 0 }), "", "valid-from is missing"},
		{"valid-to before valid-from", manifest(func(m *rules.Manifest) { m.ValidTo = m.ValidFrom - 1 }), "", "lies before"},
		{"review-by before valid-from", manifest(func(m *rules.Manifest) { m.ReviewBy = m.ValidFrom - 1 }), "", "lies before valid-from"},
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
		{"range without an end", selector(func(s *rules.Selector) {
			s.Ranges = []rules.Range{{Of: rules.Slope, Min: math.MinInt64, Max: math.MaxInt64}}
		}), "caution", "states neither end"},
		{"exception of a range without an end", first(func(r *rules.Row) {
			r.Unless = []rules.Selector{{Ranges: []rules.Range{{Of: rules.Slope, Min: math.MinInt64, Max: math.MaxInt64}}}}
		}), "caution", "exception 1: a range of slope_permille states neither end"},
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

		{"exception that excepts everything", first(func(r *rules.Row) { r.Unless = []rules.Selector{{}} }), "caution", "exception 1 states nothing"},
		{"exception with an unknown word", first(func(r *rules.Row) {
			r.Unless = []rules.Selector{{DriftControl: rules.AnyOf(rules.DriftApproved)}, {DriftControl: 1 << 9}}
		}), "caution", "exception 2: the selector's drift control"},
		{"exceptions beyond sense", first(func(r *rules.Row) {
			r.Unless = slices.Repeat([]rules.Selector{{Soil: rules.AnyOf(rules.SoilDry)}}, 65)
		}), "caution", "has 65 exceptions"},
		{"during no part of the year", first(func(r *rules.Row) { r.During = window(time.April, 31, time.May, 1) }), "caution", "not a part of the year"},
		{"during half a part of the year", first(func(r *rules.Row) { r.During.From = civil.DayOfYear{Month: time.May, Day: 1} }), "caution", "not a part of the year"},
		{"during all the year", first(func(r *rules.Row) { r.During = window(time.April, 1, time.March, 31) }), "caution", "all of the year"},
		{"season within a season", first(func(r *rules.Row) {
			r.Effect = rules.InSeason{Season: rules.Dormant, During: window(time.December, 1, time.March, 1)}
			r.During = window(time.December, 1, time.March, 1)
		}), "caution", "species alone"},
		{"season with an exception", first(func(r *rules.Row) {
			r.Effect = rules.InSeason{Season: rules.Dormant, During: window(time.December, 1, time.March, 1)}
			r.Unless = []rules.Selector{{Species: []string{"Morus alba"}}}
		}), "caution", "species alone"},
		{"supersedes no id", first(func(r *rules.Row) { r.Supersedes = []string{"The old one"} }), "caution", "not the id of a row"},
		{"supersedes itself", first(func(r *rules.Row) { r.Supersedes = []string{"caution"} }), "caution", "supersedes itself"},
		{"supersedes a row without end", superseding(0), "caution", "is law until no stated end"},
		{"supersedes a row that ends on its first day", superseding(lawFrom), "caution", "is law until " + lawFrom.String()},

		{"no effect", effect(nil), "caution", "effect is missing"},
		{"pointer to an effect", effect(&rules.Prohibit{}), "caution", "effect is missing"},
		{"pointer to no effect", effect((*rules.Buffer)(nil)), "caution", "effect is missing"},
		{"effect hidden in another type", effect(hidden{rules.Prohibit{}}), "caution", "effect is missing"},
		{"buffer of no water", effect(rules.Buffer{Distance: 1, From: rules.WaterEdge}), "caution", "water names no class"},
		{"buffer of an unknown water", effect(rules.Buffer{Water: 1 << 20, Distance: 1, From: rules.WaterEdge}), "caution", "water names no class"},
		{"buffer of no width", effect(rules.Buffer{Water: lake, From: rules.WaterEdge}), "caution", "not above 0"},
		{"buffer too wide", effect(rules.Buffer{Water: lake, Distance: 50*quantity.Mile + 1, From: rules.WaterEdge}), "caution", "at most 50 miles"},
		{"buffer from nowhere", effect(rules.Buffer{Water: lake, Distance: 1}), "caution", "where the distance starts"},
		{"buffer of an unknown activity", effect(rules.Buffer{Water: lake, Distance: 1, From: rules.WaterEdge, Activity: 9}), "caution", "activity is not one of apply, mix_and_load"},
		{"buffer along nothing", effect(rules.Buffer{Water: lake, Distance: 1, From: rules.WaterEdge, Along: 9}), "caution", "along one of horizontal, slope"},
		{"buffer that is not reduced", effect(reduced(10, 10, "a survey")), "caution", "to less than 10"},
		{"buffer reduced to a distance that is not stated", effect(reduced(10, 0, "a survey")), "caution", "0 µm is not 1"},
		{"buffer reduced below nothing", effect(reduced(10, -1, "a survey")), "caution", "to less than 10"},
		{"buffer reduced for no reason", effect(reduced(10, 5, " ")), "caution", "name the evidence"},
		{"allowance to the water's edge", effect(rules.Buffer{Water: lake, Distance: 1, From: rules.WaterEdge, Allowance: rules.Allowance{Distance: 1, Basis: "a survey"}}), "caution", "an allowance makes up for"},
		{"allowance of nothing", effect(rules.Buffer{Water: lake, Distance: 1, From: rules.BankTop, Allowance: rules.Allowance{Basis: "a survey"}}), "caution", "allowance 0 µm is not above 0"},
		{"allowance below nothing", effect(rules.Buffer{Water: lake, Distance: 1, From: rules.BankTop, Allowance: rules.Allowance{Distance: -1, Basis: "a survey"}}), "caution", "allowance -1 µm is not above 0"},
		{"allowance that rests on nothing", effect(rules.Buffer{Water: lake, Distance: 1, From: rules.BankTop, Allowance: rules.Allowance{Distance: 1, Basis: " "}}), "caution", "what the allowance rests on"},
		{"setback from nothing", effect(rules.Setback{Distance: 1}), "caution", "places names no class"},
		{"setback from an unknown place", effect(rules.Setback{Places: 1 << 30, Distance: 1}), "caution", "places names no class"},
		{"setback of no width", effect(rules.Setback{Places: school}), "caution", "not above 0"},
		{"setback too wide", effect(rules.Setback{Places: school, Distance: 50*quantity.Mile + 1}), "caution", "at most 50 miles"},
		{"setback in no hours", effect(rules.Setback{Places: school, Distance: 1, Hours: rules.ClockHours{From: 60, To: 60}}), "caution", "no part of the day"},
		{"no hours", effect(rules.DailyHours{}), "caution", "no part of the day"},
		{"all hours", effect(rules.DailyHours{Open: rules.ClockHours{To: 1440, ToAnchor: rules.Midnight}}), "caution", "the whole day"},
		{"hours that end as they begin", effect(rules.DailyHours{Open: rules.ClockHours{From: 1440}}), "caution", "no part of the day"},
		{"hours before midnight", effect(rules.DailyHours{Open: rules.ClockHours{From: -1, To: 60}}), "caution", "are no time"},
		{"hours long after sunset", effect(rules.DailyHours{Open: rules.ClockHours{To: 721, ToAnchor: rules.Sunset}}), "caution", "are no time"},
		{"hours from an unknown anchor", effect(rules.DailyHours{Open: rules.ClockHours{To: 60, ToAnchor: 9}}), "caution", "are no time"},
		{"threshold of nothing", effect(rules.UseThreshold{RepeatsCounted: rules.Yes, Then: "file"}), "caution", "either an area or a length"},
		{"threshold of both", effect(rules.UseThreshold{Area: 1, Length: 1, RepeatsCounted: rules.Yes, Then: "file"}), "caution", "either an area or a length"},
		{"threshold below zero", effect(rules.UseThreshold{Area: 1, Length: -1, RepeatsCounted: rules.Yes, Then: "file"}), "caution", "either an area or a length"},
		{"threshold with repeats open", effect(rules.UseThreshold{Area: 1, Then: "file"}), "caution", "counts again"},
		{"threshold of area on banks", effect(rules.UseThreshold{Area: 1, RepeatsCounted: rules.Yes, BothBanks: rules.Yes, Then: "file"}), "caution", "length of shore alone"},
		{"threshold of one shore area", effect(rules.UseThreshold{Length: 1, RepeatsCounted: rules.Yes, SingleArea: true, Then: "file"}), "caution", "one area alone"},
		{"threshold without a consequence", effect(rules.UseThreshold{Area: 1, RepeatsCounted: rules.Yes}), "caution", "beyond the limit"},
		{"lookup of nothing", effect(rules.Lookup{Then: "tell"}), "caution", "name the register"},
		{"lookup without a consequence", effect(rules.Lookup{Register: "the register"}), "caution", "what to do about an entry"},
		{"lookup afterwards", effect(rules.Lookup{Register: "the register", Then: "tell", MaxDays: -1}), "caution", "days before is not"},
		{"lookup over less than nothing", effect(rules.Lookup{Register: "the register", Then: "tell", Within: -1}), "caution", "0 to 50 miles"},
		{"computed by nothing", effect(rules.Computed{Needs: rules.AnyOf(rules.FactPosition)}), "caution", "method is not named"},
		{"computed from nothing", effect(rules.Computed{Method: "degree days"}), "caution", "which facts of a site"},
		{"computed from an unknown fact", effect(rules.Computed{Method: "degree days", Needs: 1 << 9}), "caution", "position, elevation, temperatures"},
		{"cap over nothing", effect(rules.Cap{Active: "triclopyr", Rate: 1, Over: 9}), "caution", "treated, site, parcel"},
		{"cap with repeats of an unknown word", effect(rules.Cap{Active: "triclopyr", Rate: 1, RepeatsCounted: 9}), "caution", "neither yes nor no"},
		{"standing of an unknown category", effect(rules.RequireStanding{AtLeast: rules.Certified, Categories: 1 << 20}), "caution", "categories holds a word"},
		{"standing with less than nobody", effect(rules.RequireStanding{AtLeast: rules.Certified, MaxSupervised: -1}), "caution", "supervised is not 0"},
		{"permit of less than no years", effect(rules.Permit{Name: "a permit", From: "the district", ValidYears: -1}), "caution", "years is not 0"},
		{"notice in a language without a name", effect(rules.Notice{To: "neighbours", Languages: []string{"French", " "}}), "caution", "a language is empty"},
		{"sign of less than nothing", effect(rules.Posting{Says: "keep out", Width: -1}), "caution", "size is below zero"},
		{"weather of an unknown statistic", effect(rules.WeatherLimit{Factor: rules.WindSpeed, Max: 1, HasMax: true, Statistic: 9}), "caution", "reading, sustained_mean, gust"},
		{"weather over a day and more", effect(rules.WeatherLimit{Factor: rules.WindSpeed, Max: 1, HasMax: true, Statistic: rules.Gust, OverMinutes: 1_441}), "caution", "is not 0 to 1440"},
		{"a reading over time", effect(rules.WeatherLimit{Factor: rules.WindSpeed, Max: 1, HasMax: true, OverMinutes: 10}), "caution", "a single reading"},
		{"half an inversion too many", effect(rules.WeatherLimit{Factor: rules.Inversion, Max: 1.5, HasMax: true}), "caution", "between 0 and 1"},
		{"more than all humidity", effect(rules.WeatherLimit{Factor: rules.RelativeHumidity, Min: 101, HasMin: true}), "caution", "between 0 and 100"},
		{"record due twice", effect(rules.Record{Fields: []string{"date"}, WithinDays: 2, WithinHours: 48}), "caution", "state it once"},
		{"record due in less than no hours", effect(rules.Record{Fields: []string{"date"}, WithinHours: -1}), "caution", "hours is not 0"},
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
	for _, rows := range [][]rules.Row{fullRows(), everyRows()} {
		table := validTable(rows...)
		assert.Empty(t, rules.Validate(&table))
	}
	old, heir := row("old", rules.Warn{Message: "take care"}), row("heir", rules.Warn{Message: "take more care"})
	heir.ValidFrom, heir.Supersedes = midsummer, []string{"old", "of-an-earlier-version"}
	old.ValidTo = midsummer - 1
	table := validTable(old, heir)
	assert.Empty(t, rules.Validate(&table), "the old row ends the day before")
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
