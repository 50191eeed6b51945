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
	diameterSteps = 64 // of half an inch; the last holds all larger
	lots          = 16 // by a hash of the id, so that a stand of equal stems can be split
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
	place  [2 * diameterSteps]uint8      // of the lots of a step in byLot, from 1; 0 where nothing is
	byLot  [][lots]uint32                // micrograms, by class
	over   map[int]quantity.MicrogramsAE // what goes beyond that, by class
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
	place := &t.place[class/lots]
	if *place == 0 {
		t.byLot = append(roomForMore(t.byLot), [lots]uint32{})
		*place = uint8(len(t.byLot))
	}
	of := &t.byLot[*place-1][class%lots]
	if ae > math.MaxUint32-quantity.MicrogramsAE(*of) {
		t.wantMore(class, grown(ae, quantity.MicrogramsAE(*of)))
		*of = 0
	} else {
		*of += uint32(ae)
	}
	t.hold(limit, source)
}

// roomForMore makes room for a few more at a time: a stream has a tally for each of its
// sites, and those are most of its memory.
func roomForMore(list [][lots]uint32) [][lots]uint32 {
	const few = 8
	if len(list) < cap(list) {
		return list
	}
	return append(make([][lots]uint32, 0, len(list)+few), list...)
}

func (t *tally) wantMore(class int, ae quantity.MicrogramsAE) {
	if t.over == nil {
		t.over = map[int]quantity.MicrogramsAE{}
	}
	t.over[class] = grown(t.over[class], ae)
}

// hold keeps the strictest limit and, so that the order of the rows does not matter,
// the first of its sources.
func (t *tally) hold(limit quantity.ArealRate, source string) {
	if t.limit == 0 || limit < t.limit || limit == t.limit && source < t.source {
		t.limit, t.source = limit, source
	}
}

// each gives what is wanted by class, the most important first.
func (t *tally) each(yield func(class int, ae quantity.MicrogramsAE) bool) {
	for step, place := range t.place {
		for lot := 0; place != 0 && lot < lots; lot++ {
			class := step*lots + lot
			if ae := grown(quantity.MicrogramsAE(t.byLot[place-1][lot]), t.over[class]); ae > 0 && !yield(class, ae) {
				return
			}
		}
	}
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
