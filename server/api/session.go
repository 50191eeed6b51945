package api

import (
	"bytes"
	"cmp"
	"slices"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/treatment"
)

// session answers rows of one or more sites on one day, under the law as it stood
// when it began. It is for one goroutine at a time, of those of a stream for the one that
// settles; the others only read it, but for the law of places, which they ask for in turn.
type session struct {
	catalogue *treatment.Catalogue
	law       Law
	on        civil.Date
	settings  *treatment.Settings
	*desk
	visited   []string // places
	encoded   bool     // the answer is only sent: its explanations need not be readable here
	totals    treatmentv1.Totals
	mixes     *treatment.Mixes
	measuring measuring
}

// wordsKey is equal for rows that have the same explanation.
type wordsKey struct {
	law *rules.Governing
	key uint64
}

// explained is an explanation as it is sent, with the mix that doses go into.
type explained struct {
	mix     *treatment.Mix
	mixes   *treatment.Mixes // whose mix it is
	pieces  []uint32         // of its encoding: their places on the desk
	chunk   int64            // of the desk, the last one it was sent with; and its place there
	at      int32
	message *treatmentv1.Explanation // nil: not kept, as the next
	encoded *treatmentv1.Explanation // that holds the encoding alone
	into    mixed
}

// mixed is what decides into which mix a dose goes.
type mixed struct {
	recipe      *treatment.Recipe
	formulation *treatment.Formulation
	method      rules.Method
}

// recentWords is an explanation that a stream asked for of late, found without a hash. One
// takes the place of another.
type recentWords struct {
	wordsKey
	of    *explained
	chunk int64 // of the desk, the last one it was sent with; and its place there
	at    int32
	mix   *treatment.Mix // that doses of that chunk go into; nil: none did
}

const recentBits = 13

// newSession makes a session that has yet to take a desk.
func newSession(c *treatment.Catalogue, law Law, on civil.Date, settings *treatment.Settings) *session {
	return &session{catalogue: c, law: law, on: on, settings: settings, mixes: &treatment.Mixes{}}
}

// governing is the law of a place on the day.
func (b *session) governing(place string) *rules.Governing {
	b.visited = append(b.visited, place)
	g, ok := b.places[place]
	if !ok {
		g = b.law.Govern(place, b.on)
		b.places[place] = g
	}
	return g
}

// explain gives a plan in words. It works them out once for the plans that share them.
func (b *session) explain(p *treatment.Planner, g *rules.Governing, stem *treatment.Stem, plan *treatment.Plan) *explained {
	return b.explanationOf(wordsKey{g, plan.Key}, func() *explained { return b.workOut(p, g, stem, plan) })
}

// explanationOf gives the explanation of rows with a key, which is worked out for the first.
func (b *session) explanationOf(key wordsKey, workOut func() *explained) *explained {
	if e, ok := b.words[key]; ok {
		return e
	}
	e, ok := b.older[key]
	if !ok {
		e = workOut()
	}
	b.words[key] = e
	return e
}

// workOut explains a plan.
func (b *session) workOut(p *treatment.Planner, g *rules.Governing, stem *treatment.Stem, plan *treatment.Plan) *explained {
	words := p.Explain(stem, plan)
	e := b.cut(writeExplanation(&words, g, b.findings))
	if c := words.Choice; c != nil {
		e.into = mixed{c.Recipe, c.Formulation, c.Method}
	}
	return e
}

// count adds rows with some outcomes to the totals. Those of a chunk are counted at once:
// proposers on other cores read what lies beside the totals for each row.
func (b *session) count(outcomes ...byte) {
	of := func(o treatment.Outcome) int64 { return int64(bytes.Count(outcomes, []byte{byte(o)})) }
	t := &b.totals
	t.Rows += int64(len(outcomes))
	t.Prescribed += of(treatment.Prescribed)
	t.Deferred += of(treatment.Deferred)
	t.Undetermined += of(treatment.Undetermined)
	t.Rejected += of(treatment.Rejected)
}

// mixOf is the mix that the doses of plans go into that share an explanation.
func (b *session) mixOf(e *explained) *treatment.Mix {
	if e.mixes != b.mixes {
		e.mixes, e.mix = b.mixes, b.mixes.Of(e.into.method, e.into.recipe, e.into.formulation)
	}
	return e.mix
}

// summary closes the session; it is called once.
func (b *session) summary(uses []*treatmentv1.SiteUse) *treatmentv1.Summary {
	mixes := b.mixes.List(b.settings)
	s := &treatmentv1.Summary{
		Totals: &b.totals, Mixes: writeMixes(mixes), SiteUses: uses,
		Purchases: writePurchases(treatment.Purchases(mixes, b.settings.Spare)),
	}
	if b.encoded && len(b.visited) == 1 {
		// Fields that a message does not know are sent as they were read, behind the others.
		s.ProtoReflect().SetUnknown(b.lastOfSummary(b.visited[0]))
	} else {
		s.RuleSets, s.WaterLayers = writeRefs(b.ruleSets()), b.measuring.writeLayerRefs()
	}
	return s
}

// lastOfSummary is the encoding of the last fields of the summary of a session at one place.
func (b *session) lastOfSummary(place string) []byte {
	key := summaryKey{place, b.measuring.used}
	last, known := b.last[key]
	if !known {
		last = encoded(&treatmentv1.Summary{RuleSets: writeRefs(b.ruleSets()), WaterLayers: b.measuring.writeLayerRefs()})
		b.last[key] = last
	}
	return last
}

// summaryKey is equal for summaries that end alike.
type summaryKey struct {
	place    string
	measured bool // distances to water
}

// ruleSets lists the sets that governed any of the places, the widest layer first. The list
// is good until it is asked for again.
func (b *session) ruleSets() []rules.Ref {
	refs := b.again.refs[:0]
	for _, place := range b.visited {
		for _, ref := range b.places[place].Sets {
			if !slices.Contains(refs, ref) {
				refs = append(refs, ref)
			}
		}
	}
	slices.SortFunc(refs, func(x, y rules.Ref) int {
		return cmp.Or(cmp.Compare(x.Layer, y.Layer), cmp.Compare(x.ID, y.ID), cmp.Compare(x.Digest, y.Digest))
	})
	b.again.refs = refs
	return refs
}
