package rules_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// drawDistances draws what is known of some waters; shrinks to nothing known.
func drawDistances(t *rapid.T, name string) rules.Waters {
	var w rules.Waters
	for _, c := range drawnWaters {
		if rapid.Bool().Draw(t, name+" "+c.String()) {
			w.Set(c, rules.WaterDistance{
				Distance: quantity.Micrometres(rapid.Int64Range(0, 6).Draw(t, name+" distance")),
				Origin:   rapid.SampledFrom(rules.Words[rules.DistanceOrigin]()).Draw(t, name+" from"),
				AtLeast:  rapid.Bool().Draw(t, name+" at least"),
			})
		}
	}
	return w
}

// withStates gives the distances the states of others.
func withStates(w, of rules.Waters) rules.Waters {
	for _, c := range drawnWaters {
		if d, known := w.Get(c); known {
			stated, _ := of.Get(c)
			d.State = stated.State
			w.Set(c, d)
		}
	}
	return w
}

// What a distance forbids by itself is forbidden beside the others, and allowed is only
// what the stated or the computed one allows.
func TestComputedDistancesOnlyForbidMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stated, computed, seen := drawDistances(t, "stated"), drawDistances(t, "computed"), drawDistances(t, "seen")
		for _, c := range drawnWaters {
			if d, known := stated.Get(c); known {
				d.State = drawWord[rules.WaterState](t, "state")
				stated.Set(c, d)
			}
		}
		b := drawBuffer(t)
		n := narrowed(t, b)
		says := func(w rules.Waters) rules.Decision { return n.Decide(&rules.Surroundings{Water: w}) }
		all := stated
		all.Compute(&computed, &seen)
		byStated, byComputed, bySeen, together := says(stated), says(withStates(computed, stated)), says(withStates(seen, stated)), says(all)
		if byStated == rules.Prohibited || byComputed == rules.Prohibited || bySeen == rules.Prohibited {
			assert.Equal(t, rules.Prohibited, together, "%v stated, %v computed, %v seen", byStated, byComputed, bySeen)
		}
		one := b.Water == rules.AnyOf(rules.PerennialStream) || b.Water == rules.AnyOf(rules.Lake)
		if one && together < rules.Undetermined { // of several each may clear another
			assert.Less(t, min(byStated, byComputed), rules.Undetermined, "allowed by neither")
		}
	})
}

// narrowed is one buffer as all the law there is.
func narrowed(t require.TestingT, b rules.Buffer) *rules.Narrowed {
	set, err := rules.NewSet(validTable(row("row", b)))
	require.NoError(t, err)
	return rules.Govern("us", midsummer, []*rules.Set{set}).Narrow(rules.Treatment{Granted: []string{"nation/row"}})
}

// A bank is drawn, as in TestBuffersAgainstTheGround, with a distance that a surveyor
// stated and one that was computed, which is never longer than the true one. Whatever
// both start from, nothing is allowed that breaks the rule.
func TestComputedDistancesAgainstTheGround(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stem := rapid.Int64Range(0, 200).Draw(t, "stem, from the water's edge")
		wetland, bank := rapid.Int64Range(0, 60).Draw(t, "wetland"), rapid.Int64Range(0, 60).Draw(t, "bank")
		offset := map[rules.DistanceOrigin]int64{
			rules.WaterEdge: 0, rules.WetlandBoundary: wetland, rules.BankTop: max(bank, wetland),
		}
		truth := func(o rules.DistanceOrigin) int64 { return max(0, stem-offset[o]) }
		origin := func(name string) rules.DistanceOrigin {
			return rapid.SampledFrom(rules.Words[rules.DistanceOrigin]()).Draw(t, name)
		}
		var stated, computed rules.Waters
		if rapid.Bool().Draw(t, "is stated") {
			o := origin("stated from")
			stated.Set(rules.PerennialStream, rules.WaterDistance{Distance: quantity.Micrometres(truth(o)), Origin: o})
		}
		o := origin("computed from")
		computed.Set(rules.PerennialStream, rules.WaterDistance{
			Distance: quantity.Micrometres(rapid.Int64Range(0, truth(o)).Draw(t, "computed")), Origin: o, AtLeast: rapid.Bool().Draw(t, "at least"),
		})
		stated.Compute(&computed, &rules.Waters{})
		from, limit := origin("rule counts from"), rapid.Int64Range(1, 150).Draw(t, "limit")
		b := rules.Buffer{Water: rules.AnyOf(rules.PerennialStream), Distance: quantity.Micrometres(limit), From: from}
		if from > rules.WaterEdge && rapid.Bool().Draw(t, "allowance?") {
			b.Allowance = rules.Allowance{Distance: quantity.Micrometres(max(1, offset[from])), Basis: "a survey"}
		}
		n := narrowed(t, b)
		if n.Decide(&rules.Surroundings{Water: stated}) == rules.Allowed {
			assert.GreaterOrEqual(t, truth(from), limit, "allowed within the limit")
		}
	})
}

// The smaller of two distances decides. The layer shows edges of water; the rule says
// whence it counts.
func TestTheSmallerDistanceDecides(t *testing.T) {
	const (
		not, edge, bank      = rules.DistanceOrigin(0), rules.WaterEdge, rules.BankTop
		allowed, no, unknown = rules.Allowed, rules.Prohibited, rules.Undetermined
	)
	exact := func(d quantity.Micrometres, from rules.DistanceOrigin) *rules.WaterDistance {
		return &rules.WaterDistance{Distance: d, Origin: from}
	}
	atLeast := func(d quantity.Micrometres, from rules.DistanceOrigin) *rules.WaterDistance {
		return &rules.WaterDistance{Distance: d, Origin: from, AtLeast: true}
	}
	cases := []struct {
		name             string
		stated, computed *rules.WaterDistance
		rule             rules.DistanceOrigin
		want             rules.Decision // of a limit of 50
	}{
		{"computed alone, beyond", nil, exact(50, edge), edge, allowed},
		{"computed alone, within", nil, exact(49, edge), edge, no},
		{"in the water", nil, exact(0, edge), edge, no},
		{"none within reach", nil, atLeast(50, edge), edge, allowed},
		{"covered less far than the rule asks", nil, atLeast(49, edge), edge, unknown},
		{"no layer tells", exact(50, edge), nil, edge, allowed},
		{"nothing is known", nil, nil, edge, unknown},
		{"stated is smaller", exact(49, edge), exact(60, edge), edge, no},
		{"computed is smaller", exact(60, edge), exact(49, edge), edge, no},
		{"both beyond", exact(60, edge), exact(50, edge), edge, allowed},
		{"a layer of edges does not show a bank kept", nil, exact(60, edge), bank, unknown},
		{"a layer of edges shows a bank broken", nil, exact(49, edge), bank, no},
		{"a layer of edges with nothing within reach does not show a bank kept", nil, atLeast(60, edge), bank, unknown},
		{"stated from the bank beside a layer of edges", exact(50, bank), exact(60, edge), bank, allowed},
		{"the layer is nearer than the limit from the bank", exact(50, bank), exact(49, edge), bank, no},
		{"stated from the bank is short of a limit from the edge", exact(40, bank), exact(60, edge), edge, unknown},
		{"stated from nowhere is short", exact(40, not), exact(60, edge), edge, unknown},
		{"stated from nowhere is long", exact(60, not), exact(60, edge), edge, allowed},
		{"at least less is stated", atLeast(30, bank), exact(60, edge), edge, allowed},
		{"at least more is stated, nearer is computed", atLeast(60, bank), exact(40, edge), edge, no},
		{"stated near, none within reach of the layer", exact(40, edge), atLeast(60, edge), edge, no},
		{"at least more is stated than is covered", atLeast(60, bank), atLeast(20, edge), edge, allowed},
		{"at least more is stated from the bank than lies to the edge", atLeast(152, bank), exact(52, edge), bank, unknown},
		{"more is stated from the bank than lies to the edge", exact(152, bank), exact(52, edge), bank, unknown},
		{"at least more is computed from the bank than is stated to the edge", exact(52, edge), atLeast(100, bank), bank, unknown},
		{"stated from nowhere is less than is computed from the bank", exact(52, not), atLeast(100, bank), bank, unknown},
		{"stated from the bank, and as far to the edge", exact(52, bank), exact(52, edge), bank, allowed},
		{"stated from nowhere is less than is computed from the edge", exact(52, not), exact(60, edge), edge, unknown},
		{"at least more is stated than is computed from nowhere", atLeast(152, bank), exact(52, not), edge, unknown},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var stated, computed rules.Waters
			if c.stated != nil {
				stated.Set(rules.PerennialStream, *c.stated)
			}
			if c.computed != nil {
				computed.Set(rules.PerennialStream, *c.computed)
			}
			stated.Compute(&computed, &rules.Waters{})
			n := narrowed(t, rules.Buffer{Water: rules.AnyOf(rules.PerennialStream), Distance: 50, From: c.rule})
			assert.Equal(t, c.want, n.Decide(&rules.Surroundings{Water: stated}))
		})
	}
}

// Water that is seen where no coverage vouches for more forbids, and never allows.
func TestWaterThatIsMerelySeen(t *testing.T) {
	n := narrowed(t, rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: 50, From: rules.WaterEdge})
	for _, c := range []struct {
		stated, seen quantity.Micrometres // stated -1: nothing
		from         rules.DistanceOrigin
		want         rules.Decision
	}{
		{-1, 49, rules.WaterEdge, rules.Prohibited},
		{-1, 50, rules.WaterEdge, rules.Undetermined},
		{60, 49, rules.WaterEdge, rules.Prohibited},
		{60, 49, rules.BankTop, rules.Undetermined},
		{60, 50, rules.WaterEdge, rules.Allowed},
	} {
		var stated, seen rules.Waters
		if c.stated >= 0 {
			stated.Set(rules.Lake, rules.WaterDistance{Distance: c.stated, Origin: rules.WaterEdge})
		}
		seen.Set(rules.Lake, rules.WaterDistance{Distance: c.seen, Origin: c.from})
		stated.Compute(&rules.Waters{}, &seen)
		assert.Equal(t, c.want, n.Decide(&rules.Surroundings{Water: stated}), "%v", c)
		got, known := stated.Computed(rules.Lake)
		assert.True(t, known)
		assert.Equal(t, c.seen, got.Distance)
	}
}

// So does water that is seen nearer than it could be by what is stated.
func TestWaterThatIsSeenGainsaysWhatIsStated(t *testing.T) {
	n := narrowed(t, rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: 50, From: rules.BankTop})
	for origin, want := range map[rules.DistanceOrigin]rules.Decision{0: rules.Undetermined, rules.WaterEdge: rules.Undetermined, rules.BankTop: rules.Allowed} {
		var stated, seen rules.Waters
		stated.SetOthers(152)
		seen.Set(rules.Lake, rules.WaterDistance{Distance: 52, Origin: origin})
		stated.Compute(&rules.Waters{}, &seen)
		assert.Equal(t, want, n.Decide(&rules.Surroundings{Water: stated}), origin)
	}
}

// On a slope a distance short of the limit does not break it, unless it is in the water.
func TestComputedDistancesOnASlope(t *testing.T) {
	n := narrowed(t, rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: 50, From: rules.WaterEdge, Along: rules.AlongSlope})
	for distance, want := range map[quantity.Micrometres]rules.Decision{0: rules.Prohibited, 20: rules.Undetermined, 50: rules.Allowed} {
		var stated, computed rules.Waters
		computed.Set(rules.Lake, rules.WaterDistance{Distance: distance, Origin: rules.WaterEdge})
		stated.Compute(&computed, &rules.Waters{})
		assert.Equal(t, want, n.Decide(&rules.Surroundings{Water: stated}), "%d", distance)
	}
}

// A layer that has an intake without its category leaves open whether it is of a
// category, also beside one whose category it tells, until somebody states how far
// that category is.
func TestComputedIntakes(t *testing.T) {
	of := func(c rules.WaterClass, d quantity.Micrometres) rules.Waters {
		var w rules.Waters
		w.Set(c, rules.WaterDistance{Distance: d, Origin: rules.WaterEdge})
		return w
	}
	first := narrowed(t, rules.Buffer{Water: rules.AnyOf(rules.IntakeCategory1), Distance: 50, From: rules.WaterEdge})
	anyIntake := narrowed(t, rules.Buffer{Water: rules.AnyOf(rules.Intake), Distance: 50, From: rules.WaterEdge})

	computed := of(rules.IntakeCategory1, 80)
	computed.Set(rules.Intake, rules.WaterDistance{Distance: 20, Origin: rules.WaterEdge})
	var site rules.Surroundings
	site.Water.Compute(&computed, &rules.Waters{})
	assert.Equal(t, rules.Undetermined, first.Decide(&site), "the one at 20 may be of the first category")
	assert.Equal(t, rules.Prohibited, anyIntake.Decide(&site))

	site.Water = of(rules.IntakeCategory1, 80)
	site.Water.Compute(&computed, &rules.Waters{})
	assert.Equal(t, rules.Allowed, first.Decide(&site), "somebody states that the nearest is at 80")

	near := of(rules.IntakeCategory2, 20)
	site.Water = of(rules.Intake, 60)
	site.Water.Compute(&near, &rules.Waters{})
	assert.Equal(t, rules.Prohibited, anyIntake.Decide(&site), "one of the second category is an intake")

	site.Water = of(rules.Intake, 60)
	site.Water.Compute(&rules.Waters{}, &near)
	assert.Equal(t, rules.Prohibited, anyIntake.Decide(&site), "also one that is merely seen")
	far := of(rules.IntakeCategory2, 90)
	site.Water.Compute(&rules.Waters{}, &far)
	assert.Equal(t, rules.Allowed, anyIntake.Decide(&site), "one that is seen far off says nothing")
}

// Water known to be dry is what the inventory says of it, wherever a layer shows it.
func TestComputedDistancesOfDryWater(t *testing.T) {
	n := narrowed(t, rules.Buffer{Water: rules.AnyOf(rules.Ditch), Distance: 50, From: rules.WaterEdge, WhileWet: true})
	for state, want := range map[rules.WaterState]rules.Decision{0: rules.Prohibited, rules.WaterWet: rules.Prohibited, rules.WaterDry: rules.Allowed} {
		var stated, computed rules.Waters
		stated.Set(rules.Ditch, rules.WaterDistance{Distance: 40, Origin: rules.WaterEdge, State: state})
		computed.Set(rules.Ditch, rules.WaterDistance{Distance: 30, Origin: rules.WaterEdge})
		stated.Compute(&computed, &rules.Waters{})
		assert.Equal(t, want, n.Decide(&rules.Surroundings{Water: stated}), state.String())
	}
}

// A layer whose water is wet gainsays an inventory that says dry; one whose water is dry
// gainsays nothing, and allows nothing either.
func TestWaterThatALayerSaysIsWet(t *testing.T) {
	n := narrowed(t, rules.Buffer{Water: rules.AnyOf(rules.Ditch), Distance: 50, From: rules.WaterEdge, WhileWet: true})
	const yes, no = rules.Allowed, rules.Prohibited
	for _, c := range []struct {
		stated, layer rules.WaterState
		want          rules.Decision
	}{
		{rules.WaterDry, 0, yes}, {rules.WaterDry, rules.WaterDry, yes}, {rules.WaterDry, rules.WaterWet, no},
		{0, rules.WaterDry, no}, {rules.WaterWet, rules.WaterDry, no}, {0, 0, no},
	} {
		shown := rules.Waters{}
		shown.Set(rules.Ditch, rules.WaterDistance{Distance: 30, Origin: rules.WaterEdge, State: c.layer})
		for name, layers := range map[string][2]rules.Waters{"covered": {shown, {}}, "merely seen": {{}, shown}} {
			var stated rules.Waters
			stated.Set(rules.Ditch, rules.WaterDistance{Distance: 40, Origin: rules.WaterEdge, State: c.stated})
			stated.Compute(&layers[0], &layers[1])
			assert.Equal(t, c.want, n.Decide(&rules.Surroundings{Water: stated}), "stated %s, by the layer %s, %s", c.stated, c.layer, name)
		}
	}
	far := rules.Waters{} // wet, and too far to be forbidden by
	far.Set(rules.Ditch, rules.WaterDistance{Distance: 60, Origin: rules.WaterEdge, State: rules.WaterWet})
	var stated rules.Waters
	stated.Set(rules.Ditch, rules.WaterDistance{State: rules.WaterDry}) // how far it is nobody says
	stated.Compute(&far, &rules.Waters{})
	assert.Equal(t, rules.Undetermined, n.Decide(&rules.Surroundings{Water: stated}), "that water alone would be allowed, the one that is stated may be near")
}

// What is wanting is told where a distance to water is, and there alone.
func TestWhatIsWantingToCompute(t *testing.T) {
	n := narrowed(t, rules.Buffer{Water: rules.AnyOf(rules.Lake, rules.Well), Distance: 50, From: rules.WaterEdge})
	missing := func(w rules.Waters) []string { return n.Explain(&rules.Surroundings{Water: w})[0].Missing }
	const lake, well = "distance to lake from the water edge", "distance to well from the water edge"

	var w rules.Waters
	assert.Equal(t, []string{lake, well}, missing(w))
	keys := map[uint64]bool{n.Judge(&rules.Surroundings{Water: w}).Key: true}

	w.Want(rules.WantsUncertainty)
	require.Len(t, missing(w), 3)
	assert.Contains(t, missing(w)[2], "coordinateUncertaintyInMeters")
	assert.Contains(t, missing(w)[2], "coordinate_uncertainty_m")
	keys[n.Judge(&rules.Surroundings{Water: w}).Key] = true

	w.Want(rules.WantsOutline | rules.WantsUncertainty)
	require.Len(t, missing(w), 4)
	keys[n.Judge(&rules.Surroundings{Water: w}).Key] = true

	w.Want(rules.WantsOutline)
	assert.Contains(t, missing(w)[2], "outline of the patch")
	keys[n.Judge(&rules.Surroundings{Water: w}).Key] = true

	var computed rules.Waters
	computed.Set(rules.Lake, rules.WaterDistance{Distance: 60, Origin: rules.WaterEdge})
	w.Compute(&computed, &rules.Waters{})
	assert.Equal(t, []string{well + ", which no water layer covers there"}, missing(w))
	keys[n.Judge(&rules.Surroundings{Water: w}).Key] = true
	computed.Set(rules.Well, rules.WaterDistance{Distance: 20, Origin: rules.WaterEdge, AtLeast: true})
	assert.Equal(t, []string{well + ", which no water layer covers there"}, missing(w), "not as far as the rule asks")
	assert.Len(t, keys, 5, "stems that are told other things have other keys")

	w.Want(rules.WantsOutline)
	w.SetOthers(50)
	assert.Empty(t, missing(w), "nothing is wanting")
	_, known := w.Computed(rules.Lake)
	assert.False(t, known)
}

// Which waters the rows of a law ask for, and how far.
func TestWhichWatersALawAsksFor(t *testing.T) {
	buffer := func(d quantity.Micrometres, change func(*rules.Buffer), classes ...rules.WaterClass) rules.Buffer {
		b := rules.Buffer{Water: rules.AnyOf(classes...), Distance: d, From: rules.WaterEdge}
		change(&b)
		return b
	}
	same := func(*rules.Buffer) {}
	small := rules.Selector{Ranges: []rules.Range{rules.AtMost(rules.LakeArea, 1)}}
	cases := []struct {
		name    string
		rows    []rules.Row
		classes rules.OneOf[rules.WaterClass]
		reach   quantity.Micrometres
	}{
		{"none", []rules.Row{row("a", rules.Warn{Message: "a"})}, 0, 0},
		{"the longest", []rules.Row{row("a", buffer(10, same, rules.Lake)), row("b", buffer(30, same, rules.Ditch))}, rules.AnyOf(rules.Lake, rules.Ditch), 30},
		{"with an allowance", []rules.Row{row("a", buffer(10, func(b *rules.Buffer) {
			b.From, b.Allowance = rules.BankTop, rules.Allowance{Distance: 7, Basis: "a survey"}
		}, rules.Lake)), row("b", buffer(15, same, rules.Lake))}, rules.AnyOf(rules.Lake), 17},
		{"where one mixes no stem tells", []rules.Row{row("a", buffer(10, same, rules.Lake)), row("b", buffer(30, func(b *rules.Buffer) { b.Activity = rules.MixAndLoad }, rules.Well))}, rules.AnyOf(rules.Lake), 10},
		{"one intake stands for all", []rules.Row{row("a", buffer(10, same, rules.IntakeCategory2))}, rules.AnyOf(rules.Intake, rules.IntakeCategory1, rules.IntakeCategory2, rules.IntakeCategory3), 10},
		{"the area of a lake", []rules.Row{when("a", small, rules.Prohibit{}), row("b", buffer(10, same, rules.Spring))}, rules.AnyOf(rules.Lake, rules.Spring), 10},
		{"an exception by the area of a lake", []rules.Row{{ID: "a", Purpose: "Stands for a rule.", Citation: "invented", ValidFrom: lawFrom, Effect: buffer(10, same, rules.Spring), Unless: []rules.Selector{small}}}, rules.AnyOf(rules.Lake, rules.Spring), 10},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			classes, reach := rules.Govern("us", midsummer, []*rules.Set{mustSet(t, validTable(c.rows...))}).Water()
			assert.Equal(t, c.classes, classes)
			assert.Equal(t, c.reach, reach)
		})
	}
}
