package api

import (
	"slices"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/server/treatment"
	"example.org/rootward/server/water"
)

// proposer answers the rows of chunks as if each were the first of its site: all that does
// not depend on the rows before. In its turn it settles the rest. It is for one goroutine;
// those of a stream work side by side.
type proposer struct {
	*stemStream
	planners  planners
	known     []*plannedSite // the stream's, as of the chunk at hand
	sites     []sitePlanner  // in their order; those that had rows
	measuring measuring
	row       row            // reused, as the next
	measured  water.Measured // of the row
	plan      treatment.Plan
}

// sitePlanner is a site's planner that counts nothing, with the law it follows.
type sitePlanner struct {
	*treatment.Planner
	law *rules.Governing
}

// newProposer makes the proposer of a stream with the number, from 0. Each has planners of
// its own at the desk.
func (st *stemStream) newProposer(number int) *proposer {
	return &proposer{stemStream: st, planners: st.desk.proposing(number), measuring: st.measuring}
}

// learn adds the sites of words to a list, as named does, and keeps room for all there are.
func (p *proposer) learn(words []string, stated int, list []*plannedSite) []*plannedSite {
	list, p.known = p.named(words, stated, list)
	p.sites = append(p.sites, make([]sitePlanner, len(p.known)-len(p.sites))...)
	return list
}

// proposal is what is proposed for a row beside what its answer says.
type proposal struct {
	key, held uint64 // of the plan
	site      int32  // in the order of the stream's; -1: the row could not be read
	maxima    int32  // their number in the chunk, from 1; 0: nothing is applied
	class     int32
}

// propose answers the rows of a checked chunk, but for their explanations.
func (p *proposer) propose(rows *chunkRows, a *chunkAnswer) {
	c := rows.StemChunk
	a.reset(c)
	a.named = p.learn(c.GetWords(), rows.stated, a.named)
	n := columnar.Rows(c)
	a.Outcome, a.Dose, a.proposals = ofLength(a.Outcome, n), ofLength(a.Dose, n), ofLength(a.proposals, n)
	if p.measuring.layers == nil { // nobody asks where they lie
		rows.passOverPositions()
	}
	for i := range n {
		p.proposeRow(rows, i, a)
	}
	a.ComputedWater = a.computed.take(a.ComputedWater, n)
}

func (p *proposer) proposeRow(rows *chunkRows, i int, a *chunkAnswer) {
	site := p.row.readSited(rows, i, a.named)
	if len(p.row.list) > 0 {
		a.propose(i, &treatment.Plan{Outcome: treatment.Rejected}, notKnown)
		return
	}
	p.planOf(site)
	if p.measuring.layers != nil && p.plan.Outcome != treatment.Rejected {
		a.computed.add(i, &p.row.stem.Water)
	}
	a.propose(i, &p.plan, site.at)
}

// readSited reads a row, and gives its site among those that the chunk's words name.
func (r *row) readSited(rows *chunkRows, i int, words []*plannedSite) *plannedSite {
	r.readRow(rows, i)
	at := rows.Site[i]
	if at != notKnown && words[at] != nil {
		return words[at]
	}
	r.add("site_id", "%q is none of the sites that were stated: correct it, or state that site before its rows", named(rows.StemChunk, at))
	return nil
}

// planOf plans for the row, which could be read.
func (p *proposer) planOf(site *plannedSite) {
	s := &p.sites[site.at]
	if s.Planner == nil {
		s.law = p.lawOf(site)
		s.Planner = p.planners.first(p.catalogue, s.law, p.settings).For(&site.Site)
	}
	if p.measuring.layers != nil { // else neither this nor what is computed is worth a call
		p.measuring.measure(&p.row, s.law, p.settings, &p.measured)
	}
	s.Propose(&p.plan, &p.row.stem)
}

// settle completes the answer to a chunk with what depends on the rows before it: what of
// the proposed leaves the sites within their maxima, and the explanations, without what the
// rows share of them. The chunk after must not be settled before, nor beside by another
// proposer.
func (p *proposer) settle(rows *chunkRows, a *chunkAnswer) {
	if len(p.recent) == 0 {
		p.recent = make([]recentWords, 1<<recentBits)
	}
	p.learn(nil, 0, nil) // another may have proposed for the rows, knowing more sites
	p.forget()
	p.chunks++
	anyHeld := false
	for i := range a.proposals {
		held, explanation := p.settleRow(rows, i, a)
		a.Explanation = append(a.Explanation, explanation)
		anyHeld = anyHeld || held
	}
	p.count(a.Outcome...)
	if anyHeld {
		p.dropHeld(a)
	}
}

// list completes the answer to a chunk that was settled last with what its rows share, and
// with their faults.
func (p *proposer) list(rows *chunkRows, a *chunkAnswer) *treatmentv1.PrescriptionChunk {
	a.doses.write(&a.PrescriptionChunk)
	a.wording.write(&a.PrescriptionChunk, p.desk)
	a.tell(rows, p.catalogue)
	return &a.PrescriptionChunk
}

func (p *proposer) settleRow(rows *chunkRows, i int, a *chunkAnswer) (held bool, explanation int32) {
	outcome, q := treatment.Outcome(a.Outcome[i]), &a.proposals[i]
	if q.site == notKnown {
		return false, notKnown
	}
	site := p.known[q.site]
	if site.planner == nil {
		p.planner(site)
	}
	if outcome == treatment.Rejected {
		return false, notKnown
	}
	dose, key := a.doses.at(a.Dose[i]), q.key
	if q.maxima != 0 && !site.planner.Admit(a.maxima[q.maxima-1], int(q.class), dose.AE) {
		held, dose, key = true, nil, q.held
		a.Outcome[i], a.Dose[i] = byte(treatment.Deferred), 0
	}
	e := p.recall(wordsKey{site.law, key}, rows, i, held, a)
	if dose != nil {
		if e.mix == nil {
			e.mix = p.mixOf(e.of)
		}
		e.mix.Add(dose)
	}
	return held, e.at
}

// recall gives the explanation of a row, with its number in the chunk.
func (p *proposer) recall(key wordsKey, rows *chunkRows, i int, held bool, a *chunkAnswer) *recentWords {
	e := &p.recent[key.key>>(64-recentBits)]
	if e.wordsKey != key {
		*e = recentWords{wordsKey: key, of: p.explanationOf(key, func() *explained { return p.explain(rows, i, held, a) })}
	}
	if e.chunk != p.chunks {
		e.chunk, e.at, e.mix = p.chunks, p.index(e.of, a), nil
	}
	return e
}

// explain gives the explanation of a row that was proposed for, and held for a later season
// or not, in a chunk whose answer is not complete yet.
func (p *proposer) explain(rows *chunkRows, i int, held bool, a *chunkAnswer) *explained {
	site := p.row.readSited(rows, i, a.named)
	p.planOf(site)
	if held {
		p.plan.Hold()
	}
	s := &p.sites[site.at]
	return p.workOut(s.Planner, s.law, &p.row.stem, &p.plan)
}

// ofLength is an emptied list with room for n values, whatever they were before.
func ofLength[T any](list []T, n int) []T { return slices.Grow(list[:0], n)[:n] }

// propose sets a row of the answer, but for its explanation.
func (a *chunkAnswer) propose(row int, plan *treatment.Plan, site int32) {
	a.Outcome[row], a.Dose[row] = byte(plan.Outcome), a.doses.number(&plan.Dose)
	// Field by field: a processor waits for a value composed beside and copied in one piece.
	q := &a.proposals[row]
	q.key, q.held, q.site, q.maxima, q.class = plan.Key, plan.Held, site, a.numberOf(plan.Maxima), int32(plan.Class)
	if second := writeDose(&plan.Second); second != nil {
		a.SecondDoses = append(a.SecondDoses, &treatmentv1.SecondDose{Row: a.FirstRow + int64(row), Dose: second})
	}
}

// numberOf numbers the maxima that doses of the chunk are held against, from 1. There are
// few, and as many as rows at most.
func (a *chunkAnswer) numberOf(m *treatment.Maxima) int32 {
	if m == nil {
		return 0
	}
	const few = 32
	for i, other := range a.maxima[:min(few, len(a.maxima))] {
		if m == other {
			return int32(i + 1)
		}
	}
	a.maxima = append(a.maxima, m)
	return int32(len(a.maxima))
}
