package treatment_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
)

// No date is given on which it is not known what the law says.
func TestNoDateBeyondTheLawThatIsKnown(t *testing.T) {
	ban := row("ban-from-october", rules.Selector{}, rules.Prohibit{})
	ban.ValidFrom = on(t, "2026-10-01")
	ends := row("ends", rules.Selector{}, rules.EntryInterval{Hours: 4})
	ends.ValidTo = on(t, "2026-09-20")
	for name, c := range map[string]struct {
		row   rules.Row
		until string
	}{
		"a row begins":                {ban, "2026-09-30"},
		"a row ends":                  {ends, "2026-09-20"},
		"another part of every year":  {during(row("ban-in-autumn", rules.Selector{}, rules.Prohibit{}), yearly(9, 2, 12, 1)), "2026-09-01"},
		"nothing but what is already": {row("plain", rules.Selector{}, rules.Warn{Message: "take care"}), "2026-10-15"},
	} {
		t.Run(name, func(t *testing.T) {
			plan, e := prescribe(t, law(t, "2026-08-10", c.row), stem(rules.Sapling, 3, 15))
			require.Equal(t, treatment.Prescribed, plan.Outcome)
			assert.Equal(t, on(t, "2026-08-10"), e.Dates.TreatFrom)
			assert.Equal(t, on(t, c.until), e.Dates.TreatUntil)
		})
	}
	plan, e := prescribe(t, law(t, "2026-06-20", during(ban, civil.Window{})), stem(rules.Sapling, 3, 15))
	require.Equal(t, treatment.Deferred, plan.Outcome)
	assert.Equal(t, on(t, "2026-07-15"), e.Dates.TreatFrom)
	assert.False(t, e.Dates.RetreatFrom.Known(), "the ban holds by then")
}

func during(r rules.Row, w civil.Window) rules.Row {
	r.During = w
	return r
}

// What was computed from a year's weather says nothing of the next year.
func TestWhatIsComputedFromTheWeatherHoldsForItsYear(t *testing.T) {
	for _, c := range []struct {
		needs rules.SiteFact
		from  string // empty: no date
	}{{rules.FactElevation, "2027-07-20"}, {rules.FactTemperatures, ""}} {
		computed := row("warmth", rules.Selector{}, rules.Computed{Method: "a method for tests", Needs: rules.AnyOf(c.needs)})
		g := law(t, "2026-10-20", computed)
		g = g.Resolve(map[*rules.Row]rules.Answer{g.Computed()[0].Row: {Kind: rules.OpenDuring, Open: yearly(7, 20, 9, 30), Words: "warm enough"}})
		plan, e := prescribe(t, g, stem(rules.Sapling, 3, 15))
		require.Equal(t, treatment.Deferred, plan.Outcome)
		want := civil.Date(0)
		if c.from != "" {
			want = on(t, c.from)
		}
		assert.Equal(t, want, e.Dates.TreatFrom, "%s", c.needs)
	}
}

// Trials of another season tell when a stem can be treated, by its size, and so what is
// said of stems of other sizes is not said of it.
func TestTrialsOfAnotherSeasonTellStemsApart(t *testing.T) {
	c := *shipped(t)
	c.Evidence = append(slices.Clone(c.Evidence), treatment.Evidence{
		Seasons: rules.AnyOf(rules.Translocation), Above: quantity.Inches(4.5), Control: 100_000, Source: "invented",
	})
	settings := treatment.DefaultSettings()
	fresh := func() *treatment.Planner { return treatment.NewPlanner(&c, law(t, "2026-01-10"), &tenAcres, &settings) }
	for _, planner := range []*treatment.Planner{fresh(), fresh().OneByOne()} {
		thin, thick := stem(rules.Sapling, 4, 15), stem(rules.Sapling, 5, 15)
		one, other := planner.Plan(&thin), planner.Plan(&thick)
		assert.Equal(t, on(t, "2026-07-15"), planner.Explain(&thin, &one).Dates.TreatFrom)
		assert.Equal(t, on(t, "2026-10-01"), planner.Explain(&thick, &other).Dates.TreatFrom)
		assert.NotEqual(t, one.Key, other.Key)
	}
}
