package api

import (
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
	"example.org/rootward/server/water"
)

// measuring computes distances to water for the rows of a session, from the layers that
// the server held when it began.
type measuring struct {
	layers         *water.Layers // nil: nothing is computed
	uncertainty    quantity.Micrometres
	hasUncertainty bool // for rows that state none
	finders        map[*rules.Governing]*water.Finder
	shared         map[asked]*water.Finder
	used           bool // a distance was asked of the layers
}

// asked is what laws may have in common.
type asked struct {
	classes rules.OneOf[rules.WaterClass]
	reach   quantity.Micrometres
}

// positions reads what holds for the positions of all rows.
func (f *faults) positions(p *treatmentv1.Settings) measuring {
	if p == nil {
		return measuring{}
	}
	n, stated := f.real("settings.", uncertainty, p.CoordinateUncertaintyM)
	return measuring{uncertainty: quantity.Micrometres(n), hasUncertainty: stated}
}

// measure gives a row the distances to the waters that its law asks for, kept in into,
// or in memory of its own where that is nil. A row without a position gets none, and one
// that lacks what every distance depends on is told so.
func (m *measuring) measure(r *row, g *rules.Governing, s *treatment.Settings, into *water.Measured) {
	if m.layers == nil || !r.position.known {
		return
	}
	finder := m.finder(g)
	if finder == nil {
		return
	}
	p, stem := &r.position, &r.stem
	if !p.hasUncertainty {
		p.uncertainty, p.hasUncertainty = m.uncertainty, m.hasUncertainty
	}
	if wanting := p.wanting(stem); wanting != 0 {
		stem.Water.Want(wanting)
		return
	}
	if into == nil {
		into = new(water.Measured)
	}
	finder.MeasureInto(&water.Spot{Point: p.at, Uncertainty: p.uncertainty + p.extent(stem, s), Outline: p.outline}, into)
	m.used = true
	if d, stated := stem.Water.Get(rules.Lake); !stated || d.AtLeast {
		stem.LakeArea = into.LakeArea // otherwise the lake that is stated may be another
	}
	stem.Water.Compute(&into.Water, &into.Seen)
}

// finder gives the finder of a law, and nil if the law asks for no water.
func (m *measuring) finder(g *rules.Governing) *water.Finder {
	f, made := m.finders[g]
	if made {
		return f
	}
	if m.finders == nil {
		m.finders, m.shared = map[*rules.Governing]*water.Finder{}, map[asked]*water.Finder{}
	}
	if classes, reach := g.Water(); reach > 0 {
		key := asked{classes, reach}
		if m.shared[key] == nil {
			m.shared[key] = m.layers.Finder(classes, reach)
		}
		f = m.shared[key]
	}
	m.finders[g] = f
	return f
}

// wanting is what is not known of a position that every distance depends on.
func (p *position) wanting(s *treatment.Stem) rules.Wanting {
	var w rules.Wanting
	if !p.hasUncertainty {
		w |= rules.WantsUncertainty
	}
	if (s.Area > 0 || s.PerHectare > 0) && len(p.outline) == 0 {
		w |= rules.WantsOutline
	}
	return w
}

// extent is how far what is treated reaches from the position of a stem: to the edge
// of its crown if it may be low enough to be sprayed, else to its bark.
func (p *position) extent(s *treatment.Stem, settings *treatment.Settings) quantity.Micrometres {
	switch {
	case len(p.outline) > 0:
		return 0
	case s.Height > settings.FoliarReach:
		return (max(s.Diameter, s.LargerDiameter) + 1) / 2
	}
	return (max(s.Crown(), s.Diameter, s.LargerDiameter) + 1) / 2
}
