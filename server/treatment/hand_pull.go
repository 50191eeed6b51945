package treatment

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// handPull takes a seedling out with its whole root. Nothing is applied.
type handPull struct{}

// maxPull is the diameter above which the root breaks (from memory).
const maxPull = quantity.Inch

func (handPull) id() rules.Method { return rules.HandPull }

func (handPull) fit(t *traits) Refusals {
	var r Refusals
	switch {
	case t.form != rules.Seedling:
		r |= NotASeedling
	case t.suckers() || t.rootCheck == rules.LateralRoot:
		r |= seedlingOrSucker(t.rootCheck)
	}
	r |= t.withDiameter(func(d *gauge) Refusals {
		if d.exceeds(maxPull) {
			return TooThickToPull
		}
		return 0
	})
	switch t.soil {
	case rules.SoilMoist:
	case rules.SoilDry, rules.SoilWet, rules.SoilFrozen:
		r |= SoilNotMoist
	default:
		r |= SoilUnknown
	}
	return r
}

func seedlingOrSucker(c rules.RootCheck) Refusals {
	switch c {
	case rules.Taproot:
		return 0
	case rules.LateralRoot:
		return IsSucker
	}
	return MayBeSucker
}

func (handPull) need(*Settings, size, cutting) need { return need{} }

func (handPull) delivery() delivery {
	return delivery{equipment: rules.HandTool, droplet: rules.DropletNone}
}

func (handPull) steps(*question, *Recipe) []string {
	return []string{
		"Confirm that it is a seedling: " + fieldTest + ".",
		"Pull only while the soil is moist on the day, low on the stem and slowly, until the whole root is out.",
		"Check the root tip; a piece left in the ground can sprout. Hang the plant up to dry, off the ground.",
	}
}

func (handPull) cautions() []string {
	return []string{"Wear gloves and long sleeves: sap of some of these species irritates skin."}
}

func (handPull) followUp(*question) []string {
	return []string{"Look again in the next growing season: seed in the soil and missed roots come up."}
}
