package treatment

import (
	"math"
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// set is options of a slate, a bit for each in their order.
type set = rules.Treatments

// slate is the options for a species on a land use, and what tells them apart as sets of
// them: what a stem says to several is then asked once, and all are weighed together.
type slate struct {
	options  []option
	species  *Species // for which it was made
	use      rules.LandUse
	key      uint64       // stands for both in the key of a plan
	panel    *rules.Panel // nil where the options are too many to be weighed together
	methods  []set        // in the order of methods
	products set          // those that apply something
	soils    []bySoil
	evidence []byEvidence
	needs    []byNeed
	tooWeak  set // the formulation is weaker than the mix
	noWindow set // no rule says when roots that sucker can be reached
	asksCap  set // the stem has a say in the annual maximum
	narrower set // of the others: the maximum on the land use is lower than the site's
	standing set // treatments of single standing stems
	caps     []Maxima
	// leastRate is the least annual maximum of the site for any of them, of those on
	// which the stem has no say.
	leastRate quantity.ArealRate
	recalled  *recalled // nil: every stem is weighed
}

// Maxima are the annual maxima that an option is held against, on the land use and on the
// site. Nobody changes them.
type Maxima struct {
	active        string
	limit, ofSite quantity.ArealRate
	source        string // of ofSite
}

// bySoil is the options with products that are as active in soil.
type bySoil struct {
	activity rules.SoilActivity
	of       set
}

// byEvidence is the options that a piece of evidence is about.
type byEvidence struct {
	evidence *Evidence
	of       set
}

// byNeed is the options that take the same mix of every stem.
type byNeed struct {
	method    method
	cuts      cutting
	strongest quantity.Strength // of their mixes
	of        set
}

// isLike reports whether a slate serves the stems of another as well: all that Plan and
// Explain say of them is the same.
func (s *slate) isLike(species *Species, use rules.LandUse, options []option) bool {
	return s.species.Suckering == species.Suckering && (s.use == 0) == (use == 0) &&
		slices.EqualFunc(s.options, options, func(a, b option) bool { return a.isLike(&b) })
}

func (o *option) isLike(other *option) bool {
	return o.method == other.method && o.formulation == other.formulation && o.recipe == other.recipe &&
		slices.Equal(o.evidence, other.evidence) && o.law.IsLike(other.law)
}

// newSlate sorts the options for a species on a land use. Together is how many may be
// weighed so.
func newSlate(options []option, species *Species, use rules.LandUse, together int) *slate {
	s := &slate{options: options, species: species, use: use, key: uint64(use), leastRate: math.MaxInt64}
	for _, c := range []byte(species.Name) {
		s.key = mix(s.key, uint64(c))
	}
	suckers := species.suckers()
	if len(options) > min(together, rules.MaxPanel) {
		return s
	}
	s.methods, s.caps = make([]set, len(methods)), make([]Maxima, len(options))
	laws := make([]*rules.Narrowed, len(options))
	for i := range options {
		o, one := &options[i], set(1)<<i
		laws[i] = o.law
		for at, m := range methods {
			if m.id() == o.method.id() {
				s.methods[at] |= one
			}
		}
		for _, e := range o.evidence {
			s.addEvidence(e, one)
		}
		if o.isOfStanding() {
			s.standing |= one
		}
		if o.formulation != nil {
			s.addProduct(i, one, suckers)
		}
	}
	s.panel = rules.NewPanel(laws)
	s.recalled = newRecalled(s)
	return s
}

func (s *slate) addEvidence(e *Evidence, one set) {
	for i := range s.evidence {
		if s.evidence[i].evidence == e {
			s.evidence[i].of |= one
			return
		}
	}
	s.evidence = append(s.evidence, byEvidence{e, one})
}

func (s *slate) addProduct(i int, one set, suckers bool) {
	o := &s.options[i]
	f := o.formulation
	s.products |= one
	s.addSoil(f.SoilActivity, one)
	s.addNeed(o, one)
	if _, ok := f.Strength.Dilute(quantity.Litre, o.recipe.Mix); !ok {
		s.tooWeak |= one
	}
	if o.windowUnknown(suckers) != 0 {
		s.noWindow |= one
	}
	if !o.law.CapsAlike(f.Active) {
		s.asksCap |= one
		return
	}
	c := &s.caps[i]
	c.active = f.Active
	c.limit, _ = o.limit(&rules.Surroundings{})
	c.ofSite, c.source = o.limitOfSite(&rules.Surroundings{})
	s.leastRate = min(s.leastRate, c.ofSite)
	if c.limit < c.ofSite {
		s.narrower |= one
	}
}

func (s *slate) addSoil(activity rules.SoilActivity, one set) {
	for i := range s.soils {
		if s.soils[i].activity == activity {
			s.soils[i].of |= one
			return
		}
	}
	s.soils = append(s.soils, bySoil{activity, one})
}

func (s *slate) addNeed(o *option, one set) {
	for i := range s.needs {
		if n := &s.needs[i]; n.method.id() == o.method.id() && n.cuts == o.recipe.cutting() {
			n.of |= one
			n.strongest = max(n.strongest, o.recipe.Mix)
			return
		}
	}
	s.needs = append(s.needs, byNeed{o.method, o.recipe.cutting(), o.recipe.Mix, one})
}

// capsOf gives the annual maxima of an option for a stem.
func (s *slate) capsOf(i int, site *rules.Surroundings) Maxima {
	if s.capsAlike(i) {
		return s.caps[i]
	}
	return *s.sharedMaxima(i, site)
}

// sharedMaxima is capsOf to be kept: nobody changes it.
func (s *slate) sharedMaxima(i int, site *rules.Surroundings) *Maxima {
	if s.capsAlike(i) {
		return &s.caps[i]
	}
	o := &s.options[i]
	c := &Maxima{active: o.formulation.Active}
	c.limit, _ = o.limit(site)
	c.ofSite, c.source = o.limitOfSite(site)
	return c
}

// capsAlike reports whether the annual maxima of an option are the same for every stem.
func (s *slate) capsAlike(i int) bool { return s.panel != nil && s.asksCap>>i&1 == 0 }
