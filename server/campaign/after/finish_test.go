package after_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/campaign/after"
)

const all = 1_000_000

// hectare is an inspection area of one hectare.
var hectare = after.Area{Size: quantity.Hectare}

func visit(t require.TestingT, on string, minutes int64, walked quantity.PerMillion, finds ...after.Find) after.Visit {
	return after.Visit{ID: "v" + on, On: day(t, on), Minutes: minutes, Walked: walked, Finds: finds}
}

// Section G of the facts: "no data" read as "absent" is the mistake to avoid. That the
// effort is 60 minutes a hectare unless stated is common practice, no source.
func TestJudge(t *testing.T) {
	sucker, dead := after.Find{Kind: after.RootSucker}, after.Find{Kind: after.Dead}
	demand := after.Demand{Leaf: summer}
	loose := after.Demand{Leaf: summer, MinutesPerHectare: 30, Walked: 900_000}
	unplaced := after.Area{Size: quantity.Hectare, Unplaced: []string{"tree-7"}}
	for _, c := range []struct {
		name   string
		visit  after.Visit
		area   after.Area
		demand after.Demand
		want   after.Look
		lacks  string
	}{
		{"enough", visit(t, "2027-07-01", 60, all), hectare, demand, after.Clean, ""},
		{"enough, dead stems", visit(t, "2027-07-01", 60, all, dead), hectare, demand, after.Clean, ""},
		{"a minute short", visit(t, "2027-07-01", 59, all), hectare, demand, after.TooLittle, "searched 59 minutes, of at least 60"},
		{"a millionth short", visit(t, "2027-07-01", 60, all-1), hectare, demand, after.TooLittle, "walk the rest"},
		{"more than all of it", visit(t, "2027-07-01", 60, all+1), hectare, demand, after.TooLittle, "of at least 100 %"},
		{"stated demand met", visit(t, "2027-07-01", 30, 900_000), hectare, loose, after.Clean, ""},
		{"stated demand not met", visit(t, "2027-07-01", 29, 899_999), hectare, loose, after.TooLittle, "of at least 30"},
		{"first day in leaf", visit(t, "2027-06-01", 60, all), hectare, demand, after.Clean, ""},
		{"a day before leaf", visit(t, "2027-05-31", 60, all), hectare, demand, after.TooLittle, "out of leaf"},
		{"a day after leaf", visit(t, "2027-09-01", 60, all), hectare, demand, after.TooLittle, "out of leaf"},
		{"seasons not known", visit(t, "2027-07-01", 60, all), hectare, after.Demand{}, after.TooLittle, "no rule tells"},
		{"no day", visit(t, "", 60, all), hectare, demand, after.TooLittle, "day is not known"},
		{"minutes not stated", visit(t, "2027-07-01", 0, all), hectare, demand, after.TooLittle, "minutes of searching are not stated"},
		{"share not stated", visit(t, "2027-07-01", 60, 0), hectare, demand, after.TooLittle, "share of the inspection area that was walked is not stated"},
		{"nothing stated", visit(t, "2027-07-01", 0, 0), hectare, demand, after.NotLooked, "not stated"},
		{"dead ones, nothing stated", visit(t, "2027-07-01", 0, 0, dead), hectare, demand, after.NotLooked, "not stated"},
		{"a stem without a position", visit(t, "2027-07-01", 900, all), unplaced, demand, after.TooLittle, "no position of tree-7"},
		{"no area", visit(t, "2027-07-01", 900, all), after.Area{}, demand, after.TooLittle, "no treated stem is known"},
		{"found with no effort", visit(t, "2027-01-01", 0, 0, sucker), hectare, demand, after.Found, "out of leaf"},
		{"doubtful counts as found", visit(t, "2027-07-01", 60, all, after.Find{Kind: after.Doubtful}), hectare, demand, after.Found, ""},
		{"found, not stated what", visit(t, "2027-07-01", 60, all, after.Find{}), hectare, demand, after.Found, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, lacks := after.Judge(&c.visit, &c.area, &c.demand)
			assert.Equal(t, c.want, got)
			assert.Contains(t, fmt.Sprint(lacks), c.lacks)
			assert.Equal(t, c.lacks == "", len(lacks) == 0, lacks)
		})
	}
}

// Section G: zero for N full seasons with enough search effort. N is 3 unless stated
// (common practice, no source).
func TestFinished(t *testing.T) {
	clean := func(year int) after.Visit { return visit(t, fmt.Sprintf("%d-07-01", year), 60, all) }
	found := func(on string) after.Visit { return visit(t, on, 60, all, after.Find{Kind: after.RootSucker}) }
	for _, c := range []struct {
		name    string
		treated []string
		visits  []after.Visit
		wanted  int
		area    after.Area
		on      string
		states  string
		clean   int
		next    string
		whyNot  []string // empty: finished
	}{
		{name: "three clean seasons", treated: []string{"2026-08-10"}, visits: []after.Visit{clean(2029), clean(2027), clean(2028)}, on: "2029-09-01",
			states: "[treated clean clean clean]", clean: 3},
		{name: "the third is not over", treated: []string{"2026-08-10"}, visits: []after.Visit{clean(2027), clean(2028), clean(2029)}, on: "2029-08-31",
			states: "[treated clean clean open]", clean: 2, next: "2030", whyNot: []string{"2 of 3 clean", "season 2029: open: not over until 2029-08-31"}},
		{name: "one is enough if one is wanted", treated: []string{"2026-08-10"}, visits: []after.Visit{clean(2027)}, wanted: 1, on: "2027-09-01", states: "[treated clean]", clean: 1},
		{name: "nobody looked in the second", treated: []string{"2026-08-10"}, visits: []after.Visit{clean(2027), clean(2029)}, on: "2029-12-01",
			states: "[treated clean not looked clean]", clean: 1, next: "2030", whyNot: []string{"1 of 3", "season 2028: not looked: nobody looked"}},
		{name: "looked too little in the second", treated: []string{"2026-08-10"}, visits: []after.Visit{clean(2027), visit(t, "2028-07-01", 10, all), clean(2029)}, on: "2029-12-01",
			states: "[treated clean not enough looked clean]", clean: 1, next: "2030", whyNot: []string{"1 of 3", "season 2028: not enough looked: visit v2028-07-01: searched 10 minutes"}},
		{name: "a find starts anew", treated: []string{"2026-08-10"}, visits: []after.Visit{clean(2027), clean(2028), found("2029-07-02"), clean(2029)}, on: "2029-12-01",
			states: "[treated clean clean found]", clean: 0, next: "2030", whyNot: []string{"0 of 3", "season 2029: found: visit v2029-07-02"}},
		{name: "a find in the winter starts anew", treated: []string{"2026-08-10"}, visits: []after.Visit{clean(2027), clean(2028), clean(2029), found("2029-12-24")}, on: "2029-12-31",
			states: "[treated clean clean found]", next: "2030", whyNot: []string{"0 of 3", "season 2029: found"}},
		{name: "a treatment starts anew", treated: []string{"2026-08-10", "2028-08-10"}, visits: []after.Visit{clean(2027), clean(2028), clean(2029)}, on: "2029-12-01",
			states: "[treated clean treated clean]", clean: 1, next: "2030", whyNot: []string{"1 of 3", "season 2028: treated"}},
		{name: "a treatment before leaf: the season after it counts", treated: []string{"2027-02-01"}, visits: []after.Visit{clean(2027)}, wanted: 1, on: "2027-09-01", states: "[treated clean]", clean: 1},
		{name: "looked at in the open season, later ones to come", treated: []string{"2026-08-10"}, on: "2027-06-15", states: "[treated open]", next: "2027", whyNot: []string{"0 of 3", "season 2027: open"}},
		{name: "visits after the day asked are not known yet", treated: []string{"2026-08-10"}, visits: []after.Visit{clean(2027), found("2028-01-01")}, wanted: 1, on: "2027-12-31", states: "[treated clean]", clean: 1},
		{name: "a treatment without a date", treated: []string{"2026-08-10", ""}, visits: []after.Visit{clean(2027)}, wanted: 1, on: "2027-09-01", states: "[]", whyNot: []string{"day of a treatment is not known"}},
		{name: "a find without a date", treated: []string{"2026-08-10"}, visits: []after.Visit{clean(2027), found("")}, wanted: 1, on: "2027-09-01", states: "[treated clean]", clean: 1, next: "2028", whyNot: []string{"visit v found something on a day that is not known"}},
		{name: "nothing was treated", visits: []after.Visit{clean(2027)}, wanted: 1, on: "2027-09-01", states: "[]", whyNot: []string{"nothing has been treated"}},
		{name: "no area", treated: []string{"2026-08-10"}, visits: []after.Visit{clean(2027)}, area: after.Area{Unplaced: []string{"tree-7"}}, wanted: 1, on: "2027-09-01",
			states: "[treated not enough looked]", next: "2028", whyNot: []string{"0 of 1", "no position of tree-7"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			h := after.History{Treated: days(t, c.treated...), Visits: c.visits, Area: hectare, Demand: after.Demand{Leaf: summer}, Wanted: c.wanted}
			if c.area.Unplaced != nil {
				h.Area = c.area
			}
			got := after.Finished(&h, day(t, c.on))
			states := []string{}
			for _, s := range got.Seasons {
				states = append(states, s.State.String())
			}
			assert.Equal(t, c.states, fmt.Sprint(states))
			assert.Equal(t, c.clean, got.Clean)
			assert.Equal(t, len(c.whyNot) == 0, got.Finished, got.WhyNot)
			require.Len(t, got.WhyNot, len(c.whyNot))
			for i := range c.whyNot {
				assert.Contains(t, got.WhyNot[i], c.whyNot[i])
			}
			if c.next != "" {
				assert.Equal(t, c.next, got.Next.String())
			} else {
				assert.Zero(t, got.Next)
			}
		})
	}
}

func TestFinishedInTheSouth(t *testing.T) {
	h := after.History{Treated: days(t, "2027-02-10"), Area: hectare, Demand: after.Demand{Leaf: southern}, Wanted: 1,
		Visits: []after.Visit{visit(t, "2028-01-10", 60, all)}}
	assert.False(t, after.Finished(&h, day(t, "2028-03-15")).Finished)
	assert.True(t, after.Finished(&h, day(t, "2028-03-16")).Finished)
}

func drawVisit(t *rapid.T) after.Visit {
	v := after.Visit{ID: rapid.StringN(1, 3, 3).Draw(t, "id"), On: drawDay(t, "on"), Minutes: rapid.SampledFrom([]int64{0, 30, 60}).Draw(t, "minutes"), Walked: rapid.SampledFrom([]quantity.PerMillion{0, all / 2, all}).Draw(t, "walked")}
	if month := summer; rapid.Bool().Draw(t, "in leaf") {
		year, _, _ := v.On.Parts()
		v.On = civil.Of(year, month.From.Month, 1+rapid.IntRange(0, 80).Draw(t, "day"))
	}
	if rapid.IntRange(0, 5).Draw(t, "finds") == 0 {
		v.Finds = []after.Find{{Kind: after.Kind(rapid.IntRange(0, int(after.Dead)).Draw(t, "kind"))}}
	}
	return v
}

func drawHistory(t *rapid.T) after.History {
	h := after.History{Area: hectare, Demand: after.Demand{Leaf: summer}, Wanted: rapid.IntRange(0, 3).Draw(t, "wanted")}
	h.Treated = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) civil.Date { return drawDay(t, "treated") }), 1, 2).Draw(t, "all treated")
	h.Visits = rapid.SliceOfN(rapid.Custom(drawVisit), 0, 12).Draw(t, "visits")
	return h
}

// A find, a treatment or a visit taken away never makes a site cleaner, and neither does
// the order in which things are told.
func TestMoreFoundIsNeverCleaner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, on := drawHistory(t), drawDay(t, "asked")
		before := after.Finished(&h, on)
		assert.Equal(t, before.Finished, len(before.WhyNot) == 0)

		worse := h
		v := drawVisit(t)
		v.Finds = []after.Find{{Kind: after.RootSucker}}
		worse.Visits = append([]after.Visit{v}, h.Visits...)
		assert.LessOrEqual(t, after.Finished(&worse, on).Clean, before.Clean)

		worse = h
		worse.Treated = append([]civil.Date{rapid.SampledFrom(h.Treated).Draw(t, "after") + civil.Date(rapid.IntRange(0, 900).Draw(t, "days"))}, h.Treated...)
		assert.LessOrEqual(t, after.Finished(&worse, on).Clean, before.Clean)

		mixed := h
		mixed.Visits = rapid.Permutation(h.Visits).Draw(t, "order")
		got := after.Finished(&mixed, on)
		assert.Equal(t, before.Finished, got.Finished)
		assert.Equal(t, before.Clean, got.Clean)

		if n := len(h.Visits); n > 0 && v.On <= on {
			fewer := h
			k := rapid.IntRange(0, n-1).Draw(t, "dropped")
			if look, _ := after.Judge(&h.Visits[k], &h.Area, &h.Demand); look != after.Found {
				fewer.Visits = append(append([]after.Visit{}, h.Visits[:k]...), h.Visits[k+1:]...)
				assert.LessOrEqual(t, after.Finished(&fewer, on).Clean, before.Clean)
			}
		}
	})
}

// Every clean season that counts has a visit that was enough, within it.
func TestNotLookedIsNeverClean(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, on := drawHistory(t), drawDay(t, "asked")
		for _, s := range after.Finished(&h, on).Seasons {
			if s.State != after.SeasonClean {
				continue
			}
			enough := false
			for _, v := range h.Visits {
				if s.Holds(v.On) {
					assert.NotContains(t, v.Finds, after.Find{Kind: after.RootSucker})
					enough = enough || v.Minutes >= 60 && v.Walked >= all
				}
			}
			assert.True(t, enough)
			assert.Greater(t, on, s.Until)
		}
	})
}
