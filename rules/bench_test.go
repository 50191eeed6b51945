package rules_test

import (
	"fmt"
	"testing"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// tableSizes are the numbers of rows that the benchmarks take.
var tableSizes = []int{16, 64, 256, 1024}

func BenchmarkNarrow(b *testing.B) {
	for _, n := range tableSizes {
		governing := benchGoverning(b, n)
		b.Run(fmt.Sprintf("rows=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				governing.Narrow(benchTreatment)
			}
		})
	}
}

// BenchmarkDecide decides stems one after the other; ns/op is per stem.
func BenchmarkDecide(b *testing.B) {
	for _, n := range tableSizes {
		narrowed := benchGoverning(b, n).Narrow(benchTreatment)
		stems := benchStems()
		b.Run(fmt.Sprintf("rows=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			i := 0
			for b.Loop() {
				narrowed.Decide(&stems[i%len(stems)])
				i++
			}
		})
	}
}

// BenchmarkJudge is BenchmarkDecide with what a planner asks besides.
func BenchmarkJudge(b *testing.B) {
	for _, n := range tableSizes {
		narrowed := benchGoverning(b, n).Narrow(benchTreatment)
		stems := benchStems()
		b.Run(fmt.Sprintf("rows=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			i := 0
			for b.Loop() {
				narrowed.Judge(&stems[i%len(stems)])
				i++
			}
		})
	}
}

var benchTreatment = rules.Treatment{
	Species: "Ailanthus altissima", Suckering: rules.SuckeringStrong, Method: rules.BasalBark,
	Equipment: rules.Backpack, Active: "triclopyr", Formulation: rules.Ester, SoilActivity: rules.SoilSome,
	AquaticLabel: rules.AquaticNotRegistered, RestrictedUse: rules.GeneralUse, Toxicity: rules.CategoryIII,
	Droplet: rules.DropletMedium, ReleaseHeight: quantity.Foot, LandUse: rules.Forest, Standing: rules.Certified,
}

// benchGoverning is a table whose rows are of all kinds; half of them are about
// other treatments.
func benchGoverning(tb testing.TB, n int) *rules.Governing {
	table := validTable()
	table.Rows = nil
	for i := range n {
		r := rules.Row{
			ID: fmt.Sprintf("row-%04d", i), Purpose: "Stands for a rule.", Citation: "invented",
			ValidFrom: lawFrom, Effect: benchEffect(i),
		}
		if i%2 == 1 {
			r.When.Methods = rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar)
		}
		switch i % 6 {
		case 0:
			r.When.Ranges = []rules.Range{rules.Above(rules.Diameter, int64(20*quantity.Centimetre))}
		case 2:
			r.When.Soil = rules.AnyOf(rules.SoilWet, rules.SoilFrozen)
		}
		table.Rows = append(table.Rows, r)
	}
	return rules.Govern("us", civil.Of(2026, time.August, 1), []*rules.Set{mustSet(tb, table)})
}

func benchEffect(i int) rules.Effect {
	effects := []rules.Effect{
		rules.Buffer{Water: rules.AnyOf(rules.PerennialStream, rules.Lake), Distance: 30 * quantity.Foot, From: rules.WaterEdge},
		rules.Buffer{Water: rules.AnyOf(rules.Wetland), Distance: 20 * quantity.Foot, From: rules.WetlandBoundary},
		rules.Prohibit{},
		rules.Window{Open: window(time.July, 15, time.October, 15)},
		rules.RequireStanding{AtLeast: rules.Supervised},
		rules.Cap{Active: "triclopyr", Rate: quantity.PoundsPerAcre(8)},
		rules.WeatherLimit{Factor: rules.WindSpeed, Max: 10, HasMax: true},
		rules.EntryInterval{Hours: 12},
		rules.Record{Fields: []string{"date"}},
		rules.Warn{Message: "take care"},
	}
	if i%6 == 4 && i%10 == 2 {
		return rules.Warn{Message: "a prohibition without a selector would end every search"}
	}
	return effects[i%len(effects)]
}

func benchStems() []rules.Surroundings {
	stems := make([]rules.Surroundings, 256)
	for i := range stems {
		s := &stems[i]
		s.Form, s.Soil, s.Bark, s.Desirable = rules.Tree, rules.SoilMoist, rules.BarkDry, rules.DesirableNone
		s.Measures.Set(rules.Diameter, int64(i%40)*int64(quantity.Centimetre)/2)
		s.Water.Set(rules.PerennialStream, rules.WaterDistance{Distance: quantity.Metres(float64(i)), Origin: rules.BankTop})
		s.Water.SetOthers(100 * quantity.Metre)
	}
	return stems
}
