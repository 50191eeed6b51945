package treatment

import (
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// traits are what may decide whether a method fits a stem, and what is published of it.
// Words are read; numbers can be held against limits and nothing else. So stems with
// the same words, whose numbers lie on the same side of every limit that was asked
// about, get the same answer: recall rests on it.
type traits struct {
	species   *Species
	settings  *Settings
	season    rules.Season
	hasSeason bool
	form      rules.GrowthForm
	desirable rules.Desirable
	soil      rules.SoilState
	bark      rules.BarkState
	rootCheck rules.RootCheck
	dense     bool // a stand in which single stems cannot be treated at a sensible cost
	diameter  gauge
	height    gauge
}

// frost refuses a frozen stem, and one of which nobody has said that it is not when it may
// be: in leaf none is (common practice, no source).
func (t *traits) frost() Refusals {
	inLeaf := t.hasSeason && (t.season == rules.Growing || t.season == rules.Translocation)
	switch {
	case t.bark == rules.BarkFrozen:
		return FrozenStem
	case t.bark == 0 && !inLeaf:
		return FrostUnknown
	}
	return 0
}

// gauge is a number that can only be held against limits. It notes them.
type gauge struct {
	um     quantity.Micrometres // zero: not known
	limits *limitsAsked         // nil: nobody wants to know them
}

// isKnown reports whether the number is known.
func (g *gauge) isKnown() bool { return g.exceeds(0) }

// exceeds reports whether the number is above a limit.
func (g *gauge) exceeds(limit quantity.Micrometres) bool {
	if g.limits != nil {
		g.limits.note(limit)
	}
	return g.um > limit
}

// limitsAsked are limits that numbers were held against, in order, each once.
type limitsAsked struct {
	list []quantity.Micrometres
}

func (l *limitsAsked) note(limit quantity.Micrometres) {
	at, known := slices.BinarySearch(l.list, limit)
	if !known {
		l.list = slices.Insert(l.list, at, limit)
	}
}

// side tells on which side of each limit a number lies. It holds the number against all
// of them, since a processor cannot foresee where it would stop.
func (l *limitsAsked) side(um quantity.Micrometres) uint64 {
	var side uint64
	for _, limit := range l.list {
		if um > limit {
			side++
		}
	}
	return side
}

// size is all that the mix for a stem depends on.
type size struct {
	diameter, crown quantity.Micrometres
	stems           int64
	area            quantity.SquareMillimetres // of a patch; zero: it is none
}

func (s *Stem) size() size { return size{s.Diameter, s.Crown(), s.Stems(), s.Area} }
