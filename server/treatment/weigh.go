package treatment

import (
	"cmp"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

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

// weigh finds where each option stands, one by one.
func (p *Planner) weigh(states []state, q *question, options []option) []state {
	site := q.stem.surroundings()
	for i := range options {
		states = append(states, p.stand(q, &options[i], &site))
	}
	return states
}

func (p *Planner) stand(q *question, o *option, site *rules.Surroundings) state {
	s := state{refusals: o.method.fit(&q.traits), judgement: o.law.Judge(site)}
	if f := o.formulation; f != nil {
		s.refusals |= q.fitSoil(f.SoilActivity)
	}
	s.rank = o.rank(q, s.judgement.Decision)
	if s.rank.efficacy == failing {
		s.refusals |= FailsInTrials
	}
	if o.formulation != nil {
		s.refusals |= q.whenUnknown() | o.windowUnknown(q.suckers()) | p.extentUnknown(q.stem)
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
	var d Dose
	if !p.pour(&d, q.stem, o) {
		return Dose{}, MixImpossible
	}
	var c Maxima
	c.limit, _ = o.limit(site)
	c.ofSite, _ = o.limitOfSite(site)
	switch {
	case p.site.Area <= 0:
		return d, SiteAreaUnknown
	case p.passes(&d, q.stem, o.formulation.Active, c):
		return d, WouldPassMaximum
	case q.stem.Area == 0 && c.limit < c.ofSite:
		return d, UseAreaUnknown
	}
	return d, 0
}

// pour computes what the stem takes. It reports false where there is no such dose.
func (p *Planner) pour(d *Dose, stem *Stem, o *option) bool {
	z := stem.size()
	n := o.method.need(p.settings, z, o.recipe.cutting())
	if err := d.compose(&n, z.stems, o.recipe, o.formulation); err != nil {
		return false
	}
	d.Rate, d.HasRate = quantity.RateOf(d.AE, cmp.Or(z.area, p.site.Area))
	return true
}

// passes reports whether a dose passes the annual maximum on the stem's own area, or
// what earlier applications leave of the site's.
func (p *Planner) passes(d *Dose, stem *Stem, active string, c Maxima) bool {
	return stem.Area > 0 && d.AE > c.limit.On(stem.Area) || d.AE > p.site.left(active, c.ofSite)
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

// bestStanding picks among treatments of single standing stems.
func bestStanding(options []option, states []state) int {
	for i := range options {
		if !options[i].isOfStanding() || states[i].dose.Stems == 0 {
			states[i].status = refused
		}
	}
	return best(states)
}

func (o *option) isOfStanding() bool {
	return o.method.id() == rules.BasalBark || o.method.id() == rules.HackAndSquirt
}

// keyOf mixes all that Explain depends on, but for the numbers of the row.
func keyOf(q *question, options []option, states []state) uint64 {
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
		for at, e := range options[i].evidence { // in another season too: it tells of dates
			if e.isOfStem(&q.traits) {
				k = mix(k, uint64(at))
			}
		}
	}
	return k
}
