package rules

import (
	"slices"

	"example.org/rootward/rules/quantity"
)

// Wanting is what keeps distances to water from being computed for a stem whose
// position is known. The values can be added up.
type Wanting uint8

// What is wanting.
const (
	WantsUncertainty Wanting = 1 << iota // how far the true position may lie from it
	WantsOutline                         // the edge of a patch
)

// Compute sets distances that were computed from layers of water beside those that
// are stated; they must not change while they are used. Those that are merely seen may
// forbid but never allow: there may be water of the class that is nearer and that no
// layer shows. That water is dry neither tells: what is stated of it holds for all, unless
// either shows one that is wet.
//
// The smallest distance decides. Each says of a limit what it can; the limit is broken
// if any says so, and is not known to be kept while any is a distance short of it,
// wherever that starts. Apart from that it is kept if the stated or the computed one
// says so and no distance gainsays it, as one that is smaller and starts no farther from the
// water does: that water is no nearer than something does not gainsay that it is farther.
func (w *Waters) Compute(computed, seen *Waters) { w.computed, w.seen, w.wanting = computed, seen, 0 }

// Want says what was wanting to compute anything.
func (w *Waters) Want(what Wanting) { w.computed, w.seen, w.wanting = nil, nil, what }

// HasComputed reports whether distances were computed, though it may be of no class.
func (w *Waters) HasComputed() bool { return w.computed != nil }

// Computed gives the distance to a class of water that was computed, or merely seen
// where there is such a one, and false if there is none.
func (w *Waters) Computed(c WaterClass) (WaterDistance, bool) {
	switch {
	case w.computed == nil:
		return WaterDistance{}, false
	case w.seen.known.Has(c):
		return w.seen.Get(c)
	}
	return w.computed.Get(c)
}

// classes are those of which anything is known.
func (w *Waters) classes() OneOf[WaterClass] {
	if w.computed == nil {
		return w.known
	}
	return w.known | w.computed.known
}

// smaller is what all distances to a class say together.
func (w *Waters) smaller(c WaterClass, limit quantity.Micrometres, from DistanceOrigin, allowance quantity.Micrometres) Decision {
	says := func(of *Waters) Decision { return of.clearsAlone(c, limit, from, allowance) }
	stated, computed, seen := says(w), says(w.computed), says(w.seen)
	switch {
	case stated == Prohibited || computed == Prohibited || seen == Prohibited:
		return Prohibited
	case w.isShort(c, limit) || w.computed.isShort(c, limit) || w.seen.isShort(c, limit):
		return Undetermined
	}
	if computed != Allowed && w.isGainsaid(c, w.computed) || seen != Allowed && w.isGainsaid(c, w.seen) {
		stated = Undetermined
	}
	if stated != Allowed && w.computed.isGainsaid(c, w) || seen != Allowed && w.computed.isGainsaid(c, w.seen) {
		computed = Undetermined
	}
	return min(stated, computed)
}

// isGainsaid reports whether water cannot be as far as is said: a distance to it that starts
// no farther from it, or nobody knows where, is smaller.
func (w *Waters) isGainsaid(c WaterClass, by *Waters) bool {
	d, known := w.Get(c)
	return known && by.isExact(c) && by.distances[c].Distance < d.Distance && by.distances[c].Origin <= d.Origin
}

// isExact reports whether a distance is stated that is not a bound alone.
func (w *Waters) isExact(c WaterClass) bool { return w.own.Has(c) && !w.distances[c].AtLeast }

// isDry reports whether it is stated that no water of a class holds any, and no layer
// shows one within reach that is stated to be wet.
func (w *Waters) isDry(c WaterClass) bool {
	return w.isStated(c, WaterDry) && (w.computed == nil || !w.computed.isStated(c, WaterWet) && !w.seen.isStated(c, WaterWet))
}

func (w *Waters) isStated(c WaterClass, state WaterState) bool {
	return w.own.Has(c) && w.distances[c].State == state
}

func (w *Waters) isShort(c WaterClass, limit quantity.Micrometres) bool {
	return w.isExact(c) && w.distances[c].Distance < limit
}

// within reports whether what is treated stands in the water, by any distance.
func (w *Waters) within(c WaterClass) bool {
	return w.isShort(c, InWater) || w.computed != nil && (w.computed.isShort(c, InWater) || w.seen.isShort(c, InWater))
}

// seenShort are those of the classes that are seen nearer than a limit.
func (w *Waters) seenShort(classes OneOf[WaterClass], limit quantity.Micrometres) OneOf[WaterClass] {
	var short OneOf[WaterClass]
	if w.seen == nil {
		return short
	}
	for rest := classes & w.seen.known; !rest.Empty(); rest &= rest - 1 {
		if c := rest.first(); w.seen.isShort(c, limit) {
			short |= AnyOf(c)
		}
	}
	return short
}

// uncovered are those of the classes that no layer shows as far as a limit, though
// they were asked.
func (w *Waters) uncovered(classes OneOf[WaterClass], limit quantity.Micrometres) OneOf[WaterClass] {
	if w.computed == nil {
		return 0
	}
	missing := classes &^ w.computed.known
	for rest := classes & w.computed.known; !rest.Empty(); rest &= rest - 1 {
		c := rest.first()
		if d, _ := w.computed.Get(c); d.AtLeast && d.Distance < limit {
			missing |= AnyOf(c)
		}
	}
	return missing
}

// remedies says what would have to be known to compute distances.
func (v Wanting) remedies() []string {
	var list []string
	if v&WantsUncertainty != 0 {
		list = append(list, "or coordinateUncertaintyInMeters of the position, or the setting coordinate_uncertainty_m for rows without it, from which distances to water are then computed")
	}
	if v&WantsOutline != 0 {
		list = append(list, "or the outline of the patch, from whose nearest point distances to water are then computed")
	}
	return list
}

// Water gives the classes of water whose distances bear on any treatment under the
// law, and the longest distance that any row asks for; zero if none does. Where
// something is mixed and loaded no stem tells, so that such rows ask for nothing.
func (g *Governing) Water() (classes OneOf[WaterClass], reach quantity.Micrometres) {
	for i := range g.rows {
		row := g.rows[i].row
		if b, ok := row.Effect.(Buffer); ok && b.Activity != MixAndLoad {
			classes |= b.Water
			reach = max(reach, b.Distance+b.Allowance.Distance)
		}
		if row.asksForLakeArea() {
			classes |= AnyOf(Lake)
		}
	}
	if classes&intakes != 0 {
		classes |= intakes // a rule about some of them may be decided by the others
	}
	return classes, reach
}

func (r *Row) asksForLakeArea() bool {
	return r.When.asksForLakeArea() || slices.ContainsFunc(r.Unless, func(s Selector) bool { return s.asksForLakeArea() })
}

func (s *Selector) asksForLakeArea() bool {
	return slices.ContainsFunc(s.Ranges, func(r Range) bool { return r.Of == LakeArea })
}
