package rules

import (
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// EffectKind names what a row does.
type EffectKind uint8

// The kinds of effect.
const (
	KindProhibit EffectKind = iota + 1
	KindBuffer
	KindWindow
	KindSeason
	KindCap
	KindStanding
	KindPermit
	KindNotice
	KindPosting
	KindWeather
	KindRecord
	KindEntryInterval
	KindExclusionZone
	KindWarn
	KindSetback
	KindDailyHours
	KindUseThreshold
	KindLookup
	KindComputed
)

var wordsEffectKind = []string{
	"", "prohibit", "buffer", "window", "season", "cap", "standing", "permit", "notice", "posting",
	"weather", "record", "entry_interval", "exclusion_zone", "warn", "setback", "daily_hours", "use_threshold",
	"lookup", "computed",
}

func (v EffectKind) words() []string { return wordsEffectKind }

// String gives the word.
func (v EffectKind) String() string { return word(v) }

// MarshalText writes the word.
func (v EffectKind) MarshalText() ([]byte, error) { return []byte(word(v)), nil }

// Effect is what a row does to a treatment that it applies to. The kinds in this
// package are all there are: a table with another kind does not load, since a
// restriction that cannot be read must not be skipped.
type Effect interface {
	Kind() EffectKind
	// judge gives the strictest that the effect can say of a treatment on a day,
	// wherever the stem stands: a Buffer aside, what it says of every stem.
	judge(on civil.Date, t *Treatment) Decision
	// faults lists what is wrong with the effect's own fields.
	faults() []string
	// Text states the effect, with its limits, in one clause for people.
	Text() string
}

// Prohibit forbids the treatment.
type Prohibit struct{}

// Buffer forbids the treatment nearer to any of these waters than Distance. At
// exactly Distance it is allowed.
type Buffer struct {
	Water    OneOf[WaterClass]
	Distance quantity.Micrometres
	From     DistanceOrigin
	// Activity is what is kept away. Where it is mixed and loaded no stem tells, so
	// that MixAndLoad makes the distance a condition of every treatment with a
	// product.
	Activity Activity `json:",omitzero"`
	// Along is how the limit is measured on a slope. Distances to water are known
	// horizontally, which is never longer than along the slope: against a limit along
	// the slope they may show that it is kept, and, in the water alone, that it is
	// broken.
	Along DistanceAlong `json:",omitzero"`
	// WhileWet says that water known to be dry does not hold the treatment back.
	WhileWet bool `json:",omitzero"`
	// Reduction is the shorter distance that decides once it was granted, as
	// Treatment.Granted says; none while it is zero. Nearer than Distance the treatment is
	// then CONDITIONAL at least.
	Reduction Reduction `json:",omitzero"`
	// Allowance makes up for distances that start nearer the water than From; while it is
	// zero such a distance never shows that the limit is kept.
	Allowance Allowance `json:",omitzero"`
}

// Allowance is how far at most the start of a distance lies inland of the water's edge,
// and so of whatever lies between. It is taken off distances that start there.
type Allowance struct {
	Distance quantity.Micrometres
	Basis    string // where it says so: the law, or a survey
}

// Stated reports whether there is an allowance.
func (a Allowance) Stated() bool { return a != Allowance{} }

// Reduction is a shorter distance for a reason that somebody decides on and that
// is recorded.
type Reduction struct {
	Distance    quantity.Micrometres
	Evidence    string // what is asked for
	DecidedBy   string
	RecordField string // where in the record it is kept
}

// Stated reports whether there is a reduction.
func (r Reduction) Stated() bool { return r != Reduction{} }

// Setback forbids the treatment nearer to any of these places than Distance. At
// exactly Distance it is allowed.
type Setback struct {
	Places   OneOf[PlaceClass]
	Distance quantity.Micrometres
	// Hours are those in which it holds, all day while they are zero. Within the
	// distance they are a condition.
	Hours ClockHours `json:",omitzero"`
}

// ClockHours is a part of the day in local time. From a later to an earlier time it
// wraps over midnight. The zero value is no part of the day.
type ClockHours struct {
	From, To             int         // minutes after the anchor
	FromAnchor, ToAnchor ClockAnchor // not stated: midnight
}

// Stated reports whether there is a part of the day.
func (h ClockHours) Stated() bool { return h != ClockHours{} }

// DailyHours limits the treatment to a part of the day, as a condition.
type DailyHours struct{ Open ClockHours }

// InWater is the distance of a Buffer that forbids the treatment in the water
// itself and nowhere else: the shortest there is.
const InWater quantity.Micrometres = 1

// Window forbids the treatment outside a part of the year.
type Window struct{ Open civil.Window }

// InSeason names a part of the year for the biology of the trees of a place. It
// neither allows nor forbids.
type InSeason struct {
	Season Season
	During civil.Window
}

// Cap limits the acid equivalent of one active ingredient on an area within a
// calendar year, over all treatments. No decision counts what was applied: who
// computes a dose asks Narrowed.Cap and holds the year's sum against it.
type Cap struct {
	Active string
	Rate   quantity.ArealRate
	// Over is the ground over which the law counts. Narrowed.Cap holds the rate
	// against the treated area whatever it is: the other areas are larger.
	Over AreaCounted `json:",omitzero"`
	// RepeatsCounted is whether ground treated again counts again; not stated, it does.
	RepeatsCounted YesNo `json:",omitzero"`
}

// RequireStanding forbids the treatment to applicators of a lower standing, and to
// those certified in none of Categories, if it names any. While the standing or
// the categories are not stated, nothing is decided.
type RequireStanding struct {
	AtLeast    Standing
	Categories OneOf[CertificationCategory] `json:",omitzero"`
	// MaxSupervised is how many people one certified applicator may supervise, as a
	// condition; zero: not limited.
	MaxSupervised int `json:",omitzero"`
}

// Permit asks for a document before the treatment.
type Permit struct {
	Name       string
	From       string // who gives it
	ValidYears int    `json:",omitzero"` // zero: not stated
	Yearly     string `json:",omitzero"` // what is filed besides every year
}

// Notice asks that someone is told beforehand.
type Notice struct {
	To               string
	MinDays, MaxDays int                  // before the treatment; MaxDays zero: no earliest day
	Within           quantity.Micrometres // of the treated place; zero: whoever is named by To
	RainDates        int                  // how many alternative dates the notice may name
	By               string               `json:",omitzero"`  // how: by letter, in a newspaper
	Languages        []string             `json:",omitempty"` // it is written in
}

// Posting asks for signs.
type Posting struct {
	Says             string               // what is on the sign, in one clause
	Every            quantity.Micrometres // spacing; zero: at each usual point of entry
	EarliestHours    int                  // before the treatment; zero: not limited
	RemoveWithinDays int                  // after the entry interval ends; zero: not limited
	Width, Height    quantity.Micrometres `json:",omitzero"` // least size of a sign; zero: not limited
	Until            string               `json:",omitzero"` // it stays, where that is not the end of the entry interval
}

// WeatherLimit forbids the treatment while a weather factor is outside limits.
// The weather of the day is not known when a prescription is made, so the limit
// is a condition.
type WeatherLimit struct {
	Factor         WeatherFactor
	Min, Max       float64
	HasMin, HasMax bool
	Statistic      Statistic `json:",omitzero"`
	OverMinutes    int       `json:",omitzero"` // the time over which the value is taken; zero: not stated
}

// Record asks for a record of the application.
type Record struct {
	Fields     []string
	WithinDays int // after the application; zero: no deadline stated
	KeepYears  int
	// WithinHours is the deadline where the law counts in hours; zero: see WithinDays.
	WithinHours int `json:",omitzero"`
}

// EntryInterval keeps people out of the treated area for a time.
type EntryInterval struct{ Hours int }

// ExclusionZone keeps people away from the equipment while it works; the
// application stops while someone is inside. A radius of zero states that there
// is no zone.
type ExclusionZone struct{ Radius quantity.Micrometres }

// UseThreshold asks for something, as a condition, once what is treated within a
// calendar year passes a limit. Either Area or Length is stated, the other zero.
// No decision counts what was treated.
type UseThreshold struct {
	Area           quantity.SquareMillimetres
	Length         quantity.Micrometres // of shore
	RepeatsCounted YesNo                // whether ground treated again counts again
	BothBanks      YesNo                // whether both banks of a water count; not stated: they do
	Then           string               // what is then asked for, in one clause
	SingleArea     bool                 // one area alone must pass the limit, not the sum of all
}

// Lookup asks, as a condition, that a register is looked up before the treatment.
type Lookup struct {
	Register string
	Within   quantity.Micrometres // of the treated place; zero: entries of the place itself
	MaxDays  int                  // before the treatment; zero: on the day
	Then     string               // what to do about an entry, in one clause
}

// Computed forbids the treatment outside the part of the year that the plugin
// computes for each site. Nothing is decided until Governing.Resolve was given its
// answer.
type Computed struct {
	Method string // by which it is computed, named as its source names it
	Needs  OneOf[SiteFact]
}

// Warn tells something that neither allows nor forbids.
type Warn struct{ Message string }

func (Prohibit) Kind() EffectKind        { return KindProhibit }
func (Buffer) Kind() EffectKind          { return KindBuffer }
func (Window) Kind() EffectKind          { return KindWindow }
func (InSeason) Kind() EffectKind        { return KindSeason }
func (Cap) Kind() EffectKind             { return KindCap }
func (RequireStanding) Kind() EffectKind { return KindStanding }
func (Permit) Kind() EffectKind          { return KindPermit }
func (Notice) Kind() EffectKind          { return KindNotice }
func (Posting) Kind() EffectKind         { return KindPosting }
func (WeatherLimit) Kind() EffectKind    { return KindWeather }
func (Record) Kind() EffectKind          { return KindRecord }
func (EntryInterval) Kind() EffectKind   { return KindEntryInterval }
func (ExclusionZone) Kind() EffectKind   { return KindExclusionZone }
func (Warn) Kind() EffectKind            { return KindWarn }
func (Setback) Kind() EffectKind         { return KindSetback }
func (DailyHours) Kind() EffectKind      { return KindDailyHours }
func (UseThreshold) Kind() EffectKind    { return KindUseThreshold }
func (Lookup) Kind() EffectKind          { return KindLookup }
func (Computed) Kind() EffectKind        { return KindComputed }
