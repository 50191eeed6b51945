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

// DriftControl is whether the spray equipment is approved as one that reduces drift.
type DriftControl uint8

// The words of DriftControl.
const (
	DriftStandard DriftControl = iota + 1 // usual equipment
	DriftApproved                         // approved as reducing drift by who governs the place
)

var wordsDriftControl = []string{"", "standard", "approved"}

func (v DriftControl) words() []string { return wordsDriftControl }

// String gives the word.
func (v DriftControl) String() string { return word(v) }

// MarshalText writes the word.
func (v DriftControl) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// Activity is what is done with a product; not stated, it is the application.
type Activity uint8

// The words of Activity.
const (
	Apply      Activity = iota + 1
	MixAndLoad          // mixing it and loading the equipment
)

var wordsActivity = []string{"", "apply", "mix_and_load"}

func (v Activity) words() []string { return wordsActivity }

// String gives the word.
func (v Activity) String() string { return word(v) }

// MarshalText writes the word.
func (v Activity) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// WeatherFactor is what a weather limit is about.
type WeatherFactor uint8

// The words of WeatherFactor.
const (
	WindSpeed        WeatherFactor = iota + 1 // mean sustained wind in miles per hour
	AirTemperature                            // air temperature in degrees Fahrenheit
	DeltaT                                    // dry less wet bulb, in degrees Celsius
	RainFreeHours                             // forecast hours without rain after the treatment
	Inversion                                 // temperature inversion: 1 while there is one, 0 otherwise
	RelativeHumidity                          // in percent
)

var wordsWeatherFactor = []string{"", "wind_speed_mph", "air_temperature_f", "delta_t_c", "rain_free_hours", "inversion", "relative_humidity_percent"}

func (v WeatherFactor) words() []string { return wordsWeatherFactor }

// String gives the word.
func (v WeatherFactor) String() string { return word(v) }

// MarshalText writes the word.
func (v WeatherFactor) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// Statistic is which value of a factor that varies is meant; not stated, it is
// any single reading.
type Statistic uint8

// The words of Statistic.
const (
	Reading       Statistic = iota + 1
	SustainedMean           // the mean over the stated time
	Gust                    // the greatest within the stated time
)

var wordsStatistic = []string{"", "reading", "sustained_mean", "gust"}

func (v Statistic) words() []string { return wordsStatistic }

// String gives the word.
func (v Statistic) String() string { return word(v) }

// MarshalText writes the word.
func (v Statistic) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// ClockAnchor is what a time of day is counted from; not stated, it is midnight.
type ClockAnchor uint8

// The words of ClockAnchor.
const (
	Midnight ClockAnchor = iota + 1
	Sunrise
	Sunset
)

var wordsClockAnchor = []string{"", "midnight", "sunrise", "sunset"}

func (v ClockAnchor) words() []string { return wordsClockAnchor }

// String gives the word.
func (v ClockAnchor) String() string { return word(v) }

// MarshalText writes the word.
func (v ClockAnchor) MarshalText() ([]byte, error) { return []byte(word(v)), nil }
