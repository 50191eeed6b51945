package treatment

import (
	"hash/fnv"
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
	h := fnv.New32a()
	h.Write([]byte(s.ID))
	return class*lots + int(h.Sum32()%lots)
}

func (s *Share) admit(class int)    { s[class/64] |= 1 << (class % 64) }
func (s *Share) has(class int) bool { return s[class/64]>>(class%64)&1 == 1 }

// tally is acid equivalent of one active ingredient on a site.
type tally struct {
	limit  quantity.ArealRate // the strictest met
	source string             // of the limit
	used   quantity.MicrogramsAE
	wanted quantity.MicrogramsAE
	by     [classes]quantity.MicrogramsAE
}

// want counts what a stem would take, whether or not it gets it.
func (t *tally) want(class int, ae quantity.MicrogramsAE, limit quantity.ArealRate, source string) {
	t.wanted = grown(t.wanted, ae)
	t.by[class] = grown(t.by[class], ae)
	if t.limit == 0 || limit < t.limit {
		t.limit, t.source = limit, source
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
	for class, ae := range t.by {
		if ae <= allowed-sum {
			s.admit(class)
			sum += ae
		}
	}
	return s
}
