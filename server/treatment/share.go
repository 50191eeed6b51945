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
	return class*lots + int(hashOf(s.ID)%lots)
}

// hashOf is the 32-bit FNV-1a hash, which takes no memory here.
func hashOf(id string) uint32 {
	h := uint32(2_166_136_261)
	for i := range len(id) {
		h = (h ^ uint32(id[i])) * 16_777_619
	}
	return h
}

func (s *Share) admit(class int)    { s[class/64] |= 1 << (class % 64) }
func (s *Share) has(class int) bool { return s[class/64]>>(class%64)&1 == 1 }

// tally is acid equivalent of one active ingredient on a site.
type tally struct {
	active string
	limit  quantity.ArealRate // the strictest met
	source string             // of the limit
	used   quantity.MicrogramsAE
	wanted quantity.MicrogramsAE
	by     [2 * diameterSteps]*[lots]quantity.MicrogramsAE // by class; nil where nothing is
}

// want counts what a stem would take, whether or not it gets it.
func (t *tally) want(class int, ae quantity.MicrogramsAE, limit quantity.ArealRate, source string) {
	t.wanted = grown(t.wanted, ae)
	if t.by[class/lots] == nil {
		t.by[class/lots] = new([lots]quantity.MicrogramsAE)
	}
	of := &t.by[class/lots][class%lots]
	*of = grown(*of, ae)
	t.hold(limit, source)
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
	for step, list := range t.by {
		for lot := 0; list != nil && lot < lots; lot++ {
			if ae := list[lot]; ae > 0 && !yield(step*lots+lot, ae) {
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
