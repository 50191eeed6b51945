package rules_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// The truth table of buffers: where the rule counts from, where the distance was
// measured from, and what a distance of one micrometre less than the limit, and
// of the limit, then says; first a distance, then a statement "at least".
func TestWhereDistancesStart(t *testing.T) {
	const (
		not, edge, wetland, bank = rules.DistanceOrigin(0), rules.WaterEdge, rules.WetlandBoundary, rules.BankTop

		yes, no, unknown = rules.Allowed, rules.Prohibited, rules.Undetermined
	)
	cases := []struct {
		rule, measured            rules.DistanceOrigin
		inside, outside           rules.Decision // a distance
		atLeastInside, atLeastOut rules.Decision // "at least"
	}{
		{edge, not, unknown, unknown, unknown, unknown},
		{edge, edge, no, yes, unknown, yes},
		{edge, wetland, unknown, yes, unknown, yes}, // measured short: keeps the limit, does not break it
		{edge, bank, unknown, yes, unknown, yes},

		{wetland, not, unknown, unknown, unknown, unknown},
		{wetland, edge, no, unknown, unknown, unknown}, // measured long: breaks the limit, does not keep it
		{wetland, wetland, no, yes, unknown, yes},
		{wetland, bank, unknown, yes, unknown, yes},

		{bank, not, unknown, unknown, unknown, unknown},
		{bank, edge, no, unknown, unknown, unknown},
		{bank, wetland, no, unknown, unknown, unknown},
		{bank, bank, no, yes, unknown, yes},
	}
	const limit = 50 * quantity.Foot
	for _, c := range cases {
		t.Run("rule "+c.rule.String()+", measured "+c.measured.String(), func(t *testing.T) {
			says := func(d quantity.Micrometres, atLeast bool) rules.Decision {
				return clears(t, rules.WaterDistance{Distance: d, Origin: c.measured, AtLeast: atLeast}, limit, c.rule)
			}
			assert.Equal(t, c.inside, says(limit-1, false), "just inside")
			assert.Equal(t, c.outside, says(limit, false), "at the limit")
			assert.Equal(t, c.outside, says(limit+1, false), "just outside")
			assert.Equal(t, c.atLeastInside, says(limit-1, true), "at least just inside")
			assert.Equal(t, c.atLeastOut, says(limit, true), "at least the limit")
			assert.Equal(t, c.atLeastOut, says(limit+1, true), "at least just outside")
		})
	}
}

// What an allowance makes of a distance that starts nearer the water than the rule's, or
// elsewhere: it is taken off the former alone, and keeps a limit but never breaks one.
func TestAnAllowanceForTheBank(t *testing.T) {
	const (
		limit, allowance = 30 * quantity.Metre, 5 * quantity.Metre

		yes, no, unknown = rules.Allowed, rules.Prohibited, rules.Undetermined
	)
	for _, c := range []struct {
		rule, measured                        rules.DistanceOrigin
		inside, atLimit, short, made, atLeast rules.Decision // less than the limit, it, less than both together, they, "at least" they
	}{
		{rules.BankTop, 0, unknown, unknown, unknown, unknown, unknown},
		{rules.BankTop, rules.WaterEdge, no, unknown, unknown, yes, yes},
		{rules.BankTop, rules.WetlandBoundary, no, unknown, unknown, yes, yes},
		{rules.BankTop, rules.BankTop, no, yes, yes, yes, yes},
		{rules.WetlandBoundary, rules.WaterEdge, no, unknown, unknown, yes, yes},
		{rules.WetlandBoundary, rules.WetlandBoundary, no, yes, yes, yes, yes},
		{rules.WetlandBoundary, rules.BankTop, unknown, yes, yes, yes, yes},
	} {
		says := func(d quantity.Micrometres, atLeast bool) rules.Decision {
			return clearsWith(t, rules.WaterDistance{Distance: d, Origin: c.measured, AtLeast: atLeast}, limit, c.rule, allowance)
		}
		name := "rule " + c.rule.String() + ", measured " + c.measured.String()
		assert.Equal(t, c.inside, says(limit-1, false), name)
		assert.Equal(t, c.atLimit, says(limit, false), name)
		assert.Equal(t, c.short, says(limit+allowance-1, false), name)
		assert.Equal(t, c.made, says(limit+allowance, false), name)
		assert.Equal(t, c.atLeast, says(limit+allowance, true), name)
	}
}

// What is wanting says that a longer distance would do.
func TestAnAllowanceIsTold(t *testing.T) {
	b := rules.Buffer{Water: rules.AnyOf(rules.Ditch), Distance: 3 * quantity.Metre, From: rules.BankTop,
		Allowance: rules.Allowance{Distance: 5 * quantity.Metre, Basis: "section 4(2)"}}
	var site rules.Surroundings
	site.Water.Set(rules.Ditch, rules.WaterDistance{Distance: 7 * quantity.Metre, Origin: rules.WaterEdge})
	findings := narrowed(t, b).Explain(&site)
	require.Len(t, findings, 1)
	assert.Equal(t, []string{"distance to ditch from the bank top, or one that starts nearer the water and is 5 m (16.4 ft) longer than the rule asks"}, findings[0].Missing)
}

// clears asks a buffer about one distance to a stream.
func clears(t require.TestingT, d rules.WaterDistance, limit quantity.Micrometres, from rules.DistanceOrigin) rules.Decision {
	return clearsWith(t, d, limit, from, 0)
}

func clearsWith(t require.TestingT, d rules.WaterDistance, limit quantity.Micrometres, from rules.DistanceOrigin, allowance quantity.Micrometres) rules.Decision {
	b := rules.Buffer{Water: rules.AnyOf(rules.PerennialStream), Distance: limit, From: from}
	if allowance > 0 {
		b.Allowance = rules.Allowance{Distance: allowance, Basis: "a survey"}
	}
	table := validTable(row("row", b))
	set, err := rules.NewSet(table)
	require.NoError(t, err)
	var site rules.Surroundings
	site.Water.Set(rules.PerennialStream, d)
	return rules.Govern("us", midsummer, []*rules.Set{set}).Narrow(rules.Treatment{}).Decide(&site)
}

// A cross-section of a bank is drawn: where its wetland ends and where its top
// is, in either order; "bank top" is the farther of the two, as it is defined.
// Whatever a surveyor measured there, nothing is allowed that breaks the rule,
// and nothing forbidden that keeps it.
func TestBuffersAgainstTheGround(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stem := rapid.Int64Range(0, 200).Draw(t, "stem, from the water's edge")
		wetland, bank := rapid.Int64Range(0, 60).Draw(t, "wetland"), rapid.Int64Range(0, 60).Draw(t, "bank")
		offset := map[rules.DistanceOrigin]int64{
			rules.WaterEdge: 0, rules.WetlandBoundary: wetland, rules.BankTop: max(bank, wetland),
		}
		distance := func(o rules.DistanceOrigin) int64 { return stem - offset[o] }

		measured := rules.WaterDistance{
			Origin:  rapid.SampledFrom(rules.Words[rules.DistanceOrigin]()).Draw(t, "measured from"),
			AtLeast: rapid.Bool().Draw(t, "at least"),
		}
		d := distance(measured.Origin)
		if measured.AtLeast {
			d -= rapid.Int64Range(0, 50).Draw(t, "farther than stated")
		}
		measured.Distance = quantity.Micrometres(d)

		from := rapid.SampledFrom(rules.Words[rules.DistanceOrigin]()).Draw(t, "rule counts from")
		limit := rapid.Int64Range(1, 150).Draw(t, "limit")
		var allowance int64
		if from > rules.WaterEdge && rapid.Bool().Draw(t, "allowance?") {
			allowance = max(1, offset[from]) + rapid.Int64Range(0, 5).Draw(t, "more than is needed")
		}
		switch clearsWith(t, measured, quantity.Micrometres(limit), from, quantity.Micrometres(allowance)) {
		case rules.Allowed:
			assert.GreaterOrEqual(t, distance(from), limit, "allowed within the limit")
		case rules.Prohibited:
			assert.Less(t, distance(from), limit, "forbidden beyond the limit")
		}
	})
}

func TestSetOthersHoldsWhereverARuleCounts(t *testing.T) {
	const d = 100 * quantity.Metre
	var site rules.Surroundings
	near := rules.WaterDistance{Distance: quantity.Metre, Origin: rules.WaterEdge}
	site.Water.Set(rules.Ditch, near)
	site.Water.SetOthers(d)

	got, known := site.Water.Get(rules.Ditch)
	assert.True(t, known)
	assert.Equal(t, near, got, "what was measured stays")
	for _, class := range rules.Words[rules.WaterClass]() {
		for _, from := range rules.Words[rules.DistanceOrigin]() {
			for limit, want := range map[quantity.Micrometres]rules.Decision{d: rules.Allowed, d + 1: rules.Undetermined} {
				if class == rules.Ditch {
					want = rules.Prohibited
				}
				r := row("row", rules.Buffer{Water: rules.AnyOf(class), Distance: limit, From: from})
				assert.Equal(t, want, decide(t, rules.Treatment{}, site, r), "%s from %s, %d", class, from, limit)
			}
		}
	}
}

func TestWatersAsJSON(t *testing.T) {
	var w rules.Waters
	empty, err := json.Marshal(w)
	require.NoError(t, err)
	assert.JSONEq(t, `{}`, string(empty))
	w.Set(rules.Lake, rules.WaterDistance{Distance: 25, Origin: rules.BankTop, AtLeast: true})
	w.Set(rules.Well, rules.WaterDistance{Distance: 30})
	text, err := json.Marshal(w)
	require.NoError(t, err)
	assert.JSONEq(t, `{"lake":{"um":25,"from":"bank_top","at_least":true},"well":{"um":30,"from":"","at_least":false}}`, string(text))
}
