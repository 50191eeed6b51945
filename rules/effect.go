package rules

import (
	"fmt"
	"strings"

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
)

var wordsEffectKind = []string{
	"", "prohibit", "buffer", "window", "season", "cap", "standing", "permit", "notice", "posting",
	"weather", "record", "entry_interval", "exclusion_zone", "warn",
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
}

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
}

// RequireStanding forbids the treatment to applicators of a lower standing.
// While the standing is not stated, nothing is decided. While
// nobody says who will apply it, the standing is a condition.
type RequireStanding struct{ AtLeast Standing }

// Permit asks for a document before the treatment.
type Permit struct {
	Name string
	From string // who gives it
}

// Notice asks that someone is told beforehand.
type Notice struct {
	To               string
	MinDays, MaxDays int                  // before the treatment; MaxDays zero: no earliest day
	Within           quantity.Micrometres // of the treated place; zero: whoever is named by To
	RainDates        int                  // how many alternative dates the notice may name
}

// Posting asks for signs.
type Posting struct {
	Says             string               // what is on the sign, in one clause
	Every            quantity.Micrometres // spacing; zero: at each usual point of entry
	EarliestHours    int                  // before the treatment; zero: not limited
	RemoveWithinDays int                  // after the entry interval ends; zero: not limited
}

// WeatherLimit forbids the treatment while a weather factor is outside limits.
// The weather of the day is not known when a prescription is made, so the limit
// is a condition.
type WeatherLimit struct {
	Factor         WeatherFactor
	Min, Max       float64
	HasMin, HasMax bool
}

// Record asks for a record of the application.
type Record struct {
	Fields     []string
	WithinDays int // after the application; zero: no deadline stated
	KeepYears  int
}

// EntryInterval keeps people out of the treated area for a time.
type EntryInterval struct{ Hours int }

// ExclusionZone keeps people away from the equipment while it works; the
// application stops while someone is inside. A radius of zero states that there
// is no zone.
type ExclusionZone struct{ Radius quantity.Micrometres }

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

func (Prohibit) judge(civil.Date, *Treatment) Decision { return Prohibited }
func (Buffer) judge(civil.Date, *Treatment) Decision   { return Prohibited }

// clears is what the buffer says of a stem among these waters.
func (b *Buffer) clears(w *Waters) Decision {
	decision := Allowed
	for c := PerennialStream; Known(c); c++ {
		if b.Water.Has(c) {
			decision = Stricter(decision, w.clears(c, b.Distance, b.From))
		}
	}
	return decision
}

// unknown is the waters whose distance does not tell whether it clears.
func (b *Buffer) unknown(w *Waters) OneOf[WaterClass] {
	var classes OneOf[WaterClass]
	for _, c := range b.Water.Values() {
		if w.clears(c, b.Distance, b.From) == Undetermined {
			classes |= AnyOf(c)
		}
	}
	return classes
}

func (w Window) judge(on civil.Date, _ *Treatment) Decision {
	if w.Open.Holds(on) {
		return Allowed
	}
	return Prohibited
}

func (InSeason) judge(civil.Date, *Treatment) Decision { return Allowed }
func (Cap) judge(civil.Date, *Treatment) Decision      { return Allowed }
func (Warn) judge(civil.Date, *Treatment) Decision     { return Allowed }

func (r RequireStanding) judge(_ civil.Date, t *Treatment) Decision {
	switch {
	case !Known(t.Standing):
		return Undetermined
	case t.Standing < r.AtLeast:
		return Prohibited
	}
	return Allowed
}

func (Permit) judge(civil.Date, *Treatment) Decision        { return Conditional }
func (Notice) judge(civil.Date, *Treatment) Decision        { return Conditional }
func (Posting) judge(civil.Date, *Treatment) Decision       { return Conditional }
func (WeatherLimit) judge(civil.Date, *Treatment) Decision  { return Conditional }
func (Record) judge(civil.Date, *Treatment) Decision        { return Conditional }
func (EntryInterval) judge(civil.Date, *Treatment) Decision { return Conditional }

func (e ExclusionZone) judge(civil.Date, *Treatment) Decision {
	if e.Radius == 0 {
		return Allowed
	}
	return Conditional
}

// Text implements Effect.
func (Prohibit) Text() string { return "forbidden" }

// Text implements Effect.
func (b Buffer) Text() string {
	if b.Distance == InWater {
		return fmt.Sprintf("not in %s", spaced(b.Water.String()))
	}
	return fmt.Sprintf("not within %s of %s, counted from the %s", length(b.Distance), spaced(b.Water.String()), spaced(b.From.String()))
}

// Text implements Effect.
func (w Window) Text() string { return "only from " + w.Open.String() }

// Text implements Effect.
func (s InSeason) Text() string {
	return fmt.Sprintf("%s is %s", s.During, spaced(s.Season.String()))
}

// Text implements Effect.
func (c Cap) Text() string {
	return fmt.Sprintf("at most %.4g lb ae of %s per acre in a calendar year", c.Rate.PoundsPerAcre(), c.Active)
}

// Text implements Effect.
func (r RequireStanding) Text() string { return "applicator at least " + r.AtLeast.String() }

// Text implements Effect.
func (p Permit) Text() string { return "needs " + p.Name + " from " + p.From }

// Text implements Effect.
func (n Notice) Text() string {
	text := fmt.Sprintf("tell %s at least %d days before", n.To, n.MinDays)
	if n.MaxDays > 0 {
		text += fmt.Sprintf(" and at most %d", n.MaxDays)
	}
	if n.Within > 0 {
		text += ", within " + length(n.Within)
	}
	if n.RainDates > 0 {
		text += fmt.Sprintf(", naming up to %d rain dates", n.RainDates)
	}
	return text
}

// Text implements Effect.
func (p Posting) Text() string {
	text := "post signs: " + p.Says
	if p.Every > 0 {
		text += ", every " + length(p.Every)
	}
	if p.EarliestHours > 0 {
		text += fmt.Sprintf(", no sooner than %d hours before", p.EarliestHours)
	}
	if p.RemoveWithinDays > 0 {
		text += fmt.Sprintf(", removed within %d days after the entry interval", p.RemoveWithinDays)
	}
	return text
}

// Text implements Effect.
func (w WeatherLimit) Text() string {
	var parts []string
	if w.HasMin {
		parts = append(parts, fmt.Sprintf("at least %g", w.Min))
	}
	if w.HasMax {
		parts = append(parts, fmt.Sprintf("at most %g", w.Max))
	}
	return w.Factor.String() + " " + strings.Join(parts, " and ")
}

// Text implements Effect.
func (r Record) Text() string {
	text := "record " + strings.Join(r.Fields, ", ")
	if r.WithinDays > 0 {
		text += fmt.Sprintf(" within %d days", r.WithinDays)
	}
	if r.KeepYears > 0 {
		text += fmt.Sprintf("; keep for %d years", r.KeepYears)
	}
	return text
}

// Text implements Effect.
func (e EntryInterval) Text() string { return fmt.Sprintf("no entry for %d hours", e.Hours) }

// Text implements Effect.
func (e ExclusionZone) Text() string {
	if e.Radius == 0 {
		return "no exclusion zone"
	}
	return "nobody within " + length(e.Radius) + " while it is applied"
}

// Text implements Effect.
func (w Warn) Text() string { return w.Message }

// length prints a limit as it was probably written: in feet where it is a whole
// tenth of a foot, in metres otherwise.
func length(l quantity.Micrometres) string {
	const tenthOfFoot = quantity.Foot / 10
	if l%tenthOfFoot == 0 {
		return fmt.Sprintf("%g ft (%.4g m)", l.Feet(), l.Metres())
	}
	return fmt.Sprintf("%g m (%.4g ft)", l.Metres(), l.Feet())
}

func spaced(words string) string { return strings.ReplaceAll(words, "_", " ") }
