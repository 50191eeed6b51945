package rules

import "example.org/rootward/rules/quantity"

// WaterDistance is the horizontal distance from the nearest edge of what is
// treated to one class of water.
type WaterDistance struct {
	Distance quantity.Micrometres
	Origin   DistanceOrigin // where the distance starts
	// AtLeast says that the water is no nearer than Distance; how far it is, or
	// whether there is any, nobody measured.
	AtLeast bool
	// State is dry if no water of the class within the reach of any rule holds water.
	State WaterState
}

// Waters holds the distances that are known, by class. The zero value knows none.
type Waters struct {
	known     OneOf[WaterClass]    // every class once others are
	own       OneOf[WaterClass]    // those of them with a distance of their own
	others    quantity.Micrometres // those without one are no nearer
	wanting   Wanting
	computed  *Waters           // beside what is stated; nil: nothing was computed
	seen      *Waters           // with computed, never alone
	distances [16]WaterDistance // of own; the rest is whatever was there before
}

// Set states the distance to a class of water.
func (w *Waters) Set(c WaterClass, d WaterDistance) {
	w.own |= 1 << c
	w.known |= 1 << c
	w.distances[c] = d
}

// SetOthers states, for every class without a distance, that it is no nearer
// than d from wherever a rule starts to measure.
func (w *Waters) SetOthers(d quantity.Micrometres) {
	if w.known == w.own {
		w.others, w.known = d, everyWater
	}
}

// Forget makes it the zero value for all that can be asked of it.
func (w *Waters) Forget() {
	w.known, w.own, w.wanting, w.computed, w.seen = 0, 0, 0, nil, nil
}

var everyWater = AnyOf(Words[WaterClass]()...)

// Get gives the distance to a class of water, and false if it is not known.
func (w *Waters) Get(c WaterClass) (WaterDistance, bool) {
	switch {
	case w.own.Has(c):
		return w.distances[c], true
	case w.known.Has(c):
		return WaterDistance{Distance: w.others, Origin: BankTop, AtLeast: true}, true
	}
	return WaterDistance{}, false
}

// MarshalJSON writes the known distances by class, without those that were computed.
func (w Waters) MarshalJSON() ([]byte, error) {
	var text jsonText
	text.waters(&w)
	return text, nil
}

// clears says whether the distances pass a limit counted from an origin: Allowed,
// Prohibited, or Undetermined when what is known does not decide.
//
// A distance that starts farther inland than the rule's origin is shorter than
// the one the rule means, so it may show that the limit is kept but not that it
// is broken; one that starts nearer the water is longer and may only show that
// it is broken, unless the rule has an allowance, which makes it as short as need be.
func (w *Waters) clears(c WaterClass, limit quantity.Micrometres, from DistanceOrigin, allowance quantity.Micrometres) Decision {
	if w.computed != nil {
		return w.smaller(c, limit, from, allowance)
	}
	return w.clearsAlone(c, limit, from, allowance)
}

func (w *Waters) clearsAlone(c WaterClass, limit quantity.Micrometres, from DistanceOrigin, allowance quantity.Micrometres) Decision {
	d, known := w.Get(c)
	switch {
	case !known || !Known(d.Origin):
		return Undetermined
	case d.Distance >= limit && d.Origin >= from:
		return Allowed
	case d.Distance < limit && d.Origin <= from && !d.AtLeast:
		return Prohibited
	case allowance > 0 && d.Distance >= limit+allowance:
		return Allowed
	}
	return Undetermined
}
