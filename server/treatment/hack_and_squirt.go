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

func (hackAndSquirt) fit(t *traits) Refusals {
	r := t.withDiameter(func(d *gauge) Refusals {
		if !d.exceeds(minCut - 1) {
			return TooThinToCut
		}
		return 0
	})
	switch t.form {
	case rules.Tree, rules.Sapling, rules.RootSucker:
	default:
		r |= NotAStanding
	}
	if t.dense {
		r |= TooDense
	}
	r |= t.frost()
	switch {
	case !t.hasSeason:
		r |= SeasonUnknown
	case t.season == rules.SapFlow:
		r |= SapRising
	}
	return r
}

// need is one cut for each started part of the diameter, and the recipe's least
// number on small stems.
func (hackAndSquirt) need(s *Settings, z size, c cutting) need {
	cuts := max(c.least, int64((z.diameter+c.every-1)/c.every))
	one := times(s.PerCut, cuts)
	return need{cuts: cuts * z.stems, perCut: s.PerCut, mix: times(one, z.stems)}
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
