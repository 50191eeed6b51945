package rulehost_test

import (
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/rulehost"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var demoDay = civil.Of(2026, 8, 10)

// leaves is a foliar spray by a certified applicator with a backpack.
func leaves() rules.Treatment {
	return rules.Treatment{
		Species: "Ailanthus altissima", Suckering: rules.SuckeringStrong,
		Method: rules.LowVolumeFoliar, Equipment: rules.Backpack,
		Active: "glyphosate", Formulation: rules.WaterSalt, SoilActivity: rules.SoilNone,
		AquaticLabel: rules.AquaticRegistered, RestrictedUse: rules.GeneralUse, Toxicity: rules.CategoryIII,
		Droplet: rules.DropletMedium, ReleaseHeight: 4 * quantity.Foot,
		LandUse: rules.Forest, Standing: rules.Certified,
	}
}

// atStream is gentle ground, a distance away from a stream and far from all else.
func atStream(d quantity.Micrometres) *rules.Surroundings {
	s := &rules.Surroundings{Form: rules.RootSucker}
	s.Measures.Set(rules.Slope, 50)
	s.Water.Set(rules.PerennialStream, rules.WaterDistance{Distance: d, Origin: rules.BankTop})
	s.Water.SetOthers(quantity.Mile)
	return s
}

func decide(c *rulehost.Catalog, place string, on civil.Date, d quantity.Micrometres) rules.Decision {
	return c.Govern(place, on).Narrow(leaves()).Decide(atStream(d))
}

func TestLayersOnlyRestrict(t *testing.T) {
	c := load(t, folder(t, "federal", "velmora", "ossel-creek"))
	cases := []struct {
		name, place string
		distance    quantity.Micrometres
		want        rules.Decision
	}{
		{"federal law alone, in the water", "us", 0, rules.Conditional},
		{"state, at its 10 ft", "us/velmora", 10 * quantity.Foot, rules.Conditional},
		{"state, nearer, counted from the bank", "us/velmora", 10*quantity.Foot - 1, rules.Undetermined},
		{"district, at its 100 ft", "us/velmora/ossel-creek", 100 * quantity.Foot, rules.Conditional},
		{"district, nearer", "us/velmora/ossel-creek", 100*quantity.Foot - 1, rules.Prohibited},
	}
	for _, k := range cases {
		t.Run(k.name, func(t *testing.T) {
			assert.Equal(t, k.want, decide(c, k.place, demoDay, k.distance))
		})
	}
}

// The state's window opens on 15 July, the district's on 1 August.
func TestWindowsOfTheLayersOverlap(t *testing.T) {
	c := load(t, folder(t, "federal", "velmora", "ossel-creek"))
	far := quantity.Mile
	for on, want := range map[civil.Date][2]rules.Decision{
		civil.Of(2026, 7, 14):  {rules.Prohibited, rules.Prohibited},
		civil.Of(2026, 7, 15):  {rules.Conditional, rules.Prohibited},
		civil.Of(2026, 7, 31):  {rules.Conditional, rules.Prohibited},
		civil.Of(2026, 8, 1):   {rules.Conditional, rules.Conditional},
		civil.Of(2026, 9, 30):  {rules.Conditional, rules.Conditional},
		civil.Of(2026, 10, 1):  {rules.Conditional, rules.Prohibited},
		civil.Of(2026, 10, 15): {rules.Conditional, rules.Prohibited},
		civil.Of(2026, 10, 16): {rules.Prohibited, rules.Prohibited},
	} {
		assert.Equal(t, want[0], decide(c, "us/velmora", on, far), "state, %s", on)
		assert.Equal(t, want[1], decide(c, "us/velmora/ossel-creek", on, far), "district, %s", on)
	}
}

// The same host, not built anew, decides otherwise once another edition lies in
// its folder.
func TestSwappingAnEditionChangesTheDecision(t *testing.T) {
	before, after := folder(t, "federal", "velmora"), folder(t, "federal", "velmora-2027")
	host := rulehost.New(atOwnDesk(rulehost.Config{}))
	require.NoError(t, host.Load(t.Context(), before))
	pinned := host.Catalog()
	require.NoError(t, host.Load(t.Context(), after))

	at20ft, october := 20*quantity.Foot, civil.Of(2026, 10, 20)
	assert.Equal(t, rules.Conditional, decide(pinned, "us/velmora", demoDay, at20ft), "who holds a catalog keeps its law")
	assert.Equal(t, rules.Prohibited, decide(host.Catalog(), "us/velmora", demoDay, at20ft), "the later edition opens on 15 August")
	assert.Equal(t, rules.Prohibited, decide(pinned, "us/velmora", october, 30*quantity.Foot))
	assert.Equal(t, rules.Conditional, decide(host.Catalog(), "us/velmora", october, 30*quantity.Foot))
	assert.Equal(t, rules.Undetermined, decide(host.Catalog(), "us/velmora", october, 30*quantity.Foot-1))

	old, _ := pinned.Set("velmora")
	draft, _ := host.Catalog().Set("velmora")
	assert.NotEqual(t, old.Ref.Digest, draft.Ref.Digest)
}

func TestWhereNoLawIsAtHandNothingIsAllowed(t *testing.T) {
	c := load(t, folder(t, "federal", "velmora"))
	g := c.Govern("us/velmora/ossel-creek", demoDay)
	require.Len(t, g.Gaps, 1)
	assert.Equal(t, "us/velmora/ossel-creek", g.Gaps[0].Place)
	assert.Contains(t, g.Gaps[0].Reason, "activate one")
	assert.Equal(t, rules.Undetermined, decide(c, "us/velmora/ossel-creek", demoDay, quantity.Mile))
	assert.Equal(t, rules.Conditional, decide(c, "us/velmora", demoDay, quantity.Mile))
}

// What a plugin that does not load would forbid, nobody has read: its place is
// undecided even where other law covers it. Where it does not even say whose law
// it is, every place is.
func TestAPluginThatDidNotLoadIsAGap(t *testing.T) {
	t.Run("of its own place", func(t *testing.T) {
		c := load(t, folder(t, "federal", "velmora", "crashes"))
		scope := c.NotLoaded[0].Scope
		require.NotEmpty(t, scope)
		assert.Equal(t, rules.Undetermined, decide(c, scope, demoDay, quantity.Mile))
		assert.Equal(t, rules.Conditional, decide(c, "us/velmora", demoDay, quantity.Mile), "it is not under %s", scope)
		reasons := c.Govern(scope, demoDay).Gaps
		assert.Contains(t, reasons[len(reasons)-1].Reason, "rule plugin crashes is not loaded: did not start")
	})
	t.Run("of every place", func(t *testing.T) {
		c := load(t, folder(t, "federal", "velmora", "hangs-describing"))
		require.Empty(t, c.NotLoaded[0].Scope)
		assert.Equal(t, rules.Undetermined, decide(c, "us/velmora", demoDay, quantity.Mile))
	})
}

// Federal law as this set knows it begins on 2024-12-03, the state's on
// 2024-01-01.
func TestBeforeASetIsLawNothingIsAllowed(t *testing.T) {
	c := load(t, folder(t, "federal", "velmora"))
	assert.Equal(t, []string{"us"}, gaps(c.Govern("us/velmora", civil.Of(2024, 12, 2))))
	assert.Empty(t, gaps(c.Govern("us/velmora", civil.Of(2024, 12, 3))))
	assert.Equal(t, []string{"us", "us/velmora"}, gaps(c.Govern("us/velmora", civil.Of(2023, 12, 31))))
	assert.Equal(t, rules.Undetermined, decide(c, "us/velmora", civil.Of(2024, 9, 1), quantity.Mile))
}

func TestAnExpiredSetAllowsNothing(t *testing.T) {
	table := load(t, folder(t, "sound")).Sets[0].Table
	table.Manifest.Layer, table.Manifest.Scope, table.Manifest.ValidTo = rules.Federal, "us", demoDay
	table.Rows[0].Effect, table.Cases = rules.Warn{Message: "a rule that allows everything"}, nil
	set, err := rules.NewSet(table)
	require.NoError(t, err)
	c := &rulehost.Catalog{Sets: []*rules.Set{set}}
	assert.Equal(t, rules.Allowed, decide(c, "us", demoDay, quantity.Mile), "its last day")
	assert.Equal(t, rules.Undetermined, decide(c, "us", demoDay+1, quantity.Mile), "the day after")
	assert.Contains(t, c.Govern("us", demoDay+1).Gaps[0].Reason, "activate one that is in force")
}

func TestBeforeAnythingIsLoadedNothingIsAllowed(t *testing.T) {
	c := rulehost.New(atOwnDesk(rulehost.Config{})).Catalog()
	assert.Equal(t, rules.Undetermined, decide(c, "us", demoDay, quantity.Mile))
}

func gaps(g *rules.Governing) []string {
	var places []string
	for _, gap := range g.Gaps {
		places = append(places, gap.Place)
	}
	return places
}

func TestPullingByHandIsFreeOfThem(t *testing.T) {
	c := load(t, folder(t, "federal", "velmora", "ossel-creek"))
	byHand := rules.Treatment{
		Species: "Ailanthus altissima", Suckering: rules.SuckeringStrong,
		Method: rules.HandPull, LandUse: rules.AquaticMargin, NoHerbicide: true,
	}
	nothingKnown := &rules.Surroundings{Form: rules.Seedling}
	assert.Equal(t, rules.Allowed, c.Govern("us/velmora/ossel-creek", demoDay).Narrow(byHand).Decide(nothingKnown))
}
