package treatment

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// method is one way of treating a stem. Each has a file of its own.
type method interface {
	id() rules.Method
	// fit says why the method is not for the stem, whatever is applied.
	fit(q *question) Refusals
	// fitProduct says why a product is not for the stem by this method.
	fitProduct(q *question, f *Formulation) Refusals
	// need is the mix that the stem takes. The stem fits the method.
	need(q *question, r *Recipe) need
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
	stem      *Stem
	species   *Species
	settings  *Settings
	season    rules.Season
	hasSeason bool
}

// suckers reports whether the species answers from its roots at all.
func (q *question) suckers() bool { return q.species.Suckering >= rules.SuckeringModerate }

// isDense reports whether the row is a stand in which single stems cannot be
// treated one by one at a sensible cost.
func (q *question) isDense() bool {
	d, known := q.stem.density()
	return known && d >= denseFrom
}

// denseFrom is 2,000 stems per acre, 4,942.1 per hectare, in the whole numbers of a
// density, which are rounded up: basal bark is advised below it (guidance of a
// manufacturer, read on a secondary page).
const denseFrom = 4_943

func (q *question) inLeaf() Refusals {
	switch {
	case q.stem.Form == rules.Stump:
		return NoLeaves
	case !q.hasSeason:
		return SeasonUnknown
	case q.season == rules.LeafDrop || q.season == rules.Dormant || q.season == rules.SapFlow:
		return LeavesGone
	}
	return 0
}

// nearDesirable holds back what could hit vegetation that must live.
func (q *question) nearDesirable(hit rules.Desirable, r Refusals) Refusals {
	switch q.stem.Desirable {
	case rules.DesirableNone:
		return 0
	case hit:
		return r
	case rules.DesirableSprayReach, rules.DesirableRootReach:
		return 0
	}
	return DesirableUnknown
}

// soilActive refuses what roots take up where desirable roots are near.
func (q *question) soilActive(f *Formulation) Refusals {
	if f.SoilActivity != rules.SoilStrong {
		return 0
	}
	// What the spray could reach stands with its roots nearer still.
	return q.nearDesirable(rules.DesirableSprayReach, RootsInReach) | q.nearDesirable(rules.DesirableRootReach, RootsInReach)
}

// withDiameter asks for a diameter, then for its limits.
func (q *question) withDiameter(judge func(quantity.Micrometres) Refusals) Refusals {
	if q.stem.Diameter == 0 {
		return DiameterUnknown
	}
	return judge(q.stem.Diameter)
}
