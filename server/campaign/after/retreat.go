package after

import (
	"fmt"
	"slices"
	"strings"

	"example.org/rootward/rules/civil"
)

// Act is what is due of a find.
type Act uint8

// Acts.
const (
	TreatAgain  Act = iota + 1 // have it prescribed anew, and treat it
	LookAtAgain                // see in leaf whether it lives
)

var actWords = [...]string{"", "treat again", "look again"}

// String gives the act in words.
func (a Act) String() string { return actWords[a] }

// Due is a find that something is to be done about.
type Due struct {
	Find
	Visit   string
	FoundOn civil.Date
	Act     Act
	From    civil.Date // first day of the opening; no date: not known, do not treat
	Until   civil.Date // last day of it; no date: it does not close
	Why     string
}

var kindReasons = [...]string{
	StumpSprout: "sprouts from a stump feed its roots",
	RootSucker:  "a sucker lives on a root that is not dead",
	Survivor:    "treated, and alive: ask why before it is treated again",
	MissedStem:  "overlooked when the others were treated",
	Seedling:    "a new tree from seed",
	Doubtful:    "nobody can say whether it lives: look at it in leaf",
}

// Openings are the windows of the year in which things may be done at the place. They
// may be several that must all be open; none: not known.
type Openings struct {
	Treat []civil.Window
	Leaf  civil.Window
}

// Retreatments gives what is due of the finds of all visits up to a day, by the day of
// its opening, its visit and its id. What was treated on or after the day it was found
// is settled; a find without an id cannot be told from others and stays due. Of several
// finds of one id those of the latest day count; what was then found dead is settled. Each is to be
// prescribed anew on its day: this list allows nothing.
func Retreatments(visits []Visit, treated map[string][]civil.Date, o *Openings, on civil.Date) []Due {
	var list []Due
	for _, f := range lastFinds(visits, on) {
		if !f.Kind.Alive() || f.settled(treated) {
			continue
		}
		list = append(list, f.due(o, on))
	}
	slices.SortStableFunc(list, func(a, b Due) int {
		switch {
		case a.From != b.From:
			return int(a.From - b.From)
		case a.Visit != b.Visit:
			return strings.Compare(a.Visit, b.Visit)
		}
		return strings.Compare(a.ID+a.Kind.String(), b.ID+b.Kind.String())
	})
	return list
}

// lastFinds gives the finds up to a day, of each id those of its latest day alone. What
// was found without a day may be later than all, and stays.
func lastFinds(visits []Visit, on civil.Date) []Due {
	latest := map[string]civil.Date{}
	var list []Due
	for i := range visits {
		v := &visits[i]
		if v.On > on {
			continue
		}
		for _, f := range v.Finds {
			list = append(list, Due{Find: f, Visit: v.ID, FoundOn: v.On})
			latest[f.ID] = max(latest[f.ID], v.On)
		}
	}
	return slices.DeleteFunc(list, func(d Due) bool {
		return d.ID != "" && d.FoundOn.Known() && d.FoundOn < latest[d.ID]
	})
}

func (d *Due) settled(treated map[string][]civil.Date) bool {
	if d.ID == "" || !d.FoundOn.Known() {
		return false
	}
	return slices.ContainsFunc(treated[d.ID], func(day civil.Date) bool { return day >= d.FoundOn })
}

// due opens a find's next window, from the day asked on.
func (d Due) due(o *Openings, on civil.Date) Due {
	d.Act, d.Why = TreatAgain, "what was found is not stated: find out what it is"
	if d.Kind > 0 && d.Kind <= Doubtful {
		d.Why = kindReasons[d.Kind]
	}
	windows := o.Treat
	if d.Kind == Doubtful {
		d.Act, windows = LookAtAgain, []civil.Window{o.Leaf}
	}
	valid := len(windows) > 0 && !slices.ContainsFunc(windows, func(w civil.Window) bool { return !w.Valid() })
	from, opens := civil.Next(max(on, d.FoundOn), windows)
	if !valid || !opens {
		d.Why += "; no window is known: do not treat until the rules of the place tell one"
		return d
	}
	d.From = from
	for n := 1; n <= 366; n++ {
		if !civil.AllHold(windows, from.AddDays(n)) {
			d.Until = from.AddDays(n - 1)
			break
		}
	}
	if d.missed(windows, on) {
		d.Why += fmt.Sprintf("; a window has passed unused since it was found on %s", d.FoundOn)
	}
	return d
}

// missed reports whether a window has closed between the find and the day asked.
func (d *Due) missed(windows []civil.Window, on civil.Date) bool {
	if !d.FoundOn.Known() {
		return false
	}
	first, ok := civil.Next(d.FoundOn, windows)
	if !ok || first >= on {
		return false
	}
	for day := first; day < on && day < first+366; day++ {
		if !civil.AllHold(windows, day) {
			return true
		}
	}
	return false
}
