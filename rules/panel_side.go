package rules

import (
	"math"
	"slices"

	"example.org/rootward/rules/quantity"
)

// Limits gives the numbers that the rows of a panel hold a measure against, in order:
// stems whose measure is known and above the same of them are told the same, if nothing
// else of them differs.
func (p *Panel) Limits(q Measure) []int64 {
	var limits []int64
	add := func(limit int64, open bool) {
		if limit > math.MinInt64 && limit < math.MaxInt64 {
			if !open {
				limit--
			}
			limits = append(limits, limit)
		}
	}
	ranges := func(s *Selector) {
		for _, r := range s.Ranges {
			if r.Of == q {
				add(r.Min, r.MinOpen)
				add(r.Max, !r.MaxOpen)
			}
		}
	}
	for i := range p.rows {
		ranges(&p.rows[i].row.When)
		for e := p.rows[i].unless; e != nil; e = e.next {
			ranges(e.selector)
		}
	}
	slices.Sort(limits)
	return slices.Compact(limits)
}

// Clear reports whether a stem is so far from all places that no row can say more of
// them than that it clears them.
func (p *Panel) Clear(places *Places) bool {
	if others := p.places &^ places.own; !others.Empty() && (others&^places.known != 0 || places.others < p.farthest) {
		return false
	}
	for rest := p.places & places.own; !rest.Empty(); rest &= rest - 1 {
		if places.clears(rest.first(), p.farthest) != Allowed {
			return false
		}
	}
	return true
}

// Side sums up where a stem lies among waters: it is equal for stems that no row can
// tell apart by them. Some have none: those for which distances were computed, and
// those that are near to many waters.
func (p *Panel) Side(w *Waters) (side uint64, ok bool) {
	if w.computed != nil || p.near.many {
		return 0, false
	}
	near := p.near.classes(w)
	side = uint64(near) | uint64(w.wanting)<<classBits
	used := classBits + wantingBits
	for rest := near; !rest.Empty(); rest &= rest - 1 {
		c := rest.first()
		if !w.known.Has(c) {
			used++ // a zero: not known
			continue
		}
		if used += knownBits; used > 64 {
			return 0, false
		}
		d, _ := w.Get(c)
		side |= p.near.sideOf(c, &d) << (used - knownBits)
	}
	return side, used <= 64
}

// The parts of a side. A class that is known begins with a one.
const (
	classBits   = 16
	wantingBits = 3
	limitBits   = 4
	knownBits   = 1 + 2 + 1 + 1 + limitBits // origin, at least, dry
)

func (n *nearness) sideOf(c WaterClass, d *WaterDistance) uint64 {
	side := uint64(1)
	if d.Origin <= BankTop { // others are as good as not stated
		side |= uint64(d.Origin) << 1
	}
	if d.AtLeast {
		side |= 1 << 3
	}
	if d.State == WaterDry {
		side |= 1 << 4
	}
	return side | n.above(c, d.Distance)<<5
}

// above is how many of the limits of a class a distance reaches.
func (n *nearness) above(c WaterClass, distance quantity.Micrometres) uint64 {
	var count uint64
	for _, limit := range n.limits[c] {
		if distance < limit {
			break
		}
		count++
	}
	return count
}
