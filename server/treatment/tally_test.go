package treatment_test

import (
	"fmt"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// planned is stems of a site, sorted into parts that planners see apart.
type planned struct {
	c        *treatment.Catalogue
	g        *rules.Governing
	settings treatment.Settings
	parts    [][]treatment.Stem
}

// each plans each part by a planner of its own, and gives one that counts for all.
func (p *planned) each(t *rapid.T, site treatment.Site) ([]treatment.Plan, *treatment.Planner) {
	site.InPart = true
	all := treatment.NewPlanner(p.c, p.g, &site, &p.settings)
	var plans []treatment.Plan
	for _, stems := range p.parts {
		one := treatment.NewPlanner(p.c, p.g, &site, &p.settings)
		for i := range stems {
			plans = append(plans, one.Plan(&stems[i]))
		}
		for _, tally := range one.Tallies(nil) {
			require.NoError(t, all.Count(&tally))
		}
	}
	return plans, all
}

// Planners that each see a part of a site decide, by the shares of a first pass over
// all parts, as one does that sees the whole.
func TestPartsAddUpToTheWhole(t *testing.T) {
	c := shipped(t)
	split := 0
	rapid.Check(t, func(rt *rapid.T) {
		p := &planned{c: c, g: law(t, summer), settings: treatment.DefaultSettings(), parts: make([][]treatment.Stem, 1+rapid.IntRange(0, 3).Draw(rt, "parts"))}
		var stems []treatment.Stem
		for i := range rapid.IntRange(1, 60).Draw(rt, "stems") {
			s := stem(rules.Tree, rapid.Float64Range(1, 20).Draw(rt, "inches"), 40)
			s.ID = fmt.Sprint(i)
			part := i * len(p.parts) / 60
			p.parts[part] = append(p.parts[part], s)
			stems = append(stems, s)
		}
		site := treatment.Site{ID: "small", Area: quantity.Acres(rapid.Float64Range(0.005, 0.05).Draw(rt, "acres"))}
		want, whole := treatment.PlanAll(c, p.g, site, &p.settings, stems)
		got, all := p.each(rt, site)
		site.Shares = map[string]treatment.Share{}
		for _, u := range all.Uses() {
			require.Equal(rt, u.Seasons > 1, u.Used > u.Left, "all that is wanted is counted as used")
			if u.Used > u.Left {
				site.Shares[u.Active] = u.Share
			}
		}
		if len(site.Shares) > 0 {
			split++
			got, all = p.each(rt, site)
		}
		require.Equal(rt, whole.Uses(), all.Uses())
		require.Len(rt, got, len(want))
		for i := range want {
			require.Equal(rt, want[i].Outcome, got[i].Outcome)
			require.Equal(rt, want[i].Dose, got[i].Dose)
			require.Equal(rt, want[i].Key, got[i].Key)
		}
	})
	require.Positive(t, split, "some sites are split")
}

func TestATallyThatNobodyCountedIsRefused(t *testing.T) {
	settings := treatment.DefaultSettings()
	p := treatment.NewPlanner(shipped(t), law(t, summer), &treatment.Site{}, &settings)
	for _, w := range []treatment.Wanted{{Class: -1}, {Class: 1 << 20}, {AE: -1}} {
		require.Error(t, p.Count(&treatment.Tally{Active: "glyphosate", Wanted: []treatment.Wanted{w}}), "%v", w)
	}
	require.Empty(t, p.Uses())
}

// Of limits that are equal the source that is told does not depend on the order.
func TestTheSourceOfALimitDoesNotDependOnTheOrder(t *testing.T) {
	settings := treatment.DefaultSettings()
	sources := []treatment.Tally{
		{Active: "a", Limit: 5, Source: "x"}, {Active: "a", Limit: 5, Source: "b"}, {Active: "a", Limit: 7, Source: "a"},
	}
	for _, order := range [][]int{{0, 1, 2}, {2, 1, 0}, {1, 2, 0}} {
		p := treatment.NewPlanner(shipped(t), law(t, summer), &treatment.Site{}, &settings)
		for _, i := range order {
			require.NoError(t, p.Count(&sources[i]))
		}
		require.Equal(t, "b", p.Uses()[0].Source)
		require.Equal(t, quantity.ArealRate(5), p.Uses()[0].Limit)
	}
}

func TestMixesThatWereSummedApartAddUp(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var whole, merged treatment.Mixes
		for range rapid.IntRange(1, 3).Draw(rt, "parts") {
			var part treatment.Mixes
			for range rapid.IntRange(0, 8).Draw(rt, "doses") {
				b := anyBlend(rt)
				d := treatment.Dose{Stems: 1, Mix: anyVolume(rt, "mix"), AE: 3}
				whole.Add(rules.CutStump, b.recipe(), b.formulation(), d)
				part.Add(rules.CutStump, b.recipe(), b.formulation(), d)
			}
			for _, m := range part.Sums() {
				merged.Sum(&m)
			}
		}
		require.Equal(rt, whole.Sums(), merged.Sums())
		require.Equal(rt, whole.List(sprayer(quantity.Gallons(3))), merged.List(sprayer(quantity.Gallons(3))))
	})
}

// What is wanted adds up however much it is, in any order, also beyond the 32 bits in
// which a class keeps most of it.
func TestWhatIsWantedAddsUpBeyond32Bits(t *testing.T) {
	settings, known, governing := treatment.DefaultSettings(), shipped(t), law(t, summer)
	rapid.Check(t, func(t *rapid.T) {
		amounts := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) treatment.Wanted {
			ae := rapid.OneOf(rapid.Int64Range(1, 1<<20), rapid.Int64Range(1<<31, 1<<33), rapid.Int64Range(1<<40, 1<<50)).Draw(t, "ae")
			return treatment.Wanted{Class: rapid.IntRange(0, 40).Draw(t, "class"), AE: quantity.MicrogramsAE(ae)}
		}), 1, 40).Draw(t, "wanted")
		want, sum := map[int]quantity.MicrogramsAE{}, quantity.MicrogramsAE(0)
		p := treatment.NewPlanner(known, governing, &treatment.Site{Area: quantity.Hectare}, &settings)
		for _, w := range rapid.Permutation(amounts).Draw(t, "order") {
			want[w.Class] += w.AE
			sum += w.AE
			require.NoError(t, p.Count(&treatment.Tally{Active: "glyphosate", Limit: 1, Wanted: []treatment.Wanted{w}}))
		}
		got := map[int]quantity.MicrogramsAE{}
		for _, w := range p.Tallies(nil)[0].Wanted {
			got[w.Class] = w.AE
		}
		require.Equal(t, want, got)
		require.Equal(t, sum, p.Uses()[0].Wanted)
	})
}
