package after

import (
	"fmt"
	"slices"
	"strings"

	"example.org/rootward/rules/civil"
)

// DefaultCleanSeasons is how many growing seasons in a row are to be clean where nobody
// states another number (common practice, no source; the seed of tree-of-heaven is
// short-lived, from memory).
const DefaultCleanSeasons = 3

// SeasonState is what is known of one growing season.
type SeasonState uint8

// States of a season.
const (
	SeasonOpen      SeasonState = iota + 1 // it is not over yet
	SeasonNotLooked                        // over, and nobody looked
	SeasonTooLittle                        // over, and nobody looked enough
	SeasonClean                            // over, looked at, and nothing found
	SeasonTreated                          // something was treated in its year
	SeasonFound                            // something alive was found in its year
)

var seasonWords = [...]string{"", "open", "not looked", "not enough looked", "clean", "treated", "found"}

// String gives the state in words.
func (s SeasonState) String() string { return seasonWords[s] }

// SeasonRecord is a growing season with what became of it.
type SeasonRecord struct {
	GrowingSeason
	State  SeasonState
	Looked bool // a visit within it was enough and found nothing
	Why    string
	Visits []string // ids, by day
}

// History is what was done on a site.
type History struct {
	Treated []civil.Date // days of treatments, in any order; no date: not known
	Visits  []Visit      // in any order
	Area    Area         // where to look
	Demand  Demand
	Wanted  int // clean seasons in a row; less than 1: DefaultCleanSeasons
}

// Finish says whether a campaign may be called finished.
type Finish struct {
	Finished bool
	Clean    int // clean seasons in a row, up to the last that is over
	Wanted   int
	Seasons  []SeasonRecord // from the first treatment's year on
	// Next is the growing season in which to look next; none once finished, or where the
	// seasons are not known.
	Next   GrowingSeason
	WhyNot []string // all that is wanting; empty once finished
}

// Finished says whether enough growing seasons in a row were clean by a day. A season
// counts once it is over. Any treatment and any find of something alive starts the
// count anew. So does a season that nobody looked at: what grows unseen for a season
// feeds the roots, and may be browsed or mown before the next look, so seasons on both
// sides of a gap are not in a row.
func Finished(h *History, on civil.Date) Finish {
	f := Finish{Wanted: h.Wanted}
	if f.Wanted < 1 {
		f.Wanted = DefaultCleanSeasons
	}
	first, fault := h.start(on)
	if fault != "" {
		f.WhyNot = []string{fault}
		return f
	}
	f.Seasons = h.seasons(first, on)
	f.count()
	f.WhyNot = append(f.WhyNot, h.undated()...)
	f.Finished = f.Clean >= f.Wanted && len(f.WhyNot) == 0
	if f.Finished {
		return f
	}
	f.explain()
	f.Next = f.next(h.Demand.Leaf, on)
	return f
}

// start is the day of the first treatment, or what is wrong.
func (h *History) start(on civil.Date) (civil.Date, string) {
	switch {
	case !on.Known():
		return 0, "the day asked is not known: state it"
	case !h.Demand.Leaf.Valid():
		return 0, "no rule tells the growing season here: state the rule set of the place"
	case slices.ContainsFunc(h.Treated, func(d civil.Date) bool { return !d.Known() }):
		return 0, "the day of a treatment is not known: find it in the records"
	case len(h.Treated) == 0 || slices.Min(h.Treated) > on:
		return 0, "nothing has been treated yet"
	}
	return slices.Min(h.Treated), ""
}

// undated names finds whose day is not known: they may lie after everything else.
func (h *History) undated() []string {
	var list []string
	for i := range h.Visits {
		if v := &h.Visits[i]; !v.On.Known() && v.alive() {
			list = append(list, fmt.Sprintf("visit %s found something on a day that is not known: state its day", v.ID))
		}
	}
	slices.Sort(list)
	return list
}

// seasons judges each season, from the one in whose year the first treatment lies.
func (h *History) seasons(first, on civil.Date) []SeasonRecord {
	all := Seasons(h.Demand.Leaf, first.AddDays(-366), on)
	for len(all) > 1 && all[1].From <= first {
		all = all[1:]
	}
	visits := slices.Clone(h.Visits)
	slices.SortStableFunc(visits, func(a, b Visit) int {
		if a.On != b.On {
			return int(a.On - b.On)
		}
		return strings.Compare(a.ID, b.ID)
	})
	list := make([]SeasonRecord, len(all))
	for i, s := range all {
		next := on + 1
		if i+1 < len(all) {
			next = all[i+1].From
		}
		list[i] = h.record(s, next, on, visits)
	}
	return list
}

// record judges one season by what happened from its first day to the next one's.
func (h *History) record(s GrowingSeason, next, on civil.Date, visits []Visit) SeasonRecord {
	r := SeasonRecord{GrowingSeason: s}
	var lacks []string
	found, searched := "", false
	for i := range visits {
		v := &visits[i]
		if v.On < s.From || v.On >= next || v.On > on {
			continue
		}
		r.Visits = append(r.Visits, v.ID)
		look, lack := Judge(v, &h.Area, &h.Demand)
		switch {
		case look == Found && found == "":
			found = fmt.Sprintf("visit %s of %s found something alive", v.ID, v.On)
		case look == Clean:
			r.Looked = true
		case look == TooLittle:
			searched = true
		}
		for _, l := range lack {
			lacks = append(lacks, fmt.Sprintf("visit %s: %s", v.ID, l))
		}
	}
	treated := slices.ContainsFunc(h.Treated, func(d civil.Date) bool { return d >= s.From && d < next && d <= on })
	switch {
	case found != "":
		r.State, r.Why = SeasonFound, found
	case treated:
		r.State, r.Why = SeasonTreated, "treated: counting begins with the next season"
	case on <= s.Until:
		r.State, r.Why = SeasonOpen, fmt.Sprintf("not over until %s", s.Until)
	case r.Looked:
		r.State = SeasonClean
	case searched:
		r.State, r.Why = SeasonTooLittle, strings.Join(lacks, "; ")
	default:
		r.State, r.Why = SeasonNotLooked, strings.Join(append([]string{"nobody looked"}, lacks...), "; ")
	}
	return r
}

// count counts the clean seasons in a row before the one that is not over yet.
func (f *Finish) count() {
	for _, s := range f.Seasons {
		switch s.State {
		case SeasonClean:
			f.Clean++
		case SeasonOpen: // says nothing yet
		default:
			f.Clean = 0
		}
	}
}

// explain says what is wanting: the count, and from the last treatment or find on each
// season that is not clean. That of the first treatment goes without saying.
func (f *Finish) explain() {
	if f.Clean < f.Wanted {
		f.WhyNot = append(f.WhyNot, fmt.Sprintf("%d of %d clean growing seasons in a row", f.Clean, f.Wanted))
	}
	from := 0
	for i, s := range f.Seasons {
		if s.State == SeasonTreated && i == 0 {
			from = 1
		} else if s.State == SeasonTreated || s.State == SeasonFound {
			from = i
		}
	}
	for _, s := range f.Seasons[from:] {
		if s.State != SeasonClean {
			f.WhyNot = append(f.WhyNot, fmt.Sprintf("season %s: %s: %s", s, s.State, s.Why))
		}
	}
}

// next is the growing season to look in: the one that is open and was not looked at
// enough, or the first that begins after the day.
func (f *Finish) next(leaf civil.Window, on civil.Date) GrowingSeason {
	if n := len(f.Seasons); n > 0 {
		if last := f.Seasons[n-1]; last.State == SeasonOpen && !last.Looked {
			return last.GrowingSeason
		}
	}
	s, _ := seasonAfter(leaf, on)
	return s
}

// LookAgain are the growing seasons two and five years after the last treatment: within
// them what is said to be dead is looked at once more (judgement from several sources).
func LookAgain(leaf civil.Window, lastTreated civil.Date) (from, until GrowingSeason, known bool) {
	next, ok := seasonAfter(leaf, lastTreated)
	if !ok {
		return from, until, false
	}
	year, _, _ := next.From.Parts()
	return seasonOf(leaf, year+1), seasonOf(leaf, year+4), true
}
