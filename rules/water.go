package rules

import (
	"fmt"
	"strings"

	"example.org/rootward/rules/quantity"
)

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
	known     OneOf[WaterClass]
	wanting   Wanting
	distances [16]WaterDistance
	computed  *Waters // beside what is stated; nil: nothing was computed
	seen      *Waters // with computed, never alone
}

// Set states the distance to a class of water.
func (w *Waters) Set(c WaterClass, d WaterDistance) {
	w.known |= AnyOf(c)
	w.distances[c] = d
}

// SetOthers states, for every class without a distance, that it is no nearer
// than d from wherever a rule starts to measure.
func (w *Waters) SetOthers(d quantity.Micrometres) {
	for rest := everyWater &^ w.known; !rest.Empty(); rest &= rest - 1 {
		w.Set(rest.first(), WaterDistance{Distance: d, Origin: BankTop, AtLeast: true})
	}
}

var everyWater = AnyOf(Words[WaterClass]()...)

// Get gives the distance to a class of water, and false if it is not known.
func (w *Waters) Get(c WaterClass) (WaterDistance, bool) { return w.distances[c], w.known.Has(c) }

// MarshalJSON writes the known distances by class, without those that were computed.
func (w Waters) MarshalJSON() ([]byte, error) {
	parts := []string{}
	for _, c := range w.known.Values() {
		d := w.distances[c]
		parts = append(parts, fmt.Sprintf("%q:{\"um\":%d,\"from\":%q,\"at_least\":%t%s}", c, d.Distance, d.Origin, d.AtLeast, d.State.field()))
	}
	return []byte("{" + strings.Join(parts, ",") + "}"), nil
}

// field writes a state that is stated.
func (v WaterState) field() string {
	if v == 0 {
		return ""
	}
	return fmt.Sprintf(",\"state\":%q", v)
}

// clears says whether the distances pass a limit counted from an origin: Allowed,
// Prohibited, or Undetermined when what is known does not decide.
//
// A distance that starts farther inland than the rule's origin is shorter than
// the one the rule means, so it may show that the limit is kept but not that it
// is broken; one that starts nearer the water is longer and may only show that
// it is broken.
func (w *Waters) clears(c WaterClass, limit quantity.Micrometres, from DistanceOrigin) Decision {
	if w.computed != nil {
		return w.smaller(c, limit, from)
	}
	return w.clearsAlone(c, limit, from)
}

func (w *Waters) clearsAlone(c WaterClass, limit quantity.Micrometres, from DistanceOrigin) Decision {
	d, known := w.Get(c)
	switch {
	case !known || !Known(d.Origin):
		return Undetermined
	case d.Distance >= limit && d.Origin >= from:
		return Allowed
	case d.Distance < limit && d.Origin <= from && !d.AtLeast:
		return Prohibited
	}
	return Undetermined
}
