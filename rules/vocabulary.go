package rules

// Method is a way of treating a stem.
type Method uint8

// The words of Method.
const (
	HandPull         Method = iota + 1 // the whole root is pulled, no herbicide
	LowVolumeFoliar                    // leaves are sprayed until covered, not dripping
	HighVolumeFoliar                   // leaves are sprayed to wet from a hose-fed gun
	BasalBark                          // the lowest bark is wetted all the way round
	HackAndSquirt                      // cuts through the bark are filled (frill or injection)
	CutStump                           // the stem is felled and the fresh cut is treated
)

var wordsMethod = []string{"", "hand_pull", "low_volume_foliar", "high_volume_foliar", "basal_bark", "hack_and_squirt", "cut_stump"}

func (v Method) words() []string { return wordsMethod }

// String gives the word.
func (v Method) String() string { return word(v) }

// MarshalText writes the word.
func (v Method) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// Equipment is what puts the herbicide on the plant.
type Equipment uint8

// The words of Equipment.
const (
	HandTool   Equipment = iota + 1 // hatchet, squirt bottle, brush or injector
	Backpack                        // a sprayer carried on the back, nozzle directed by hand
	Handgun                         // a hose-fed gun directed by hand
	Boom                            // a boom on a vehicle
	Mistblower                      // an air-blast sprayer
	Aerial                          // an aircraft
)

var wordsEquipment = []string{"", "hand_tool", "backpack", "handgun", "boom", "mistblower", "aerial"}

func (v Equipment) words() []string { return wordsEquipment }

// String gives the word.
func (v Equipment) String() string { return word(v) }

// MarshalText writes the word.
func (v Equipment) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// Suckering is how strongly a species answers the loss of its top with suckers from the roots.
type Suckering uint8

// The words of Suckering.
const (
	SuckeringNone     Suckering = iota + 1 // never from the roots
	SuckeringModerate                      // from the roots in part
	SuckeringStrong                        // in numbers, far from the stem
)

var wordsSuckering = []string{"", "none", "moderate", "strong"}

func (v Suckering) words() []string { return wordsSuckering }

// String gives the word.
func (v Suckering) String() string { return word(v) }

// MarshalText writes the word.
func (v Suckering) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// GrowthForm is what stands there.
type GrowthForm uint8

// The words of GrowthForm.
const (
	Seedling    GrowthForm = iota + 1 // grown from seed, no root of a parent under it
	RootSucker                        // a shoot from the root of another stem
	Sapling                           // a young single stem
	Tree                              // a grown single stem
	Stump                             // what is left of a stem after cutting, no leaves on it
	StumpSprout                       // shoots in leaf from a stump
)

var wordsGrowthForm = []string{"", "seedling", "root_sucker", "sapling", "tree", "stump", "stump_sprout"}

func (v GrowthForm) words() []string { return wordsGrowthForm }

// String gives the word.
func (v GrowthForm) String() string { return word(v) }

// MarshalText writes the word.
func (v GrowthForm) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

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

// Droplet is a spray's droplet size class against the reference nozzles of ASABE S572.
type Droplet uint8

// The words of Droplet.
const (
	DropletFine   Droplet = iota + 1 // finer than the medium class
	DropletMedium                    // medium or larger
	DropletNone                      // the liquid is not sprayed into the air
)

var wordsDroplet = []string{"", "finer_than_medium", "medium_or_coarser", "no_spray"}

func (v Droplet) words() []string { return wordsDroplet }

// String gives the word.
func (v Droplet) String() string { return word(v) }

// MarshalText writes the word.
func (v Droplet) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// LandUse is what the ground is used for.
type LandUse uint8

// The words of LandUse.
const (
	Forest LandUse = iota + 1
	Rangeland
	GrazedPasture
	RightOfWay
	Park
	Residential
	AquaticMargin // the edge of water, wet in part of the year
	NonCrop
)

var wordsLandUse = []string{"", "forest", "rangeland", "pasture_grazed", "right_of_way", "park", "residential", "aquatic_margin", "non_crop"}

func (v LandUse) words() []string { return wordsLandUse }

// String gives the word.
func (v LandUse) String() string { return word(v) }

// MarshalText writes the word.
func (v LandUse) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// SoilState is the soil on the day of the survey.
type SoilState uint8

// The words of SoilState.
const (
	SoilDry SoilState = iota + 1
	SoilMoist
	SoilWet
	SoilFrozen
)

var wordsSoilState = []string{"", "dry", "moist", "wet", "frozen"}

func (v SoilState) words() []string { return wordsSoilState }

// String gives the word.
func (v SoilState) String() string { return word(v) }

// MarshalText writes the word.
func (v SoilState) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// BarkState is the bark on the day of the survey.
type BarkState uint8

// The words of BarkState.
const (
	BarkDry BarkState = iota + 1
	BarkWet
	BarkFrozen
)

var wordsBarkState = []string{"", "dry", "wet", "frozen"}

func (v BarkState) words() []string { return wordsBarkState }

// String gives the word.
func (v BarkState) String() string { return word(v) }

// MarshalText writes the word.
func (v BarkState) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// Desirable is where vegetation stands that must live.
type Desirable uint8

// The words of Desirable.
const (
	DesirableNone       Desirable = iota + 1 // none within the reach of spray or roots
	DesirableSprayReach                      // spray could land on it
	DesirableRootReach                       // its roots reach the treated stem's roots
)

var wordsDesirable = []string{"", "none", "spray_reach", "root_reach"}

func (v Desirable) words() []string { return wordsDesirable }

// String gives the word.
func (v Desirable) String() string { return word(v) }

// MarshalText writes the word.
func (v Desirable) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// RootCheck is what was found when a small stem's root was dug at.
type RootCheck uint8

// The words of RootCheck.
const (
	Taproot     RootCheck = iota + 1 // a root of its own going down: a seedling
	LateralRoot                      // a thick root running sideways: a sucker
	NotChecked                       // nobody looked
)

var wordsRootCheck = []string{"", "taproot", "lateral_root", "not_checked"}

func (v RootCheck) words() []string { return wordsRootCheck }

// String gives the word.
func (v RootCheck) String() string { return word(v) }

// MarshalText writes the word.
func (v RootCheck) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// YesNo is an answer.
type YesNo uint8

// The words of YesNo.
const (
	Yes YesNo = iota + 1
	No
)

var wordsYesNo = []string{"", "yes", "no"}

func (v YesNo) words() []string { return wordsYesNo }

// String gives the word.
func (v YesNo) String() string { return word(v) }

// MarshalText writes the word.
func (v YesNo) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// WaterClass is a kind of water that rules protect.
type WaterClass uint8

// The words of WaterClass.
const (
	PerennialStream WaterClass = iota + 1
	IntermittentStream
	Ditch
	Lake // lake or pond
	Wetland
	Well
	Spring
	Intake // a drinking-water intake
	Estuary
)

var wordsWaterClass = []string{"", "perennial_stream", "intermittent_stream", "ditch", "lake", "wetland", "well", "spring", "intake", "estuary"}

func (v WaterClass) words() []string { return wordsWaterClass }

// String gives the word.
func (v WaterClass) String() string { return word(v) }

// MarshalText writes the word.
func (v WaterClass) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// DistanceOrigin is where a distance to water starts. Each is so defined that no
// later one lies nearer the water.
type DistanceOrigin uint8

// The words of DistanceOrigin.
const (
	WaterEdge       DistanceOrigin = iota + 1 // the water's edge
	WetlandBoundary                           // the landward limit of wetland; without wetland the water's edge
	BankTop                                   // the top of the bank, or the landward limit of wetland where that lies farther inland
)

var wordsDistanceOrigin = []string{"", "water_edge", "wetland_boundary", "bank_top"}

func (v DistanceOrigin) words() []string { return wordsDistanceOrigin }

// String gives the word.
func (v DistanceOrigin) String() string { return word(v) }

// MarshalText writes the word.
func (v DistanceOrigin) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// Season is a part of the year in the life of the trees.
type Season uint8

// The words of Season.
const (
	SapFlow       Season = iota + 1 // sap rises; cuts bleed and nothing moves down
	Growing                         // full leaf, before sugars move down in strength
	Translocation                   // mid to late summer: sugars move down to the roots
	LeafDrop                        // leaves colour and fall
	Dormant                         // no leaves
)

var wordsSeason = []string{"", "spring_sap_flow", "growing", "translocation", "leaf_drop", "dormant"}

func (v Season) words() []string { return wordsSeason }

// String gives the word.
func (v Season) String() string { return word(v) }

// MarshalText writes the word.
func (v Season) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// Standing is an applicator's standing.
type Standing uint8

// The words of Standing.
const (
	Unlicensed Standing = iota + 1
	Supervised          // under the supervision of a certified applicator
	Certified
)

var wordsStanding = []string{"", "unlicensed", "supervised", "certified"}

func (v Standing) words() []string { return wordsStanding }

// String gives the word.
func (v Standing) String() string { return word(v) }

// MarshalText writes the word.
func (v Standing) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// Layer is a layer of law, the widest first; a later layer can only restrict further.
type Layer uint8

// The words of Layer.
const (
	Biology Layer = iota + 1
	Federal
	State    // state or province
	District // county or district
	Owner    // land owner
)

var wordsLayer = []string{"", "biology", "federal", "state", "district", "owner"}

func (v Layer) words() []string { return wordsLayer }

// String gives the word.
func (v Layer) String() string { return word(v) }

// MarshalText writes the word.
func (v Layer) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// WeatherFactor is what a weather limit is about.
type WeatherFactor uint8

// The words of WeatherFactor.
const (
	WindSpeed      WeatherFactor = iota + 1 // mean sustained wind in miles per hour
	AirTemperature                          // air temperature in degrees Fahrenheit
	DeltaT                                  // dry less wet bulb, in degrees Celsius
	RainFreeHours                           // forecast hours without rain after the treatment
)

var wordsWeatherFactor = []string{"", "wind_speed_mph", "air_temperature_f", "delta_t_c", "rain_free_hours"}

func (v WeatherFactor) words() []string { return wordsWeatherFactor }

// String gives the word.
func (v WeatherFactor) String() string { return word(v) }

// MarshalText writes the word.
func (v WeatherFactor) MarshalText() ([]byte, error) { return []byte(word(v)), nil }
