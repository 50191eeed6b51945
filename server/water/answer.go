package water

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// answer states what is known of one class.
func (f *Finder) answer(q *question, uncertainty quantity.Micrometres, m *Measured) {
	shown, any := f.shown(q, uncertainty)
	var best rules.WaterDistance
	known, complete := false, false
	for i := range q.sources {
		covered := f.covered(&q.sources[i], uncertainty)
		if covered <= 0 {
			continue
		}
		d := statement(&q.sources[i], shown, any, covered)
		if !known || better(d, best) {
			best, known = d, true
		}
		complete = complete || covered == f.reach
	}
	if any && shown.Distance == 0 {
		best, known = shown, true // nothing is nearer
	}
	best.State = f.state(q, complete)
	if known {
		m.Water.Set(q.class, best)
	}
	if any && (!known || best.AtLeast) {
		shown.State = best.State
		m.Seen.Set(q.class, shown)
	}
	if q.class == rules.Lake && complete && f.lakes == 1 {
		m.LakeArea = f.layers.shapes[f.lake].area
	}
}

// shown is the nearest water of a class that any layer shows within reach.
func (f *Finder) shown(q *question, uncertainty quantity.Micrometres) (nearest rules.WaterDistance, any bool) {
	for i := range q.sources {
		for _, g := range q.sources[i].water {
			if f.nearest[g] >= f.far {
				continue
			}
			d := rules.WaterDistance{Distance: whole(f.nearest[g], uncertainty), Origin: f.layers.groups[g].origin}
			if !any || d.Distance < nearest.Distance || d.Distance == nearest.Distance && d.Origin < nearest.Origin {
				nearest, any = d, true
			}
		}
	}
	return nearest, any && nearest.Distance < f.reach
}

// covered is how far round the spot a layer shows all water of a class, at most the
// reach.
func (f *Finder) covered(s *source, uncertainty quantity.Micrometres) quantity.Micrometres {
	var farthest quantity.Micrometres
	for _, g := range s.coverages {
		switch {
		case f.inside[g] < f.rings:
		case f.nearest[g] >= f.far:
			return f.reach
		default:
			farthest = max(farthest, min(f.reach, whole(f.nearest[g], uncertainty)))
		}
	}
	return farthest
}

// statement is what a layer vouches for that shows all water within a distance.
//
// It vouches that none is nearer than the nearest that is shown, counted from the
// origin nearest the water of all lines that this rests on: a line of another origin
// may be of water whose origin lies nearer. That it is the distance itself, and not
// at least that, holds only if the nearest line is one of that origin.
func statement(s *source, shown rules.WaterDistance, any bool, covered quantity.Micrometres) rules.WaterDistance {
	if !any || shown.Distance > covered {
		return rules.WaterDistance{Distance: covered, Origin: s.origin, AtLeast: true}
	}
	origin := min(s.origin, shown.Origin)
	return rules.WaterDistance{Distance: shown.Distance, Origin: origin, AtLeast: shown.Origin != origin}
}

// better tells which of two statements, both true, says more: first one whose origin
// is known, then the longer, then the exact, then the one counted farther inland.
func better(a, b rules.WaterDistance) bool {
	switch {
	case (a.Origin == 0) != (b.Origin == 0):
		return b.Origin == 0
	case a.Distance != b.Distance:
		return a.Distance > b.Distance
	case a.AtLeast != b.AtLeast:
		return b.AtLeast
	}
	return a.Origin > b.Origin
}

// state says that water is wet if any within reach is, and dry if all there is within
// reach is stated to be.
func (f *Finder) state(q *question, complete bool) rules.WaterState {
	var all states
	for i := range q.sources {
		for _, g := range q.sources[i].water {
			s := f.states[g]
			all = states{all.wet || s.wet, all.dry || s.dry, all.unstated || s.unstated}
		}
	}
	switch {
	case all.wet:
		return rules.WaterWet
	case complete && all.dry && !all.unstated:
		return rules.WaterDry
	}
	return 0
}
