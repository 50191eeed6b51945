package rules

// FormulationKind is the chemical form in which the acid is sold.
type FormulationKind uint8

// The words of FormulationKind.
const (
	WaterSalt  FormulationKind = iota + 1 // a salt that dissolves in water, amines and choline included
	Ester                                 // an ester that dissolves in oil
	DryGranule                            // a powder or granule that disperses in water
)

var wordsFormulationKind = []string{"", "water_salt", "ester", "dry_granule"}

func (v FormulationKind) words() []string { return wordsFormulationKind }

// String gives the word.
func (v FormulationKind) String() string { return word(v) }

// MarshalText writes the word.
func (v FormulationKind) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// SoilActivity is whether roots take the herbicide up from the soil.
type SoilActivity uint8

// The words of SoilActivity.
const (
	SoilNone   SoilActivity = iota + 1 // bound to the soil
	SoilSome                           // taken up in part
	SoilStrong                         // taken up by neighbours' roots
)

var wordsSoilActivity = []string{"", "none", "some", "strong"}

func (v SoilActivity) words() []string { return wordsSoilActivity }

// String gives the word.
func (v SoilActivity) String() string { return word(v) }

// MarshalText writes the word.
func (v SoilActivity) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// AquaticLabel is whether the registration covers application to water.
type AquaticLabel uint8

// The words of AquaticLabel.
const (
	AquaticRegistered    AquaticLabel = iota + 1 // some labels cover it; the label at hand decides
	AquaticNotRegistered                         // not to be put to water
)

var wordsAquaticLabel = []string{"", "registered", "not_registered"}

func (v AquaticLabel) words() []string { return wordsAquaticLabel }

// String gives the word.
func (v AquaticLabel) String() string { return word(v) }

// MarshalText writes the word.
func (v AquaticLabel) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// RestrictedUse is whether the federal government has restricted a formulation to certified applicators.
type RestrictedUse uint8

// The words of RestrictedUse.
const (
	GeneralUse           RestrictedUse = iota + 1 // not restricted
	RestrictedUseProduct                          // restricted
)

var wordsRestrictedUse = []string{"", "general_use", "restricted_use"}

func (v RestrictedUse) words() []string { return wordsRestrictedUse }

// String gives the word.
func (v RestrictedUse) String() string { return word(v) }

// MarshalText writes the word.
func (v RestrictedUse) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// ToxicityCategory is an acute toxicity category of 40 CFR 156.62, the most toxic first.
type ToxicityCategory uint8

// The words of ToxicityCategory.
const (
	CategoryI ToxicityCategory = iota + 1 // most toxic
	CategoryII
	CategoryIII
	CategoryIV // least toxic
)

var wordsToxicityCategory = []string{"", "I", "II", "III", "IV"}

func (v ToxicityCategory) words() []string { return wordsToxicityCategory }

// String gives the word.
func (v ToxicityCategory) String() string { return word(v) }

// MarshalText writes the word.
func (v ToxicityCategory) MarshalText() ([]byte, error) { return []byte(word(v)), nil }
