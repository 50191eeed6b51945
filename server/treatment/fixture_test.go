package treatment_test

import (
	"sync"
	"testing"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/catalogue"
	"example.org/rootward/server/treatment"
	"github.com/stretchr/testify/require"
)

func on(t testing.TB, s string) civil.Date {
	t.Helper()
	d, err := civil.Parse(s)
	require.NoError(t, err)
	return d
}

func yearly(fromMonth, fromDay, toMonth, toDay int) civil.Window {
	return civil.Window{From: day(fromMonth, fromDay), To: day(toMonth, toDay)}
}

func day(month, day int) civil.DayOfYear {
	return civil.DayOfYear{Month: time.Month(month), Day: day}
}

// seasons names the whole year, as a regional rule set does.
func seasons() []rules.Row {
	in := func(id string, s rules.Season, w civil.Window) rules.Row {
		return row(id, rules.Selector{}, rules.InSeason{Season: s, During: w})
	}
	return []rules.Row{
		in("sap", rules.SapFlow, yearly(3, 1, 5, 31)), in("leaf", rules.Growing, yearly(6, 1, 7, 14)),
		in("down", rules.Translocation, yearly(7, 15, 9, 30)), in("fall", rules.LeafDrop, yearly(10, 1, 11, 30)),
		in("rest", rules.Dormant, yearly(12, 1, 2, 28)),
	}
}

func row(id string, when rules.Selector, effect rules.Effect) rules.Row {
	return rules.Row{
		ID: id, Purpose: "A rule of the test.", Citation: "test", When: when, Effect: effect,
		ValidFrom: civil.Of(2020, 1, 1),
	}
}

// summerWindow opens the treatment of root-suckerers as the invented state does.
func summerWindow() rules.Row {
	return row("summer", rules.Selector{
		Suckering: rules.AnyOf(rules.SuckeringModerate, rules.SuckeringStrong),
		Methods:   rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar, rules.BasalBark, rules.HackAndSquirt),
	}, rules.Window{Open: yearly(7, 15, 10, 15)})
}

func law(t testing.TB, date string, rows ...rules.Row) *rules.Governing {
	t.Helper()
	set, err := rules.NewSet(rules.Table{
		Manifest: rules.Manifest{
			ID: "test", Version: "1", Title: "Test", Publisher: "test", Layer: rules.Federal, Scope: "us",
			ValidFrom: civil.Of(2020, 1, 1),
		},
		Rows: append(append(seasons(), summerWindow()), rows...),
	})
	require.NoError(t, err)
	return rules.Govern("us", on(t, date), []*rules.Set{set})
}

// shipped is the catalogue that Rootward ships; no test changes it.
func shipped(t testing.TB) *treatment.Catalogue {
	t.Helper()
	c, err := readShipped()
	require.NoError(t, err)
	return c
}

var readShipped = sync.OnceValues(catalogue.Default)

// stem is a tree-of-heaven about which everything is known and nothing near it
// must be spared.
func stem(form rules.GrowthForm, inches, feet float64) treatment.Stem {
	s := treatment.Stem{
		ID: "s", Species: "Ailanthus altissima", Form: form,
		Diameter: quantity.Inches(inches), Height: quantity.Feet(feet),
		Desirable: rules.DesirableNone, LandUse: rules.Forest, Soil: rules.SoilMoist, Bark: rules.BarkDry,
	}
	s.Water.SetOthers(quantity.Mile)
	return s
}

type change func(*treatment.Stem)

func with(s treatment.Stem, changes ...change) treatment.Stem {
	for _, c := range changes {
		c(&s)
	}
	return s
}

func species(name string) change         { return func(s *treatment.Stem) { s.Species = name } }
func desirable(d rules.Desirable) change { return func(s *treatment.Stem) { s.Desirable = d } }

var tenAcres = treatment.Site{ID: "site", Area: quantity.Acres(10)}

// prescribe answers for one stem on ten acres.
func prescribe(t testing.TB, g *rules.Governing, s treatment.Stem) (treatment.Plan, treatment.Explanation) {
	t.Helper()
	settings := treatment.DefaultSettings()
	p := treatment.NewPlanner(shipped(t), g, &tenAcres, &settings)
	plan := p.Plan(&s)
	return plan, p.Explain(&s, &plan)
}
