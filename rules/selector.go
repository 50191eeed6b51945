package rules

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/rootward/rules/quantity"
)

// Selector says to which treatments of which stems a row applies. Every part
// that is stated must fit; a part left empty fits anything.
type Selector struct {
	Species       []string `json:",omitempty"` // scientific names
	Actives       []string `json:",omitempty"` // active ingredients
	Suckering     OneOf[Suckering]
	Forms         OneOf[GrowthForm]
	Methods       OneOf[Method]
	Equipment     OneOf[Equipment]
	Formulations  OneOf[FormulationKind]
	SoilActivity  OneOf[SoilActivity]
	AquaticLabel  OneOf[AquaticLabel]
	RestrictedUse OneOf[RestrictedUse]
	Toxicity      OneOf[ToxicityCategory]
	Droplets      OneOf[Droplet]
	LandUses      OneOf[LandUse]
	Soil          OneOf[SoilState]
	Bark          OneOf[BarkState]
	Desirable     OneOf[Desirable]
	Ranges        []Range             `json:",omitempty"`
	DriftControl  OneOf[DriftControl] `json:",omitzero"`
}

// Treatment is what is known before one looks at a single stem. Rows are
// narrowed by it once for many stems.
type Treatment struct {
	Species       string
	Suckering     Suckering
	Method        Method
	Equipment     Equipment
	Active        string // empty when nothing is applied
	Formulation   FormulationKind
	SoilActivity  SoilActivity
	AquaticLabel  AquaticLabel
	RestrictedUse RestrictedUse
	Toxicity      ToxicityCategory // the most toxic of the product's acute categories
	Droplet       Droplet
	ReleaseHeight quantity.Micrometres // of spray above the ground; zero is not known, unless Droplet says that nothing is sprayed
	LandUse       LandUse
	Standing      Standing
	// NoHerbicide makes a part of a selector that names a property of a product,
	// or what applies it, not fit, where it would otherwise be unknown.
	NoHerbicide  bool
	DriftControl DriftControl `json:",omitzero"`
	// Categories are those the applicator is certified in, or the one who supervises
	// is; none: not stated.
	Categories     OneOf[CertificationCategory] `json:",omitzero"`
	CarrierMlPerHa int64                        `json:",omitzero"` // zero: not known
	DosePermille   int64                        `json:",omitzero"` // of the most that the label allows; zero: not known
	// Granted are the reductions of buffers that were granted, as "rule set/rule".
	Granted []string `json:",omitempty"`
}

// Surroundings is what is known of one stem or patch and of what is around it.
type Surroundings struct {
	Form      GrowthForm
	Soil      SoilState
	Bark      BarkState
	Desirable Desirable
	Measures  Measures
	Water     Waters
	Places    Places `json:",omitzero"`
}

// unknown has a bit for each word and each measure that is not known.
func (f *Surroundings) unknown() uint64 {
	bits := uint64(^f.Measures.known) << 4
	for i, known := range [...]bool{Known(f.Form), Known(f.Soil), Known(f.Bark), Known(f.Desirable)} {
		if !known {
			bits |= 1 << i
		}
	}
	return bits & math.MaxUint32
}

// Measure is a quantity that a range can be about.
type Measure uint8

// The measures, with their units.
const (
	Diameter      Measure = iota + 1 // diameter_um
	Height                           // height_um
	Slope                            // slope_permille
	StemDensity                      // stems_per_ha
	TreatedArea                      // treated_area_mm2
	ReleaseHeight                    // release_height_um, known from the treatment
	LakeArea                         // lake_area_mm2, of the largest lake or pond within reach of any rule
	Carrier                          // carrier_ml_per_ha, known from the treatment
	Dose                             // dose_permille of the most that the label allows, known from the treatment
)

var wordsMeasure = []string{"", "diameter_um", "height_um", "slope_permille", "stems_per_ha", "treated_area_mm2", "release_height_um", "lake_area_mm2", "carrier_ml_per_ha", "dose_permille"}

// ofTreatment reports whether the treatment alone tells the measure.
func (v Measure) ofTreatment() bool { return v == ReleaseHeight || v == Carrier || v == Dose }

func (v Measure) words() []string { return wordsMeasure }

// String gives the measure with its unit.
func (v Measure) String() string { return word(v) }

// MarshalText writes the word.
func (v Measure) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// Measures holds the measures that are known. The zero value knows none: a
// measure nobody took is never read as zero.
type Measures struct {
	known  OneOf[Measure]
	values [10]int64
}

// Set states a measure.
func (m *Measures) Set(q Measure, v int64) {
	m.known |= AnyOf(q)
	m.values[q] = v
}

// Get gives a measure, and false if it is not known.
func (m *Measures) Get(q Measure) (int64, bool) { return m.values[q], m.known.Has(q) }

// MarshalJSON writes the known measures by name.
func (m Measures) MarshalJSON() ([]byte, error) {
	var text jsonText
	text.measures(&m)
	return text, nil
}

// Range is the part of a measure's scale to which a row applies. The ends are
// included unless they are said to be open.
type Range struct {
	Of               Measure
	Min, Max         int64
	MinOpen, MaxOpen bool
}

// AtLeast, Above, AtMost and Below make ranges with one end.
func AtLeast(q Measure, v int64) Range { return Range{Of: q, Min: v, Max: math.MaxInt64} }
func Above(q Measure, v int64) Range   { return Range{Of: q, Min: v, Max: math.MaxInt64, MinOpen: true} }
func AtMost(q Measure, v int64) Range  { return Range{Of: q, Min: math.MinInt64, Max: v} }
func Below(q Measure, v int64) Range   { return Range{Of: q, Min: math.MinInt64, Max: v, MaxOpen: true} }

// Holds reports whether v lies in the range.
func (r *Range) Holds(v int64) bool {
	aboveMin := v > r.Min || v == r.Min && !r.MinOpen
	belowMax := v < r.Max || v == r.Max && !r.MaxOpen
	return aboveMin && belowMax
}

// String gives the range as an inequality.
func (r Range) String() string {
	var parts []string
	if r.Min != math.MinInt64 {
		parts = append(parts, sign(r.MinOpen, ">")+strconv.FormatInt(r.Min, 10))
	}
	if r.Max != math.MaxInt64 {
		parts = append(parts, sign(r.MaxOpen, "<")+strconv.FormatInt(r.Max, 10))
	}
	return r.Of.String() + " " + strings.Join(parts, " and ")
}

func sign(open bool, s string) string {
	if open {
		return s + " "
	}
	return s + "= "
}

// match is whether a row applies: no, yes, or maybe because a fact is missing.
type match uint8

const (
	matchNo match = iota
	matchMaybe
	matchYes
)

func fits[T Vocabulary](s OneOf[T], v T) match {
	switch {
	case s.Empty() || s.Has(v):
		return matchYes
	case !Known(v):
		return matchMaybe
	}
	return matchNo
}

// fitsName takes capitals for small letters: a prohibition must not be passed by
// for the way in which a name is written.
func fitsName(list []string, name string) match {
	switch {
	case len(list) == 0 || slices.ContainsFunc(list, func(s string) bool { return strings.EqualFold(s, name) }):
		return matchYes
	case name == "":
		return matchMaybe
	}
	return matchNo
}

// ofProduct is a part of a selector that only a product can fit.
func ofProduct(t *Treatment, stated bool, m match) match {
	if t.NoHerbicide && stated {
		return matchNo
	}
	return m
}

// ofTreatment visits the parts that the treatment alone decides.
func (s *Selector) ofTreatment(t *Treatment, visit func(part string, m match)) {
	visit("species", fitsName(s.Species, t.Species))
	visit("suckering of the species", fits(s.Suckering, t.Suckering))
	visit("method", fits(s.Methods, t.Method))
	visit("land use", fits(s.LandUses, t.LandUse))
	visit("active ingredient", ofProduct(t, len(s.Actives) > 0, fitsName(s.Actives, t.Active)))
	visit("equipment", ofProduct(t, !s.Equipment.Empty(), fits(s.Equipment, t.Equipment)))
	visit("kind of formulation", ofProduct(t, !s.Formulations.Empty(), fits(s.Formulations, t.Formulation)))
	visit("soil activity", ofProduct(t, !s.SoilActivity.Empty(), fits(s.SoilActivity, t.SoilActivity)))
	visit("registration for water", ofProduct(t, !s.AquaticLabel.Empty(), fits(s.AquaticLabel, t.AquaticLabel)))
	visit("restricted use", ofProduct(t, !s.RestrictedUse.Empty(), fits(s.RestrictedUse, t.RestrictedUse)))
	visit("toxicity category", ofProduct(t, !s.Toxicity.Empty(), fits(s.Toxicity, t.Toxicity)))
	visit("droplet size", ofProduct(t, !s.Droplets.Empty(), fits(s.Droplets, t.Droplet)))
	visit("drift control", ofProduct(t, !s.DriftControl.Empty(), fits(s.DriftControl, t.DriftControl)))
	for i := range s.Ranges {
		switch r := &s.Ranges[i]; r.Of {
		case ReleaseHeight:
			visit("height of release", r.matchRelease(t))
		case Carrier:
			visit("volume of carrier", ofProduct(t, true, r.matchStated(t.CarrierMlPerHa)))
		case Dose:
			visit("share of the greatest dose", ofProduct(t, true, r.matchStated(t.DosePermille)))
		}
	}
}

// narrow is the part of the match that the treatment alone decides.
func (s *Selector) narrow(t *Treatment) match {
	least := fits(s.Methods, t.Method)
	if least == matchNo {
		return matchNo // most rows that do not apply are about another method
	}
	s.ofTreatment(t, func(_ string, m match) { least = min(least, m) })
	return least
}

func (r *Range) matchRelease(t *Treatment) match {
	sprayed := !t.NoHerbicide && t.Droplet != DropletNone
	switch {
	case sprayed && t.ReleaseHeight <= 0:
		return matchMaybe
	case r.Holds(int64(t.ReleaseHeight)):
		return matchYes
	}
	return matchNo
}

// matchStated takes zero for not known.
func (r *Range) matchStated(v int64) match {
	switch {
	case v <= 0:
		return matchMaybe
	case r.Holds(v):
		return matchYes
	}
	return matchNo
}

// site is the part of the match that the stem and its surroundings decide.
func (s *Selector) site(f *Surroundings) match {
	m := min(fits(s.Forms, f.Form), fits(s.Soil, f.Soil), fits(s.Bark, f.Bark), fits(s.Desirable, f.Desirable))
	for i := range s.Ranges {
		if m == matchNo {
			break
		}
		m = min(m, s.Ranges[i].match(&f.Measures))
	}
	return m
}

func (r *Range) match(m *Measures) match {
	if r.Of.ofTreatment() {
		return matchYes // decided by narrow
	}
	v, known := m.Get(r.Of)
	switch {
	case !known:
		return matchMaybe
	case r.Holds(v):
		return matchYes
	}
	return matchNo
}

// alwaysSite reports whether the surroundings have no say in the match.
func (s *Selector) alwaysSite() bool {
	return s.Forms.Empty() && s.Soil.Empty() && s.Bark.Empty() && s.Desirable.Empty() &&
		!slices.ContainsFunc(s.Ranges, func(r Range) bool { return !r.Of.ofTreatment() })
}

// missing names the parts that cannot be told to fit, or not to.
func (s *Selector) missing(t *Treatment, f *Surroundings) []string {
	var names []string
	note := func(part string, m match) {
		if m == matchMaybe {
			names = append(names, part)
		}
	}
	s.ofTreatment(t, note)
	note("growth form", fits(s.Forms, f.Form))
	note("soil state", fits(s.Soil, f.Soil))
	note("bark state", fits(s.Bark, f.Bark))
	note("desirable vegetation", fits(s.Desirable, f.Desirable))
	for i := range s.Ranges {
		note(s.Ranges[i].Of.String(), s.Ranges[i].match(&f.Measures))
	}
	return names
}

// bySpecies reports whether the selector states species and nothing else.
func (s Selector) bySpecies() bool {
	s.Species = nil
	return s.narrow(&Treatment{}) == matchYes && s.alwaysSite() && len(s.Ranges) == 0
}
