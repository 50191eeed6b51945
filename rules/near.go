package rules

import (
	"fmt"
	"slices"

	"example.org/rootward/rules/quantity"
)

// nearWater is a buffer for one treatment.
type nearWater struct {
	water             OneOf[WaterClass]
	from              DistanceOrigin
	along             DistanceAlong
	whileWet, granted bool // granted is the reduction
	distance, reduced quantity.Micrometres
	allowance         quantity.Micrometres
}

// nearWater gives the buffer for a treatment, and nil if no stem tells whether it
// is kept. The name is the row's among all sets.
func (b *Buffer) nearWater(t *Treatment, name func() string) *nearWater {
	if b.Activity == MixAndLoad {
		return nil
	}
	return &nearWater{
		water: b.Water, from: b.From, along: b.Along, whileWet: b.WhileWet, distance: b.Distance, reduced: b.Reduction.Distance,
		allowance: b.Allowance.Distance,
		granted:   b.Reduction.Stated() && len(t.Granted) > 0 && slices.Contains(t.Granted, name()),
	}
}

// Reductions names those that buffers offer, as Treatment.Granted does, each once in their
// order; no other bears on anything. It is not nil.
func (g *Governing) Reductions() []string {
	names := []string{}
	for i := range g.rows {
		if b, ok := g.rows[i].row.Effect.(Buffer); ok && b.Activity != MixAndLoad && b.Reduction.Stated() {
			names = append(names, g.rows[i].name())
		}
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// clears is what the buffer says of a stem among these waters.
func (b *nearWater) clears(w *Waters) Decision {
	decision := Allowed
	for rest := b.water; !rest.Empty(); rest &= rest - 1 {
		decision = Stricter(decision, b.clearsOf(rest.first(), w))
	}
	return decision
}

func (b *nearWater) clearsOf(c WaterClass, w *Waters) Decision {
	if !intakes.Has(c) {
		return b.clearsClass(c, w)
	}
	return b.clearsIntake(c, w)
}

// intakes are the classes that one intake can be of.
var intakes = AnyOf(Intake, IntakeCategory1, IntakeCategory2, IntakeCategory3)

// clearsIntake takes a rule about intakes for one about those of every category.
// That intakes of a category are no nearer than a distance is believed no farther
// than it is known of intakes whose category nobody stated: one of them may be
// of that category, unless the nearest of it was measured.
func (b *nearWater) clearsIntake(c WaterClass, w *Waters) Decision {
	d := b.clearsClass(c, w)
	if c != Intake {
		if !w.isExact(c) {
			d = Stricter(d, min(b.clearsClass(Intake, w), Undetermined))
		}
		return d
	}
	for known := intakes&w.classes() | w.seenShort(intakes, b.distance); !known.Empty(); known &= known - 1 {
		d = Stricter(d, b.clearsClass(known.first(), w))
	}
	return d
}

func (b *nearWater) clearsClass(c WaterClass, w *Waters) Decision {
	d := w.clears(c, b.distance, b.from, b.allowance)
	switch {
	case d == Allowed, b.whileWet && w.isDry(c):
		return Allowed
	case b.granted:
		d = Stricter(Conditional, w.clears(c, b.reduced, b.from, b.allowance))
	}
	if d == Prohibited && b.along == AlongSlope && !w.within(c) {
		return Undetermined // along the slope it may be far enough
	}
	return d
}

// unknown is the waters whose distance does not tell whether it clears.
func (b *nearWater) unknown(w *Waters) OneOf[WaterClass] {
	var classes OneOf[WaterClass]
	for _, c := range b.water.Values() {
		if b.clearsOf(c, w) == Undetermined {
			classes |= AnyOf(c)
		}
	}
	return classes
}

// wants stands for the facts for want of which the buffer does not decide; zero if it
// decides.
func (b *nearWater) wants(w *Waters) uint64 {
	unknown := b.unknown(w)
	if unknown.Empty() {
		return 0
	}
	return uint64(unknown)<<32 | uint64(w.wanting)<<46 | uint64(w.uncovered(unknown, b.distance+b.allowance))<<48
}

func (b *nearWater) missing(w *Waters) []string {
	var names []string
	unknown := b.unknown(w)
	uncovered := w.uncovered(unknown, b.distance+b.allowance)
	for _, c := range unknown.Values() {
		name := "distance to " + spaced(c.String())
		if b.along == AlongSlope {
			name += " along the slope"
		}
		name += " from the " + spaced(b.from.String())
		if b.allowance > 0 {
			name += ", or one that starts nearer the water and is " + length(b.allowance) + " longer than the rule asks"
		}
		if intakes.Has(c) && c != Intake {
			name += ", with the category of every intake"
		}
		if b.whileWet {
			name += ", or that it is dry"
		}
		if uncovered.Has(c) {
			name += ", which no water layer covers there"
		}
		names = append(names, name)
	}
	if len(names) > 0 {
		names = append(names, w.wanting.remedies()...)
	}
	return names
}

// clears is what the setback says of a stem among these places.
func (s *Setback) clears(p *Places) Decision {
	decision := Allowed
	for rest := s.Places; !rest.Empty(); rest &= rest - 1 {
		d := p.clears(rest.first(), s.Distance)
		if d == Prohibited && s.Hours.Stated() {
			d = Conditional
		}
		decision = Stricter(decision, d)
	}
	return decision
}

// unknown is the places whose distance does not tell whether it clears.
func (s *Setback) unknown(p *Places) OneOf[PlaceClass] {
	var classes OneOf[PlaceClass]
	for _, c := range s.Places.Values() {
		if p.clears(c, s.Distance) == Undetermined {
			classes |= AnyOf(c)
		}
	}
	return classes
}

func (s *Setback) missing(p *Places) []string {
	var names []string
	for _, c := range s.unknown(p).Values() {
		names = append(names, fmt.Sprintf("distance to %s", spaced(c.String())))
	}
	return names
}
