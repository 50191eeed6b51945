package treatment

import (
	"math/bits"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// stance is where all options of a slate stand for a stem: for each reason or verdict
// that tells them apart, the set of those to which it applies. It says together what
// stand says of one option, and costs about as much as a few of them.
type stance struct {
	rules.Verdict
	firm     set // refused for good
	seasonal set // refused in this part of the year
	unknown  set // something that decides is not known
	dense    set // uneconomic at that density
	dosed    set // has a dose, whether it may be given or not

	// By the published evidence that speaks for them, each with whatever else is
	// published; those in none are unpublished.
	effective, partial, failing set

	// refusedByDose says that a dose may be refused to some of them.
	refusedByDose bool

	key uint64
}

// weighTogether finds where the options stand.
func (p *Planner) weighTogether(q *question, s *slate) stance {
	st := stance{Verdict: s.panel.Judge(&p.work.site)}
	st.key = st.Verdict.Key
	for i, m := range methods {
		if s.methods[i] != 0 {
			st.refuse(m.fit(&q.traits), s.methods[i], uint64(i))
		}
	}
	const products = 1 << 6 // no method and no soil activity has the number
	for i := range s.soils {
		st.refuse(q.fitSoil(s.soils[i].activity), s.soils[i].of, products>>1+uint64(i))
	}
	st.refuse(q.whenUnknown()|p.extentUnknown(q.stem), s.products, products)
	st.unknown |= s.noWindow
	st.hear(q, s)
	p.doseTogether(q, s, &st)
	return st
}

// refuse notes reasons against some options. The number tells apart who gives them.
func (st *stance) refuse(r Refusals, of set, number uint64) {
	if r == 0 {
		return
	}
	st.key ^= scatter(uint64(r)<<8 | number)
	if r&unknowns != 0 {
		st.unknown |= of
	}
	if r&TooDense != 0 {
		st.dense |= of
	}
	if r&seasonal != 0 {
		st.seasonal |= of
	}
	if r&^(unknowns|TooDense|seasonal) != 0 {
		st.firm |= of
	}
}

// hear sorts the options by what is published of them.
func (st *stance) hear(q *question, s *slate) {
	for i := range s.evidence {
		by := &s.evidence[i]
		if !by.evidence.isOfStem(&q.traits) {
			continue
		}
		st.key ^= scatter(uint64(i)<<8 | 0xff) // in another season too: it tells of dates
		if !by.evidence.isOfSeason(q.season) {
			continue
		}
		switch by.evidence.class() {
		case failing:
			st.failing |= by.of
		case partial:
			st.partial |= by.of
		default:
			st.effective |= by.of
		}
	}
	st.seasonal |= st.failing // FailsInTrials
}

// doseTogether finds for which options there is no dose, or none that may be given.
func (p *Planner) doseTogether(q *question, s *slate, st *stance) {
	due := s.products &^ (st.firm | st.unknown)
	if due == 0 {
		return
	}
	room := p.roomFor(s)
	size := q.stem.size()
	none, close := due&s.tooWeak, due&s.asksCap
	for i := range s.needs {
		by := &s.needs[i]
		if due&by.of == 0 {
			continue
		}
		if n := by.method.need(p.settings, size, by.cuts); !n.isOneRow() {
			none |= due & by.of
		} else if !by.strongest.Holds(n.mix, room) {
			close |= due & by.of
		}
	}
	st.dosed = due &^ none
	st.refusedByDose = none&^s.tooWeak|close != 0
	st.note(&st.firm, none, MixImpossible)
	switch {
	case p.site.Area <= 0:
		st.note(&st.unknown, st.dosed, SiteAreaUnknown)
	case q.stem.Area > 0:
		st.note(&st.firm, p.passing(q, s, st.dosed), WouldPassMaximum)
	default:
		over := p.passing(q, s, st.dosed&close)
		st.note(&st.firm, over, WouldPassMaximum)
		st.note(&st.unknown, s.narrowerOn(&p.work.site, st.dosed&^over), UseAreaUnknown)
	}
}

// note adds options for a reason.
func (st *stance) note(to *set, of set, r Refusals) {
	if of != 0 {
		*to |= of
		st.key ^= scatter(uint64(r) ^ scatter(uint64(of)))
	}
}

// passing is those of the options whose dose passes an annual maximum.
func (p *Planner) passing(q *question, s *slate, of set) set {
	var over set
	for rest := of; rest != 0; rest &= rest - 1 {
		i := bits.TrailingZeros64(uint64(rest))
		o := &s.options[i]
		var d Dose
		if p.pour(&d, q.stem, o) && p.passes(&d, q.stem, o.formulation.Active, s.capsOf(i, &p.work.site)) {
			over |= 1 << i
		}
	}
	return over
}

// room is the least that any annual maximum leaves of the site, by the least rate of a
// slate. It is a bound, for want of which every dose would be worked out.
type room struct {
	rate quantity.ArealRate
	ae   quantity.MicrogramsAE
}

func (p *Planner) roomFor(s *slate) quantity.MicrogramsAE {
	if p.room.rate != s.leastRate || p.room == (room{}) {
		p.room = room{rate: s.leastRate, ae: s.leastRate.On(p.site.Area)}
		for _, applied := range p.site.Applied {
			p.room.ae = min(p.room.ae, s.leastRate.On(p.site.Area)-applied)
		}
	}
	return p.room.ae
}

// narrowerOn is those of the options whose maximum on the stem's land use is lower than
// on the site.
func (s *slate) narrowerOn(site *rules.Surroundings, of set) set {
	narrower := of & s.narrower
	for rest := of & s.asksCap; rest != 0; rest &= rest - 1 {
		i := bits.TrailingZeros64(uint64(rest))
		if c := s.capsOf(i, site); c.limit < c.ofSite {
			narrower |= 1 << i
		}
	}
	return narrower
}

// best picks the option to act on, as best does among states. It is -1 if every one
// is refused.
func (st *stance) best(q *question, s *slate, among set) (int32, status) {
	left := among &^ (st.firm | st.Barred)
	shut := st.seasonal | st.Prohibited
	unsure := st.unknown | st.Undetermined
	switch {
	case left&^(shut|unsure) != 0:
		return st.first(q, s, left&^(shut|unsure)), open
	case left&^shut != 0:
		return st.first(q, s, left&^shut), unknown
	case left != 0:
		return st.first(q, s, left), closed
	}
	return -1, refused
}

// first is the best by rank, of options that are as open.
func (st *stance) first(q *question, s *slate, of set) int32 {
	of = firstOf(of, ^(st.Prohibited | st.Undetermined | st.Conditional), ^(st.Prohibited | st.Undetermined), ^st.Prohibited)
	of = firstOf(of, ^st.dense)
	of = firstOf(of, st.effective&^(st.partial|st.failing), ^(st.partial | st.failing), ^st.failing)
	pick := bits.TrailingZeros64(uint64(of))
	least, cost := s.options[pick].selectivity(q), s.options[pick].cost
	for rest := of & (of - 1); rest != 0; rest &= rest - 1 {
		i := bits.TrailingZeros64(uint64(rest))
		o := &s.options[i]
		if score := o.selectivity(q); score < least || score == least && o.cost < cost {
			pick, least, cost = i, score, o.cost
		}
	}
	return int32(pick)
}

// firstOf narrows a set to its part in the first of the sets that has any of it.
func firstOf(of set, better ...set) set {
	for _, b := range better {
		if of&b != 0 {
			return of & b
		}
	}
	return of
}

// scatter spreads a number over a key.
func scatter(v uint64) uint64 {
	v = (v + 0x9e3779b97f4a7c15) * 0xbf58476d1ce4e5b9
	v = (v ^ v>>29) * 0x94d049bb133111eb
	return v ^ v>>32
}
