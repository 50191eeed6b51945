package rules

import (
	"fmt"
	"slices"

	"example.org/rootward/rules/quantity"
)

// MaxPanel is how many treatments a panel judges at most: a bit of a Treatments each.
const MaxPanel = 64

// Treatments is a set of the treatments of a panel, a bit for each in their order.
type Treatments uint64

// Panel judges several treatments of the same stem at once. What a row says of a stem
// is worked out once for all the treatments that it bears on in the same way, and rows
// on which no stem has a say were judged when the panel was made. So its time depends
// on the rows that ask something of the stem, not on the number of treatments.
//
// It says of each treatment what Narrowed.Judge says of it.
type Panel struct {
	fixed Verdict    // of the rows on which no stem has a say
	rows  []panelRow // the others, those that ask for the same once
	near  nearness   // which waters no buffer can be near to

	places   OneOf[PlaceClass]    // of any setback
	farthest quantity.Micrometres // distance of any setback
}

type panelRow struct {
	narrowed
	number uint64     // of the row among those of the panel
	of     Treatments // those on which it bears in this way
}

// Verdict is what the rules say of the treatments of a panel. Those in none of the sets
// are allowed; one may be in several, and the strictest holds.
type Verdict struct {
	Prohibited, Undetermined, Conditional Treatments
	// Barred are those that are prohibited with every window open too.
	Barred Treatments
	// Key is equal for stems on which Explain finds the same for all treatments.
	Key uint64
}

// On is the decision on a treatment.
func (v *Verdict) On(number int) Decision {
	one := Treatments(1) << number
	switch {
	case v.Prohibited&one != 0:
		return Prohibited
	case v.Undetermined&one != 0:
		return Undetermined
	case v.Conditional&one != 0:
		return Conditional
	}
	return Allowed
}

// NewPanel makes a panel of treatments that were narrowed from one Governing. There are
// at most MaxPanel.
func NewPanel(treatments []*Narrowed) *Panel {
	if len(treatments) > MaxPanel {
		panic(fmt.Sprintf("rules: a panel of %d treatments; at most %d", len(treatments), MaxPanel))
	}
	p := &Panel{}
	alike := map[*Row][]int{} // places in p.rows
	for i, n := range treatments {
		of := Treatments(1) << i
		p.fixed.add(n.floor(), of)
		for j := range n.rows {
			r := &n.rows[j]
			if !r.asksOfStem() {
				p.fixed.hear(r, weaken(r.most, r.match), of)
				continue
			}
			p.seat(r, of, alike)
		}
	}
	for i := range p.rows {
		if b := p.rows[i].buffer; b != nil {
			p.near.add(b)
		}
		if s := p.rows[i].setback; s != nil {
			p.places |= s.Places
			p.farthest = max(p.farthest, s.Distance)
		}
	}
	p.near.join()
	return p
}

// asksOfStem reports whether what the row says depends on the stem.
func (r *narrowed) asksOfStem() bool {
	return !r.alwaysSite || r.buffer != nil || r.setback != nil
}

// seat adds a row for a treatment, beside others for which it is the same.
func (p *Panel) seat(r *narrowed, of Treatments, alike map[*Row][]int) {
	for _, at := range alike[r.row] {
		if p.rows[at].isLike(r) {
			p.rows[at].of |= of
			return
		}
	}
	alike[r.row] = append(alike[r.row], len(p.rows))
	p.rows = append(p.rows, panelRow{narrowed: *r, number: uint64(len(p.rows)), of: of})
}

// isLike reports whether a row, narrowed for two treatments of one Governing, says the
// same of every stem.
func (r *narrowed) isLike(other *narrowed) bool {
	return r.row == other.row && r.match == other.match && r.most == other.most &&
		r.unless.isLike(other.unless) && r.buffer.isLike(other.buffer)
}

func (e *exception) isLike(other *exception) bool {
	for ; e != nil && other != nil; e, other = e.next, other.next {
		if e.selector != other.selector || e.match != other.match {
			return false
		}
	}
	return e == other // both have ended
}

func (b *nearWater) isLike(other *nearWater) bool {
	return b == other || b != nil && other != nil && *b == *other
}

// Judge judges one stem.
func (p *Panel) Judge(site *Surroundings) Verdict {
	v := p.fixed
	near := p.near.classes(&site.Water)
	for i := range p.rows {
		r := &p.rows[i]
		m := r.matches(site)
		if m == matchNo {
			continue
		}
		says := r.saysNear(site, m, near)
		v.hear(&r.narrowed, says, r.of)
		v.Key = (v.Key ^ (r.number<<4 | uint64(m)<<2 | uint64(says) | 1<<63)) * 1099511628211
		if says == Undetermined {
			v.Key = (v.Key ^ r.wanting(site, m)) * 1099511628211
		}
	}
	return v
}

// saysNear is what says gives, for a stem that is near to these waters alone.
func (r *narrowed) saysNear(site *Surroundings, m match, near OneOf[WaterClass]) Decision {
	if r.buffer == nil {
		return r.says(site, m)
	}
	decision := Allowed
	for rest := r.buffer.water & near; !rest.Empty(); rest &= rest - 1 {
		decision = Stricter(decision, r.buffer.clearsOf(rest.first(), &site.Water))
	}
	return weaken(decision, m)
}

// hear adds what a row says of some treatments.
func (v *Verdict) hear(r *narrowed, says Decision, of Treatments) {
	v.add(r.onTheDay(says), of)
	if r.otherwise(says) == Prohibited {
		v.Barred |= of
	}
}

func (v *Verdict) add(d Decision, of Treatments) {
	switch d {
	case Prohibited:
		v.Prohibited |= of
	case Undetermined:
		v.Undetermined |= of
	case Conditional:
		v.Conditional |= of
	}
}

// nearness tells quickly to which waters a stem is near enough for any of some buffers
// to say more than that it clears. Most stems are near to none.
type nearness struct {
	asked   OneOf[WaterClass]
	longest quantity.Micrometres       // distance of any buffer of any class
	reach   [16]quantity.Micrometres   // the longest distance of any buffer
	from    [16]DistanceOrigin         // the farthest inland
	limits  [16][]quantity.Micrometres // that any buffer holds a distance against, in order
	many    bool                       // more limits than a side tells apart
}

func (n *nearness) add(b *nearWater) {
	n.asked |= b.water
	for rest := b.water; !rest.Empty(); rest &= rest - 1 {
		c := rest.first()
		n.reach[c], n.from[c] = max(n.reach[c], b.distance), max(n.from[c], b.from, WaterEdge)
		n.longest = max(n.longest, b.distance)
		n.limits[c] = append(n.limits[c], b.distance, b.reduced, InWater)
		if b.allowance > 0 {
			n.limits[c] = append(n.limits[c], b.distance+b.allowance, b.reduced+b.allowance)
		}
	}
}

// join takes what is asked of one class of intake for asked of all: one may decide
// about the others.
func (n *nearness) join() {
	if n.asked&intakes != 0 {
		n.asked |= intakes
		var all nearness
		for _, c := range intakes.Values() {
			all.reach[0], all.from[0] = max(all.reach[0], n.reach[c]), max(all.from[0], n.from[c])
			all.limits[0] = append(all.limits[0], n.limits[c]...)
		}
		for _, c := range intakes.Values() {
			n.reach[c], n.from[c], n.limits[c] = all.reach[0], all.from[0], slices.Clone(all.limits[0])
		}
	}
	for c := range n.limits {
		slices.Sort(n.limits[c])
		n.limits[c] = slices.Compact(n.limits[c])
		n.many = n.many || len(n.limits[c]) >= 1<<limitBits
	}
}

// clearedBy are the classes that every buffer clears for sure, where distances were
// computed.
func (n *nearness) clearedBy(w *Waters) OneOf[WaterClass] {
	var cleared OneOf[WaterClass]
	for rest := n.asked; !rest.Empty(); rest &= rest - 1 {
		if c := rest.first(); w.clears(c, n.reach[c], n.from[c], 0) == Allowed {
			cleared |= 1 << c
		}
	}
	return cleared
}

// classes are those that not every buffer clears for sure, with all intakes if one of
// them is among them.
func (n *nearness) classes(w *Waters) OneOf[WaterClass] {
	if w.computed != nil {
		return n.withIntakes(n.asked &^ n.clearedBy(w))
	}
	near := n.asked &^ w.known
	if others := n.asked & w.known &^ w.own; !others.Empty() && w.others < n.longest {
		near |= n.within(others, w.others)
	}
	for rest := n.asked & w.own; !rest.Empty(); rest &= rest - 1 {
		c := rest.first() & 15
		// An origin before from, or none that is known, wraps beyond the last.
		if d := &w.distances[c]; d.Distance < n.reach[c] || d.Origin-n.from[c] > BankTop-n.from[c] {
			near |= 1 << c
		}
	}
	return n.withIntakes(near)
}

// within are those of some classes for which a buffer reaches farther than a distance.
func (n *nearness) within(classes OneOf[WaterClass], distance quantity.Micrometres) OneOf[WaterClass] {
	var near OneOf[WaterClass]
	for rest := classes; !rest.Empty(); rest &= rest - 1 {
		if c := rest.first() & 15; distance < n.reach[c] {
			near |= 1 << c
		}
	}
	return near
}

func (n *nearness) withIntakes(near OneOf[WaterClass]) OneOf[WaterClass] {
	if near&intakes != 0 {
		near |= intakes
	}
	return near
}
