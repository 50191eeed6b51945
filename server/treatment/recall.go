package treatment

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// recalled is what a slate remembers of stems, so that those that nothing tells apart
// are weighed once: what was picked, by everything that decides. Patches and stems for
// which distances to water were computed are weighed each time.
//
// A dose may refuse an option too. What is remembered holds for sizes between two that
// were proved to be refused nothing; a stem outside is weighed, and widens them.
type recalled struct {
	picks     [1 << recallBits]*remembered // by a part of the hash; one takes the place of another
	diameters limitsAsked
	heights   limitsAsked
	slopes    limitsAsked  // in thousandths
	lakes     limitsAsked  // in square millimetres
	asked     int          // limits when picks was last empty
	room      []remembered // for those to come
}

// likeness is equal for stems on the same side of everything.
type likeness struct{ words, numbers, water uint64 }

// place is where a likeness is remembered, if it is.
func (l *likeness) place() uint64 {
	h := l.words*0x9e3779b97f4a7c15 ^ l.numbers*0xbf58476d1ce4e5b9 ^ l.water*0x94d049bb133111eb
	return (h ^ h>>29) * 0xff51afd7ed558ccd >> (64 - recallBits)
}

// remembered is what was picked for stems of a likeness.
type remembered struct {
	likeness
	room  quantity.MicrogramsAE // that is enough
	sizes sizes
	pick
	due set // options that a dose was worked out for
}

// sizes are those of single stems from one to another.
type sizes struct {
	leastDiameter, leastCrown quantity.Micrometres
	mostDiameter, mostCrown   quantity.Micrometres
	mostStems                 int64
}

func (r *sizes) hold(z *size) bool {
	return z.diameter >= r.leastDiameter && z.diameter <= r.mostDiameter &&
		z.crown >= r.leastCrown && z.crown <= r.mostCrown && z.stems <= r.mostStems
}

// recallBits bound what a slate remembers, so that memory does not depend on the number
// of rows.
const recallBits = 11

// newRecalled makes a memory for a slate; nil if it cannot have one.
func newRecalled(s *slate) *recalled {
	r := &recalled{}
	for q, l := range map[rules.Measure]*limitsAsked{
		rules.Diameter: &r.diameters, rules.Height: &r.heights, rules.Slope: &r.slopes, rules.LakeArea: &r.lakes,
	} {
		for _, limit := range s.panel.Limits(q) {
			l.note(quantity.Micrometres(limit))
		}
		if len(l.list) > mostLimits {
			return nil
		}
	}
	if s.asksCap != 0 {
		return nil
	}
	return r
}

// mostLimits leaves room for those that are asked about later in the 16 bits that a
// number has in a likeness.
const mostLimits = 1 << 15

// likenessOf sums up a stem, and reports false for one that is weighed each time.
func (s *slate) likenessOf(stem *Stem) (likeness, bool) {
	r := s.recalled
	if r == nil || stem.Area != 0 || !s.panel.Clear(&stem.Places) {
		return likeness{}, false
	}
	water, ok := s.panel.Side(&stem.Water)
	l := likeness{water: water}
	l.words = uint64(stem.Form) | uint64(stem.Desirable)<<8 | uint64(stem.Soil)<<16 | uint64(stem.Bark)<<24 | uint64(stem.RootCheck)<<32
	l.numbers = r.diameters.sideIf(stem.Diameter > 0, stem.Diameter) |
		r.heights.sideIf(stem.Height > 0, stem.Height)<<16 |
		r.slopes.sideIf(stem.HasSlope, quantity.Micrometres(stem.Slope))<<32 |
		r.lakes.sideIf(stem.LakeArea > 0, quantity.Micrometres(stem.LakeArea))<<48
	return l, ok
}

// sideIf is the side of a number that is known, and zero of another.
func (l *limitsAsked) sideIf(known bool, um quantity.Micrometres) uint64 {
	if !known {
		return 0
	}
	return 1 + l.side(um)
}

// recall gives what was picked for a stem that nothing tells apart from this one; nil
// if none is remembered that is proved to hold for its size.
func (r *recalled) recall(l *likeness, z *size, room quantity.MicrogramsAE) *remembered {
	m := r.picks[l.place()]
	if m == nil || m.likeness != *l || r.asked != r.limits() || room < m.room || !m.sizes.hold(z) {
		return nil
	}
	return m
}

// another gives room for what is remembered. It lies together, for the collector of garbage.
func (r *recalled) another() *remembered {
	const many = 32
	if len(r.room) == 0 {
		r.room = make([]remembered, many)
	}
	m := &r.room[0]
	r.room = r.room[1:]
	return m
}

// limits counts those that were asked about so far.
func (r *recalled) limits() int { return len(r.diameters.list) + len(r.heights.list) }

// remember keeps what was picked for a stem to which a dose refused no option.
func (p *Planner) remember(s *slate, stem *Stem, z *size, due set, c pick) {
	r := s.recalled
	if r.asked != r.limits() {
		clear(r.picks[:]) // on which side of a new limit the others lay nobody noted
		r.asked = r.limits()
	}
	l, _ := s.likenessOf(stem) // by the limits that are known now
	room := p.roomFor(s)
	m := r.picks[l.place()]
	if m == nil || m.likeness != l || room < m.room {
		if m == nil {
			m = r.another()
			r.picks[l.place()] = m
		}
		*m = remembered{likeness: l, room: room, sizes: sizes{z.diameter, z.crown, z.diameter, z.crown, z.stems}, pick: c, due: due}
		if !p.proves(s, due, room, &m.sizes) {
			m.sizes.mostStems = 0 // for no stem
		}
		return
	}
	for _, wider := range []quantity.Micrometres{2, 1} {
		all := sizes{
			min(m.sizes.leastDiameter, z.diameter/wider), min(m.sizes.leastCrown, z.crown/wider),
			max(m.sizes.mostDiameter, z.diameter*wider), max(m.sizes.mostCrown, z.crown*wider),
			max(m.sizes.mostStems, z.stems),
		}
		if p.proves(s, m.due, m.room, &all) {
			m.sizes = all
			return
		}
	}
}

// proves reports whether no dose refuses any of some options to a stem of some sizes, on
// any site that leaves so much room.
func (p *Planner) proves(s *slate, due set, room quantity.MicrogramsAE, of *sizes) bool {
	low := size{diameter: of.leastDiameter - quantity.Millimetre, crown: of.leastCrown, stems: 1} // see method.need
	high := size{diameter: of.mostDiameter + quantity.Millimetre, crown: of.mostCrown, stems: of.mostStems}
	for i := range s.needs {
		by := &s.needs[i]
		if due&by.of == 0 {
			continue
		}
		from, to := by.method.need(p.settings, low, by.cuts), by.method.need(p.settings, high, by.cuts)
		if !from.isOneRow() || !to.isOneRow() || !by.strongest.Holds(to.mix, room) {
			return false
		}
	}
	return true
}
