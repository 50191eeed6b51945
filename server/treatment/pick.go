package treatment

// pick is the option that was picked for a stem.
type pick struct {
	key    uint64 // equal for stems that Explain answers alike
	at     int32  // in the slate; -1: none
	status status // refused if there is none
}

// choose picks the option to act on for a stem.
func (p *Planner) choose(k *kind, s *slate, stem *Stem) pick {
	l, alike := likeness{}, false
	if s.recalled != nil && p.site.Area > 0 {
		l, alike = s.likenessOf(stem)
	}
	z := stem.size()
	if alike {
		if m := s.recalled.recall(&l, &z, p.roomFor(s)); m != nil {
			return m.pick
		}
	}
	q := p.asking(k, stem)
	if s.panel == nil {
		states := p.weighOneByOne(q, s)
		return pickOf(q, s, states, best(states))
	}
	if s.recalled != nil {
		q.diameter.limits, q.height.limits = &s.recalled.diameters, &s.recalled.heights
	}
	st := p.weighTogether(q, s)
	c := pick{key: st.key ^ s.keyFor(q)}
	c.at, c.status = st.best(q, s, ^set(0)>>(64-len(s.options)))
	if alike && !st.refusedByDose {
		p.remember(s, stem, &z, st.dosed, c)
	}
	return c
}

// chooseStanding picks among treatments of single standing stems that have a dose.
func (p *Planner) chooseStanding(k *kind, q *question, s *slate) pick {
	if s.panel == nil {
		states := p.weighOneByOne(q, s)
		return pickOf(q, s, states, bestStanding(s.options, states))
	}
	st := p.weighTogether(q, s)
	c := pick{key: st.key ^ s.keyFor(q)}
	c.at, c.status = st.best(q, s, s.standing&st.dosed)
	return c
}

func (p *Planner) weighOneByOne(q *question, s *slate) []state {
	p.work.states = p.weigh(p.work.states[:0], q, s.options)
	return p.work.states
}

func pickOf(q *question, s *slate, states []state, at int) pick {
	c := pick{at: int32(at), status: refused, key: keyOf(q, s.options, states)}
	if at >= 0 {
		c.status = states[at].status
	}
	return c
}

// keyFor stands for what Explain asks of a stem besides.
func (s *slate) keyFor(q *question) uint64 {
	facts := uint64(q.stem.Form)<<16 | uint64(q.season)<<8 | uint64(q.stem.Desirable)
	if q.dense {
		facts |= 1 << 24
	}
	return mix(s.key, facts)
}
