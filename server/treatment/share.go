package treatment

import (
	"math"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// A site whose stems together pass an annual maximum is split over seasons. The
// stems are sorted into classes by what only the stem itself says, and whole
// classes are admitted to this season while they fit, those that matter most
// first. So the split does not depend on the order of the rows, and takes the
// same memory for a hundred stems as for a million.

// Share is the classes of stems that are treated this season.
type Share [classes / 64]uint64

const (
	diameterSteps = 64       // of half an inch; the last holds all larger
	lots          = 16       // by a hash of the id, so that a stand of equal stems can be split
	lotsSize      = 4 * lots // bytes of the sums of a step
	classes       = 2 * diameterSteps * lots
)

// classOf sorts a stem: seed-bearing stems first, then the thickest.
func classOf(s *Stem) int {
	step := min(int(s.Diameter/(quantity.Inch/2)), diameterSteps-1)
	class := diameterSteps - 1 - step
	if s.SeedBearing != rules.Yes {
		class += diameterSteps
	}
	return class*lots + lotOf(s.ID)
}

// lotOf is the 32-bit FNV-1a hash of an id, modulo lots: of its start, 2,166,136,261, and
// its prime, 16,777,619, no more than the remainders have a say in that.
func lotOf(id string) int {
	h := uint32(5)
	for i := range len(id) {
		h = (h ^ uint32(id[i])) * 3
	}
	return int(h % lots)
}

func (s *Share) admit(class int)    { s[class/64] |= 1 << (class % 64) }
func (s *Share) has(class int) bool { return s[class/64]>>(class%64)&1 == 1 }

// tally is acid equivalent of one active ingredient on a site.
type tally struct {
	active string
	limit  quantity.ArealRate // the strictest met
	source string             // of the limit
	left   left
	used   quantity.MicrogramsAE
	wanted quantity.MicrogramsAE
	sums   *classSums // of it that are in memory; nil: none
	apart             // the others, by the same classes
}

// classSums are what is wanted by class.
type classSums struct {
	place [2 * diameterSteps]uint8      // of the lots of a step in byLot, from 1; 0 where nothing is
	byLot [][lots]uint32                // micrograms, by class
	over  map[int]quantity.MicrogramsAE // what goes beyond that, by class
}

// left is what an annual maximum leaves of a site.
type left struct {
	limit quantity.ArealRate // zero: not worked out yet
	ae    quantity.MicrogramsAE
}

// leftOn gives what a maximum leaves of the tally's site after earlier applications. Most
// stems ask for the same.
func (t *tally) leftOn(s *Site, limit quantity.ArealRate) quantity.MicrogramsAE {
	if t.left.limit != limit || limit == 0 {
		t.left = left{limit, s.left(t.active, limit)}
	}
	return t.left.ae
}

// want counts what a stem would take, whether or not it gets it.
func (t *tally) want(class int, ae quantity.MicrogramsAE, limit quantity.ArealRate, source string) {
	t.wanted = grown(t.wanted, ae)
	t.add(class, ae)
	t.hold(limit, source)
}

// add adds to what is wanted in a class.
func (t *tally) add(class int, ae quantity.MicrogramsAE) {
	if t.sums == nil {
		t.begin()
	}
	place := &t.sums.place[class/lots]
	if *place == 0 {
		*place = t.newStep()
	}
	of := &t.sums.byLot[*place-1][class%lots]
	if ae > math.MaxUint32-quantity.MicrogramsAE(*of) {
		t.sums.addMore(class, grown(ae, quantity.MicrogramsAE(*of)))
		*of = 0
	} else {
		*of += uint32(ae)
	}
}

func (c *classSums) addMore(class int, ae quantity.MicrogramsAE) {
	if c.over == nil {
		c.over = map[int]quantity.MicrogramsAE{}
	}
	c.over[class] = grown(c.over[class], ae)
}

// newStep makes room for the lots of a step, and gives their place from 1. It begins with
// room for few: many sites have no more.
func (t *tally) newStep() uint8 {
	const few = 8
	list := t.sums.byLot
	if n := len(list); n == cap(list) {
		list = append(make([][lots]uint32, 0, max(few, 2*n)), list...)
		t.holdMore((cap(list) - n) * lotsSize)
	}
	t.sums.byLot = append(list, [lots]uint32{})
	return uint8(len(t.sums.byLot))
}

// hold keeps the strictest limit and, so that the order of the rows does not matter,
// the first of its sources.
func (t *tally) hold(limit quantity.ArealRate, source string) {
	if t.limit == 0 || limit < t.limit || limit == t.limit && source < t.source {
		t.limit, t.source = limit, source
	}
}

// each gives what is wanted by class, the most important first.
func (c *classSums) each(yield func(class int, ae quantity.MicrogramsAE) bool) {
	if c == nil {
		return
	}
	for step, place := range c.place {
		if place == 0 {
			continue
		}
		for lot, ug := range &c.byLot[place-1] {
			class, ae := step*lots+lot, quantity.MicrogramsAE(ug)
			if len(c.over) > 0 {
				ae = grown(ae, c.over[class])
			}
			if ae > 0 && !yield(class, ae) {
				return
			}
		}
	}
}

// each gives what is wanted by class, the most important first. All of it is in memory.
func (t *tally) each(yield func(class int, ae quantity.MicrogramsAE) bool) {
	if t.last.size > 0 {
		panic("treatment: sums of " + t.active + " are aside: they are to be gathered before they are read")
	}
	t.sums.each(yield)
}

// grown is a sum that stays at the end of its type instead of passing it.
func grown(sum, more quantity.MicrogramsAE) quantity.MicrogramsAE {
	return sum + min(more, math.MaxInt64-sum)
}

// share admits classes, the most important first, as long as they fit.
func (t *tally) share(allowed quantity.MicrogramsAE) Share {
	var s Share
	var sum quantity.MicrogramsAE
	for class, ae := range t.each {
		if ae <= allowed-sum {
			s.admit(class)
			sum += ae
		}
	}
	return s
}
