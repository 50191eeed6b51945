package report

import (
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"

	"example.org/rootward/client"
	"example.org/rootward/client/wording"
)

// toCount is where rows of one explanation are counted, found once for many rows.
type toCount struct {
	outcome treatmentv1.Outcome
	method  *methodSum
	groups  []*group
	sharers // of those that are prescribed
}

// Rows counts many rows, as Row counts one.
func (t *Tally) Rows(a *client.Answered) error {
	places := make([]*toCount, len(a.Explanations))
	for i := range a.Len() {
		outcome, at := a.Outcome(i), a.Block.Index(i)
		if outcome == treatmentv1.Outcome_OUTCOME_REJECTED {
			if len(t.rejected) < maxRejected {
				t.rejected = append(t.rejected, a.Row(i))
			}
			continue
		}
		e := a.Answer.Explanation[at]
		if places[e] == nil || places[e].outcome != outcome {
			t.share(places[e], a.Explanations[e])
			places[e] = t.known(outcome, a.Explanations[e])
		}
		places[e].add(a, i, at)
	}
	for e, p := range places {
		t.share(p, a.Explanations[e])
	}
	return nil
}

// known gives where rows with this outcome and explanation are counted, which chunks of a
// file ask for again and again.
func (t *Tally) known(outcome treatmentv1.Outcome, e *treatmentv1.Explanation) *toCount {
	key := sharing{outcome: outcome, explanation: e}
	p := t.places[key]
	if p == nil {
		const many = 8_192
		if t.places == nil || len(t.places) >= many {
			t.places = map[sharing]*toCount{}
		}
		p = t.place(outcome, e)
		t.places[key] = p
	}
	return p
}

// place finds where rows with this outcome and explanation are counted.
func (t *Tally) place(outcome treatmentv1.Outcome, e *treatmentv1.Explanation) *toCount {
	p := &toCount{outcome: outcome}
	switch outcome {
	case treatmentv1.Outcome_OUTCOME_PRESCRIBED:
		name := wording.Choice(e.GetChoice().GetMethod(), e.GetChoice().GetFormulation())
		p.method = t.method(name)
		p.groups = []*group{t.dates.of(name, Dates(e.GetDates()))}
	case treatmentv1.Outcome_OUTCOME_DEFERRED:
		p.groups = []*group{t.deferredTo(e)}
	default:
		p.groups = t.undecided(e)
	}
	return p
}

// share counts the rows of a place, up to now, for what they have in common.
func (t *Tally) share(p *toCount, e *treatmentv1.Explanation) {
	if p == nil || p.rows == 0 {
		return
	}
	if p.method != nil && t.shared.add(e, p.rows, p.ids...) {
		t.settle()
	}
	p.rows, p.ids = 0, p.ids[:0]
}

func (p *toCount) add(a *client.Answered, i, at int) {
	p.rows++
	for _, g := range p.groups {
		g.addID(a.Block.ID(at))
	}
	if p.method == nil {
		return
	}
	if len(p.ids) < maxIDs {
		p.ids = append(p.ids, string(a.Block.ID(at)))
	}
	m := p.method
	m.rows++
	m.stems += a.Stems(i)
	if dose := a.Answer.Dose[at] - 1; dose >= 0 {
		m.cuts += a.Answer.Cuts[dose]
		m.mixML += quantity.Microlitres(a.Answer.MixUl[dose]).Millilitres()
		m.productML += quantity.Microlitres(a.Answer.ProductUl[dose]).Millilitres()
	}
	if a.Second(i) != nil {
		m.secondRows++
	}
}
