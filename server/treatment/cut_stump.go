package treatment

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// cutStump fells a stem and treats the fresh cut. It is right for species that
// sprout from the stump alone; where roots sucker it only multiplies the stems.
type cutStump struct{}

// cambium is how far in from the bark the cut is wetted (common practice, no
// source).
const cambium = quantity.Inch

func (cutStump) id() rules.Method { return rules.CutStump }

func (cutStump) fit(t *traits) Refusals {
	var r Refusals
	if t.suckers() {
		r |= NeverStumpOnly
	}
	switch t.form {
	case rules.Tree, rules.Sapling, rules.Stump, rules.StumpSprout:
	default:
		r |= NoStump
	}
	if t.dense {
		r |= TooDense
	}
	return r | t.frost() | t.withDiameter(func(*gauge) Refusals { return 0 })
}

// need wets the outer ring of the cut at the rate at which bark is wetted.
func (cutStump) need(s *Settings, z size, _ cutting) need {
	return need{mix: times(s.Wetting.On(ringOf(z.diameter)), z.stems)}
}

// ringOf is the part of a fresh cut that is wetted.
func ringOf(d quantity.Micrometres) quantity.SquareMillimetres {
	ring := quantity.Circle(d)
	if d > 2*cambium {
		ring -= quantity.Circle(d - 2*cambium)
	}
	return ring
}

func (cutStump) delivery() delivery {
	return delivery{equipment: rules.HandTool, droplet: rules.DropletNone}
}

func (cutStump) steps(q *question, r *Recipe) []string {
	cut := "Cut level and low; an old stump is cut afresh below the old face."
	wet := "Wet the outer inch of the fresh cut next to the bark within one minute of the cut: a water-based salt no longer enters when the cut has dried."
	if r.Carrier == Oil {
		wet = "Wet the outer inch of the cut, the bark and the root collar; an ester in oil may follow up to 24 hours after the cut."
	}
	return []string{cut, wet, "Mark each treated stump with dye."}
}

func (cutStump) cautions() []string {
	return []string{"Felling is work for trained people with the protective equipment of their tool."}
}

func (cutStump) followUp(*question) []string {
	return []string{"Look for sprouts from the stump in the next growing season, and treat again what lives."}
}
