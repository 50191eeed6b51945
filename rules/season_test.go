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

var nesting = window(time.April, 15, time.July, 31)

func inSeason(effect rules.Effect) rules.Row {
	r := row("row", effect)
	r.During = nesting
	return r
}

// narrowOn narrows rows as the law of the nation on a day.
func narrowOn(t require.TestingT, on civil.Date, treatment rules.Treatment, rows ...rules.Row) *rules.Narrowed {
	set, err := rules.NewSet(validTable(rows...))
	require.NoError(t, err)
	return rules.Govern("us", on, []*rules.Set{set}).Narrow(treatment)
}

// What a row that holds in a part of the year says within it, on its last day and on the
// next, and what a planner is told of the rest of the year.
func TestARowInAPartOfTheYear(t *testing.T) {
	rest := []civil.Window{window(time.August, 1, time.April, 14)}
	school := rules.Setback{Places: rules.AnyOf(rules.School), Distance: 30 * quantity.Metre}
	inHours := school
	inHours.Hours = rules.ClockHours{From: 420, To: 1080}
	lake := rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: 30 * quantity.Metre, From: rules.WaterEdge}
	mixing := lake
	mixing.Activity = rules.MixAndLoad
	var near, far rules.Surroundings
	near.Places.SetOthers(0)
	near.Places.Set(rules.School, rules.PlaceDistance{Distance: 29 * quantity.Metre})
	near.Water.Set(rules.Lake, rules.WaterDistance{Distance: 29 * quantity.Metre, Origin: rules.WaterEdge})
	far.Places.SetOthers(30 * quantity.Metre)
	far.Water.SetOthers(30 * quantity.Metre)
	cases := []struct {
		name     string
		effect   rules.Effect
		site     rules.Surroundings
		in, out  rules.Decision
		windows  []civil.Window
		outsider rules.Decision // with all windows open
	}{
		{"forbidden", rules.Prohibit{}, near, rules.Prohibited, rules.Allowed, rest, rules.Allowed},
		{"near a school", school, near, rules.Prohibited, rules.Allowed, rest, rules.Allowed},
		{"far from a school", school, far, rules.Allowed, rules.Allowed, nil, rules.Allowed},
		{"nobody knows how far from a school", school, rules.Surroundings{}, rules.Undetermined, rules.Allowed, rest, rules.Allowed},
		{"near a school in its hours", inHours, near, rules.Conditional, rules.Conditional, nil, rules.Conditional},
		{"near a lake", lake, near, rules.Prohibited, rules.Allowed, rest, rules.Allowed},
		{"far from a lake", lake, far, rules.Allowed, rules.Allowed, nil, rules.Allowed},
		{"mixing", mixing, near, rules.Conditional, rules.Conditional, nil, rules.Conditional},
		{"standing not stated", rules.RequireStanding{AtLeast: rules.Certified}, near, rules.Undetermined, rules.Allowed, rest, rules.Allowed},
		{"computed", rules.Computed{Method: "degree days", Needs: rules.AnyOf(rules.FactPosition)}, near, rules.Undetermined, rules.Allowed, rest, rules.Allowed},
		{"a condition", rules.Permit{Name: "a permit", From: "the district"}, near, rules.Conditional, rules.Conditional, nil, rules.Conditional},
		{"a window within it", rules.Window{Open: window(time.June, 1, time.June, 30)}, near, rules.Prohibited, rules.Allowed,
			[]civil.Window{window(time.June, 1, time.April, 14), window(time.August, 1, time.June, 30)}, rules.Allowed},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := inSeason(c.effect)
			on := func(month time.Month, day int) *rules.Narrowed {
				return narrowOn(t, civil.Of(2026, month, day), rules.Treatment{}, r)
			}
			assert.Equal(t, c.in, on(time.July, 31).Decide(&c.site), "last day")
			assert.Equal(t, c.out, on(time.August, 1).Decide(&c.site), "day after")
			assert.Equal(t, c.out, on(time.April, 14).Decide(&c.site), "day before")
			assert.Equal(t, c.in, on(time.April, 15).Decide(&c.site), "first day")
			for _, n := range []*rules.Narrowed{on(time.July, 31), on(time.August, 1)} {
				assert.ElementsMatch(t, c.windows, n.Windows(&c.site))
				assert.Equal(t, c.outsider, n.Judge(&c.site).Otherwise)
				findings := n.Explain(&c.site)
				require.Len(t, findings, 1, "it is listed whatever the day")
				assert.Contains(t, findings[0].Text(), ", from 15 April to 31 July")
			}
		})
	}
}

// A season in which something is forbidden does not stand in for a window in which
// suckering roots can be reached: adding it would otherwise permit.
func TestASeasonIsNoWindow(t *testing.T) {
	assert.False(t, narrow(t, rules.Treatment{}, inSeason(rules.Prohibit{})).HasWindow())
	assert.True(t, narrow(t, rules.Treatment{}, row("row", rules.Window{Open: nesting})).HasWindow())
	within := inSeason(rules.Window{Open: window(time.July, 1, time.July, 31)})
	assert.True(t, narrow(t, rules.Treatment{}, within).HasWindow())
	assert.False(t, narrowOn(t, civil.Of(2026, time.January, 20), rules.Treatment{}, within).HasWindow(), "of the rest of the year the window says nothing")
}

func drawAnswer(t *rapid.T) rules.Answer {
	return rules.Answer{Kind: rapid.SampledFrom(append(rules.Words[rules.AnswerKind](), 0, 9)).Draw(t, "answer"), Open: drawYear(t, "open")}
}

// drawLaw draws rows that are law all year, with answers to those that are computed.
func drawLaw(t *rapid.T) (on func(civil.Date) *rules.Governing) {
	var rows []rules.Row
	for i := range rapid.IntRange(1, 6).Draw(t, "rows") {
		r := drawRow(t, "row-"+string(rune('a'+i)))
		r.ValidFrom, r.ValidTo = lawFrom, 0
		rows = append(rows, r)
	}
	set, err := rules.NewSet(validTable(rows...))
	require.NoError(t, err)
	answer := drawAnswer(t)
	return func(day civil.Date) *rules.Governing {
		g := rules.Govern("us", day, []*rules.Set{set})
		answers := map[*rules.Row]rules.Answer{}
		for _, c := range g.Computed() {
			answers[c.Row] = answer
		}
		return g.Resolve(answers)
	}
}

// On a day on which the windows are open the decision is the one that was foretold for
// such days, and on no other day is it looser.
func TestWindowsTellTheOpenDays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		on := drawLaw(t)
		treatment, site := drawStem(t)
		n := on(midsummer).Narrow(treatment)
		otherwise, windows := n.Judge(&site).Otherwise, n.Windows(&site)
		for range 20 {
			day := civil.Of(2028, time.January, 1).AddDays(rapid.IntRange(0, 365).Draw(t, "day"))
			then := on(day).Narrow(treatment)
			assert.Equal(t, windows, then.Windows(&site))
			assert.Equal(t, otherwise, then.Judge(&site).Otherwise)
			if civil.AllHold(windows, day) {
				assert.Equal(t, otherwise, then.Decide(&site), "%s, %v", day, windows)
			} else {
				assert.GreaterOrEqual(t, then.Decide(&site), otherwise, day)
			}
		}
	})
}

// Of the days that the rows tell of, none is stricter than was foretold, whatever begins
// and ends meanwhile.
func TestNothingIsForetoldOfOtherLaw(t *testing.T) {
	beyond := 0
	for range 10 {
		rapid.Check(t, func(t *rapid.T) { foretoldUntilOtherLaw(t, &beyond) })
	}
	assert.Positive(t, beyond, "no draw had law that became stricter")
}

func foretoldUntilOtherLaw(t *rapid.T, beyond *int) {
	var rows []rules.Row
	for i := range rapid.IntRange(1, 4).Draw(t, "rows") {
		rows = append(rows, drawRow(t, "row-"+string(rune('a'+i))))
	}
	table := validTable(rows...)
	if rapid.Bool().Draw(t, "ends?") {
		table.Manifest.ValidTo = midsummer.AddDays(rapid.IntRange(0, 3).Draw(t, "last day"))
	}
	set, err := rules.NewSet(table)
	require.NoError(t, err)
	treatment, site := drawStem(t)
	n := rules.Govern("us", midsummer, []*rules.Set{set}).Narrow(treatment)
	assert.True(t, n.Tells(midsummer))
	otherwise, windows := n.Judge(&site).Otherwise, n.Windows(&site)
	for day := midsummer; day < midsummer+6; day++ {
		switch then := rules.Govern("us", day, []*rules.Set{set}).Narrow(treatment).Decide(&site); {
		case !civil.AllHold(windows, day):
		case n.Tells(day):
			assert.LessOrEqual(t, then, otherwise, "%s", day)
		case then > otherwise:
			*beyond++
		}
	}
}

// Within its part of the year a row says what it says without one.
func TestDuringLoosensNothingInSeason(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		treatment, site := drawStem(t)
		r := drawRow(t, "row")
		r.ValidFrom, r.ValidTo = lawFrom, 0
		r.During = drawYear(t, "during")
		always := r
		always.During = civil.Window{}
		decide := func(r rules.Row) rules.Decision { return narrowOn(t, midsummer, treatment, r).Decide(&site) }
		if r.During.Holds(midsummer) {
			assert.Equal(t, decide(always), decide(r))
		} else {
			assert.LessOrEqual(t, decide(r), decide(always))
		}
	})
}
