package treatment

import (
	"fmt"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// hackAndSquirt fills spaced cuts through the bark (a frill, or injection).
type hackAndSquirt struct{}

// minCut is the smallest diameter, included: 1 in (Rutgers Plant & Pest
// Advisory, tree-of-heaven timing).
const minCut = quantity.Inch

func (hackAndSquirt) id() rules.Method { return rules.HackAndSquirt }

func (hackAndSquirt) fit(q *question) Refusals {
	r := q.withDiameter(func(d quantity.Micrometres) Refusals {
		if d < minCut {
			return TooThinToCut
		}
		return 0
	})
	switch q.stem.Form {
	case rules.Tree, rules.Sapling, rules.RootSucker:
	default:
		r |= NotAStanding
	}
	if q.isDense() {
		r |= TooDense
	}
	if q.stem.Bark == rules.BarkFrozen {
		r |= FrozenStem
	}
	switch {
	case !q.hasSeason:
		r |= SeasonUnknown
	case q.season == rules.SapFlow:
		r |= SapRising
	}
	return r
}

func (hackAndSquirt) fitProduct(q *question, f *Formulation) Refusals { return q.soilActive(f) }

// need is one cut for each started CutEvery of diameter, and the recipe's least
// number on small stems.
func (hackAndSquirt) need(q *question, r *Recipe) need {
	cuts := max(r.MinCuts, int64((q.stem.Diameter+r.CutEvery-1)/r.CutEvery))
	one := times(q.settings.PerCut, cuts)
	return need{cuts: cuts * q.stem.Stems(), perCut: q.settings.PerCut, mix: times(one, q.stem.Stems())}
}

func (hackAndSquirt) delivery() delivery {
	return delivery{equipment: rules.HandTool, droplet: rules.DropletNone}
}

func (hackAndSquirt) steps(q *question, r *Recipe) []string {
	return []string{
		fmt.Sprintf("Make one downward cut through the bark into the sapwood for each %g in (%g cm) of diameter, at least %d, evenly round the stem at a convenient height.", r.CutEvery.Inches(), r.CutEvery.Centimetres(), r.MinCuts),
		"Keep each cut no wider than about 2 in (5 cm) and leave bark between the cuts: a girdled stem carries nothing to its roots.",
		fmt.Sprintf("Put %.3g mL of mix into each cut at once; if it runs out, the cut is too shallow or takes too much.", q.settings.PerCut.Millilitres()),
	}
}

func (hackAndSquirt) cautions() []string {
	return []string{
		"Cut away from yourself, with eye protection and firm footing; nobody within the swing.",
		"Not while sap rises in spring, and not into heartwood or dead stems.",
	}
}

func (hackAndSquirt) followUp(q *question) []string { return standingFollowUp(q) }
