package treatment

import "math/bits"

// Refusals is a set of reasons why a treatment does not fit a stem.
type Refusals uint64

// The reasons. What they say stands in refusalTexts.
const (
	NotASeedling Refusals = 1 << iota
	MayBeSucker
	IsSucker
	SoilNotMoist
	TooThickToPull
	NoLeaves
	LeavesGone
	OutOfReach
	SprayInReach
	TooSparse
	TooDense
	TooThickForBasal
	BarkWetOrFrozen
	NotAStanding
	TooThinToCut
	SapRising
	NeverStumpOnly
	NoStump
	RootsInReach
	WouldPassMaximum
	NotThisSeason
	MixImpossible
	FailsInTrials
	FrozenStem
	// The reasons from here on are things nobody knows: the answer is
	// UNDETERMINED until they are.
	DiameterUnknown
	HeightUnknown
	SoilUnknown
	DesirableUnknown
	SeasonUnknown
	SiteAreaUnknown
	BarkUnknown
	WindowUnknown
	UseAreaUnknown
	CountUnknown
	PatchBeyondSite
	FrostUnknown
)

const unknowns = DiameterUnknown | HeightUnknown | SoilUnknown | DesirableUnknown | SeasonUnknown | SiteAreaUnknown | BarkUnknown | WindowUnknown | UseAreaUnknown | CountUnknown | PatchBeyondSite | FrostUnknown

// Has reports whether any of the reasons is in the set.
func (r Refusals) Has(reasons Refusals) bool { return r&reasons != 0 }

// firm reports whether anything but missing knowledge speaks against it.
func (r Refusals) firm() bool { return r&^unknowns != 0 }

// refusalText is a reason in words, with where it comes from.
type refusalText struct {
	text   string
	source string
	remedy string // what would change it, if anything can
}

const (
	ruleOfThumb = "common practice, no source"
	pnwInject   = "Pacific Northwest Weed Management Handbook, stem injection and cut stump"
	pnwBasal    = "Pacific Northwest Weed Management Handbook, basal bark"
	pnwBrush    = "Pacific Northwest Weed Management Handbook, non-crop brush"
	njTiming    = "Rutgers Plant & Pest Advisory, tree-of-heaven timing"
	suckerTrial = "Arboriculture & Urban Forestry 33(1), January 2007, pp. 57-59"
)

// fieldTest tells a seedling from a sucker.
const fieldTest = "dig at the root collar: a seedling has one taproot going straight down and comes out whole; a sucker sits on a thick root that runs sideways to another stem"

var refusalTexts = map[Refusals]refusalText{
	NotASeedling:     {"only a seedling comes out with its whole root", ruleOfThumb, ""},
	MayBeSucker:      {"it may be a sucker of a living root, which pulling only multiplies; " + fieldTest, ruleOfThumb, "make the field test and record root_check"},
	IsSucker:         {"it is a sucker: pulling breaks the parent's root, which answers with more", ruleOfThumb, ""},
	SoilNotMoist:     {"the root comes out whole from moist soil only", ruleOfThumb, "wait for moist soil"},
	TooThickToPull:   {"above 1 in (2.54 cm) the root breaks", "from memory", ""},
	NoLeaves:         {"there are no leaves to spray", ruleOfThumb, "wait until sprouts are in leaf"},
	LeavesGone:       {"leaves are not in full function in this season, so nothing is carried to the roots", njTiming, "wait for the season in which sugars move down"},
	OutOfReach:       {"the top is above the reach of the sprayer and would be missed", ruleOfThumb, ""},
	SprayInReach:     {"vegetation that must live stands within the reach of the spray", ruleOfThumb, ""},
	TooSparse:        {"spraying to wet is for dense stands; here it would waste herbicide on the ground", ruleOfThumb, ""},
	TooDense:         {"at 2,000 stems per acre or more, stem by stem is uneconomic", "guidance of a manufacturer, read on a secondary page", ""},
	TooThickForBasal: {"above 6 in (15.24 cm) the bark lets too little through", njTiming, ""},
	BarkWetOrFrozen:  {"oil does not enter wet or frozen bark", pnwBasal, "wait until the bark is dry"},
	NotAStanding:     {"it needs a standing stem with living bark", ruleOfThumb, ""},
	TooThinToCut:     {"the stem is below 1 in (2.54 cm)", njTiming, ""},
	SapRising:        {"sap rises in spring and washes the cuts out", ruleOfThumb, "wait until spring sap flow is over"},
	NeverStumpOnly:   {"it suckers from the roots: the stump dies and the roots answer with dozens of suckers; the order that works is to treat the standing stem, wait at least 30 days, then fell", njTiming + "; " + suckerTrial, ""},
	NoStump:          {"there is no stem that a fresh cut could be made on", ruleOfThumb, ""},
	RootsInReach:     {"roots take this herbicide up, and roots of vegetation that must live are in reach; a root zone is wider than the crown", pnwBrush, ""},
	WouldPassMaximum: {"the annual maximum of the active ingredient per acre would be passed", "the annual maximum that the answer names", "split the area over seasons, or use another active ingredient"},
	NotThisSeason:    {"the site's annual maximum of the active ingredient is used up by this season's share of the stems", "the annual maximum that the answer names", "treat it with the next season's share"},
	MixImpossible:    {"the mix cannot be made from this formulation or is out of all proportion", "arithmetic from the formulation's acid equivalent", "check diameter, count and area"},
	FailsInTrials:    {"published trials show that it fails", "the trial that the answer names", "use another treatment, or wait for a season in which it works"},
	FrozenStem:       {"a frozen stem takes nothing up", ruleOfThumb, "wait until the stem has thawed"},
	DiameterUnknown:  {"the diameter is not known", ruleOfThumb, "measure the diameter at breast height, or at the root collar of a small stem"},
	HeightUnknown:    {"the height is not known", ruleOfThumb, "estimate the height"},
	SoilUnknown:      {"the state of the soil is not known", ruleOfThumb, "record soil_state"},
	DesirableUnknown: {"it is not known whether vegetation that must live is in reach", ruleOfThumb, "record desirable_vegetation: none, spray_reach or root_reach"},
	SeasonUnknown:    {"no rule set names the season of that date at that place", ruleOfThumb, "activate a rule set that names the seasons"},
	SiteAreaUnknown:  {"the treated area of the site is not known, so no annual maximum can be held", ruleOfThumb, "state the site's area"},
	BarkUnknown:      {"the state of the bark is not known", ruleOfThumb, "record bark_state"},
	WindowUnknown:    {"no rule set says when root-suckerers of that place may be treated, and too early only the top is hurt", ruleOfThumb, "activate a rule set that states the window"},
	UseAreaUnknown:   {"the annual maximum is lower on this land use, and how much ground of that use is treated is not known", ruleOfThumb, "give the row its own area, infested_area"},
	CountUnknown:     {"it is a patch, and how many stems stand on it is not known", ruleOfThumb, "count the stems of the patch, or state their density"},
	PatchBeyondSite:  {"the patch is larger than the treated area of its site, so one of the two is wrong", ruleOfThumb, "correct the patch's area or the site's"},
	FrostUnknown:     {"without leaves it may be frozen, and the state of the bark is not known", ruleOfThumb, "record bark_state"},
}

// sourced are the reasons with their sources.
var sourced = func() map[Refusals]string {
	texts := map[Refusals]string{}
	for one, t := range refusalTexts {
		texts[one] = t.text + " [" + t.source + "]"
	}
	return texts
}()

// each calls yield with every reason of the set, in the order of the list.
func (r Refusals) each(yield func(Refusals)) {
	for rest := uint64(r); rest != 0; rest &= rest - 1 {
		yield(1 << bits.TrailingZeros64(rest))
	}
}

// Texts gives the reasons in words, each with its source.
func (r Refusals) Texts() []string {
	texts := make([]string, 0, bits.OnesCount64(uint64(r)))
	r.each(func(one Refusals) { texts = append(texts, sourced[one]) })
	return texts
}

// lasting reports whether there is a reason that nothing would change.
func (r Refusals) lasting() bool {
	lasting := false
	r.each(func(one Refusals) { lasting = lasting || refusalTexts[one].remedy == "" })
	return lasting
}

// Remedies says what would change the reasons.
func (r Refusals) Remedies() []string {
	var remedies []string
	r.each(func(one Refusals) {
		if remedy := refusalTexts[one].remedy; remedy != "" {
			remedies = append(remedies, remedy)
		}
	})
	return remedies
}
