package rules

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
	Intake // a drinking-water intake; also one whose category nobody stated
	Estuary
	IntakeCategory1 // a drinking-water intake of the category that serves the most people
	IntakeCategory2
	IntakeCategory3
)

var wordsWaterClass = []string{
	"", "perennial_stream", "intermittent_stream", "ditch", "lake", "wetland", "well", "spring", "intake", "estuary",
	"intake_category_1", "intake_category_2", "intake_category_3",
}

func (v WaterClass) words() []string { return wordsWaterClass }

// String gives the word.
func (v WaterClass) String() string { return word(v) }

// MarshalText writes the word.
func (v WaterClass) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// WaterState is whether a bed, a ditch or a basin holds water when it is treated beside.
type WaterState uint8

// The words of WaterState.
const (
	WaterWet WaterState = iota + 1 // water stands or flows in it
	WaterDry                       // it is dry
)

var wordsWaterState = []string{"", "wet", "dry"}

func (v WaterState) words() []string { return wordsWaterState }

// String gives the word.
func (v WaterState) String() string { return word(v) }

// MarshalText writes the word.
func (v WaterState) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

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

// DistanceAlong is how a distance is measured on a slope; not stated, it is
// horizontally, which is the shorter and so the stricter.
type DistanceAlong uint8

// The words of DistanceAlong.
const (
	AlongHorizontal DistanceAlong = iota + 1
	AlongSlope                    // along the slope of the ground
)

var wordsDistanceAlong = []string{"", "horizontal", "slope"}

func (v DistanceAlong) words() []string { return wordsDistanceAlong }

// String gives the word.
func (v DistanceAlong) String() string { return word(v) }

// MarshalText writes the word.
func (v DistanceAlong) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// PlaceClass is a kind of place, other than water, that a rule keeps a distance
// from. A distance of zero is inside it.
type PlaceClass uint8

// The words of PlaceClass.
const (
	School    PlaceClass = iota + 1
	Childcare            // day care for children
	Dwelling
	CareHome // hospital or nursing home
	WorkerHousing
	OrganicLand // land under organic production
	Apiary
	SensitiveCrop // a crop that drift damages
	NestingArea
	ListedSpeciesArea
	CulturalSite // cultural or archaeological site
	Neighbour    // property of somebody else
	PublicWay    // public road or path
)

var wordsPlaceClass = []string{"", "school", "childcare", "dwelling", "care_home", "worker_housing", "organic_land", "apiary", "sensitive_crop", "nesting_area", "listed_species_area", "cultural_site", "neighbour", "public_way"}

func (v PlaceClass) words() []string { return wordsPlaceClass }

// String gives the word.
func (v PlaceClass) String() string { return word(v) }

// MarshalText writes the word.
func (v PlaceClass) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// SiteFact is a fact of a site that a computed row needs.
type SiteFact uint8

// The words of SiteFact.
const (
	FactPosition     SiteFact = iota + 1 // latitude and longitude
	FactElevation                        // above sea level
	FactTemperatures                     // daily least and greatest air temperatures from 1 January on
)

var wordsSiteFact = []string{"", "position", "elevation", "temperatures"}

func (v SiteFact) words() []string { return wordsSiteFact }

// String gives the word.
func (v SiteFact) String() string { return word(v) }

// MarshalText writes the word.
func (v SiteFact) MarshalText() ([]byte, error) { return []byte(word(v)), nil }
