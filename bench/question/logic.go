package question

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Formulations are those at hand.
var Formulations = []string{glyphosate, imazapyr}

const (
	glyphosate = "glyphosate-ipa-3" // not registered for water
	imazapyr   = "imazapyr-ipa-2"   // registered for water; roots take it up
)

// Treatment is a method with what is applied.
type Treatment struct {
	Method      rules.Method
	Formulation string // empty when nothing is applied
}

// Treatments are those there are, in the order in which the core prefers what is
// equal: by cost, then as it lists them.
var Treatments = []Treatment{
	{rules.HighVolumeFoliar, glyphosate}, {rules.LowVolumeFoliar, glyphosate}, {rules.LowVolumeFoliar, imazapyr},
	{rules.HackAndSquirt, glyphosate}, {rules.HackAndSquirt, imazapyr}, {rules.HandPull, ""}, {rules.CutStump, glyphosate},
}

// Answer is what the expression gives: the lower, the better the treatment.
type Answer int64

const (
	// Refused is the answer where no treatment fits and is lawful, NoStem for a row that
	// cannot be read as a stem.
	Refused Answer = 1 << 20
	NoStem  Answer = 1 << 21

	placesOfTreatment = 16 // base of the last digit
)

// Treatment gives what was chosen, and false if nothing was.
func (a Answer) Treatment() (Treatment, bool) {
	if a >= Refused {
		return Treatment{}, false
	}
	return Treatments[a%placesOfTreatment], true
}

// Prescribed reports whether it may be done on the day, rather than after something is
// known.
func (a Answer) Prescribed() bool { return a < Refused && a/(placesOfTreatment*4*2*2) < undecided }

// The first digit of an answer: how it stands, and what the law says.
const (
	free      = 4 // it may be done
	bound     = 5 // it may be done under conditions
	undecided = 8 // something that decides is not known; no condition
	unknowing = 9 // something that decides is not known; conditions
	unsettled = 10
)

// Logic is the whole question as one expression.
var Logic = choice{
	some{among{Species, []int64{0}}, among{Diameter, []int64{0}}}, whole(NoStem),
	least{
		foliar(0, glyphosate, true), foliar(1, glyphosate, false), foliar(2, imazapyr, false),
		hack(3, glyphosate), hack(4, imazapyr), handPull(5), cutStump(6),
	},
}

// treatment is what decides on one of them.
type treatment struct {
	refused   some // it does not fit, or the law forbids it
	undecided some // the law leaves it open
	unknown   some // a fact is missing
	free      bool
	dense     Expr // it is uneconomic
	published Expr // it is effective
	reaches   Expr // what it could hit beside the stem
}

func (t treatment) score(at int64) Expr {
	may, lacks := Expr(whole(bound)), Expr(whole(unknowing))
	if t.free {
		may, lacks = whole(free), whole(undecided)
	}
	stands := choice{t.undecided, whole(unsettled), choice{t.unknown, lacks, may}}
	return choice{t.refused, whole(Refused), packed{
		{1, stands}, {2, flag(t.dense)}, {2, flag(not{t.published})}, {4, t.reaches}, {placesOfTreatment, whole(at)},
	}}
}

func flag(e Expr) Expr { return choice{e, whole(1), whole(0)} }

var (
	never     = some{}
	suckers   = among{Species, []int64{1, 2, 3, 4, 5, 6}}
	ailanthus = among{Species, []int64{1}}
	creek     = among{Place, []int64{OsselCreek}}
	lawless   = among{Place, []int64{LowerFen}}
	dense     = atLeast(Density, 4_943)
	stump     = is(Form, rules.Stump)
)

func handPull(at int64) Expr {
	return treatment{
		refused: some{
			not{is(Form, rules.Seedling)}, is(RootCheck, rules.LateralRoot),
			all{suckers, not{is(RootCheck, rules.Taproot)}},
			atLeast(Diameter, int64(quantity.Inch)+1), is(Soil, rules.SoilDry, rules.SoilWet, rules.SoilFrozen),
		},
		undecided: some{lawless}, unknown: some{unknown(Diameter), among{Soil, []int64{0}}},
		free: true, dense: never, published: all{}, reaches: whole(0),
	}.score(at)
}

func hack(at int64, formulation string) Expr {
	t := treatment{
		refused: some{
			all{known(Diameter), below(Diameter, int64(quantity.Inch))},
			not{is(Form, rules.Tree, rules.Sapling, rules.RootSucker)}, is(Bark, rules.BarkFrozen),
		},
		undecided: some{lawless}, unknown: some{unknown(Diameter)},
		dense: dense, published: ailanthus, reaches: whole(0),
	}
	return t.near(buffersOnCuts).with(formulation, 15*quantity.Foot).score(at)
}

func cutStump(at int64) Expr {
	t := treatment{
		refused: some{
			suckers, not{is(Form, rules.Tree, rules.Sapling, rules.Stump, rules.StumpSprout)}, is(Bark, rules.BarkFrozen),
		},
		undecided: some{lawless}, unknown: some{unknown(Diameter)},
		dense: dense, published: not{suckers}, reaches: whole(0),
	}
	return t.near(buffersOnCuts).with(glyphosate, 15*quantity.Foot).score(at)
}

func foliar(at int64, formulation string, highVolume bool) Expr {
	t := treatment{
		refused: some{
			stump, is(Desirable, rules.DesirableSprayReach), all{not{stump}, atLeast(Height, int64(10*quantity.Foot)+1)},
		},
		undecided: some{lawless},
		unknown:   some{among{Desirable, []int64{0}}, all{not{stump}, unknown(Height)}},
		dense:     never, published: all{ailanthus, is(Form, rules.RootSucker, rules.StumpSprout, rules.Sapling)},
		reaches: choice{is(Desirable, rules.DesirableNone), whole(0), whole(1)},
	}
	open := 10 * quantity.Foot
	if highVolume {
		t.refused, open = append(t.refused, not{dense}), 25*quantity.Foot
	}
	return t.near(buffersOfFoliar(open)).with(formulation, 0).score(at)
}

// with adds what the product decides. Cuts are what is applied nearer than this to the
// creek with what is not registered for water; zero: no such rule is needed.
func (t treatment) with(formulation string, cuts quantity.Micrometres) treatment {
	if formulation == imazapyr {
		t.refused = append(t.refused, is(Desirable, rules.DesirableSprayReach, rules.DesirableRootReach),
			all{creek, is(LandUse, rules.AquaticMargin)})
		t.unknown = append(t.unknown, among{Desirable, []int64{0}})
		t.undecided = append(t.undecided, all{creek, among{LandUse, []int64{0}}})
		if reaches, ok := t.reaches.(choice); ok {
			t.reaches = choice{reaches.when, whole(2), whole(3)}
		} else {
			t.reaches = whole(2)
		}
		return t.near([]buffer{{creek, wells, 300 * quantity.Foot, rules.WaterEdge}})
	}
	t = t.near([]buffer{{nil, surfaceWater, rules.InWater, rules.WaterEdge}})
	if cuts > 0 {
		t = t.near([]buffer{{creek, creekWater, cuts, rules.BankTop}})
	}
	return t
}

// buffer keeps a treatment from water.
type buffer struct {
	when     Expr // nil: always
	water    waters
	distance quantity.Micrometres
	from     rules.DistanceOrigin
}

// waters are classes of water as a row tells of them: those with a distance of their
// own, and whether any other class is among them.
type waters struct {
	own    []Column
	others bool
}

var (
	openWater    = waters{[]Column{Stream}, true}
	wetland      = waters{[]Column{Wetland}, false}
	well         = waters{[]Column{Well}, false}
	wells        = waters{[]Column{Well}, true}
	creekWater   = waters{[]Column{Stream, Wetland}, true}
	surfaceWater = waters{[]Column{Stream, Wetland}, true}

	buffersOnCuts = []buffer{{nil, well, 50 * quantity.Foot, rules.WaterEdge}}
	steep         = atLeast(Slope, 301)
)

func buffersOfFoliar(open quantity.Micrometres) []buffer {
	return []buffer{
		{nil, openWater, open, rules.WaterEdge}, {nil, wetland, open, rules.WetlandBoundary},
		{steep, openWater, 50 * quantity.Foot, rules.WaterEdge}, {steep, wetland, 50 * quantity.Foot, rules.WetlandBoundary},
		{nil, well, 100 * quantity.Foot, rules.WaterEdge}, {creek, creekWater, 100 * quantity.Foot, rules.BankTop},
	}
}

// near adds buffers: nearer it is refused, and undecided where nobody knows.
func (t treatment) near(buffers []buffer) treatment {
	t.refused, t.undecided = append(some{}, t.refused...), append(some{}, t.undecided...)
	for _, b := range buffers {
		for _, of := range b.water.own {
			t.refused = append(t.refused, b.where(all{known(of), below(of, int64(b.distance)), upTo(of+1, b.from)}))
			t.undecided = append(t.undecided, b.where(not{b.kept(of)}))
		}
		if b.water.others {
			t.undecided = append(t.undecided, b.where(below(Beyond, int64(b.distance))))
		}
	}
	return t
}

func (b buffer) where(e Expr) Expr {
	if b.when == nil {
		return e
	}
	return all{b.when, e}
}

// kept is whether a distance shows that the buffer is kept: its own, or where it has
// none that of all other water.
func (b buffer) kept(of Column) Expr {
	return some{
		all{known(of), atLeast(of, int64(b.distance)), atLeast(of+1, int64(b.from))},
		all{unknown(of), atLeast(Beyond, int64(b.distance))},
	}
}

// upTo is whether a distance is known to start no farther inland than the rule means.
func upTo(origin Column, from rules.DistanceOrigin) Expr {
	return all{atLeast(origin, 1), below(origin, int64(from)+1)}
}
