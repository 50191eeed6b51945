package treatment_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
)

// dice draw a law, a site and stems from a seed. Numbers are drawn near the limits that
// methods and rows have.
type dice struct{ *rand.Rand }

func (d dice) oneIn(n int) bool { return d.IntN(n) == 0 }

func pickOf[T any](d dice, list ...T) T { return list[d.IntN(len(list))] }

func anyWord[T rules.Vocabulary](d dice) T { return pickOf(d, rules.Words[T]()...) }

// some is a selector's part: mostly none, else one or two words.
func some[T rules.Vocabulary](d dice) rules.OneOf[T] {
	if !d.oneIn(5) {
		return 0
	}
	return rules.AnyOf(anyWord[T](d), anyWord[T](d))
}

func (d dice) length() quantity.Micrometres {
	return pickOf(d, 0, 1, quantity.Inch, 6*quantity.Inch, 3*quantity.Metre, 10*quantity.Foot, 25*quantity.Foot, 100*quantity.Foot) + quantity.Micrometres(d.IntN(3)) - 1
}

// known is a length that is not negative, and at times not known.
func (d dice) known() quantity.Micrometres {
	if d.oneIn(6) {
		return 0
	}
	if d.oneIn(3) {
		return quantity.Micrometres(d.Int64N(int64(quantity.Metre)))
	}
	return max(0, d.length())
}

func (d dice) selector() rules.Selector {
	s := rules.Selector{
		Forms: some[rules.GrowthForm](d), Methods: some[rules.Method](d), SoilActivity: some[rules.SoilActivity](d),
		LandUses: some[rules.LandUse](d), Soil: some[rules.SoilState](d), Bark: some[rules.BarkState](d), Desirable: some[rules.Desirable](d),
	}
	for _, q := range rules.Words[rules.Measure]() {
		if d.oneIn(12) {
			s.Ranges = append(s.Ranges, d.between(q))
		}
	}
	return s
}

// between is a range about where drawn stems lie.
func (d dice) between(q rules.Measure) rules.Range {
	r := rules.Range{Of: q, Min: max(0, int64(d.length())), MinOpen: d.oneIn(2), MaxOpen: d.oneIn(2)}
	switch q {
	case rules.Slope, rules.Dose:
		r.Min = d.Int64N(500)
	case rules.StemDensity, rules.Carrier:
		r.Min = d.Int64N(8_000)
	case rules.TreatedArea, rules.LakeArea:
		r.Min = d.Int64N(int64(quantity.Hectare))
	}
	r.Max = 2*r.Min + 2
	return r
}

func (d dice) effect() rules.Effect {
	waters := rules.AnyOf(anyWord[rules.WaterClass](d), anyWord[rules.WaterClass](d))
	return pickOf[rules.Effect](d,
		rules.Prohibit{}, rules.Record{Fields: []string{"day"}, WithinDays: 1, KeepYears: 1},
		rules.Buffer{Water: waters, Distance: max(1, d.length()), From: anyWord[rules.DistanceOrigin](d), WhileWet: d.oneIn(2)},
		rules.Buffer{Water: waters, Distance: 50 * quantity.Foot, From: anyWord[rules.DistanceOrigin](d), Along: rules.AlongSlope,
			Reduction: rules.Reduction{Distance: 25 * quantity.Foot, Evidence: "a plan", DecidedBy: "somebody", RecordField: "plan"}},
		rules.Setback{Places: rules.AnyOf(anyWord[rules.PlaceClass](d)), Distance: max(1, d.length())},
		rules.Window{Open: yearly(8, 1, 9, 30)}, rules.RequireStanding{AtLeast: rules.Certified},
		rules.Cap{Active: pickOf(d, "glyphosate", "triclopyr", "imazapyr"), Rate: quantity.PoundsPerAcre(float64(1+d.IntN(400)) / 100)},
	)
}

func (d dice) row(id string) rules.Row {
	r := row(id, d.selector(), d.effect())
	if c, ok := r.Effect.(rules.Cap); ok {
		r.When = rules.Selector{Actives: []string{c.Active}, LandUses: some[rules.LandUse](d), Forms: some[rules.GrowthForm](d)}
	}
	for d.oneIn(4) {
		exception := d.selector()
		exception.Soil |= rules.AnyOf(rules.SoilDry)
		r.Unless = append(r.Unless, exception)
	}
	if d.oneIn(5) {
		r.During = yearly(7, 1, 7, 31)
	}
	return r
}

// law is rows that can only restrict, beside seasons and a window, that may be missing.
func (d dice) law(t require.TestingT) *rules.Governing {
	var rows []rules.Row
	if !d.oneIn(10) {
		rows = append(rows, seasons()...)
	}
	if !d.oneIn(4) {
		rows = append(rows, summerWindow())
	}
	for i := range 1 + d.IntN(12) {
		rows = append(rows, d.row(fmt.Sprintf("drawn-%d", i)))
	}
	set, err := rules.NewSet(rules.Table{
		Manifest: rules.Manifest{
			ID: "test", Version: "1", Title: "Test", Publisher: "test", Layer: rules.Federal, Scope: "us", ValidFrom: civil.Of(2020, 1, 1),
		},
		Rows: rows,
	})
	require.NoError(t, err)
	return rules.Govern("us", civil.Of(2026, 1, 1).AddDays(d.IntN(365)), []*rules.Set{set})
}

// catalogue is the one that is shipped, with some of its numbers drawn anew.
func (d dice) catalogue(t testing.TB) *treatment.Catalogue {
	c := *shipped(t)
	c.Formulations, c.Evidence = slices.Clone(c.Formulations), slices.Clone(c.Evidence)
	for i := range c.Formulations {
		if f := &c.Formulations[i]; d.oneIn(4) {
			f.Strength /= quantity.Strength(1 + d.IntN(200))
			f.AnnualMax = quantity.PoundsPerAcre(float64(1+d.IntN(40)) / 10)
		}
	}
	for i := range c.Evidence {
		if e := &c.Evidence[i]; d.oneIn(2) {
			e.Control, e.Guidance = quantity.PerMillion(d.IntN(1_000_000)), d.oneIn(4)
			e.Seasons, e.Above = some[rules.Season](d), quantity.Micrometres(d.IntN(2))*pickOf(d, quantity.Inch, 6*quantity.Inch)
		}
	}
	return &c
}

func (d dice) site() *treatment.Site {
	s := &treatment.Site{ID: "drawn", Area: quantity.Acres(pickOf(d, 0, 0.001, 0.05, 1, 500))}
	if d.oneIn(3) {
		s.Applied = map[string]quantity.MicrogramsAE{"glyphosate": quantity.MicrogramsAE(d.Int64N(300_000_000))}
	}
	for i := range 12 * d.IntN(2) {
		s.Granted = append(s.Granted, fmt.Sprintf("test/drawn-%d", i))
	}
	if d.oneIn(4) {
		share := treatment.Share{}
		for i := range share {
			share[i] = d.Uint64()
		}
		s.Shares = map[string]treatment.Share{"glyphosate": share}
	}
	return s
}

func (d dice) stem(c *treatment.Catalogue) treatment.Stem {
	s := treatment.Stem{
		ID: fmt.Sprint("s", d.IntN(1_000_000)), Species: c.Species[d.IntN(len(c.Species))].Name, Form: anyWord[rules.GrowthForm](d),
		Diameter: d.known(), Height: d.known(), Desirable: rules.Desirable(d.IntN(4)), LandUse: rules.LandUse(d.IntN(9)),
		Soil: rules.SoilState(d.IntN(5)), Bark: rules.BarkState(d.IntN(4)), RootCheck: rules.RootCheck(d.IntN(4)),
		SeedBearing: rules.YesNo(d.IntN(3)), HasSlope: !d.oneIn(4),
	}
	if s.HasSlope {
		s.Slope = int64(d.IntN(1_000))
	}
	d.extent(&s)
	d.surround(&s)
	switch {
	case d.oneIn(40):
		s.Species = "Arbor ignota"
	case d.oneIn(40):
		s.Diameter, s.Height = -1, 2*treatment.MaxHeight
	}
	return s
}

// like is a stem that differs by little from another, so that what was picked for that
// one may be recalled.
func (d dice) like(s treatment.Stem) treatment.Stem {
	s.ID = fmt.Sprint("s", d.IntN(1_000_000))
	for _, um := range []*quantity.Micrometres{&s.Diameter, &s.Height, &s.CrownWidth} {
		switch {
		case *um == 0 || d.oneIn(2):
		case d.oneIn(2):
			*um = max(1, *um+quantity.Micrometres(d.IntN(3))-1)
		default:
			*um = max(1, *um*quantity.Micrometres(d.IntN(300))/100)
		}
	}
	switch {
	case s.PerHectare > 0 || !d.oneIn(3):
	case d.oneIn(2):
		s.Count = 1 + d.Int64N(20)
	default:
		s.Count = 1 + d.Int64N(treatment.MaxCount)
	}
	if d.oneIn(5) {
		s.CrownWidth = 1 + quantity.Micrometres(d.Int64N(int64(treatment.MaxHeight)))
	}
	if s.Slope > 1 && d.oneIn(3) {
		s.Slope += int64(d.IntN(3)) - 1
	}
	d.alter(&s)
	return s
}

// alter changes one thing that may decide, or nothing.
func (d dice) alter(s *treatment.Stem) {
	class := anyWord[rules.WaterClass](d)
	w, known := s.Water.Get(class)
	switch d.IntN(14) {
	case 0:
		s.RootCheck = rules.RootCheck(d.IntN(4))
	case 1:
		s.Soil = rules.SoilState(d.IntN(5))
	case 2:
		s.Bark = rules.BarkState(d.IntN(4))
	case 3:
		s.Desirable = rules.Desirable(d.IntN(4))
	case 4:
		s.Form = anyWord[rules.GrowthForm](d)
	case 5:
		s.LakeArea = quantity.SquareMillimetres(d.Int64N(int64(quantity.Hectare)))
	case 6:
		s.Places.Set(anyWord[rules.PlaceClass](d), rules.PlaceDistance{Distance: max(0, d.length()), AtLeast: d.oneIn(2)})
	case 7:
		w.AtLeast = !w.AtLeast
	case 8:
		w.State = rules.WaterState(d.IntN(3))
	case 9:
		w.Origin = rules.DistanceOrigin(d.IntN(4))
	case 10:
		w.Distance = max(0, d.length())
	case 11:
		s.Water.Want(rules.Wanting(d.IntN(4)))
	}
	if known {
		s.Water.Set(class, w)
	}
}

func (d dice) extent(s *treatment.Stem) {
	if d.oneIn(3) {
		s.Count = pickOf(d, 1, d.Int64N(40), d.Int64N(treatment.MaxCount))
	}
	if d.oneIn(3) {
		s.CrownWidth = d.known()
	}
	if d.oneIn(4) {
		s.Area = quantity.SquareMetres(pickOf(d, 1, float64(d.IntN(20_000)), 1e9))
		if s.Count == 0 && s.Area > 0 {
			s.PerHectare = int64(pickOf(d, 0, 4_942, 4_943, d.IntN(20_000)))
		}
	}
	if d.oneIn(4) {
		s.LargerCount, s.LargerDiameter = d.Int64N(20), max(1, d.known())
	}
}

func (d dice) waters() *rules.Waters {
	var w rules.Waters
	for range d.IntN(4) {
		w.Set(anyWord[rules.WaterClass](d), rules.WaterDistance{
			Distance: max(0, d.length()), Origin: rules.DistanceOrigin(d.IntN(4)), AtLeast: d.oneIn(3), State: rules.WaterState(d.IntN(3)),
		})
	}
	if !d.oneIn(3) {
		w.SetOthers(d.known())
	}
	return &w
}

func (d dice) surround(s *treatment.Stem) {
	s.Water = *d.waters()
	if d.oneIn(4) {
		s.Water.Compute(d.waters(), d.waters())
	}
	if d.oneIn(2) {
		s.Places.Set(anyWord[rules.PlaceClass](d), rules.PlaceDistance{Distance: max(0, d.length()), AtLeast: d.oneIn(2)})
	}
	if !d.oneIn(3) {
		s.Places.SetOthers(d.known())
	}
}

// samePlans plans drawn stems together and one by one.
func samePlans(t require.TestingT, c *treatment.Catalogue, d dice, stems int) {
	g, settings := d.law(t), treatment.DefaultSettings()
	settings.Standing = rules.Standing(d.IntN(4))
	if d.oneIn(4) {
		settings.Formulations = []string{c.Formulations[d.IntN(len(c.Formulations))].ID, c.Formulations[0].ID}
	}
	first, other := d.site(), d.site()
	together := treatment.NewPlanner(c, g, first, &settings)
	oneByOne := treatment.NewPlanner(c, g, first, &settings).OneByOne()
	sites := [][2]*treatment.Planner{{together, oneByOne}, {together.For(other), oneByOne.For(other)}}
	words := map[uint64]string{}
	var drawn []treatment.Stem
	for range stems {
		s := d.stem(c)
		if len(drawn) > 0 && !d.oneIn(4) {
			s = d.like(drawn[d.IntN(len(drawn))])
		}
		drawn = append(drawn, s)
		at := sites[d.IntN(2)]
		got, want := at[0].Plan(&s), at[1].Plan(&s)
		key := got.Key
		got.Key, want.Key, got.Held, want.Held = 0, 0, 0, 0
		require.Equal(t, want, got, "%+v", s)
		if got.Outcome == treatment.Rejected || !d.oneIn(20) {
			continue
		}
		text := inWords(at[0], &s, got)
		if before, seen := words[key]; seen {
			require.Equal(t, before, text, "equal keys, equal words")
		}
		words[key] = text
	}
	require.Equal(t, sites[0][1].Uses(), sites[0][0].Uses())
	require.Equal(t, sites[1][1].Uses(), sites[1][0].Uses())
}

func inWords(p *treatment.Planner, s *treatment.Stem, plan treatment.Plan) string {
	e := p.Explain(s, &plan)
	text := fmt.Sprint(e.Why, e.Dates, e.Steps, e.Cautions, e.FollowUp, e.Remedies, e.Second != nil)
	for _, a := range e.Alternatives {
		text += fmt.Sprint(a.Method, a.Decision, a.Reasons)
	}
	for _, f := range e.Findings {
		text += fmt.Sprint(f.Row.ID, f.Decision, f.Missing)
	}
	return text
}

// Weighing all options of a stem together gives what weighing one by one gives: the
// same outcome, doses and sums, in any order, under any law.
func TestTogetherIsAsOneByOne(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d := rolled(rapid.Uint64().Draw(rt, "seed"))
		samePlans(rt, d.catalogue(t), d, 40)
	})
}

func TestTogetherIsAsOneByOneForManyStems(t *testing.T) {
	for seed := range uint64(20) {
		samePlans(t, shipped(t), rolled(seed), 2_000)
	}
}

func FuzzTogetherIsAsOneByOne(f *testing.F) {
	f.Add(uint64(1))
	f.Fuzz(func(t *testing.T, seed uint64) {
		d := rolled(seed)
		samePlans(t, d.catalogue(t), d, 20)
	})
}

// What is recalled for sizes between two that were proved rests on it: see method.need.
func TestMoreNeedsNoLess(t *testing.T) {
	c, settings := shipped(t), treatment.DefaultSettings()
	rapid.Check(t, func(rt *rapid.T) {
		r := &c.Recipes[rapid.IntRange(0, len(c.Recipes)-1).Draw(rt, "recipe")]
		um := rapid.Int64Range(0, int64(treatment.MaxDiameter))
		diameter, crown := quantity.Micrometres(um.Draw(rt, "diameter")), quantity.Micrometres(um.Draw(rt, "crown"))
		stems := rapid.Int64Range(1, treatment.MaxCount).Draw(rt, "stems")
		thicker := diameter + quantity.Millimetre + quantity.Micrometres(um.Draw(rt, "thicker"))
		wider := crown + quantity.Micrometres(um.Draw(rt, "wider"))
		more := stems + rapid.Int64Range(0, treatment.MaxCount).Draw(rt, "more")
		require.LessOrEqual(rt, treatment.Need(&settings, diameter, crown, stems, r), treatment.Need(&settings, thicker, wider, more, r))
	})
}

// A stem that is like others takes no memory.
func TestPlanTakesNoMemory(t *testing.T) {
	c, settings := shipped(t), treatment.DefaultSettings()
	p := treatment.NewPlanner(c, law(t, summer), &treatment.Site{ID: "x", Area: quantity.Acres(1e6)}, &settings)
	s := stem(rules.Tree, 8, 40)
	patch := with(s, func(s *treatment.Stem) { s.Area, s.PerHectare = quantity.Acres(1), 100 })
	p.Plan(&s)
	p.Plan(&patch)
	require.Zero(t, testing.AllocsPerRun(100, func() {
		p.Plan(&s)
		p.Plan(&patch)
	}))
}

// Larger stems among those that are pulled by hand are told of, and so tell rows apart.
func TestLargerStemsAreToldOf(t *testing.T) {
	settings := treatment.DefaultSettings()
	p := treatment.NewPlanner(shipped(t), law(t, summer), &tenAcres, &settings)
	alone := with(stem(rules.Seedling, 0.5, 1), func(s *treatment.Stem) { s.RootCheck = rules.Taproot })
	among := with(alone, func(s *treatment.Stem) { s.LargerCount, s.LargerDiameter = 3, quantity.Inches(4) })
	one, other := p.Plan(&alone), p.Plan(&among)
	require.Equal(t, treatment.Prescribed, one.Outcome)
	require.NotEqual(t, inWords(p, &alone, one), inWords(p, &among, other))
	require.NotEqual(t, one.Key, other.Key)
}

func rolled(seed uint64) dice { return dice{rand.New(rand.NewPCG(seed, 1))} }
