package rules

import (
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// SiteFacts is what a computed row is told of a site. A fact that is not known is
// never read as zero.
type SiteFacts struct {
	// HasPosition says that Latitude and Longitude are known.
	HasPosition         bool
	Latitude, Longitude int32 // ten-millionths of a degree; south and west negative
	HasElevation        bool
	Elevation           quantity.Micrometres // above sea level, whole centimetres
	Temperatures        *TemperatureSeries   // nil while none are known
}

// TemperatureSeries is the daily air temperatures of a place from one day on,
// without gaps, in hundredths of a degree Celsius. It is not changed once it is in
// use.
type TemperatureSeries struct {
	First    civil.Date
	Min, Max []int32 // of each day, equally many
}

// AnswerKind is what a computed row says of a site.
type AnswerKind uint8

// The kinds of answer; the zero value is no answer.
const (
	NotRestricted AnswerKind = iota + 1 // the row does not restrict the site
	OpenDuring                          // open for a part of the year
	Closed                              // closed all year
	FactMissing                         // a fact is missing
)

var wordsAnswerKind = []string{"", "not_restricted", "open", "closed", "undetermined"}

func (v AnswerKind) words() []string { return wordsAnswerKind }

// String gives the word.
func (v AnswerKind) String() string { return word(v) }

// MarshalText writes the word.
func (v AnswerKind) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// Answer is what a computed row says of one site. Answers can be compared.
type Answer struct {
	Kind  AnswerKind
	Open  civil.Window // for OpenDuring
	Words string       // what was computed, from what and how; or what is missing
}
