package rules_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// compareRows compares two tables of one row each.
func compareRows(old, new rules.Row) rules.Comparison {
	a, b := validTable(old), validTable(new)
	return rules.Compare(&a, &b)
}

// Each pair is what asks for more and what asks for less.
func TestAnEffectThatAsksForLessMayLift(t *testing.T) {
	lake := rules.AnyOf(rules.Lake)
	buffer := func(change func(*rules.Buffer)) rules.Effect {
		b := rules.Buffer{Water: lake, Distance: 10 * quantity.Metre, From: rules.WaterEdge}
		change(&b)
		return b
	}
	same := buffer(func(*rules.Buffer) {})
	inland := func(a quantity.Micrometres) rules.Effect {
		return buffer(func(b *rules.Buffer) {
			if b.From = rules.BankTop; a > 0 {
				b.Allowance = rules.Allowance{Distance: a, Basis: "a survey"}
			}
		})
	}
	granted := rules.Reduction{Distance: 5 * quantity.Metre, Evidence: "a survey", DecidedBy: "the district", RecordField: "survey"}
	hours := func(from, to int) rules.ClockHours { return rules.ClockHours{From: from, To: to} }
	for name, c := range map[string]struct{ more, less rules.Effect }{
		"a ban":                   {rules.Prohibit{}, rules.Permit{Name: "a permit", From: "the state"}},
		"a ban for a distance":    {rules.Prohibit{}, same},
		"distance":                {buffer(func(b *rules.Buffer) { b.Distance++ }), same},
		"origin":                  {buffer(func(b *rules.Buffer) { b.From = rules.BankTop }), same},
		"waters":                  {buffer(func(b *rules.Buffer) { b.Water |= rules.AnyOf(rules.Well) }), same},
		"dry water":               {same, buffer(func(b *rules.Buffer) { b.WhileWet = true })},
		"reduction":               {same, buffer(func(b *rules.Buffer) { b.Reduction = granted })},
		"allowance":               {inland(0), inland(5)},
		"a smaller allowance":     {inland(6), inland(5)},
		"setback":                 {rules.Setback{Places: rules.AnyOf(rules.School), Distance: 2}, rules.Setback{Places: rules.AnyOf(rules.School), Distance: 1}},
		"places of a setback":     {rules.Setback{Places: rules.AnyOf(rules.School, rules.Apiary), Distance: 2}, rules.Setback{Places: rules.AnyOf(rules.School), Distance: 2}},
		"hours of a setback":      {rules.Setback{Places: rules.AnyOf(rules.School), Distance: 2}, rules.Setback{Places: rules.AnyOf(rules.School), Distance: 2, Hours: hours(420, 900)}},
		"window":                  {rules.Window{Open: window(time.July, 15, time.October, 15)}, rules.Window{Open: window(time.July, 14, time.October, 15)}},
		"cap":                     {rules.Cap{Active: "imazapyr", Rate: 1}, rules.Cap{Active: "Imazapyr", Rate: 2}},
		"standing":                {rules.RequireStanding{AtLeast: rules.Certified}, rules.RequireStanding{AtLeast: rules.Supervised}},
		"category":                {rules.RequireStanding{AtLeast: rules.Certified, Categories: 2}, rules.RequireStanding{AtLeast: rules.Certified, Categories: 6}},
		"entry interval":          {rules.EntryInterval{Hours: 12}, rules.EntryInterval{Hours: 11}},
		"zone":                    {rules.ExclusionZone{Radius: 2}, rules.ExclusionZone{}},
		"permit for longer":       {rules.Permit{Name: "p", From: "f", ValidYears: 1}, rules.Permit{Name: "p", From: "f", ValidYears: 5}},
		"lead of a notice":        {rules.Notice{To: "neighbours", MinDays: 7}, rules.Notice{To: "neighbours", MinDays: 2}},
		"notice within":           {rules.Notice{To: "neighbours", Within: 9}, rules.Notice{To: "neighbours", Within: 8}},
		"notice to all of them":   {rules.Notice{To: "neighbours"}, rules.Notice{To: "neighbours", Within: 9}},
		"languages of a notice":   {rules.Notice{To: "neighbours", Languages: []string{"en", "es"}}, rules.Notice{To: "neighbours", Languages: []string{"en"}}},
		"spacing of signs":        {rules.Posting{Says: "keep out", Every: 5}, rules.Posting{Says: "keep out", Every: 6}},
		"size of signs":           {rules.Posting{Says: "keep out", Width: 5}, rules.Posting{Says: "keep out", Width: 4}},
		"wind":                    {rules.WeatherLimit{Factor: rules.WindSpeed, Max: 10, HasMax: true}, rules.WeatherLimit{Factor: rules.WindSpeed, Max: 15, HasMax: true}},
		"record's fields":         {rules.Record{Fields: []string{"date", "rate"}}, rules.Record{Fields: []string{"date"}}},
		"record's deadline":       {rules.Record{Fields: []string{"date"}, WithinHours: 24}, rules.Record{Fields: []string{"date"}, WithinDays: 2}},
		"record's years":          {rules.Record{Fields: []string{"date"}, KeepYears: 3}, rules.Record{Fields: []string{"date"}, KeepYears: 2}},
		"hours of the day":        {rules.DailyHours{Open: hours(480, 960)}, rules.DailyHours{Open: hours(480, 961)}},
		"threshold":               {rules.UseThreshold{Area: 4, Then: "file a plan"}, rules.UseThreshold{Area: 5, Then: "file a plan"}},
		"register's distance":     {rules.Lookup{Register: "beehives", Within: 3, Then: "tell them"}, rules.Lookup{Register: "beehives", Within: 2, Then: "tell them"}},
		"how old a lookup may be": {rules.Lookup{Register: "beehives", Then: "tell them"}, rules.Lookup{Register: "beehives", MaxDays: 2, Then: "tell them"}},
		"to a warning":            {rules.EntryInterval{Hours: 1}, rules.Warn{Message: "take care"}},
	} {
		t.Run(name, func(t *testing.T) {
			weaker := compareRows(row("r", c.more), row("r", c.less))
			require.Len(t, weaker.Rows, 1)
			assert.Equal(t, []string{"effect"}, weaker.Rows[0].Parts)
			assert.True(t, weaker.Rows[0].MayLift)
			stricter := compareRows(row("r", c.less), row("r", c.more))
			require.Len(t, stricter.Rows, 1)
			assert.False(t, stricter.Rows[0].MayLift)
		})
	}
}

func TestARowThatAppliesToLessMayLift(t *testing.T) {
	all := row("r", rules.Prohibit{})
	with := func(change func(*rules.Row)) rules.Row {
		r := all
		change(&r)
		return r
	}
	for name, c := range map[string]struct {
		less rules.Row
		part string
	}{
		"species":     {with(func(r *rules.Row) { r.When.Species = []string{"Ailanthus altissima"} }), "when"},
		"method":      {with(func(r *rules.Row) { r.When.Methods = rules.AnyOf(rules.CutStump) }), "when"},
		"range":       {with(func(r *rules.Row) { r.When.Ranges = []rules.Range{rules.Above(rules.Slope, 300)} }), "when"},
		"exception":   {with(func(r *rules.Row) { r.Unless = []rules.Selector{{Soil: rules.AnyOf(rules.SoilDry)}} }), "unless"},
		"season":      {with(func(r *rules.Row) { r.During = window(time.May, 1, time.June, 1) }), "during"},
		"later":       {with(func(r *rules.Row) { r.ValidFrom++ }), "validity"},
		"to a day":    {with(func(r *rules.Row) { r.ValidTo = midsummer }), "validity"},
		"not at once": {with(func(r *rules.Row) { r.ValidFrom, r.ValidTo = r.ValidFrom+1, midsummer }), "validity"},
	} {
		t.Run(name, func(t *testing.T) {
			got := compareRows(all, c.less)
			require.Len(t, got.Rows, 1)
			assert.Equal(t, []string{c.part}, got.Rows[0].Parts)
			assert.True(t, got.Rows[0].MayLift)
			assert.NotEqual(t, got.Rows[0].OldText(), got.Rows[0].NewText())
			back := compareRows(c.less, all)
			require.Len(t, back.Rows, 1)
			assert.False(t, back.Rows[0].MayLift)
		})
	}
}

func TestWhatBecameOfRows(t *testing.T) {
	ban, warning := row("ban", rules.Prohibit{}), row("warning", rules.Warn{Message: "take care"})
	successor := row("ban-2", rules.Prohibit{})
	successor.Supersedes = []string{"ban"}
	weak := row("ban-2", rules.EntryInterval{Hours: 4})
	weak.Supersedes = []string{"ban"}
	renamed := ban
	renamed.Citation, renamed.Purpose = "invented, second edition", "Stands for another rule."
	season := row("season", rules.InSeason{Season: rules.Dormant, During: window(time.November, 1, time.March, 1)})
	type change struct {
		id   string
		kind rules.RowChangeKind
		lift bool
	}
	for name, c := range map[string]struct {
		old, new []rules.Row
		want     []change
	}{
		"nothing":                     {[]rules.Row{ban, warning}, []rules.Row{warning, ban}, nil},
		"a ban is gone":               {[]rules.Row{warning, ban}, []rules.Row{warning}, []change{{"ban", rules.RowRemoved, true}}},
		"a warning is gone":           {[]rules.Row{warning, ban}, []rules.Row{ban}, []change{{"warning", rules.RowRemoved, false}}},
		"a ban is new":                {[]rules.Row{warning}, []rules.Row{warning, ban}, []change{{"ban", rules.RowAdded, false}}},
		"another words":               {[]rules.Row{ban}, []rules.Row{renamed}, []change{{"ban", rules.RowChanged, false}}},
		"a successor":                 {[]rules.Row{ban}, []rules.Row{successor}, []change{{"ban", rules.RowRemoved, false}, {"ban-2", rules.RowAdded, false}}},
		"a weaker successor":          {[]rules.Row{ban}, []rules.Row{weak}, []change{{"ban", rules.RowRemoved, true}, {"ban-2", rules.RowAdded, false}}},
		"the planner hears a season":  {[]rules.Row{ban}, []rules.Row{ban, season}, []change{{"season", rules.RowAdded, true}}},
		"what may lift is told first": {[]rules.Row{ban, warning}, []rules.Row{season}, []change{{"ban", rules.RowRemoved, true}, {"season", rules.RowAdded, true}, {"warning", rules.RowRemoved, false}}},
	} {
		t.Run(name, func(t *testing.T) {
			a, b := validTable(c.old...), validTable(c.new...)
			var got []change
			for _, r := range rules.Compare(&a, &b).Rows {
				got = append(got, change{r.ID, r.Kind, r.MayLift})
			}
			assert.Equal(t, c.want, got)
		})
	}
}

func TestAComparisonOfManifests(t *testing.T) {
	old, new := validTable(row("ban", rules.Prohibit{})), validTable(row("ban", rules.Prohibit{}))
	new.Manifest.Version, new.Manifest.ValidTo = "2", civil.Of(2027, time.June, 30)
	got := rules.Compare(&old, &new)
	assert.Equal(t, []string{"version: 2, was 1", "law to: 2027-06-30, was no stated end"}, got.Manifest)
	assert.Empty(t, got.Rows)

	new.Manifest.Scope = "us/velmora"
	moved := rules.Compare(&old, &new)
	require.Len(t, moved.Rows, 1)
	assert.Equal(t, []string{"place"}, moved.Rows[0].Parts)
	assert.True(t, moved.Rows[0].MayLift, "elsewhere in the nation it no longer holds")

	assert.Len(t, rules.Compare(nil, &new).Rows, 1)
	gone := rules.Compare(&old, nil)
	require.Len(t, gone.Rows, 1)
	assert.True(t, gone.Rows[0].MayLift)
	assert.Empty(t, rules.Compare(nil, nil))
}

// A state's law is not known before its table begins, so a row cannot lift anything
// by not being law then.
func TestRowsMayBeginWithTheirTable(t *testing.T) {
	old, new := validTable(row("ban", rules.Prohibit{})), validTable(row("ban", rules.Prohibit{}))
	new.Manifest.Version, new.Manifest.ValidFrom, new.Rows[0].ValidFrom = "2", midsummer, midsummer
	got := rules.Compare(&old, &new)
	require.Len(t, got.Rows, 1)
	assert.False(t, got.Rows[0].MayLift)
	for _, m := range []*rules.Manifest{&old.Manifest, &new.Manifest} {
		m.Layer, m.Scope = rules.Owner, creek+"/farm"
	}
	got = rules.Compare(&old, &new)
	require.Len(t, got.Rows, 1)
	assert.True(t, got.Rows[0].MayLift, "the district's law may stand there without the owner's")
}

// Where another layer's law may stand, a table that begins later leaves the days before
// to it, though each of its rows says what it said.
func TestATableThatBeginsLaterMayLift(t *testing.T) {
	for name, c := range map[string]struct {
		layer rules.Layer
		scope string
		lift  bool
	}{
		"a nation's law is not known before":                   {rules.Federal, "us", false},
		"an owner's law may stand without the district's":      {rules.District, creek, true},
		"nobody misses what is known of trees before it comes": {rules.Biology, "us", true},
	} {
		t.Run(name, func(t *testing.T) {
			old, new := validTable(row("ban", rules.Prohibit{})), validTable(row("ban", rules.Prohibit{}))
			for _, m := range []*rules.Manifest{&old.Manifest, &new.Manifest} {
				m.Layer, m.Scope = c.layer, c.scope
			}
			assert.Empty(t, rules.Compare(&old, &new).Rows)
			new.Manifest.ValidFrom = midsummer
			later := slices.ContainsFunc(rules.Compare(&old, &new).Rows, func(r rules.RowChange) bool { return r.MayLift })
			assert.Equal(t, c.lift, later)
			assert.Empty(t, rules.Compare(&new, &old).Rows, "earlier than before it lifts nothing")
		})
	}
}

// The program that computes a row is no part of the table, so another version may
// compute it in another way.
func TestAComputedRowOfAnotherVersionCannotBeTold(t *testing.T) {
	r := row("thaw", rules.Computed{Method: "degree days", Needs: rules.AnyOf(rules.FactPosition)})
	old, new := validTable(r), validTable(r)
	assert.Empty(t, rules.Compare(&old, &new).Rows)
	new.Manifest.Version = "2"
	got := rules.Compare(&old, &new)
	require.Len(t, got.Rows, 1)
	assert.True(t, got.Rows[0].MayLift)
}

func TestComparisonsTurnedRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawTable(t, "a", rules.State, "us/velmora"), drawTable(t, "a", rules.State, "us/velmora")
		for _, same := range []rules.Table{a, b} {
			if !assert.Empty(t, rules.Compare(&same, &same)) {
				t.Fatal("a table differs from itself")
			}
		}
		there, back := kinds(rules.Compare(&a, &b)), kinds(rules.Compare(&b, &a))
		if there[rules.RowAdded] != back[rules.RowRemoved] || there[rules.RowRemoved] != back[rules.RowAdded] || there[rules.RowChanged] != back[rules.RowChanged] {
			t.Fatalf("%v there, %v back", there, back)
		}
	})
}

func kinds(c rules.Comparison) map[rules.RowChangeKind]int {
	count := map[rules.RowChangeKind]int{}
	for _, r := range c.Rows {
		count[r.Kind]++
	}
	return count
}

// Where no row may lift, no decision for any stem on any day is laxer.
func TestWhatMayNotLiftLiftsNothing(t *testing.T) {
	lifted := 0
	for range 20 { // some hundred draws lift nothing
		rapid.Check(t, func(t *rapid.T) { comparedWithAnswers(t, &lifted) })
	}
	assert.Positive(t, lifted, "nothing was lifted in any draw")
}

func comparedWithAnswers(t *rapid.T, lifted *int) {
	old := drawTable(t, "velmora", rules.Federal, "us")
	new := old
	new.Rows = slices.Clone(old.Rows)
	for i := range new.Rows {
		if rapid.Bool().Draw(t, "changed?") {
			change(t, &new.Rows[i])
		}
	}
	if rapid.IntRange(0, 3).Draw(t, "a row less?") == 0 && len(new.Rows) > 1 {
		new.Rows = new.Rows[1:]
	}
	if len(rules.Validate(&new)) > 0 {
		return
	}
	treatment, site := drawStem(t)
	on := civil.Date(int(midsummer) + rapid.IntRange(-3, 3).Draw(t, "day"))
	before, after := decideBy(t, &old, on, treatment, &site), decideBy(t, &new, on, treatment, &site)
	may := slices.ContainsFunc(rules.Compare(&old, &new).Rows, func(r rules.RowChange) bool { return r.MayLift })
	if after < before {
		*lifted++
		if !may {
			t.Fatalf("%s became %s, and no row is said to lift\n%+v\n%+v", before, after, old, new)
		}
	}
}

// A condition of a season is asked for all year, so that forbidding in the season
// instead lifts it in the rest.
func TestAConditionOfASeasonMayBeLifted(t *testing.T) {
	winter := civil.Window{From: civil.DayOfYear{Month: time.December, Day: 1}, To: civil.DayOfYear{Month: time.February, Day: 15}}
	in := func(e rules.Effect) *rules.Table {
		row := when("quiet", rules.Selector{}, e)
		row.During = winter
		table := validTable(row)
		return &table
	}
	setback := rules.Setback{Places: rules.AnyOf(rules.School), Distance: 5}
	inHours := setback
	inHours.Hours = rules.ClockHours{From: 420, To: 1080}
	for name, c := range map[string]struct {
		old, new rules.Effect
		lifts    bool
	}{
		"hours to prohibition":   {inHours, rules.Prohibit{}, true},
		"hours to setback":       {inHours, setback, true},
		"setback to prohibition": {setback, rules.Prohibit{}, false},
	} {
		changes := rules.Compare(in(c.old), in(c.new)).Rows
		require.Len(t, changes, 1, name)
		assert.Equal(t, c.lifts, changes[0].MayLift, name)
	}
}

func decideBy(t *rapid.T, table *rules.Table, on civil.Date, treatment rules.Treatment, site *rules.Surroundings) rules.Decision {
	set, err := rules.NewSet(*table)
	if err != nil {
		t.Fatal(err)
	}
	return rules.Govern("us", on, []*rules.Set{set}).Narrow(treatment).Decide(site)
}

// change redraws one part of a row.
func change(t *rapid.T, r *rules.Row) {
	other := drawRow(t, r.ID)
	switch rapid.IntRange(0, 6).Draw(t, "part") {
	case 0:
		r.Effect = other.Effect
	case 1:
		r.When = other.When
	case 2:
		r.Unless = other.Unless
	case 3:
		r.During = other.During
	case 4:
		r.ValidFrom, r.ValidTo = other.ValidFrom, other.ValidTo
	case 5:
		r.When = rules.Selector{}
	case 6:
		if b, ok := r.Effect.(rules.Buffer); ok {
			b.Distance, b.Water = b.Distance+quantity.Micrometres(rapid.IntRange(0, 1).Draw(t, "farther")), b.Water|rules.AnyOf(rules.Lake)
			r.Effect = b
		}
	}
}
