package rules_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// A panel says of each of its treatments what is said of it alone, whatever the tables,
// and where its key is equal it is for the same reasons.
func TestAPanelSaysOfEachTreatmentWhatIsSaidOfItAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rules.Govern(drawnPlaces[2], midsummer, drawSets(t))
		var treatments []*rules.Narrowed
		var stems []rules.Surroundings
		for range rapid.IntRange(1, 6).Draw(t, "treatments") {
			treatment, stem := drawStem(t)
			treatments, stems = append(treatments, g.Narrow(treatment)), append(stems, stem)
		}
		if len(stems) > 2 && rapid.Bool().Draw(t, "computed?") {
			stems[0].Water.Compute(&stems[1].Water, &stems[2].Water)
		}
		panel := rules.NewPanel(treatments)
		reasons := map[uint64][][]rules.Finding{}
		for i := range stems {
			verdict := panel.Judge(&stems[i])
			var findings [][]rules.Finding
			for j, n := range treatments {
				alone := n.Judge(&stems[i])
				require.Equal(t, alone.Decision, verdict.On(j), "treatment %d of stem %d", j, i)
				require.Equal(t, alone.Otherwise == rules.Prohibited, verdict.Barred>>j&1 == 1, "treatment %d of stem %d, with every window open", j, i)
				findings = append(findings, n.Explain(&stems[i]))
			}
			if before, seen := reasons[verdict.Key]; seen {
				require.Equal(t, before, findings, "equal keys")
			}
			reasons[verdict.Key] = findings
		}
	})
}

// Stems with the same words that lie on the same side of all that a panel asks about are
// told the same, for the same reasons.
func TestStemsOnTheSameSideAreToldTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rules.Govern(drawnPlaces[2], midsummer, drawSets(t))
		treatment, stem := drawStem(t)
		_, other := drawStem(t)
		n := g.Narrow(treatment)
		panel := rules.NewPanel([]*rules.Narrowed{n})
		like := stem
		like.Water, like.Measures = other.Water, other.Measures
		side, ok := panel.Side(&stem.Water)
		otherSide, otherOK := panel.Side(&like.Water)
		if !ok || !otherOK || side != otherSide {
			like.Water = stem.Water
		}
		for _, q := range rules.Words[rules.Measure]() {
			if !sameSide(panel.Limits(q), q, &stem, &like) {
				like.Measures = stem.Measures
			}
		}
		if panel.Clear(&stem.Places) && panel.Clear(&other.Places) {
			like.Places = other.Places
		}
		require.Equal(t, panel.Judge(&stem), panel.Judge(&like))
		require.Equal(t, n.Explain(&stem), n.Explain(&like))
	})
}

func sameSide(limits []int64, q rules.Measure, a, b *rules.Surroundings) bool {
	v, known := a.Measures.Get(q)
	w, otherKnown := b.Measures.Get(q)
	for _, limit := range limits {
		if v > limit != (w > limit) {
			return false
		}
	}
	return known == otherKnown
}

func TestAPanelHasASeatForEachBit(t *testing.T) {
	n := benchGoverning(t, 16).Narrow(benchTreatment)
	treatments := make([]*rules.Narrowed, rules.MaxPanel+1)
	for i := range treatments {
		treatments[i] = n
	}
	stems := benchStems()
	full := rules.NewPanel(treatments[1:])
	verdict := full.Judge(&stems[0])
	assert.Equal(t, n.Judge(&stems[0]).Decision, verdict.On(rules.MaxPanel-1))
	assert.PanicsWithValue(t, "rules: a panel of 65 treatments; at most 64", func() { rules.NewPanel(treatments) })
}

// BenchmarkPanel judges all six methods of one stem together; ns/op is per stem.
func BenchmarkPanel(b *testing.B) {
	for _, n := range tableSizes {
		g := benchGoverning(b, n)
		var treatments []*rules.Narrowed
		for _, m := range rules.Words[rules.Method]() {
			t := benchTreatment
			t.Method = m
			treatments = append(treatments, g.Narrow(t))
		}
		panel := rules.NewPanel(treatments)
		stems := benchStems()
		b.Run(fmt.Sprintf("rows=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			i := 0
			for b.Loop() {
				panel.Judge(&stems[i%len(stems)])
				i++
			}
		})
	}
}

// What a row may tell apart lies on different sides.
func TestSidesTellApart(t *testing.T) {
	g := rules.Govern("us", midsummer, []*rules.Set{mustSet(t, tableOf(
		rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: 30 * quantity.Metre, From: rules.WaterEdge, WhileWet: true},
		rules.Setback{Places: rules.AnyOf(rules.School), Distance: 30 * quantity.Metre},
	))})
	panel := rules.NewPanel([]*rules.Narrowed{g.Narrow(benchTreatment)})
	seen := map[uint64]rules.WaterDistance{}
	for _, d := range []rules.WaterDistance{
		{Distance: 10 * quantity.Metre, Origin: rules.WaterEdge}, {Distance: 10 * quantity.Metre, Origin: rules.WaterEdge, AtLeast: true},
		{Distance: 10 * quantity.Metre, Origin: rules.BankTop}, {Distance: 10 * quantity.Metre}, {Distance: 0, Origin: rules.WaterEdge},
		{Distance: 10 * quantity.Metre, Origin: rules.WaterEdge, State: rules.WaterDry}, {Distance: 30 * quantity.Metre, Origin: rules.WaterEdge},
	} {
		var w rules.Waters
		w.Set(rules.Lake, d)
		side, ok := panel.Side(&w)
		require.True(t, ok)
		require.NotContains(t, seen, side, "%v", d)
		seen[side] = d
	}
	var near, far, unknown rules.Places
	near.Set(rules.School, rules.PlaceDistance{Distance: 30*quantity.Metre - 1})
	far.Set(rules.School, rules.PlaceDistance{Distance: 30 * quantity.Metre})
	assert.False(t, panel.Clear(&near))
	assert.False(t, panel.Clear(&unknown))
	assert.True(t, panel.Clear(&far))
}

func tableOf(effects ...rules.Effect) rules.Table {
	table := validTable()
	table.Rows = nil
	for i, e := range effects {
		table.Rows = append(table.Rows, rules.Row{ID: fmt.Sprintf("row-%d", i), Purpose: "Stands for a rule.", Citation: "invented", ValidFrom: lawFrom, Effect: e})
	}
	return table
}
