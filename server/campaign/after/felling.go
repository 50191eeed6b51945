package after

import (
	"fmt"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// DaysToFelling is the least wait between treatment and felling: 30 days (Rutgers Plant
// & Pest Advisory, tree-of-heaven timing).
const DaysToFelling = 30

// Stem is a stem that somebody may want to fell.
type Stem struct {
	ID string
	// Suckering is the species' answer to the loss of its top; zero, not known, counts as
	// one that suckers.
	Suckering rules.Suckering
	// Treated are the days of its herbicide treatments, in any order. No date stands for a
	// treatment whose day is not known. Hand pulling is none.
	Treated []civil.Date
	// SeenAlive is the last day on which it was seen alive at an inspection; no date: never.
	SeenAlive civil.Date
}

// FellingRule is when a region lets treated stems be felled.
type FellingRule struct {
	// Season is the part of the year for felling; nil where the region states none.
	Season *civil.Window
	// Wait is the days to wait after treatment; less than DaysToFelling counts as that.
	Wait int
	// Leaf is the part of the year in leaf, which tells an inspection from a look at a tree
	// that is still dying; nil: not known, then any later sight of life counts.
	Leaf *civil.Window
}

// Felling is what may be done with the saw.
type Felling struct {
	From  civil.Date // first day on which the stem may be felled; no date: never, as things stand
	Until civil.Date // last day of that opening; no date: it does not close
	Why   string
}

// Fell gives the earliest day, not before the day asked, on which a stem may be felled.
// Each treatment starts the wait anew. A stem that was not treated is not felled, for
// cutting multiplies suckers (the same advisory), unless its species has none.
func Fell(s *Stem, r *FellingRule, on civil.Date) Felling {
	if !on.Known() {
		return Felling{Why: "the day asked is not known: state it"}
	}
	ready, why := ready(s, r)
	if !ready.Known() {
		return Felling{Why: why}
	}
	ready = max(ready, on)
	if r.Season == nil {
		return Felling{From: ready, Why: why + "; the region states no felling season"}
	}
	from, opens := civil.Next(ready, []civil.Window{*r.Season})
	if !r.Season.Valid() || !opens {
		return Felling{Why: fmt.Sprintf("the felling season %s is none: correct it", r.Season)}
	}
	return Felling{From: from, Until: lastIn(*r.Season, from), Why: fmt.Sprintf("%s, within the felling season %s", why, r.Season)}
}

// ready is the first day on which nothing of the stem itself speaks against felling.
func ready(s *Stem, r *FellingRule) (civil.Date, string) {
	if len(s.Treated) == 0 {
		if s.Suckering == rules.SuckeringNone {
			return 1, "its species does not sucker"
		}
		return 0, "not treated: cutting it multiplies suckers; treat it first"
	}
	var last civil.Date
	for _, day := range s.Treated {
		if !day.Known() {
			return 0, "the day of a treatment is not known: find it in the records, or treat again"
		}
		last = max(last, day)
	}
	if survived(s.SeenAlive, last, r.Leaf) {
		return 0, fmt.Sprintf("seen alive on %s after its treatment of %s: treat it again, then wait", s.SeenAlive, last)
	}
	wait := max(r.Wait, DaysToFelling)
	return last.AddDays(wait), fmt.Sprintf("%s after the treatment of %s", rules.Several(wait, "day"), last)
}

// survived reports whether a stem was seen alive in a growing season that began after
// its treatment; before that, a tree may still be dying.
func survived(seen, treated civil.Date, leaf *civil.Window) bool {
	if !seen.Known() || seen <= treated {
		return false
	}
	if leaf == nil {
		return true
	}
	next, ok := seasonAfter(*leaf, treated)
	return !ok || seen >= next.From
}

// MayFell reports whether the answer lets the stem be felled on a day.
func (f Felling) MayFell(day civil.Date) bool {
	return f.From.Known() && day >= f.From && (!f.Until.Known() || day <= f.Until)
}

// lastIn is the last day in a row of a window that holds a day; no date if it holds
// every day of a year.
func lastIn(w civil.Window, day civil.Date) civil.Date {
	for n := 1; n <= 366; n++ {
		if !w.Holds(day.AddDays(n)) {
			return day.AddDays(n - 1)
		}
	}
	return 0
}
