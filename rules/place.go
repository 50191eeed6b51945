package rules

import "example.org/rootward/rules/quantity"

// PlaceDistance is the horizontal distance from the nearest edge of what is treated
// to one class of places; zero is inside.
type PlaceDistance struct {
	Distance quantity.Micrometres
	// AtLeast says that the place is no nearer than Distance; how far it is, or
	// whether there is any, nobody measured.
	AtLeast bool
}

// Places holds the distances that are known, by class. The zero value knows none.
type Places struct {
	distances [14]quantity.Micrometres
	known     OneOf[PlaceClass]    // every class once others are
	own       OneOf[PlaceClass]    // those of them with a distance of their own
	atLeast   OneOf[PlaceClass]    // of own
	others    quantity.Micrometres // those without one are no nearer
}

// Set states the distance to a class of places.
func (p *Places) Set(c PlaceClass, d PlaceDistance) {
	p.own |= 1 << c
	p.known |= 1 << c
	p.atLeast &^= 1 << c
	if d.AtLeast {
		p.atLeast |= 1 << c
	}
	p.distances[c] = d.Distance
}

// SetOthers states, for every class without a distance, that it is no nearer
// than d.
func (p *Places) SetOthers(d quantity.Micrometres) {
	if p.known == p.own {
		p.others, p.known = d, everyPlace
	}
}

// Forget makes it the zero value for all that can be asked of it.
func (p *Places) Forget() { p.known, p.own = 0, 0 }

var everyPlace = AnyOf(Words[PlaceClass]()...)

// Get gives the distance to a class of places, and false if it is not known.
func (p *Places) Get(c PlaceClass) (PlaceDistance, bool) {
	switch {
	case p.own.Has(c):
		return PlaceDistance{Distance: p.distances[c], AtLeast: p.atLeast.Has(c)}, true
	case p.known.Has(c):
		return PlaceDistance{Distance: p.others, AtLeast: true}, true
	}
	return PlaceDistance{}, false
}

// MarshalJSON writes the known distances by class.
func (p Places) MarshalJSON() ([]byte, error) {
	var text jsonText
	text.places(&p)
	return text, nil
}

// clears says whether a distance passes a limit: Allowed, Prohibited, or
// Undetermined when what is known does not decide.
func (p *Places) clears(c PlaceClass, limit quantity.Micrometres) Decision {
	d, known := p.Get(c)
	switch {
	case !known:
		return Undetermined
	case d.Distance >= limit:
		return Allowed
	case d.AtLeast:
		return Undetermined
	}
	return Prohibited
}
