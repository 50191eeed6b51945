package rules

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
