package water

import (
	"math"
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Finder measures the distances to some classes of water. It is for one goroutine.
type Finder struct {
	layers *Layers
	reach  quantity.Micrometres
	asked  []question
	wanted []bool // by group

	// Of the spot that is measured from:
	far     float64   // metres within which water counts
	look    float64   // metres to look: farther, as water may be nearer than it is drawn
	nearest []float64 // metres, by group: far if there is none within it
	inside  []int     // by group: how many rings of the spot, counted from the first, lie in it
	states  []states  // by group
	touched []uint32  // groups that are not as they are for a spot far from all water
	lake    uint32    // the shape of a lake within reach
	lakes   int
	from    stretch // what is measured from
	middle  vector  // of that
	around  float64 // how far it reaches from there, at most
	at      Point
	ring    int // which is looked at, counted from 1
	rings   int
	hits    []uint32 // what a tree holds near it
}

// states is which states the water within reach is in.
type states struct{ wet, dry, unstated bool }

// question is what the layers say of one class.
type question struct {
	class   rules.WaterClass
	sources []source
}

// Finder makes a finder of these classes that looks as far as reach, the longest
// distance that any rule asks for.
func (l *Layers) Finder(classes rules.OneOf[rules.WaterClass], reach quantity.Micrometres) *Finder {
	f := &Finder{layers: l, reach: reach}
	if l == nil || reach <= 0 {
		return f
	}
	groups := len(l.groups)
	f.wanted, f.nearest, f.inside, f.states = make([]bool, groups), make([]float64, groups), make([]int, groups), make([]states, groups)
	f.touched = make([]uint32, 0, groups)
	for _, class := range classes.Values() {
		f.ask(class)
	}
	return f
}

func (f *Finder) ask(class rules.WaterClass) {
	q := question{class: class}
	for _, s := range f.layers.sources {
		if s.class != class {
			continue
		}
		q.sources = append(q.sources, s)
		for _, g := range s.water {
			f.wanted[g] = true
		}
		for _, g := range s.coverages {
			f.wanted[g] = true
		}
	}
	if len(q.sources) > 0 {
		f.asked = append(f.asked, q)
	}
}

// maxUncertainty is how uncertain a position may be: of one that is anywhere within
// 100 km nothing is known (common practice, no source).
const maxUncertainty = 100_000 * quantity.Metre

// Measure measures from a spot. Of one that is not on the earth it knows nothing.
func (f *Finder) Measure(at *Spot) (m Measured) {
	f.MeasureInto(at, &m)
	return m
}

// MeasureInto does what Measure does, in memory that was used before.
func (f *Finder) MeasureInto(at *Spot, m *Measured) {
	m.Water.Forget()
	m.Seen.Forget()
	m.LakeArea = 0
	if len(f.asked) == 0 || at.Uncertainty < 0 || at.Uncertainty > maxUncertainty || !at.onEarth() {
		return
	}
	f.reset(at)
	if len(at.Outline) == 0 {
		f.fromStem(at.Point)
	} else if !f.fromOutline(at.Outline) {
		return
	}
	for i := range f.asked {
		f.answer(&f.asked[i], at.Uncertainty, m)
	}
}

func (s *Spot) onEarth() bool {
	off := func(p Point) bool { return !p.onEarth() }
	for _, part := range s.Outline {
		for _, r := range part {
			if slices.ContainsFunc(r, off) {
				return false
			}
		}
	}
	return s.Point.onEarth()
}

func (p Point) onEarth() bool {
	return p.Latitude >= -90 && p.Latitude <= 90 && p.Longitude >= -180 && p.Longitude <= 180
}

func (f *Finder) reset(at *Spot) {
	for _, g := range f.touched {
		f.inside[g], f.states[g] = 0, states{}
	}
	far := metres(f.reach + at.Uncertainty)
	f.look = far + f.layers.uncertainty
	if far != f.far {
		f.far = far
		for g := range f.nearest {
			f.nearest[g] = far
		}
	}
	for _, g := range f.touched {
		f.nearest[g] = far
	}
	f.touched, f.lakes = f.touched[:0], 0
}

func metres(um quantity.Micrometres) float64 { return float64(um) / float64(quantity.Metre) }

// fromStem measures from a point.
func (f *Finder) fromStem(p Point) {
	f.ring, f.rings = 1, 1
	f.enterAt(p)
	at := place(p)
	f.from = stretch{a: at, b: at}
	f.middle, f.around = at, 0
	lat, lon := around(p.Latitude, f.look)
	f.meet(boxOf(p, p).grown(lat, lon))
}

// enterAt takes note of the polygons that hold a point.
func (f *Finder) enterAt(p Point) {
	f.at = p
	f.hits = f.layers.over.within(boxOf(p, p), f.hits[:0])
	for _, i := range f.hits {
		f.enters(i)
	}
}

func (f *Finder) enters(i uint32) {
	p := &f.layers.polygons[i]
	s := &f.layers.shapes[p.shape]
	switch {
	case !f.wanted[s.group]:
	case f.layers.groups[s.group].coverage:
		if f.inside[s.group] == f.ring-1 && p.surelyHolds(f.at) {
			f.touch(s.group)
			f.inside[s.group] = f.ring
		}
	case p.holds(f.at):
		f.found(p.shape, 0)
	}
}

// meet measures to all edges in a box.
func (f *Finder) meet(b box) {
	f.hits = f.layers.near.within(b, f.hits[:0])
	for _, first := range f.hits {
		f.meets(f.layers.edges[first:])
	}
}

// meets measures to a run of edges.
func (f *Finder) meets(run []edge) {
	shape := run[0].shape
	s := &f.layers.shapes[shape]
	if !f.wanted[s.group] {
		return
	}
	limit, blur := f.far, float64(s.uncertainty)
	for i := 0; run[i].stray != endOfRun; i++ {
		if !s.noted {
			limit = f.nearest[s.group]
		}
		to := stretch{a: run[i].at, b: run[i+1].at, stray: float64(run[i].stray)}
		if to.beyond(&f.middle, limit+blur+to.stray+f.around) {
			continue
		}
		if d := f.from.distance(&to, limit+blur) - blur; d < limit {
			f.found(shape, d)
		}
	}
}

// found takes note of a shape that is within reach.
func (f *Finder) found(i uint32, d float64) {
	s := &f.layers.shapes[i]
	f.touch(s.group)
	f.nearest[s.group] = min(f.nearest[s.group], d)
	if !s.noted {
		return
	}
	seen := &f.states[s.group]
	switch s.state {
	case rules.WaterWet:
		seen.wet = true
	case rules.WaterDry:
		seen.dry = true
	default:
		seen.unstated = true
	}
	if f.layers.groups[s.group].class == rules.Lake && (f.lakes == 0 || f.lake != i) {
		f.lake = i
		f.lakes++
	}
}

// touch remembers a group that must be reset.
func (f *Finder) touch(g uint32) {
	if f.nearest[g] == f.far && f.inside[g] == 0 && f.states[g] == (states{}) {
		f.touched = append(f.touched, g)
	}
}

// rounding is more, in metres, than what rounding to 53 bits does to distances on
// the earth: places are right to 20 nanometres.
const rounding = 1e-6

// whole gives a distance in micrometres that is not longer than the true one, though
// the spot lie as far off as its uncertainty.
func whole(d float64, uncertainty quantity.Micrometres) quantity.Micrometres {
	um := quantity.Micrometres(math.Floor((d - rounding) * float64(quantity.Metre)))
	return max(0, um-uncertainty)
}
