package treatment

import (
	"cmp"
	"fmt"
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Tally is what a planner has counted of one active ingredient. The tallies of planners
// that each saw a part of a site's stems add up, in any order, to that of one that saw
// all of them.
type Tally struct {
	Active string
	Limit  quantity.ArealRate // the strictest met
	Source string             // of the limit
	Used   quantity.MicrogramsAE
	Wanted []Wanted // by class, in order
}

// Wanted is what the stems of one class would take, whether or not they get it.
type Wanted struct {
	Class int
	AE    quantity.MicrogramsAE
}

// Tallies gives what the planner has counted, by active ingredient. Sums that are aside
// must have been gathered. The memory of into, and of what its tallies hold, is used again.
func (p *Planner) Tallies(into []Tally) []Tally {
	list := into[:0]
	for _, t := range p.sortedTallies() {
		n := len(list)
		list = slices.Grow(list, 1)[:n+1]
		one := &list[n]
		*one = Tally{Active: t.active, Limit: t.limit, Source: t.source, Used: t.used, Wanted: one.Wanted[:0]}
		for class, ae := range t.each {
			one.Wanted = append(one.Wanted, Wanted{class, ae})
		}
	}
	return list
}

// tally is that of an active ingredient. A site has few.
func (p *Planner) tally(active string) *tally {
	for _, t := range p.tallies {
		if t.active == active {
			return t
		}
	}
	t := &tally{active: active, apart: apart{aside: p.aside}}
	p.tallies = append(p.tallies, t)
	return t
}

func (p *Planner) sortedTallies() []*tally {
	list := slices.Clone(p.tallies)
	slices.SortFunc(list, func(a, b *tally) int { return cmp.Compare(a.active, b.active) })
	return list
}

// Count adds what another planner has counted on the same site, and keeps none of its
// memory. It refuses what none can have counted.
func (p *Planner) Count(more *Tally) error {
	for _, w := range more.Wanted {
		if w.Class < 0 || w.Class >= classes || w.AE < 0 {
			return fmt.Errorf("a tally of %s has %d µg in class %d, of %d classes", more.Active, w.AE, w.Class, classes)
		}
	}
	t := p.tally(more.Active)
	t.used = grown(t.used, more.Used)
	t.hold(more.Limit, more.Source)
	for _, w := range more.Wanted {
		t.want(w.Class, w.AE, more.Limit, more.Source)
	}
	return nil
}

// Sums lists the mixes as they have been summed, without their loads, in the order of
// List.
func (m *Mixes) Sums() []Mix {
	list := make([]Mix, 0, len(m.sums))
	for _, sum := range m.sums {
		list = append(list, *sum)
	}
	slices.SortFunc(list, func(a, b Mix) int { return a.compare(b.Method, b.Recipe, b.Formulation) })
	return list
}

// Sum adds what was summed elsewhere. Of the recipe it needs what decides what may be
// poured together: mix, adjuvant, dye and carrier.
func (m *Mixes) Sum(more *Mix) {
	m.Of(more.Method, more.Recipe, more.Formulation).add(more.Rows, &Dose{
		Stems: more.Stems, Mix: more.Mix, Product: more.Product, Carrier: more.Carrier,
		Adjuvant: more.Adjuvant, Dye: more.Dye, AE: more.AE,
	})
}

// Of is the mix that a recipe and a formulation go into.
func (m *Mixes) Of(method rules.Method, r *Recipe, f *Formulation) *Mix {
	for _, sum := range m.sums {
		if sum.compare(method, r, f) == 0 {
			return sum
		}
	}
	sum := &Mix{Method: method, Recipe: r, Formulation: f}
	m.sums = append(m.sums, sum)
	return sum
}
