package rules_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

const creek = "us/velmora/ossel-creek"

// lawOf is one set of one warning for each level of a place.
func lawOf(t *testing.T) (nation, state, district *rules.Set) {
	return setOf(t, "nation", rules.Federal, "us"), setOf(t, "velmora", rules.State, "us/velmora"), setOf(t, "ossel-creek", rules.District, creek)
}

// dated is a set of a layer with a first and a last day; an empty text is none.
func dated(t *testing.T, id, version string, layer rules.Layer, scope, from, to string) *rules.Set {
	table := validTable()
	m := &table.Manifest
	m.ID, m.Version, m.Layer, m.Scope, m.ValidFrom = id, version, layer, scope, day(t, from)
	m.ValidTo = day(t, to)
	return mustSet(t, table)
}

func day(t *testing.T, text string) civil.Date {
	if text == "" {
		return 0
	}
	d, err := civil.Parse(text)
	require.NoError(t, err)
	return d
}

func TestWhatGovernsAPlace(t *testing.T) {
	nation, state, district := lawOf(t)
	owner := setOf(t, "mill", rules.Owner, creek+"/mill")
	biology := func(scope string) *rules.Set { return setOf(t, "trees", rules.Biology, scope) }
	cases := []struct {
		name  string
		place string
		sets  []*rules.Set
		gaps  []string // the places for which law is wanting
		count int      // sets that govern
	}{
		{"every level covered", creek, []*rules.Set{nation, state, district}, nil, 3},
		{"a place higher up needs no lower law", "us/velmora", []*rules.Set{nation, state, district}, nil, 2},
		{"no set at all", creek, nil, []string{"us", "us/velmora", creek}, 0},
		{"district wanting", creek, []*rules.Set{nation, state}, []string{creek}, 2},
		{"nation wanting", creek, []*rules.Set{state, district}, []string{"us"}, 2},
		{"another state's law", "us/tessary", []*rules.Set{nation, state}, []string{"us/tessary"}, 1},
		{"a place that only begins alike", "us/velmora-north", []*rules.Set{nation, state}, []string{"us/velmora-north"}, 1},
		{"biology is no law of a nation", "us", []*rules.Set{biology("us")}, []string{"us"}, 1},
		{"biology beside the law", "us", []*rules.Set{biology("us"), nation}, nil, 2},
		{"an owner does not speak for the district", creek, []*rules.Set{nation, state, setOf(t, "mill", rules.Owner, creek)}, []string{creek}, 3},
		{"an owner speaks for the owner's ground", creek + "/mill", []*rules.Set{nation, state, district, owner}, nil, 4},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			g := rules.Govern(c.place, midsummer, c.sets)
			var places []string
			for _, gap := range g.Gaps {
				places = append(places, gap.Place)
				assert.Contains(t, gap.Reason, gap.Place)
				assert.Contains(t, gap.Reason, "activate")
			}
			assert.Equal(t, c.gaps, places)
			assert.Len(t, g.Sets, c.count)
			want := rules.Allowed
			if len(c.gaps) > 0 {
				want = rules.Undetermined
			}
			assert.Equal(t, want, g.Narrow(rules.Treatment{}).Decide(&rules.Surroundings{}))
		})
	}
}

func TestPlacesThatAreNone(t *testing.T) {
	nation, state, district := lawOf(t)
	for _, place := range []string{"", "/", "us/", "/us", "us//velmora", "US", "us/Velmora", "us/velmora ", " us", "us/-creek", "us/velmora/", "us\n", "us/velmöra", "1us", "us.velmora"} {
		t.Run(place, func(t *testing.T) {
			g := rules.Govern(place, midsummer, []*rules.Set{nation, state, district})
			require.Len(t, g.Gaps, 1)
			assert.Equal(t, place, g.Gaps[0].Place)
			assert.Contains(t, g.Gaps[0].Reason, "state where the stem stands")
			assert.Empty(t, g.Sets)
			assert.Equal(t, rules.Undetermined, g.Narrow(rules.Treatment{}).Decide(&rules.Surroundings{}))
		})
	}
}

func TestLevels(t *testing.T) {
	assert.Equal(t, []string{"us", "us/velmora", creek}, rules.Levels(creek))
	assert.Equal(t, []string{"us"}, rules.Levels("us"))
	assert.Empty(t, rules.Levels(""))
}

// A set that has run out is a gap even beside others of its place, until a
// version of it is in force again; one that is not yet law is not.
func TestSetsOutsideTheirDays(t *testing.T) {
	const from, to = "2025-01-01", "2025-07-10"
	other := setOf(t, "other", rules.Federal, "us")
	old := dated(t, "nation", "1", rules.Federal, "us", from, to)
	successor := dated(t, "nation", "2", rules.Federal, "us", "2025-07-11", "")
	late := dated(t, "nation", "2", rules.Federal, "us", "2025-08-01", "")
	cases := []struct {
		name string
		on   string
		sets []*rules.Set
		gap  string // part of the reason; empty for none
		used int
	}{
		{"last day", "2025-07-10", []*rules.Set{old}, "", 1},
		{"day after the last", "2025-07-11", []*rules.Set{old}, "from 2025-01-01 to 2025-07-10, not on 2025-07-11", 0},
		{"first day", "2025-01-01", []*rules.Set{old}, "", 1},
		{"day before the first", "2024-12-31", []*rules.Set{old}, "from 2025-01-01 to 2025-07-10, not on 2024-12-31", 0},
		{"without an end", "9999-12-31", []*rules.Set{successor}, "", 1},
		{"run out beside another that is in force", "2026-07-20", []*rules.Set{old, other}, "rule set nation 1", 1},
		{"run out, with a version in force", "2026-07-20", []*rules.Set{old, successor, other}, "", 2},
		{"run out, with a version still to come", "2025-07-20", []*rules.Set{old, late, other}, "rule set nation 1", 1},
		{"not yet law beside another that is", "2025-07-20", []*rules.Set{late, other}, "", 1},
		{"not yet law, alone", "2025-07-20", []*rules.Set{late}, "from 2025-08-01 to no stated end", 0},
		{"the day is not known", "", []*rules.Set{successor}, "not on unknown", 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			g := rules.Govern("us", day(t, c.on), c.sets)
			assert.Len(t, g.Sets, c.used)
			decision := g.Narrow(rules.Treatment{}).Decide(&rules.Surroundings{})
			if c.gap == "" {
				assert.Empty(t, g.Gaps)
				assert.Equal(t, rules.Allowed, decision)
				return
			}
			require.Len(t, g.Gaps, 1)
			assert.Contains(t, g.Gaps[0].Reason, c.gap)
			assert.Equal(t, rules.Undetermined, decision)
		})
	}
}

func TestRowsOutsideTheirDays(t *testing.T) {
	r := row("ban", rules.Prohibit{})
	r.ValidFrom, r.ValidTo = civil.Of(2025, time.March, 1), civil.Of(2025, time.July, 10)
	set := mustSet(t, validTable(r))
	for on, want := range map[string]rules.Decision{
		"2025-02-28": rules.Allowed, "2025-03-01": rules.Prohibited, "2025-07-10": rules.Prohibited, "2025-07-11": rules.Allowed,
	} {
		g := rules.Govern("us", day(t, on), []*rules.Set{set})
		assert.Equal(t, want, g.Narrow(rules.Treatment{}).Decide(&rules.Surroundings{}), on)
	}
}

// The strictest of all layers decides; a gap does not hide a prohibition.
func TestLayersDecideTogether(t *testing.T) {
	nation, _, _ := lawOf(t)
	permit := setOf(t, "velmora", rules.State, "us/velmora", row("permit", rules.Permit{Name: "a permit", From: "the state"}))
	ban := setOf(t, "ossel-creek", rules.District, creek, row("ban", rules.Prohibit{}))
	cases := []struct {
		name string
		sets []*rules.Set
		want rules.Decision
	}{
		{"nation and state", []*rules.Set{nation, permit, setOf(t, "ossel-creek", rules.District, creek)}, rules.Conditional},
		{"the district forbids", []*rules.Set{nation, permit, ban}, rules.Prohibited},
		{"the district forbids, the state is wanting", []*rules.Set{nation, ban}, rules.Prohibited},
		{"the state asks, the district is wanting", []*rules.Set{nation, permit}, rules.Undetermined},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			g := rules.Govern(creek, midsummer, c.sets)
			assert.Equal(t, c.want, g.Narrow(rules.Treatment{}).Decide(&rules.Surroundings{}))
		})
	}
}

// Findings come in the order of the layers, then of ids.
func TestFindingsAreInOrder(t *testing.T) {
	district := setOf(t, "ossel-creek", rules.District, creek, row("b", rules.Warn{Message: "b"}), row("a", rules.Warn{Message: "a"}))
	state := setOf(t, "velmora", rules.State, "us/velmora", row("z", rules.Warn{Message: "z"}))
	trees := setOf(t, "trees", rules.Biology, creek, row("y", rules.Warn{Message: "y"}))
	nation, _, _ := lawOf(t)
	g := rules.Govern(creek, midsummer, []*rules.Set{district, nation, trees, state})
	var order []string
	for _, f := range g.Narrow(rules.Treatment{}).Explain(&rules.Surroundings{}) {
		order = append(order, f.Set.ID+" "+f.Row.ID)
		assert.True(t, f.Certain)
		assert.Empty(t, f.Missing)
	}
	assert.Equal(t, "trees y, nation caution, velmora z, ossel-creek a, ossel-creek b", strings.Join(order, ", "))
}

func TestSeasons(t *testing.T) {
	season := func(id string, s rules.Season, w civil.Window, species ...string) rules.Row {
		return when(id, rules.Selector{Species: species}, rules.InSeason{Season: s, During: w})
	}
	summer, autumn := window(time.June, 1, time.August, 31), window(time.August, 1, time.October, 31)
	cases := []struct {
		name    string
		rows    []rules.Row
		species string
		want    rules.Season
	}{
		{"one tells", []rules.Row{season("a", rules.Growing, summer)}, "Morus alba", rules.Growing},
		{"none tells of this species", []rules.Row{season("a", rules.Growing, summer, "Ailanthus altissima")}, "Morus alba", 0},
		{"none tells of this day", []rules.Row{season("a", rules.Dormant, window(time.November, 1, time.March, 31))}, "Morus alba", 0},
		{"two agree", []rules.Row{season("a", rules.Growing, summer), season("b", rules.Growing, autumn)}, "Morus alba", rules.Growing},
		{"two differ", []rules.Row{season("a", rules.Growing, summer), season("b", rules.Translocation, autumn)}, "Morus alba", 0},
		{"the other is about another species", []rules.Row{season("a", rules.Growing, summer), season("b", rules.Translocation, autumn, "Ailanthus altissima")}, "Morus alba", rules.Growing},
		{"the species is not known, and the row asks for it", []rules.Row{season("a", rules.Growing, summer, "Ailanthus altissima")}, "", 0},
		{"the species is not known, and one row would ask", []rules.Row{season("a", rules.Growing, summer), season("b", rules.Translocation, autumn, "Ailanthus altissima")}, "", 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			g := rules.Govern("us", midsummer, []*rules.Set{mustSet(t, validTable(c.rows...))})
			got, known := g.SeasonOn(civil.Of(2026, time.August, 15), c.species)
			assert.Equal(t, c.want, got)
			assert.Equal(t, c.want != 0, known)
		})
	}
}

func TestCapsAndWindows(t *testing.T) {
	capOf := func(id string, active string, pounds float64) rules.Row {
		return row(id, rules.Cap{Active: active, Rate: quantity.PoundsPerAcre(pounds)})
	}
	maybe := capOf("b", "Triclopyr", 2)
	maybe.When.LandUses = rules.AnyOf(rules.GrazedPasture)
	open := window(time.July, 1, time.August, 31)
	n := narrow(t, rules.Treatment{}, capOf("a", "triclopyr", 8), maybe, capOf("c", "imazapyr", 1.5),
		row("d", rules.Window{Open: open}), when("e", rules.Selector{Soil: rules.AnyOf(rules.SoilFrozen)}, rules.Window{Open: open}))

	rate, by := n.Cap(&rules.Surroundings{}, "triclopyr", false)
	require.NotNil(t, by)
	assert.Equal(t, "b", by.ID, "a limit that may hold counts")
	assert.Equal(t, quantity.PoundsPerAcre(2), rate)
	rate, by = n.Cap(&rules.Surroundings{}, "picloram", false)
	assert.Nil(t, by)
	assert.Zero(t, rate)

	assert.Len(t, n.Windows(&rules.Surroundings{}), 2)
	assert.Len(t, n.Windows(&rules.Surroundings{Soil: rules.SoilMoist}), 1)
}
