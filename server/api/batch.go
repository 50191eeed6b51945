package api

import (
	"cmp"
	"slices"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/treatment"
)

// batch answers rows of one or more sites on one day, under the law as it stood
// when the batch began. It is for one goroutine.
type batch struct {
	catalogue *treatment.Catalogue
	law       Law
	on        civil.Date
	settings  *treatment.Settings
	places    map[string]*rules.Governing
	words     map[wordsKey]*explained
	totals    treatmentv1.Totals
	mixes     treatment.Mixes
}

// wordsKey is equal for rows that have the same explanation.
type wordsKey struct {
	law *rules.Governing
	key uint64
}

// explained is an explanation as it is sent, with what the mixes need of it.
type explained struct {
	message *treatmentv1.Explanation
	choice  *treatment.Choice
}

// maxExplanations bounds the explanations that a batch keeps, so that its memory
// does not depend on the number of rows.
const maxExplanations = 4_000

func newBatch(c *treatment.Catalogue, law Law, on civil.Date, settings *treatment.Settings) *batch {
	return &batch{
		catalogue: c, law: law, on: on, settings: settings,
		places: map[string]*rules.Governing{}, words: map[wordsKey]*explained{},
	}
}

// governing is the law of a place on the batch's day.
func (b *batch) governing(place string) *rules.Governing {
	g, ok := b.places[place]
	if !ok {
		g = b.law.Govern(place, b.on)
		b.places[place] = g
	}
	return g
}

// explain gives a plan in words. It works them out once for the plans that share
// them.
func (b *batch) explain(p *treatment.Planner, g *rules.Governing, stem *treatment.Stem, plan *treatment.Plan) *explained {
	key := wordsKey{g, plan.Key}
	if e, ok := b.words[key]; ok {
		return e
	}
	if len(b.words) >= maxExplanations {
		clear(b.words)
	}
	words := p.Explain(stem, plan)
	e := &explained{message: writeExplanation(&words, g), choice: words.Choice}
	b.words[key] = e
	return e
}

// count adds a row to the totals and its dose to the mixes. e is nil for a
// rejected row.
func (b *batch) count(plan *treatment.Plan, e *explained) {
	b.totals.Rows++
	switch plan.Outcome {
	case treatment.Prescribed:
		b.totals.Prescribed++
		b.mixes.Add(e.choice.Method, e.choice.Recipe, e.choice.Formulation, plan.Dose)
	case treatment.Deferred:
		b.totals.Deferred++
	case treatment.Undetermined:
		b.totals.Undetermined++
	case treatment.Rejected:
		b.totals.Rejected++
	}
}

// summary closes the batch; it is called once.
func (b *batch) summary(uses []*treatmentv1.SiteUse) *treatmentv1.Summary {
	mixes := b.mixes.List(b.settings)
	return &treatmentv1.Summary{
		Totals: &b.totals, Mixes: writeMixes(mixes), SiteUses: uses,
		Purchases: writePurchases(treatment.Purchases(mixes, b.settings.Spare)),
		RuleSets:  writeRefs(b.ruleSets()),
	}
}

// ruleSets lists the sets that governed any of the places, the widest layer first.
func (b *batch) ruleSets() []rules.Ref {
	var refs []rules.Ref
	for _, g := range b.places {
		for _, ref := range g.Sets {
			if !slices.Contains(refs, ref) {
				refs = append(refs, ref)
			}
		}
	}
	slices.SortFunc(refs, func(x, y rules.Ref) int {
		return cmp.Or(cmp.Compare(x.Layer, y.Layer), cmp.Compare(x.ID, y.ID), cmp.Compare(x.Digest, y.Digest))
	})
	return refs
}
