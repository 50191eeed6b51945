package core

import (
	"fmt"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/catalogue"
	"example.org/rootward/server/treatment"

	"example.org/rootward/bench/question"
)

// Day is the day of treatment.
var Day = civil.Of(2026, 8, 10)

// Core answers with planners, one a site. It is for one goroutine.
type Core struct {
	planners map[string]*treatment.Planner
	words    map[key]question.Treatment
}

type key struct {
	planner *treatment.Planner
	key     uint64
}

// Settings are those of the question.
func Settings() *treatment.Settings {
	s := treatment.DefaultSettings()
	s.Formulations, s.Standing = question.Formulations, rules.Certified
	return &s
}

// New makes planners for the sites of an inventory.
func New(sets []*rules.Set, begin *treatmentv1.StreamBegin) (*Core, error) {
	known, err := catalogue.Default()
	if err != nil {
		return nil, err
	}
	c := &Core{planners: map[string]*treatment.Planner{}, words: map[key]question.Treatment{}}
	first := map[string]*treatment.Planner{}
	for _, s := range begin.GetSites() {
		site := &treatment.Site{ID: s.GetSiteId(), Area: quantity.SquareMetres(s.GetAreaM2())}
		p := first[s.GetPlace()]
		if p == nil {
			p = treatment.NewPlanner(known, rules.Govern(s.GetPlace(), Day, sets), site, Settings())
			first[s.GetPlace()] = p
		} else {
			p = p.For(site)
		}
		c.planners[site.ID] = p
	}
	return c, nil
}

// Stem is a row as the core takes it.
type Stem struct {
	treatment.Stem
	Planner *treatment.Planner
}

// Stems reads the rows of a chunk as the server does, but that it does not look for
// what is wrong with them.
func (c *Core) Stems(chunk *treatmentv1.StemChunk) []Stem {
	stems := make([]Stem, columnar.Rows(chunk))
	for i := range stems {
		stems[i] = Stem{stem(chunk, i), c.planners[chunk.GetWords()[chunk.GetSite()[i]]]}
	}
	return stems
}

func stem(c *treatmentv1.StemChunk, i int) treatment.Stem {
	s := treatment.Stem{
		ID: columnar.ID(c, i), Species: c.GetWords()[c.GetSpecies()[i]], Form: rules.GrowthForm(c.GetForm()[i]),
		Diameter: quantity.Micrometres(known(c.GetDiameterUm(), i)), Height: quantity.Micrometres(known(c.GetHeightUm(), i)),
		Count: known(c.GetCount(), i), PerHectare: known(c.GetStemsPerHa(), i), Area: quantity.SquareMillimetres(known(c.GetAreaMm2(), i)),
		LargerCount: known(c.GetLargerCount(), i), LargerDiameter: quantity.Micrometres(known(c.GetLargerDiameterUm(), i)),
		Desirable: rules.Desirable(c.GetDesirable()[i]), LandUse: rules.LandUse(c.GetLandUse()[i]),
		Soil: rules.SoilState(c.GetSoil()[i]), Bark: rules.BarkState(c.GetBark()[i]),
		RootCheck: rules.RootCheck(c.GetRootCheck()[i]), SeedBearing: rules.YesNo(c.GetSeedBearing()[i]),
		Slope: c.GetSlopePermille()[i], HasSlope: c.GetSlopePermille()[i] >= 0,
	}
	for _, w := range c.GetWater() {
		if um := w.GetDistanceUm()[i]; um >= 0 {
			s.Water.Set(rules.WaterClass(w.GetWaterClass()), rules.WaterDistance{
				Distance: quantity.Micrometres(um), Origin: rules.DistanceOrigin(w.GetOrigin()[i]),
			})
		}
	}
	if beyond := c.GetOtherWaterBeyondUm()[i]; beyond >= 0 {
		s.Water.SetOthers(quantity.Micrometres(beyond))
	}
	return s
}

// known reads -1, which stands for "not known", as the core's zero.
func known(column []int64, i int) int64 { return max(0, column[i]) }

// Answered is what became of a row.
type Answered struct {
	Outcome treatment.Outcome
	question.Treatment
}

// Answer plans a stem and says what was chosen.
func (c *Core) Answer(s *Stem) (Answered, treatment.Plan) {
	// The server rejects what is no diameter; to the core it is one that is not known.
	if s.Diameter == 0 {
		return Answered{Outcome: treatment.Rejected}, treatment.Plan{Outcome: treatment.Rejected}
	}
	plan := s.Planner.Plan(&s.Stem)
	return Answered{plan.Outcome, c.chosen(s, &plan)}, plan
}

func (c *Core) chosen(s *Stem, plan *treatment.Plan) question.Treatment {
	k := key{s.Planner, plan.Key}
	t, ok := c.words[k]
	if !ok {
		if choice := s.Planner.Explain(&s.Stem, plan).Choice; choice != nil {
			t.Method = choice.Method
			if choice.Formulation != nil {
				t.Formulation = choice.Formulation.ID
			}
		}
		c.words[k] = t
	}
	return t
}

// Of gives a peer's answer in the core's terms.
func Of(a question.Answer) Answered {
	t, chosen := a.Treatment()
	switch {
	case a == question.NoStem:
		return Answered{Outcome: treatment.Rejected}
	case !chosen:
		return Answered{Outcome: treatment.Deferred}
	case a.Prescribed():
		return Answered{treatment.Prescribed, t}
	}
	return Answered{treatment.Undetermined, t}
}

// String gives the answer in words.
func (a Answered) String() string {
	if a.Method == 0 {
		return a.Outcome.String()
	}
	return fmt.Sprintf("%s %s %s", a.Outcome, a.Method, a.Formulation)
}
