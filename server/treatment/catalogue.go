package treatment

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/nearest"
	"example.org/rootward/rules/quantity"
)

// Catalogue is what is known of species, formulations, their use and their
// effect, apart from any place. Every entry names its sources.
type Catalogue struct {
	Species      []Species
	Formulations []Formulation
	Recipes      []Recipe
	Evidence     []Evidence
	Costs        []Cost
	names        *nearest.Names // of the species, once it is complete
}

// Complete says that no more species are added.
func (c *Catalogue) Complete() {
	names := make([]string, len(c.Species))
	for i := range c.Species {
		names[i] = c.Species[i].Name
	}
	c.names = nearest.Of(names)
}

// Species is a woody invader.
type Species struct {
	Name           string // scientific name
	Common         string
	Suckering      rules.Suckering
	StumpSprouting rules.YesNo
	SeedBearing    rules.YesNo
	Sources        map[string]string // by attribute
}

// Carrier is what a product is mixed into.
type Carrier string

// The carriers.
const (
	Undiluted Carrier = "none"
	Water     Carrier = "water"
	Oil       Carrier = "oil"
)

// Formulation is a form in which an active ingredient is sold. It has no brand;
// the label of the product at hand stands above it.
type Formulation struct {
	ID            string
	Name          string // in words
	Active        string
	Kind          rules.FormulationKind
	Strength      quantity.Strength // acid equivalent per volume of product
	Methods       rules.OneOf[rules.Method]
	AquaticLabel  rules.AquaticLabel
	SoilActivity  rules.SoilActivity
	RestrictedUse rules.RestrictedUse
	Toxicity      rules.ToxicityCategory
	EntryHours    int
	RainFreeHours int
	AnnualMax     quantity.ArealRate // of the active, over all its formulations
	Container     quantity.Microlitres
	Sources       map[string]string // by attribute
}

// SignalWord is that of the product's most toxic category (40 CFR 156.64, 2015
// edition).
func (f *Formulation) SignalWord() string {
	switch f.Toxicity {
	case rules.CategoryI:
		return "DANGER"
	case rules.CategoryII:
		return "WARNING"
	}
	return "CAUTION"
}

// Recipe is how a method uses an active ingredient in one kind of formulation.
// The mix is stated in acid equivalent per volume, so that formulations of
// different strength give the same dose.
type Recipe struct {
	Method   rules.Method
	Active   string
	Kind     rules.FormulationKind
	Mix      quantity.Strength // acid equivalent per volume of mix
	Carrier  Carrier
	Adjuvant quantity.PerMillion  // of the mix
	Dye      quantity.PerMillion  // of the mix
	CutEvery quantity.Micrometres // hack-and-squirt: one cut for each so much diameter
	MinCuts  int64
	Source   string
}

// Evidence is what is published of a treatment's effect on a species. Empty
// parts fit anything.
type Evidence struct {
	Species     string
	Methods     rules.OneOf[rules.Method]
	Active      string
	Kind        rules.FormulationKind
	Forms       rules.OneOf[rules.GrowthForm]
	Suckering   rules.OneOf[rules.Suckering]
	Seasons     rules.OneOf[rules.Season]
	Above, UpTo quantity.Micrometres // diameters above one and up to the other; zero: no limit
	Control     quantity.PerMillion  // crown reduction in the second year
	Guidance    bool                 // it names the treatment and gives no figure
	Source      string
}

// Cost is the cost of treating one stem, for ranking alone.
type Cost struct {
	Method  rules.Method
	PerStem int64 // ten-thousandths of a dollar
	Source  string
}
