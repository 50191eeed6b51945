package use_test

import (
	"fmt"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/campaign/use"
)

func TestACapCountsAsItSays(t *testing.T) {
	g := &use.Ground{Treated: quantity.Acres(10), Parcel: quantity.Acres(40)}
	twice := []use.Use{
		{Active: "imazapyr", AE: 900 * quantity.GramAE, Ground: "bank"}, {Active: "imazapyr", AE: 300 * quantity.GramAE, Ground: "bank"},
		{Active: "imazapyr", AE: 100 * quantity.GramAE, Ground: "slope"}, {Active: "glyphosate", AE: 5_000 * quantity.GramAE, Ground: "bank"},
	}
	c := rules.Cap{Active: "imazapyr", Rate: quantity.PoundsPerAcre(1)}
	all := use.Cap(&c, g, twice)
	assert.Equal(t, 1300*int64(quantity.GramAE), all.Used)
	assert.Equal(t, int64(c.Rate.On(quantity.Acres(10))), all.Limit)
	assert.Equal(t, all.Limit-all.Used, all.Left())

	c.RepeatsCounted = rules.No
	assert.Equal(t, 1000*int64(quantity.GramAE), use.Cap(&c, g, twice).Used, "each ground by its largest use")
	nowhere := []use.Use{{Active: "imazapyr", AE: 900 * quantity.GramAE}, {Active: "imazapyr", AE: 900 * quantity.GramAE}}
	assert.Equal(t, 1800*int64(quantity.GramAE), use.Cap(&c, g, nowhere).Used, "of unknown ground nobody knows that it is a repeat")
	c.Over = rules.OverParcel
	assert.Equal(t, int64(c.Rate.On(quantity.Acres(40))), use.Cap(&c, g, twice).Limit)

	unknown := use.Cap(&c, &use.Ground{Treated: quantity.Acres(10)}, twice)
	assert.False(t, unknown.LimitKnown)
	assert.Zero(t, unknown.Left())
	assert.Contains(t, unknown.Unknown, "parcel_area_m2")
	lost := use.Cap(&c, g, append(twice, use.Use{Active: "imazapyr", AE: -1}))
	assert.False(t, lost.UsedKnown)
	assert.Zero(t, lost.Left(), "an unknown amount leaves nothing")
}

// Thresholds as permits have them. Area of 6,400 acres and 20 miles of shore: the general
// permit of the EPA, read second-hand (L27); one state counts each area once and asks for
// one area of more than 100 acres (L29, L30), another adds up every repeat (trap 8).
func TestThresholdsAsPermitsHaveThem(t *testing.T) {
	lake := func(ground string, acres float64) use.Use {
		return use.Use{Ground: ground, Area: quantity.Acres(acres)}
	}
	single := rules.UseThreshold{Area: quantity.Acres(100), SingleArea: true, RepeatsCounted: rules.No}
	for _, c := range []struct {
		says string
		rule rules.UseThreshold
		uses []use.Use
		want use.State
	}{
		{"L29: two lakes, 20 and 70 acres", single, []use.Use{lake("a", 20), lake("b", 70)}, use.Below},
		{"two lakes of 70 acres are none of 100", single, []use.Use{lake("a", 70), lake("b", 70)}, use.Below},
		{"L30: 125 acres of one lake", single, []use.Use{lake("b", 125)}, use.Passed},
		{"the same 70 acres twice, counted once", single, []use.Use{lake("b", 70), lake("b", 70)}, use.Below},
		{"90 acres are near 100", single, []use.Use{lake("b", 90)}, use.Warning},
		{"L30: 100 acres are what it asks of", single, []use.Use{lake("b", 100)}, use.Passed},
		{"79.9 acres", single, []use.Use{lake("b", 79.9)}, use.Below},
		{"80 acres: the warning", single, []use.Use{lake("b", 80)}, use.Warning},
		{"unknown ground counts anew", rules.UseThreshold{Area: quantity.Acres(100), RepeatsCounted: rules.No}, []use.Use{lake("", 60), lake("", 60)}, use.Passed},
		{"L27: 6,400 acres of canopy", rules.UseThreshold{Area: quantity.Acres(6_400)}, []use.Use{lake("a", 6_399)}, use.Warning},
		{"L27: more than that", rules.UseThreshold{Area: quantity.Acres(6_400)}, []use.Use{lake("a", 6_400), lake("b", 0.1)}, use.Passed},
		{"trap 8: repeats add up", rules.UseThreshold{Area: quantity.Acres(100), RepeatsCounted: rules.Yes}, []use.Use{lake("a", 60), lake("a", 60)}, use.Passed},
		{"trap 8: repeats do not", rules.UseThreshold{Area: quantity.Acres(100), RepeatsCounted: rules.No}, []use.Use{lake("a", 60), lake("a", 60)}, use.Below},
		{"an area that is not known", rules.UseThreshold{Area: quantity.Acres(100)}, []use.Use{lake("a", 0)}, use.Unknown},
		{"is passed whatever it is", rules.UseThreshold{Area: quantity.Acres(100)}, []use.Use{lake("a", 0), lake("b", 101)}, use.Passed},
	} {
		_, got := use.Threshold(&c.rule, &use.Ground{}, c.uses)
		assert.Equal(t, c.want, got, c.says)
	}
	shore := rules.UseThreshold{Length: 20 * quantity.Mile}
	banks := []use.Use{{Shore: 25 * quantity.Mile}}
	_, got := use.Threshold(&shore, &use.Ground{BothBanks: rules.Yes}, banks)
	assert.Equal(t, use.Passed, got, "L27: 20 miles, both banks counted")
	shore.BothBanks = rules.No
	_, got = use.Threshold(&shore, &use.Ground{BothBanks: rules.Yes}, banks)
	assert.Equal(t, use.Below, got)
	_, got = use.Threshold(&shore, &use.Ground{}, banks)
	assert.Equal(t, use.Passed, got, "where nobody says that both banks belong to it")
}

// A second sum, written apart in whole numbers of any size: nothing is lost, and nothing
// is left where it is known to be used up.
func TestSumsAgreeWithASecondComputation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := &use.Ground{Treated: quantity.Acres(rapid.Float64Range(0.01, 1000).Draw(t, "acres"))}
		c := rules.Cap{Active: "a", Rate: quantity.PoundsPerAcre(rapid.Float64Range(0.1, 8).Draw(t, "rate")), RepeatsCounted: rules.YesNo(rapid.IntRange(0, 2).Draw(t, "repeats"))}
		var uses []use.Use
		sum, largest := new(big.Int), map[string]*big.Int{}
		for range rapid.IntRange(0, 12).Draw(t, "uses") {
			u := use.Use{
				Active: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "active"), Ground: rapid.SampledFrom([]string{"x", "y", ""}).Draw(t, "ground"),
				AE: quantity.MicrogramsAE(rapid.Int64Range(0, 1e12).Draw(t, "ae")),
			}
			uses = append(uses, u)
			if u.Active != "a" {
				continue
			}
			ae := big.NewInt(int64(u.AE))
			sum.Add(sum, ae)
			if u.Ground == "" {
				largest[fmt.Sprint(len(uses))] = ae
			} else if l := largest[u.Ground]; l == nil || ae.Cmp(l) > 0 {
				largest[u.Ground] = ae
			}
		}
		if c.RepeatsCounted == rules.No {
			sum = new(big.Int)
			for _, l := range largest {
				sum.Add(sum, l)
			}
		}
		got := use.Cap(&c, g, uses)
		if sum.Cmp(big.NewInt(got.Used)) != 0 || got.Left() < 0 || got.Used >= got.Limit && got.Left() != 0 {
			t.Fatalf("%+v, and not %s", got, sum)
		}
	})
}
