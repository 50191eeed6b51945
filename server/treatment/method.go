package treatment

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// method is one way of treating a stem. Each has a file of its own.
type method interface {
	id() rules.Method
	// fit says why the method is not for the stem, whatever is applied.
	fit(t *traits) Refusals
	// need is the mix that a stem takes that fits the method. It does not fall as the
	// stem gets wider or more, nor, by more than a millimetre of diameter makes up for,
	// as it gets thicker.
	need(s *Settings, z size, c cutting) need
	// delivery is how the herbicide leaves the equipment.
	delivery() delivery
	steps(q *question, r *Recipe) []string
	cautions() []string
	followUp(q *question) []string
}

// delivery is what the rules have to know of the equipment.
type delivery struct {
	equipment rules.Equipment
	droplet   rules.Droplet
	release   quantity.Micrometres // height of the nozzle above the ground
}

// methods lists all there are, in the order in which ties are kept.
var methods = []method{handPull{}, basalBark{}, hackAndSquirt{}, cutStump{}, lowVolumeFoliar{}, highVolumeFoliar{}}

// question is one stem on one site on one day.
type question struct {
	traits
	stem *Stem
}

// suckers reports whether the species answers from its roots at all.
func (t *traits) suckers() bool { return t.species.suckers() }

// isDense reports whether the row is a stand in which single stems cannot be
// treated one by one at a sensible cost.
func (s *Stem) isDense() bool {
	d, known := s.density()
	return known && d >= denseFrom
}

// denseFrom is 2,000 stems per acre, 4,942.1 per hectare, in the whole numbers of a
// density, which are rounded up: basal bark is advised below it (guidance of a
// manufacturer, read on a secondary page).
const denseFrom = 4_943

func (t *traits) inLeaf() Refusals {
	switch {
	case t.form == rules.Stump:
		return NoLeaves
	case !t.hasSeason:
		return SeasonUnknown
	case t.season == rules.LeafDrop || t.season == rules.Dormant || t.season == rules.SapFlow:
		return LeavesGone
	}
	return 0
}

// nearDesirable holds back what could hit vegetation that must live.
func (t *traits) nearDesirable(hit rules.Desirable, r Refusals) Refusals {
	switch t.desirable {
	case rules.DesirableNone:
		return 0
	case hit:
		return r
	case rules.DesirableSprayReach, rules.DesirableRootReach:
		return 0
	}
	return DesirableUnknown
}

// fitSoil says why a product so active in soil is not for the stem, by whatever method
// it is applied: roots take it up, and desirable roots may be near.
func (t *traits) fitSoil(activity rules.SoilActivity) Refusals {
	if activity != rules.SoilStrong {
		return 0
	}
	// What the spray could reach stands with its roots nearer still.
	return t.nearDesirable(rules.DesirableSprayReach, RootsInReach) | t.nearDesirable(rules.DesirableRootReach, RootsInReach)
}

// withDiameter asks for a diameter, then for its limits.
func (t *traits) withDiameter(judge func(*gauge) Refusals) Refusals {
	if !t.diameter.isKnown() {
		return DiameterUnknown
	}
	return judge(&t.diameter)
}
