package treatment

import (
	"cmp"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
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
	catalogue   *Catalogue
	governing   *rules.Governing
	site        *Site
	settings    *Settings
	options     map[optionKey][]option
	backgrounds map[backgroundKey]background
	tallies     map[string]*tally
	states      []state // of the last stem; reused
}

// NewPlanner makes a planner. Neither argument may change while it is used.
func NewPlanner(c *Catalogue, g *rules.Governing, site *Site, settings *Settings) *Planner {
	return &Planner{
		catalogue: c, governing: g, site: site, settings: settings,
		options: map[optionKey][]option{}, backgrounds: map[backgroundKey]background{}, tallies: map[string]*tally{},
	}
}

// Plan is the answer for one stem, without words. Explain gives the words.
type Plan struct {
	Outcome Outcome
	Dose    Dose // if prescribed and something is applied
	Second  Dose // of the later pass of a two-pass plan; Stems is zero without one
	Faults  []FieldFault
	// Key is equal for stems of one site and day that Explain answers alike.
	Key    uint64
	chosen int // index of the option; -1: none
}

// state is where an option stands for a stem.
type state struct {
	refusals  Refusals
	judgement rules.Judgement
	dose      Dose
	rank      rank
	status    status
}

// status sums a state up, the best first.
type status uint8

const (
	open    status = iota + 1 // may be done on the day
	unknown                   // something that decides is not known
	closed                    // may be done in another part of the year
	refused                   // does not fit, or is forbidden
)

// seasonal are the reasons that another part of the year takes away.
const seasonal = LeavesGone | SapRising | FailsInTrials

func (s *state) sum() status {
	firm := s.refusals &^ (unknowns | TooDense)
	switch {
	case firm&^seasonal != 0 || s.judgement.Otherwise == rules.Prohibited:
		return refused
	case firm != 0 || s.judgement.Decision == rules.Prohibited:
		return closed
	case s.refusals&unknowns != 0 || s.judgement.Decision == rules.Undetermined:
		return unknown
	}
	return open
}

// Plan answers for one stem and counts it.
func (p *Planner) Plan(stem *Stem) Plan {
	if faults := stem.Check(p.catalogue); len(faults) > 0 {
		return Plan{Outcome: Rejected, Faults: faults, chosen: -1}
	}
	q := p.ask(stem, p.governing.On)
	options := p.optionsFor(q.species, stem.LandUse)
	p.states = p.weigh(p.states[:0], &q, options)
	plan := Plan{Outcome: Deferred, chosen: best(p.states), Key: keyOf(&q, p.states)}
	if plan.chosen < 0 {
		return plan
	}
	switch s := &p.states[plan.chosen]; s.status {
	case open:
		plan.Outcome, plan.Dose = Prescribed, s.dose
	case unknown:
		plan.Outcome = Undetermined
	}
	if plan.Outcome == Prescribed && options[plan.chosen].formulation != nil {
		p.count(&plan, &q, &options[plan.chosen])
	}
	return plan
}

func (p *Planner) ask(stem *Stem, on civil.Date) question {
	about := p.about(stem.Species, on)
	return question{stem: stem, species: about.species, settings: p.settings, season: about.season, hasSeason: about.hasSeason}
}

// background is what is known of a species on a day, whatever the stem.
type background struct {
	species   *Species
	season    rules.Season
	hasSeason bool
}

type backgroundKey struct {
	species string
	on      civil.Date
}

func (p *Planner) about(species string, on civil.Date) background {
	key := backgroundKey{species, on}
	b, known := p.backgrounds[key]
	if !known {
		b.species = p.catalogue.species(species)
		b.season, b.hasSeason = p.governing.SeasonOn(on, species)
		p.backgrounds[key] = b
	}
	return b
}

// weigh finds where each option stands.
func (p *Planner) weigh(states []state, q *question, options []option) []state {
	site := q.stem.surroundings()
	for i := range options {
		states = append(states, p.stand(q, &options[i], &site))
	}
	return states
}

func (p *Planner) stand(q *question, o *option, site *rules.Surroundings) state {
	s := state{refusals: o.method.fit(q), judgement: o.law.Judge(site)}
	if f := o.formulation; f != nil {
		s.refusals |= o.method.fitProduct(q, f)
	}
	s.rank = o.rank(q, s.judgement.Decision)
	if s.rank.efficacy == failing {
		s.refusals |= FailsInTrials
	}
	if o.formulation != nil {
		s.refusals |= q.whenUnknown(o) | p.extentUnknown(q.stem)
	}
	if o.formulation != nil && s.refusals&^(TooDense|seasonal) == 0 {
		dose, refusals := p.dose(q, o, site)
		s.dose, s.refusals = dose, s.refusals|refusals
	}
	s.status = s.sum()
	return s
}

// dose computes what the stem takes and holds it against the annual maximum.
func (p *Planner) dose(q *question, o *option, site *rules.Surroundings) (Dose, Refusals) {
	d, err := compose(o.method.need(q, o.recipe), q.stem.Stems(), o.recipe, o.formulation)
	if err != nil {
		return Dose{}, MixImpossible
	}
	limit, _ := o.limit(site)
	ofSite, _ := o.limitOfSite(site)
	own := q.stem.Area > 0
	d = d.on(cmp.Or(q.stem.Area, p.site.Area))
	switch {
	case p.site.Area <= 0:
		return d, SiteAreaUnknown
	case own && d.AE > limit.On(q.stem.Area), d.AE > p.site.left(o.formulation.Active, ofSite):
		return d, WouldPassMaximum
	case !own && limit < ofSite:
		return d, UseAreaUnknown
	}
	return d, 0
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
// day lies, or when roots that sucker can be reached.
func (q *question) whenUnknown(o *option) Refusals {
	var r Refusals
	if !q.hasSeason {
		r |= SeasonUnknown
	}
	if q.suckers() && !o.law.HasWindow() {
		r |= WindowUnknown
	}
	return r
}

// left is what the annual maximum leaves after earlier applications.
func (s *Site) left(active string, limit quantity.ArealRate) quantity.MicrogramsAE {
	return limit.On(s.Area) - s.Applied[active]
}

// best picks the option to act on: the best rank of the best status. Among what
// is merely closed or refused it takes the one that the rules speak least
// against; it is -1 if every option is refused.
func best(states []state) int {
	pick := -1
	for i := range states {
		if states[i].status == refused {
			continue
		}
		if pick < 0 || better(&states[i], &states[pick]) {
			pick = i
		}
	}
	return pick
}

func better(a, b *state) bool {
	if a.status != b.status {
		return a.status < b.status
	}
	return a.rank.compare(&b.rank) < 0
}

// count adds a prescribed dose to the site's sums, or defers the stem to a later
// season where this season's maximum leaves no room.
func (p *Planner) count(plan *Plan, q *question, o *option) {
	site := q.stem.surroundings()
	limit, source := o.limitOfSite(&site)
	active := o.formulation.Active
	t := p.tallies[active]
	if t == nil {
		t = &tally{}
		p.tallies[active] = t
	}
	class := classOf(q.stem)
	t.want(class, plan.Dose.AE, limit, source)
	share, split := p.site.Shares[active]
	if split && !share.has(class) || t.used+plan.Dose.AE > p.site.left(active, limit) {
		plan.Outcome, plan.Dose = Deferred, Dose{}
		plan.Key = mix(plan.Key, uint64(NotThisSeason))
		p.states[plan.chosen].refusals |= NotThisSeason
		return
	}
	t.used += plan.Dose.AE
	p.secondPass(plan, q)
}

// secondPass adds to the treatment of a patch the dose for its larger stems, as
// far as the row tells of them. It belongs to the next season's maximum, which it
// may not pass on the patch.
func (p *Planner) secondPass(plan *Plan, q *question) {
	later, ok := largerStems(q.stem)
	if !ok {
		return
	}
	lq := p.ask(&later, p.governing.On)
	options := p.optionsFor(lq.species, later.LandUse)
	states := p.weigh(nil, &lq, options)
	i := bestStanding(options, states)
	plan.Key = mix(plan.Key, uint64(i)+2)
	if i >= 0 {
		plan.Second = states[i].dose
		plan.Key = mix(plan.Key, states[i].judgement.Key)
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

// bestStanding picks among treatments of single standing stems.
func bestStanding(options []option, states []state) int {
	for i := range options {
		if m := options[i].method.id(); m != rules.BasalBark && m != rules.HackAndSquirt || states[i].dose.Stems == 0 {
			states[i].status = refused
		}
	}
	return best(states)
}

// keyOf mixes all that Explain depends on, but for the numbers of the row.
func keyOf(q *question, states []state) uint64 {
	k := mix(uint64(q.season), uint64(q.stem.Form)<<8|uint64(q.stem.LandUse))
	for _, c := range []byte(q.species.Name) {
		k = mix(k, uint64(c))
	}
	for i := range states {
		s := &states[i]
		k = mix(mix(k, uint64(s.refusals)<<8|uint64(s.status)), s.judgement.Key)
		k = mix(k, uint64(s.rank.efficacy)<<8|uint64(s.rank.selectivity))
		if e := s.rank.evidence; e != nil {
			k = mix(k, uint64(e.Control)<<1|1)
		}
	}
	return k
}

func mix(k, v uint64) uint64 {
	k ^= v + 0x9e3779b97f4a7c15 + k<<6 + k>>2
	return k * 0xff51afd7ed558ccd
}
