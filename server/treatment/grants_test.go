package treatment_test

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"unsafe"
	"weak"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
)

// reducible is a buffer of which a reduction is offered.
func reducible(water rules.WaterClass) rules.Row {
	return row(fmt.Sprintf("water-%d", water), rules.Selector{Methods: rules.AnyOf(rules.BasalBark, rules.HackAndSquirt)}, rules.Buffer{
		Water: rules.AnyOf(water), Distance: 30 * quantity.Metre, From: rules.WaterEdge,
		Reduction: rules.Reduction{Distance: 10 * quantity.Metre, Evidence: "a plan", DecidedBy: "somebody", RecordField: "plan"},
	})
}

// Sites that were granted the same of what the law offers share their options, whatever else
// they name.
func TestSitesShareTheOptionsOfTheirGrants(t *testing.T) {
	settings, s := treatment.DefaultSettings(), stem(rules.Sapling, 3, 20)
	s.Water.Set(rules.Lake, rules.WaterDistance{Distance: 20 * quantity.Metre, Origin: rules.WaterEdge})
	g := law(t, "2026-07-20", reducible(rules.Lake))
	first := treatment.NewPlanner(shipped(t), g, &treatment.Site{}, &settings)
	var keys [2]uint64
	for i := range 200 {
		site := tenAcres
		site.Granted = []string{fmt.Sprintf("elsewhere/rule-%d", i)}
		if i%2 == 1 {
			site.Granted = append(site.Granted, fmt.Sprintf("test/water-%d", rules.Lake))
		}
		keys[i%2] = treatment.NewPlanner(shipped(t), g, &site, &settings).Plan(&s).Key
		require.Equal(t, keys[i%2], first.For(&site).Plan(&s).Key, "%v", site.Granted)
	}
	assert.Equal(t, 2, first.Kinds())
	assert.NotEqual(t, keys[0], keys[1], "the reduction has a say")
}

// However many combinations of reductions sites were granted, options of few are kept, and
// each site is answered by its own.
func TestFewOptionsAreKeptWhateverWasGranted(t *testing.T) {
	classes := []rules.WaterClass{rules.Lake, rules.PerennialStream, rules.Wetland, rules.Ditch, rules.Spring, rules.Well}
	var rows []rules.Row
	for _, class := range classes {
		rows = append(rows, reducible(class))
	}
	settings, g := treatment.DefaultSettings(), law(t, "2026-07-20", rows...)
	s := stem(rules.Sapling, 3, 20)
	for _, class := range classes {
		s.Water.Set(class, rules.WaterDistance{Distance: 20 * quantity.Metre, Origin: rules.WaterEdge})
	}
	first := treatment.NewPlanner(shipped(t), g, &treatment.Site{}, &settings)
	var sites []*treatment.Site
	var planners []*treatment.Planner
	for granted := range 1 << len(classes) {
		site := tenAcres
		for i, class := range classes {
			if granted>>i&1 == 1 {
				site.Granted = append(site.Granted, fmt.Sprintf("test/water-%d", class))
			}
		}
		sites, planners = append(sites, &site), append(planners, first.For(&site))
	}
	for range 2 {
		for i, p := range planners {
			plan := p.Plan(&s)
			alone := treatment.NewPlanner(shipped(t), g, sites[i], &settings)
			want := alone.Plan(&s)
			require.Equal(t, want.Outcome, plan.Outcome, "%v", sites[i].Granted)
			require.Equal(t, want.Dose, plan.Dose)
			require.Equal(t, want.Key, plan.Key)
			require.Equal(t, alone.Explain(&s, &want), p.Explain(&s, &plan))
			require.LessOrEqual(t, first.Kinds(), 32)
		}
	}
	assert.Equal(t, 32, first.Kinds())
	for _, site := range sites {
		first.For(site) // to count alone
	}
	first.Rest()
	assert.Equal(t, 32, first.Grants())
}

// A planner that rests holds nothing of its last stem, which is the larger ones of a patch.
func TestRestingPlannersKeepNoStem(t *testing.T) {
	settings := treatment.DefaultSettings()
	p := treatment.NewPlanner(shipped(t), law(t, "2026-07-20"), &tenAcres, &settings)
	last := func() weak.Pointer[byte] {
		s := stem(rules.RootSucker, 1, 3)
		s.ID = strings.Repeat("x", 100)
		s.Area, s.Count, s.LargerCount, s.LargerDiameter = 100*quantity.SquareMetre, 50, 2, quantity.Inches(4)
		require.NotZero(t, p.Plan(&s).Second.Stems)
		return weak.Make(unsafe.StringData(s.ID))
	}()
	p.Rest()
	for range 100 {
		runtime.GC()
		if last.Value() == nil {
			break
		}
	}
	assert.Nil(t, last.Value(), "the text of its id")
	runtime.KeepAlive(p)
}

// Rows go round one combination more than there is room for: few of them fill options anew.
func BenchmarkOneCombinationTooMany(b *testing.B) {
	var rows []rules.Row
	classes := []rules.WaterClass{rules.Lake, rules.PerennialStream, rules.Wetland, rules.Ditch, rules.Spring, rules.Well}
	s := stem(rules.Sapling, 3, 20)
	for _, class := range classes {
		rows = append(rows, reducible(class))
		s.Water.Set(class, rules.WaterDistance{Distance: 20 * quantity.Metre, Origin: rules.WaterEdge})
	}
	settings := treatment.DefaultSettings()
	first := treatment.NewPlanner(shipped(b), law(b, "2026-07-20", rows...), &treatment.Site{}, &settings)
	var planners []*treatment.Planner
	for granted := range 33 {
		site := tenAcres
		for i, class := range classes {
			if granted>>i&1 == 1 {
				site.Granted = append(site.Granted, fmt.Sprintf("test/water-%d", class))
			}
		}
		planners = append(planners, first.For(&site))
	}
	i := 0
	for b.Loop() {
		planners[i%len(planners)].Plan(&s)
		i++
	}
}
