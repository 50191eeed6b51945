package treatment

import (
	"fmt"
	"math/bits"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// basalBark wets the lowest bark of a thin-barked stem, all the way round, with
// an ester in oil.
type basalBark struct{}

// maxBasal is the largest diameter, included: 6 in, 15.24 cm (Rutgers Plant &
// Pest Advisory, tree-of-heaven timing).
const maxBasal = 6 * quantity.Inch

func (basalBark) id() rules.Method { return rules.BasalBark }

func (basalBark) fit(t *traits) Refusals {
	r := t.withDiameter(func(d *gauge) Refusals {
		if d.exceeds(maxBasal) {
			return TooThickForBasal
		}
		return 0
	})
	if t.form == rules.Stump || t.form == rules.Seedling {
		r |= NotAStanding
	}
	switch t.bark {
	case rules.BarkDry:
	case rules.BarkWet, rules.BarkFrozen:
		r |= BarkWetOrFrozen
	default:
		r |= BarkUnknown
	}
	if t.dense {
		r |= TooDense
	}
	return r
}

// need is bark area times wetting rate; no table of volume by diameter is
// published.
func (basalBark) need(s *Settings, z size, _ cutting) need {
	one := s.Wetting.On(quantity.Band(z.diameter, s.BasalBand))
	return need{mix: times(one, z.stems)}
}

// delivery is from the top of the highest band, so that what the rules ask of a
// spray released above 12 in is not missed.
func (basalBark) delivery() delivery {
	return delivery{equipment: rules.Backpack, droplet: rules.DropletMedium, release: 18 * quantity.Inch}
}

func (basalBark) steps(q *question, _ *Recipe) []string {
	return []string{
		"Begin only if the bark is dry on the day. Clear leaves and litter from the base of the stem.",
		fmt.Sprintf("Wet the bark from the ground line up to %.3g in (%.3g cm), all the way round, until it is wet but not running.", q.settings.BasalBand.Inches(), q.settings.BasalBand.Centimetres()),
		"Use low pressure and a narrow nozzle held close; mark each treated stem with dye.",
	}
}

func (basalBark) cautions() []string {
	return []string{
		"Only with an ester in oil; never on wet, frozen or snow-covered bark.",
		"Esters can vaporise on hot days and harm plants beyond the stem: keep to the label's temperature limit.",
	}
}

func (basalBark) followUp(q *question) []string { return standingFollowUp(q) }

// standingFollowUp is what follows on treating a standing stem.
func standingFollowUp(q *question) []string {
	felling := "The dead stem may stand, or be felled; it gets brittle, so fell it early where it could hit someone."
	if q.suckers() {
		felling = "Do not cut, mow or girdle it for at least 30 days: the herbicide has to reach the roots first. Then it may be felled."
	}
	return []string{felling,
		"Look for sprouts and suckers within 50 ft (15 m) in the next growing season, and treat again what lives."}
}

// times is n equal volumes; it saturates at what one row can be.
func times(v quantity.Microlitres, n int64) quantity.Microlitres {
	if v > 0 && n > 1 {
		if hi, lo := bits.Mul64(uint64(v), uint64(n-1)); hi != 0 || lo > uint64(maxMix) {
			return maxMix + 1
		}
	}
	return v * quantity.Microlitres(n)
}
