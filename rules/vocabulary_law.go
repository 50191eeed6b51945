package rules

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

// CertificationCategory is what an applicator is certified for.
type CertificationCategory uint8

// The words of CertificationCategory.
const (
	CertifiedAgricultural CertificationCategory = iota + 1
	CertifiedForest
	CertifiedOrnamental // ornamentals and turf
	CertifiedAquatic    // what is applied to water
	CertifiedRightOfWay
	CertifiedRegulatory // regulatory pest control
)

var wordsCertificationCategory = []string{"", "agricultural_plant", "forest", "ornamental_turf", "aquatic", "right_of_way", "regulatory"}

func (v CertificationCategory) words() []string { return wordsCertificationCategory }

// String gives the word.
func (v CertificationCategory) String() string { return word(v) }

// MarshalText writes the word.
func (v CertificationCategory) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// AreaCounted is the ground over which an amount is added up; not stated, it is
// the treated area, which is the smallest and so the strictest.
type AreaCounted uint8

// The words of AreaCounted.
const (
	OverTreated AreaCounted = iota + 1
	OverSite
	OverParcel
)

var wordsAreaCounted = []string{"", "treated", "site", "parcel"}

func (v AreaCounted) words() []string { return wordsAreaCounted }

// String gives the word.
func (v AreaCounted) String() string { return word(v) }

// MarshalText writes the word.
func (v AreaCounted) MarshalText() ([]byte, error) { return []byte(word(v)), nil }
