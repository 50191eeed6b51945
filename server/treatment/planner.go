package treatment

import (
	"math/rand/v2"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Outcome is what became of a row. Every row has exactly one.
type Outcome uint8

// The outcomes.
const (
	Prescribed   Outcome = iota + 1 // a treatment is prescribed for the date asked
	Deferred                        // not on that date
	Undetermined                    // something that decides is not known
	Rejected                        // the row cannot be read as a stem
)

var outcomeWords = [...]string{"", "prescribed", "deferred", "undetermined", "rejected"}

// String gives the word.
func (o Outcome) String() string { return outcomeWords[o] }

// Planner prescribes for the stems of one site on one day, and keeps the sums
// that the annual maxima are held against. It is for one goroutine.
type Planner struct {
	catalogue *Catalogue
	governing *rules.Governing
	site      *Site
	settings  *Settings
	together  int    // how many options are weighed together; where there are more, one by one
	kinds     *kinds // by grants
	grants    *grants
	calendars map[string]*calendar
	tallies   []*tally // an active each
	aside     *Aside   // where their sums go that memory has no room for; nil: nowhere
	room      room
	work      *work
}

// work is memory that planners of one goroutine share and use anew for each stem.
type work struct {
	stem   Stem // larger stems of a patch
	asked  question
	site   rules.Surroundings
	states []state
	said   map[said][]string // against options, by the rules
}

// NewPlanner makes a planner. Neither argument may change while it is used.
func NewPlanner(c *Catalogue, g *rules.Governing, site *Site, settings *Settings) *Planner {
	p := &Planner{
		catalogue: c, governing: g, settings: settings,
		together: rules.MaxPanel, grants: &grants{byGranted: map[string]*kinds{}, drawn: rand.New(rand.NewPCG(0, 0))}, calendars: map[string]*calendar{},
		work: &work{said: map[said][]string{}},
	}
	return p.For(site)
}

// Plan is the answer for one stem, without words. Explain gives the words.
type Plan struct {
	Outcome Outcome
	Dose    Dose         // if prescribed and something is applied
	Second  Dose         // of the later pass of a two-pass plan; Stems is zero without one
	Faults  []FieldFault // of a rejected stem, where it is planned for and not only proposed
	// Key is equal for stems of one site and day that Explain answers alike; Held is the key
	// of one with a dose once it is held for a later
	// season.
	Key, Held uint64
	Maxima    *Maxima // that the dose is held against; nil where nothing is applied
	Class     int     // of the stem in the shares of a maximum
	chosen    int     // index of the option; -1: none
}

// Plan answers for one stem and counts it.
func (p *Planner) Plan(stem *Stem) (plan Plan) {
	p.propose(&plan, stem)
	if plan.Outcome == Rejected {
		plan.Faults = stem.Check(p.catalogue)
	}
	if plan.Maxima != nil && !p.Admit(plan.Maxima, plan.Class, plan.Dose.AE) {
		plan.Hold()
	}
	return plan
}

// Propose answers for one stem as if it were the first of its site, and counts nothing: what
// it says depends on the stem and the site alone. What is wrong with a rejected one Check says.
func (p *Planner) Propose(plan *Plan, stem *Stem) {
	*plan = Plan{}
	p.propose(plan, stem)
}

// propose is Propose into a plan that is empty.
func (p *Planner) propose(plan *Plan, stem *Stem) {
	plan.chosen = -1
	k := p.kind(stem.Species)
	if k == nil || !stem.isSound() {
		plan.Outcome = Rejected
		return
	}
	s := p.slate(k, stem.LandUse)
	c := p.choose(k, s, stem)
	plan.Outcome, plan.Key, plan.chosen = Deferred, c.key, int(c.at)
	if d := stem.doubt(); d != noDoubt {
		plan.Key = mix(plan.Key, uint64(d)<<32)
	}
	switch c.status {
	case open:
		plan.Outcome = Prescribed
		if o := &s.options[c.at]; o.formulation != nil {
			p.pour(&plan.Dose, stem, o)
			plan.Maxima, plan.Class = s.sharedMaxima(plan.chosen, &p.work.site), classOf(stem)
			plan.Held = mix(plan.Key, uint64(NotThisSeason))
			p.secondPass(plan, k, stem)
		} else if stem.LargerCount != 0 {
			plan.Key = mix(plan.Key, 1) // that they need a row of their own
		}
	case unknown:
		plan.Outcome = Undetermined
	}
}

// Hold defers a proposed stem to a later season.
func (p *Plan) Hold() {
	p.Outcome, p.Dose, p.Second, p.Key = Deferred, Dose{}, Dose{}, p.Held
}

// extentUnknown holds back what is applied on a patch whose stems or ground are not
// known.
func (p *Planner) extentUnknown(s *Stem) Refusals {
	var r Refusals
	if s.Area > 0 && s.Count == 0 && s.PerHectare == 0 {
		r |= CountUnknown
	}
	if p.site.Area > 0 && s.Area > p.site.Area {
		r |= PatchBeyondSite
	}
	return r
}

// whenUnknown holds back what is applied where no rules say in which season the
// day lies.
func (q *question) whenUnknown() Refusals {
	if !q.hasSeason {
		return SeasonUnknown
	}
	return 0
}

// windowUnknown holds back what is applied where no rules say when roots that sucker
// can be reached.
func (o *option) windowUnknown(suckers bool) Refusals {
	if suckers && !o.law.HasWindow() {
		return WindowUnknown
	}
	return 0
}

// left is what the annual maximum leaves after earlier applications.
func (s *Site) left(active string, limit quantity.ArealRate) quantity.MicrogramsAE {
	return limit.On(s.Area) - s.Applied[active]
}

// Admit adds a dose that was proposed to the site's sums, and reports false where this
// season's maximum leaves no room for it.
func (p *Planner) Admit(m *Maxima, class int, ae quantity.MicrogramsAE) bool {
	t := p.tally(m.active)
	t.want(class, ae, m.ofSite, m.source)
	if p.site.holdsBack(t.active, class) || !p.site.InPart && t.used+ae > t.leftOn(p.site, m.ofSite) {
		return false
	}
	t.used = grown(t.used, ae)
	return true
}

// holdsBack reports whether this season's share of the stems leaves out a class.
func (s *Site) holdsBack(active string, class int) bool {
	if len(s.Shares) == 0 {
		return false
	}
	share, split := s.Shares[active]
	return split && !share.has(class)
}

// secondPass adds to the treatment of a patch the dose for its larger stems, as
// far as the row tells of them. It belongs to the next season's maximum, which it
// may not pass on the patch.
func (p *Planner) secondPass(plan *Plan, k *kind, stem *Stem) {
	if stem.LargerCount == 0 {
		return
	}
	p.work.stem, _ = largerStems(stem)
	later := &p.work.stem
	s := p.slate(k, later.LandUse)
	c := p.chooseStanding(k, p.asking(k, later), s)
	plan.Key = mix(plan.Key, uint64(c.at)+2)
	if c.at >= 0 {
		p.pour(&plan.Second, later, &s.options[c.at])
		plan.Key = mix(plan.Key, c.key)
	}
}

// largerStems is the part of a patch that its own diameter and height do not
// describe.
func largerStems(s *Stem) (Stem, bool) {
	if s.LargerCount == 0 {
		return Stem{}, false
	}
	later := *s
	later.Form, later.Diameter, later.Count = rules.Tree, s.LargerDiameter, s.LargerCount
	later.Height, later.PerHectare, later.LargerCount = 0, 0, 0
	return later, true
}

func mix(k, v uint64) uint64 {
	k ^= v + 0x9e3779b97f4a7c15 + k<<6 + k>>2
	return k * 0xff51afd7ed558ccd
}
