package after

import (
	"fmt"
	"math"

	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// Kind is what was found at a visit.
type Kind uint8

// Kinds of finds.
const (
	StumpSprout Kind = iota + 1 // shoots from a stump
	RootSucker                  // a shoot from a root
	Survivor                    // a treated stem that lives
	MissedStem                  // a stem that was overlooked when others were treated
	Seedling                    // a tree from seed
	Doubtful                    // a treated stem of which nobody can say whether it lives
	Dead                        // a treated stem without life in it
)

var kindWords = [...]string{"not stated", "stump sprout", "root sucker", "survivor", "missed stem", "seedling", "doubtful", "dead"}

// String gives the kind in words.
func (k Kind) String() string {
	if int(k) < len(kindWords) {
		return kindWords[k]
	}
	return fmt.Sprintf("kind %d", k)
}

// Alive reports whether something lives, or may: all but what is dead for sure.
func (k Kind) Alive() bool { return k != Dead }

// Find is what was found: some stems of a kind.
type Find struct {
	ID    string // of the stem or the row; empty: it has none yet
	Kind  Kind
	Stems int64 // not known (0) is at least one
}

// Visit is a look at a site.
type Visit struct {
	ID      string
	On      civil.Date
	Minutes int64               // of searching, summed over the persons; 0: not stated
	Walked  quantity.PerMillion // share of the inspection area that was walked; 0: not stated
	Finds   []Find
}

// alive reports whether something was found that lives or may live.
func (v *Visit) alive() bool {
	for i := range v.Finds {
		if v.Finds[i].Kind.Alive() {
			return true
		}
	}
	return false
}

// Demand is what makes a visit a look.
type Demand struct {
	Leaf              civil.Window        // the part of the year in leaf; not valid: not known
	MinutesPerHectare int64               // of one person; 0: DefaultMinutesPerHectare
	Walked            quantity.PerMillion // least share of the area; 0: all of it
}

// DefaultMinutesPerHectare is the search effort asked where nobody stated another: one
// person in lanes 5 m apart at 2 km/h, a slow walk (common practice, no source).
const DefaultMinutesPerHectare = 60

const whole quantity.PerMillion = 1_000_000

// Look is what a visit amounts to.
type Look uint8

// What a visit may amount to, from the least to the most that is known.
const (
	NotLooked Look = iota + 1 // nobody searched
	TooLittle                 // searched too little, out of leaf, or an area that is not known
	Clean                     // searched enough, and nothing alive was found
	Found                     // something alive was found, however little was searched
)

var lookWords = [...]string{"", "not looked", "not enough looked", "clean", "found"}

// String gives the word.
func (l Look) String() string { return lookWords[l] }

// Judge says what a visit amounts to, and all that it lacks to have looked. A find is
// a find, however little was searched; that nothing was found counts only where the
// area is known and was walked, in leaf, with the minutes asked.
func Judge(v *Visit, area *Area, d *Demand) (Look, []string) {
	lacks := lacking(v, area, d)
	switch {
	case v.alive():
		return Found, lacks
	case v.Minutes <= 0 && v.Walked <= 0:
		return NotLooked, lacks
	case len(lacks) > 0:
		return TooLittle, lacks
	}
	return Clean, nil
}

func lacking(v *Visit, area *Area, d *Demand) []string {
	var list []string
	lack := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	switch {
	case !v.On.Known():
		lack("its day is not known: state it")
	case !d.Leaf.Valid():
		lack("no rule tells the growing season here: state the rule set of the place")
	case !d.Leaf.Holds(v.On):
		lack("%s is out of leaf: look from %s", v.On, d.Leaf)
	}
	if share := d.share(); v.Walked <= 0 {
		lack("the share of the inspection area that was walked is not stated: state it")
	} else if v.Walked < share || v.Walked > whole {
		lack("walked %g %% of the inspection area, of at least %g %%: walk the rest", v.Walked.Percent(), share.Percent())
	}
	minutes, known := d.MinutesFor(area)
	switch {
	case !known:
		lack("%s", area.Unknown())
	case v.Minutes <= 0:
		lack("the minutes of searching are not stated: state them")
	case v.Minutes < minutes:
		lack("searched %d minutes, of at least %d for %.2g ha: search longer", v.Minutes, minutes, area.Size.SquareMetres()/10_000)
	}
	return list
}

func (d *Demand) share() quantity.PerMillion {
	if d.Walked <= 0 {
		return whole
	}
	return d.Walked
}

// MinutesFor is how long an area is to be searched, rounded up, and false where the
// area is not known.
func (d *Demand) MinutesFor(area *Area) (int64, bool) {
	if !area.Known() {
		return 0, false
	}
	per := d.MinutesPerHectare
	if per <= 0 {
		per = DefaultMinutesPerHectare
	}
	minutes := math.Ceil(float64(per) * float64(area.Size) / float64(quantity.Hectare))
	return int64(min(max(minutes, 1), math.MaxInt64/2)), true
}
