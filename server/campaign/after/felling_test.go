package after_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/campaign/after"
)

func day(t require.TestingT, s string) civil.Date {
	if s == "" {
		return 0
	}
	d, err := civil.Parse(s)
	require.NoError(t, err)
	return d
}

func days(t require.TestingT, list ...string) []civil.Date {
	var all []civil.Date
	for _, s := range list {
		all = append(all, day(t, s))
	}
	return all
}

func yearly(fromMonth time.Month, fromDay int, toMonth time.Month, toDay int) civil.Window {
	return civil.Window{From: civil.DayOfYear{Month: fromMonth, Day: fromDay}, To: civil.DayOfYear{Month: toMonth, Day: toDay}}
}

var (
	// The felling season of New Jersey, mid-November to April (T16: Rutgers Plant & Pest
	// Advisory, tree-of-heaven timing).
	newJersey = yearly(time.November, 15, time.April, 30)
	// The time of inspections, June to August (section G of the facts: judgement from
	// several sources).
	summer = yearly(time.June, 1, time.August, 31)
	// A growing season of the southern hemisphere.
	southern = yearly(time.November, 15, time.March, 15)
)

// T14: at least 30 days between treatment and felling; T16: felling mid-November to
// April (both Rutgers Plant & Pest Advisory, tree-of-heaven timing).
func TestFell(t *testing.T) {
	none := rules.SuckeringNone
	for _, c := range []struct {
		name        string
		treated     []string
		suckering   rules.Suckering
		alive       string
		season      *civil.Window
		wait        int
		on          string
		from, until string
		why         string
	}{
		{name: "T14: 30 days, no season", treated: []string{"2026-08-01"}, on: "2026-08-01", from: "2026-08-31", why: "30 days after the treatment of 2026-08-01"},
		{name: "T14: a shorter wait is none", treated: []string{"2026-08-01"}, wait: 10, on: "2026-08-01", from: "2026-08-31"},
		{name: "a longer wait holds", treated: []string{"2026-08-01"}, wait: 60, on: "2026-08-01", from: "2026-09-30"},
		{name: "T14: the later treatment counts", treated: []string{"2026-09-20", "2026-08-01"}, on: "2026-08-01", from: "2026-10-20"},
		{name: "T16: on to mid-November", treated: []string{"2026-07-20"}, season: &newJersey, on: "2026-07-20", from: "2026-11-15", until: "2027-04-30"},
		{name: "T14, T16: day 29 before the season", treated: []string{"2026-10-15"}, season: &newJersey, on: "2026-10-15", from: "2026-11-15", until: "2027-04-30"},
		{name: "T14, T16: day 30 within the season", treated: []string{"2026-10-20"}, season: &newJersey, on: "2026-10-20", from: "2026-11-19", until: "2027-04-30"},
		{name: "T16: over the turn of the year", treated: []string{"2026-12-20"}, season: &newJersey, on: "2026-12-20", from: "2027-01-19", until: "2027-04-30"},
		{name: "T16: April is the last month", treated: []string{"2027-03-31"}, season: &newJersey, on: "2027-03-31", from: "2027-04-30", until: "2027-04-30"},
		{name: "T16: too late for April", treated: []string{"2027-04-01"}, season: &newJersey, on: "2027-04-01", from: "2027-11-15", until: "2028-04-30"},
		{name: "asked later, in the season", treated: []string{"2026-07-20"}, season: &newJersey, on: "2027-02-01", from: "2027-02-01", until: "2027-04-30"},
		{name: "asked later, after the season", treated: []string{"2026-07-20"}, season: &newJersey, on: "2027-05-01", from: "2027-11-15", until: "2028-04-30"},
		{name: "a treatment without a date", treated: []string{"2026-08-01", ""}, on: "2026-12-01", why: "day of a treatment is not known"},
		{name: "not treated", on: "2026-12-01", why: "cutting it multiplies suckers"},
		{name: "not treated, does not sucker", suckering: none, season: &newJersey, on: "2026-10-01", from: "2026-11-15", until: "2027-04-30"},
		{name: "does not sucker, but treated: waits", treated: []string{"2026-11-20"}, suckering: none, season: &newJersey, on: "2026-11-21", from: "2026-12-20", until: "2027-04-30"},
		{name: "suckers in part", suckering: rules.SuckeringModerate, on: "2026-12-01", why: "not treated"},
		{name: "dying in the autumn", treated: []string{"2026-08-01"}, alive: "2026-10-01", season: &newJersey, on: "2026-10-01", from: "2026-11-15", until: "2027-04-30"},
		{name: "alive in the next summer", treated: []string{"2026-08-01"}, alive: "2027-06-01", season: &newJersey, on: "2027-06-02", why: "seen alive on 2027-06-01"},
		{name: "alive, and treated again", treated: []string{"2026-08-01", "2027-08-01"}, alive: "2027-06-01", season: &newJersey, on: "2027-08-02", from: "2027-11-15", until: "2028-04-30"},
		{name: "no day asked", treated: []string{"2026-08-01"}, why: "the day asked is not known"},
		{name: "no such season", treated: []string{"2026-08-01"}, season: &civil.Window{}, on: "2026-08-01", why: "correct it"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := after.Stem{Suckering: c.suckering, Treated: days(t, c.treated...), SeenAlive: day(t, c.alive)}
			got := after.Fell(&s, &after.FellingRule{Season: c.season, Wait: c.wait, Leaf: &summer}, day(t, c.on))
			assert.Equal(t, day(t, c.from), got.From, got.Why)
			assert.Equal(t, day(t, c.until), got.Until)
			assert.Contains(t, got.Why, c.why)
			assert.NotEmpty(t, got.Why)
			if got.From.Known() {
				assert.True(t, got.MayFell(got.From))
				assert.False(t, got.MayFell(got.From.AddDays(-1)))
			}
			if got.Until.Known() {
				assert.True(t, got.MayFell(got.Until))
				assert.False(t, got.MayFell(got.Until.AddDays(1)))
			}
		})
	}
}

func drawDay(t *rapid.T, label string) civil.Date {
	return civil.Of(2026, 1, 1).AddDays(rapid.IntRange(0, 3000).Draw(t, label))
}

func drawWindow(t *rapid.T, label string) civil.Window {
	at := func() civil.DayOfYear {
		return civil.Of(2024, 1, 1).AddDays(rapid.IntRange(0, 365).Draw(t, label)).DayOfYear()
	}
	return civil.Window{From: at(), To: at()}
}

// T14 and T16: never within 30 days of any treatment, never out of the season; a later
// treatment never makes it earlier; order makes no difference.
func TestFellingNeverComesEarly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		treated := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) civil.Date { return drawDay(t, "treated") }), 1, 5).Draw(t, "all")
		w, leaf := drawWindow(t, "season"), drawWindow(t, "leaf")
		rule := after.FellingRule{Season: &w, Leaf: &leaf, Wait: rapid.IntRange(-5, 90).Draw(t, "wait")}
		on := drawDay(t, "on")
		s := after.Stem{Treated: treated, Suckering: rapid.SampledFrom([]rules.Suckering{0, 1, 2, 3}).Draw(t, "suckering")}
		f := after.Fell(&s, &rule, on)
		require.True(t, f.From.Known(), f.Why)
		for _, d := range treated {
			assert.GreaterOrEqual(t, int(f.From-d), 30)
		}
		assert.GreaterOrEqual(t, f.From, on)
		assert.True(t, w.Holds(f.From))

		more := after.Stem{Treated: append([]civil.Date{drawDay(t, "again")}, treated...), Suckering: s.Suckering}
		assert.GreaterOrEqual(t, after.Fell(&more, &rule, on).From, f.From)
		mixed := after.Stem{Treated: rapid.Permutation(treated).Draw(t, "order"), Suckering: s.Suckering}
		assert.Equal(t, f, after.Fell(&mixed, &rule, on))
		unknown := after.Stem{Treated: append([]civil.Date{0}, treated...), Suckering: s.Suckering}
		assert.False(t, after.Fell(&unknown, &rule, on).From.Known())
	})
}
