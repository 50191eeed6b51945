// Package use adds up what was applied in a calendar year, as each rule counts: over the
// treated ground or a larger one, ground that is treated again once or twice, both banks
// of a water or one.
//
// What is not known leaves nothing: a sum with an unknown part is unknown, and so is
// what is left below a limit.
package use

import (
	"fmt"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Use is one application.
type Use struct {
	Active string
	AE     quantity.MicrogramsAE // rounded up; below zero: not known
	Area   quantity.SquareMillimetres
	Ground string               // equal for the same ground; empty: not known, and so no ground of before
	Shore  quantity.Micrometres // each bank counted; below zero: not known
}

// Ground is how large a site is; zero is not known.
type Ground struct {
	Treated, Parcel quantity.SquareMillimetres
	BothBanks       rules.YesNo // belong to the site
}

// Total is an amount against a limit.
type Total struct {
	Used, Limit           int64 // micrograms, square millimetres or micrometres
	UsedKnown, LimitKnown bool
	Counted               string // over what, in words
	Unknown               string // what is not known
}

// Left is what may still be used, nothing where anything is unknown.
func (t *Total) Left() int64 {
	if !t.UsedKnown || !t.LimitKnown {
		return 0
	}
	return max(0, t.Limit-t.Used)
}

// Cap adds up one active ingredient for an annual maximum. The uses are those of the year
// that the rule applies to.
func Cap(c *rules.Cap, g *Ground, uses []Use) Total {
	t := Total{UsedKnown: true, Counted: "over the treated ground"}
	area := g.Treated
	if c.Over == rules.OverParcel {
		t.Counted = "over the whole parcel"
		if area = g.Parcel; area <= 0 {
			t.Unknown = "the site has no parcel_area_m2"
		}
	} else if area <= 0 {
		t.Unknown = "the site has no area_m2"
	}
	if area > 0 {
		t.Limit, t.LimitKnown = int64(c.Rate.On(area)), true
	}
	most := map[string]quantity.MicrogramsAE{}
	for _, u := range uses {
		if u.Active != c.Active {
			continue
		}
		if u.AE < 0 {
			t.UsedKnown, t.Unknown = false, "an amount is not known"
			continue
		}
		if c.RepeatsCounted == rules.No && u.Ground != "" {
			t.Used += int64(max(0, u.AE-most[u.Ground]))
			most[u.Ground] = max(most[u.Ground], u.AE)
			continue
		}
		t.Used += int64(u.AE)
	}
	if c.RepeatsCounted == rules.No {
		t.Counted += ", ground that was treated again once, by its largest use"
	} else {
		t.Counted += ", each use of ground that was treated again"
	}
	return t
}

// State is how near a threshold is.
type State uint8

// The states.
const (
	Below State = iota + 1
	Warning
	Passed
	Unknown
)

var stateWords = [...]string{"", "below", "warning", "passed", "unknown"}

// String gives the word.
func (s State) String() string { return stateWords[s] }

// warnAt is the share of a threshold from which there is a warning, in percent; common
// practice, no source.
const warnAt = 80

// Threshold adds up ground or shore that was treated in a year.
func Threshold(r *rules.UseThreshold, g *Ground, uses []Use) (Total, State) {
	t := Total{Limit: int64(r.Area), LimitKnown: true, UsedKnown: true}
	size := func(u *Use) int64 { return int64(u.Area) }
	if r.Length > 0 {
		t.Limit = int64(r.Length)
		size = func(u *Use) int64 { return shore(r, u, g) }
	}
	most, sums := map[string]int64{}, map[string]int64{} // by ground; of unknown ground each use by itself is most
	for i := range uses {
		u := &uses[i]
		n := size(u)
		if n < 0 || n == 0 && r.Length == 0 {
			t.UsedKnown, t.Unknown = false, "what was treated is not known"
			continue
		}
		ground := u.Ground
		if ground == "" {
			ground = fmt.Sprint("\x00", i)
		}
		most[ground] = max(most[ground], n)
		sums[u.Ground] += n
	}
	by := most
	if r.RepeatsCounted == rules.Yes {
		by = sums
	}
	for _, n := range by {
		if r.SingleArea {
			t.Used = max(t.Used, n)
		} else {
			t.Used += n
		}
	}
	switch {
	case t.Used >= t.Limit: // permits say "more than" and "at least": the stricter of the two
		return t, Passed
	case !t.UsedKnown:
		return t, Unknown
	case t.Used*100 >= t.Limit*warnAt:
		return t, Warning
	}
	return t, Below
}

// shore is what a use treated of it, as a rule counts. A site of both banks counts one
// of them where the rule says so; which of the two was treated nobody keeps, and so it is
// no less than half.
func shore(r *rules.UseThreshold, u *Use, g *Ground) int64 {
	if r.BothBanks == rules.No && g.BothBanks == rules.Yes && u.Shore > 0 {
		return (int64(u.Shore) + 1) / 2
	}
	return int64(u.Shore)
}
