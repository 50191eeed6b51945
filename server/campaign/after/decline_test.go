package after_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/campaign/after"
)

// M01 to M03: basal area by diameter (Service Forestry Handbook, basal area and BAF-10
// table; M01 by arithmetic, pi/576).
func TestBasalArea(t *testing.T) {
	for _, c := range []struct {
		id           string
		inches, want float64
		off          float64
	}{
		{"M01", 1, 0.005454154, 1e-9},
		{"M02", 4, 0.087, 5e-4}, {"M02", 6, 0.196, 5e-4}, {"M02", 8, 0.349, 5e-4}, {"M02", 10, 0.545, 5e-4}, {"M02", 12, 0.785, 5e-4},
		{"M03", 14, 1.069, 5e-4}, {"M03", 16, 1.396, 5e-4}, {"M03", 18, 1.767, 5e-4}, {"M03", 20, 2.182, 5e-4}, {"M03", 24, 3.142, 5e-4},
	} {
		got := after.BasalArea([]after.Measured{{Diameter: quantity.Inches(c.inches)}})
		assert.True(t, got.Known)
		assert.InDelta(t, c.want, got.Value, c.off, c.id)
	}
	// M02 and M03 summed: 3 stems of 8 in and one of 24 in.
	got := after.BasalArea([]after.Measured{{Diameter: quantity.Inches(8), Stems: 3}, {Diameter: quantity.Inches(24)}})
	assert.InDelta(t, 3*0.349+3.142, got.Value, 2e-3)
	assert.Equal(t, after.Counted(0), after.BasalArea(nil))
	assert.False(t, after.BasalArea([]after.Measured{{Diameter: quantity.Inches(8)}, {Stems: 2}}).Known, "one diameter is not known")
}

// study is Arboriculture & Urban Forestry 33(1), January 2007, pp. 57-59.
const study = "Arboriculture & Urban Forestry 33(1), 2007"

func control(part, low, high float64) after.Control {
	return after.Control{Part: quantity.Percent(part), Low: quantity.Percent(low), High: quantity.Percent(high), Source: study}
}

func round(t require.TestingT, from, until string, controls ...after.Control) after.Round {
	return after.Round{From: day(t, from), Until: day(t, until), Controls: controls}
}

func saw(t require.TestingT, on string, stems float64) after.Observation {
	return after.Observation{ID: on, On: day(t, on), Stems: after.Counted(stems), BasalArea: after.Counted(stems / 10), Complete: true}
}

func TestDecline(t *testing.T) {
	// T18: crown reduction in the first and second year, by stem injection: glyphosate
	// 82.3 and 91.7, imazapyr 99.9 and 100, triclopyr ester 66.7 and 31.4 percent. T19:
	// basal bark, triclopyr under 4 cm 90.0 and 86.7, above it 100 percent.
	glyphosate, imazapyr, ester := control(100, 82.3, 91.7), control(100, 99.9, 100), control(100, 31.4, 66.7)
	survey := saw(t, "2026-07-01", 1000)
	for _, c := range []struct {
		name      string
		seen      after.Observation
		before    []after.Observation
		rounds    []after.Round
		low, high float64
		verdict   after.Verdict
		why       string
	}{
		{name: "T18 glyphosate: as expected", seen: saw(t, "2027-07-01", 177), rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", glyphosate)}, low: 83, high: 177, verdict: after.AsExpected},
		{name: "T18 glyphosate: one more", seen: saw(t, "2027-07-01", 178), rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", glyphosate)}, low: 83, high: 177, verdict: after.Worse, why: "Were stems missed?"},
		{name: "T18 imazapyr: fewer than a stem is a stem", seen: saw(t, "2027-07-01", 1), rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", imazapyr)}, low: 0, high: 1, verdict: after.AsExpected},
		{name: "T18 triclopyr injection in the wrong season", seen: saw(t, "2027-07-01", 700), rounds: []after.Round{round(t, "2026-10-15", "2026-10-16", ester)}, low: 333, high: 686, verdict: after.Worse, why: "Was it the right season"},
		{name: "T19 basal bark, halves by diameter", seen: saw(t, "2027-07-01", 60), rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", control(50, 86.7, 90), control(50, 100, 100))}, low: 50, high: 67, verdict: after.AsExpected},
		{name: "a tenth was not treated", seen: saw(t, "2027-07-01", 100), rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", control(90, 100, 100))}, low: 100, high: 100, verdict: after.AsExpected},
		{name: "two rounds, counted between", seen: saw(t, "2028-07-01", 50), before: []after.Observation{saw(t, "2027-07-01", 500)},
			rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", glyphosate), round(t, "2027-08-10", "2027-08-20", glyphosate)}, low: 41.5, high: 89, verdict: after.AsExpected},
		{name: "two rounds, not counted between", seen: saw(t, "2028-07-01", 50),
			rounds: []after.Round{round(t, "2027-08-10", "2027-08-20", glyphosate), round(t, "2026-08-10", "2026-08-20", glyphosate)}, low: 6.889, high: 32, verdict: after.Worse, why: "missed"},
		{name: "a count between that was too early is no base", seen: saw(t, "2028-07-01", 20), before: []after.Observation{saw(t, "2026-09-15", 900)},
			rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", glyphosate), round(t, "2027-08-10", "2027-08-20", glyphosate)}, low: 6.889, high: 32, verdict: after.AsExpected},
		{name: "too early", seen: saw(t, "2026-09-15", 900), rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", glyphosate)}, low: 83, high: 177, verdict: after.NotJudged, why: "judged from 2027-06-01 on"},
		{name: "not treated", seen: saw(t, "2027-07-01", 900), verdict: after.NotJudged, why: "nothing has been treated"},
		{name: "no efficacy published", seen: saw(t, "2027-07-01", 900), rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", after.Control{Part: all})}, verdict: after.NotJudged, why: "no efficacy is published"},
		{name: "no efficacy stated", seen: saw(t, "2027-07-01", 900), rounds: []after.Round{round(t, "2026-08-10", "2026-08-20")}, verdict: after.NotJudged, why: "no efficacy is stated"},
		{name: "more than all", seen: saw(t, "2027-07-01", 900), rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", glyphosate, glyphosate)}, verdict: after.NotJudged, why: "come to more than all"},
		{name: "no range", seen: saw(t, "2027-07-01", 900), rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", control(100, 90, 80))}, verdict: after.NotJudged, why: "is no range"},
		{name: "a round without days", seen: saw(t, "2027-07-01", 900), rounds: []after.Round{{Controls: []after.Control{glyphosate}}}, verdict: after.NotJudged, why: "days of a round"},
		{name: "stems not counted", seen: after.Observation{ID: "v", On: day(t, "2027-07-01"), Complete: true}, rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", glyphosate)}, low: 83, high: 177, verdict: after.NotJudged, why: "not counted"},
		{name: "a part was counted: nothing to say", seen: after.Observation{ID: "v", On: day(t, "2027-07-01"), Stems: after.Counted(10)}, rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", glyphosate)}, low: 83, high: 177, verdict: after.NotJudged, why: "not the whole site"},
		{name: "a part was counted: already worse", seen: after.Observation{ID: "v", On: day(t, "2027-07-01"), Stems: after.Counted(178)}, rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", glyphosate)}, low: 83, high: 177, verdict: after.Worse, why: "missed"},
		{name: "a sample's range may reach down", seen: after.Observation{ID: "v", On: day(t, "2027-07-01"), Stems: after.Estimate{Value: 250, Low: 150, High: 350, Known: true}, Complete: true}, rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", glyphosate)}, low: 83, high: 177, verdict: after.AsExpected},
		{name: "a number that is none", seen: after.Observation{ID: "v", On: day(t, "2027-07-01"), Stems: after.Estimate{Value: math.NaN(), Known: true}, Complete: true}, rounds: []after.Round{round(t, "2026-08-10", "2026-08-20", glyphosate)}, low: 83, high: 177, verdict: after.NotJudged, why: "not counted"},
	} {
		t.Run(c.name, func(t *testing.T) {
			list := after.Decline(append([]after.Observation{c.seen, survey}, c.before...), c.rounds, summer, day(t, "2028-07-02"))
			var got *after.Point
			for i := range list {
				if list[i].ID == c.seen.ID {
					got = &list[i]
				}
			}
			require.NotNil(t, got)
			assert.Equal(t, c.verdict, got.Verdict, got.Why)
			assert.Contains(t, fmt.Sprint(got.Why), c.why)
			assert.InDelta(t, c.low, got.Expected.Low, 1e-6)
			assert.InDelta(t, c.high, got.Expected.High, 1e-6)
			assert.Equal(t, c.high > 0, got.Expected.Known)
		})
	}
}

func TestDeclineOfGapsAndPercents(t *testing.T) {
	part := after.Observation{ID: "part", On: day(t, "2028-07-01"), Stems: after.Counted(3)}
	seen := []after.Observation{saw(t, "2029-07-01", 0), saw(t, "2026-07-01", 400), saw(t, "2027-07-01", 100), part, saw(t, "2031-07-01", 1)}
	list := after.Decline(seen, nil, summer, day(t, "2030-12-31"))
	var text []string
	for _, p := range list {
		if p.IsGap() {
			text = append(text, "gap "+p.Gap.String())
			assert.False(t, p.Stems.Known)
			assert.False(t, p.StemsPercent.Known)
			continue
		}
		text = append(text, fmt.Sprintf("%s %g%% %g%%", p.On, p.StemsPercent.Value, p.AreaPercent.Value))
	}
	assert.Equal(t, []string{"2026-07-01 100% 100%", "2027-07-01 25% 25%", "2028-07-01 0.75% 0%", "gap 2028", "2029-07-01 0% 0%", "gap 2030"}, text)
	assert.Empty(t, after.Decline(nil, nil, summer, day(t, "2030-12-31")))
}

// Seeing more is never better, order makes no difference, and a gap has no number.
func TestDeclineProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := func() civil.Date { return civil.Of(2026, 6, 1).AddDays(rapid.IntRange(0, 1500).Draw(t, "day")) }
		var seen []after.Observation
		for i := range rapid.IntRange(1, 6).Draw(t, "n") {
			o := after.Observation{ID: fmt.Sprint(i), On: at(), Complete: rapid.Bool().Draw(t, "complete")}
			if rapid.Bool().Draw(t, "counted") {
				o.Stems = after.Counted(float64(rapid.IntRange(0, 500).Draw(t, "stems")))
			}
			seen = append(seen, o)
		}
		var rounds []after.Round
		for range rapid.IntRange(0, 3).Draw(t, "rounds") {
			from := at()
			low := rapid.Float64Range(0, 100).Draw(t, "low")
			rounds = append(rounds, after.Round{From: from, Until: from + 5, Controls: []after.Control{control(rapid.Float64Range(0, 100).Draw(t, "part"), low, 100)}})
		}
		on := civil.Of(2030, 9, 1)
		list := after.Decline(seen, rounds, summer, on)
		assert.Equal(t, list, after.Decline(rapid.Permutation(seen).Draw(t, "order"), rounds, summer, on))
		last := civil.Date(0)
		for _, p := range list {
			assert.GreaterOrEqual(t, max(p.On, p.Gap.Until), last)
			last = max(p.On, p.Gap.Until)
			assert.False(t, p.IsGap() && (p.Stems.Known || p.Expected.Known || p.Verdict != after.NotJudged))
			assert.LessOrEqual(t, p.Expected.Low, p.Expected.High)
		}
		k := rapid.IntRange(0, len(seen)-1).Draw(t, "more")
		more := append([]after.Observation{}, seen...)
		more[k].Stems = after.Counted(more[k].Stems.Value + 10)
		find := func(list []after.Point) after.Verdict {
			for _, p := range list {
				if p.ID == more[k].ID && !p.IsGap() {
					return p.Verdict
				}
			}
			return 0
		}
		if seen[k].Stems.Known {
			assert.GreaterOrEqual(t, find(after.Decline(more, rounds, summer, on)), find(list))
		}
	})
}
