package treatment

import (
	"fmt"
	"math"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// foliar is what both ways of spraying leaves share.
func foliar(t *traits) Refusals {
	r := t.inLeaf() | t.nearDesirable(rules.DesirableSprayReach, SprayInReach)
	switch {
	case t.form == rules.Stump:
	case !t.height.isKnown():
		r |= HeightUnknown
	case t.height.exceeds(t.settings.FoliarReach):
		r |= OutOfReach
	}
	return r
}

// sprayArea is the ground under the crowns, or the patch.
func sprayArea(z size) quantity.SquareMillimetres {
	if z.area > 0 {
		return z.area
	}
	area, n := quantity.Circle(z.crown), z.stems
	if area > 0 && n > math.MaxInt64/int64(area) {
		return math.MaxInt64 // more than a row can ask for, which compose refuses
	}
	return area * quantity.SquareMillimetres(n)
}

func foliarCautions() []string {
	return []string{
		"Do not spray in wind outside the label's limits, in still air below 3 mph (an inversion may hold the spray), or where rain is near.",
		"Spray must not drip to the ground or drift to vegetation, water or people.",
	}
}

func foliarFollowUp(q *question) []string {
	follow := []string{"Judge the result after 30 days; leaves that brown at once have carried little down."}
	if q.suckers() {
		follow = append(follow, "Do not cut or mow for at least 30 days: the herbicide has to reach the roots first.")
	}
	return append(follow, "Treat what survives stem by stem in the next season.")
}

// lowVolumeFoliar covers the leaves of small growth from a backpack.
type lowVolumeFoliar struct{}

func (lowVolumeFoliar) id() rules.Method { return rules.LowVolumeFoliar }

func (lowVolumeFoliar) fit(t *traits) Refusals { return foliar(t) }

func (lowVolumeFoliar) need(s *Settings, z size, _ cutting) need {
	return need{mix: s.LowVolume.On(sprayArea(z))}
}

func (lowVolumeFoliar) delivery() delivery {
	return delivery{equipment: rules.Backpack, droplet: rules.DropletMedium, release: 4 * quantity.Foot}
}

func (lowVolumeFoliar) steps(q *question, _ *Recipe) []string {
	return []string{
		fmt.Sprintf("Cover the leaves, tops first, at about %.3g gallons per acre: wet, not dripping.", q.settings.LowVolume.GallonsPerAcre()),
		"Use a coarse droplet and a shield; mark with dye what has been sprayed.",
	}
}

func (lowVolumeFoliar) cautions() []string            { return foliarCautions() }
func (lowVolumeFoliar) followUp(q *question) []string { return foliarFollowUp(q) }

// highVolumeFoliar sprays a dense stand to wet from a hose-fed gun.
type highVolumeFoliar struct{}

func (highVolumeFoliar) id() rules.Method { return rules.HighVolumeFoliar }

func (highVolumeFoliar) fit(t *traits) Refusals {
	r := foliar(t)
	if !t.dense {
		r |= TooSparse
	}
	return r
}

func (highVolumeFoliar) need(s *Settings, z size, _ cutting) need {
	return need{mix: s.HighVolume.On(sprayArea(z))}
}

func (highVolumeFoliar) delivery() delivery {
	return delivery{equipment: rules.Handgun, droplet: rules.DropletMedium, release: 5 * quantity.Foot}
}

func (highVolumeFoliar) steps(q *question, _ *Recipe) []string {
	return []string{
		fmt.Sprintf("Spray all leaves to wet at about %.3g gallons per acre, from the edge of the stand inwards.", q.settings.HighVolume.GallonsPerAcre()),
		"Stop at the edges that the buffers set; mark with dye what has been sprayed.",
	}
}

func (highVolumeFoliar) cautions() []string            { return foliarCautions() }
func (highVolumeFoliar) followUp(q *question) []string { return foliarFollowUp(q) }
