package campaign

import (
	"cmp"
	"fmt"
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/campaign/after"
)

// State is how far the campaign on a site is.
type State uint8

// The states, in the order in which a campaign goes through them; from Watched it may
// fall back.
const (
	ToSurvey  State = iota + 1 // no stem is known
	ToPlan                     // stems are known that no plan treats
	ToTreat                    // planned work is due, now or later in the season
	Waiting                    // treated; the herbicide is on its way to the roots
	ToFell                     // dead stems may be felled
	ToInspect                  // it has to be looked at, now or in the coming growing season
	ToRetreat                  // something alive was found that no plan treats
	Watched                    // nothing was found; clean seasons are counted
	Finished                   // the wanted number of clean seasons is reached
)

var stateWords = [...]string{"", "to survey", "to plan", "to treat", "waiting", "to fell", "to inspect", "to retreat", "watched", "finished"}

// String gives the state in words.
func (s State) String() string { return stateWords[s] }

// Step is something that is due.
type Step struct {
	What        string
	Work        string     // that it carries out; empty for any other
	From, Until civil.Date // no Until: it does not end; no From: nobody can tell
	Why         string
}

// RowFelling is when a treated row may be felled.
type RowFelling struct {
	ID string
	after.Felling
}

// Standing is how a site stands on a day.
type Standing struct {
	State       State
	Steps       []Step // by their first day
	NotFinished []string
	Finish      after.Finish
	Felling     []RowFelling          // of each row that was treated, by id
	Area        after.Area            // where to look
	Due         []string              // ids of live rows that were not treated since they were seen, sorted
	Cut         map[string]civil.Date // those of them that were felled since they were seen, and when: no stem stands
	Unplanned   []string              // those of them that stand, that no work which is still open treats, and that surely live
	Planned     map[string]*Work      // by id, those of them that stand, and that work treats which is still open
}

// On works out how the site stands on a day. What lies after the day is not known yet.
func (s *Site) On(day civil.Date) *Standing {
	f := s.fold(day)
	st := &Standing{Felling: f.fellings(), Area: f.area(), Due: f.due}
	st.Finish = after.Finished(f.history(st.Area), day)
	st.State = f.state(st)
	st.Cut, st.Unplanned, st.Planned = f.cut, f.unplanned, f.open
	slices.SortStableFunc(f.steps, func(a, b Step) int {
		return cmp.Or(cmp.Compare(later(a.From), later(b.From)), cmp.Compare(a.Work, b.Work))
	})
	st.Steps = f.steps
	if st.State != Finished {
		st.NotFinished = append(f.reasons, st.Finish.WhyNot...)
	}
	return st
}

// later puts what has no day behind everything else.
func later(d civil.Date) int64 {
	if !d.Known() {
		return 1 << 40
	}
	return int64(d)
}

// fold is what is known of a site by a day.
type fold struct {
	*Site
	day       civil.Date
	survey    *Survey                 // the last full one
	sampled   bool                    // plots were taken, and stand for no stem
	rows      map[string]Row          // of surveys and finds, by id, as they were seen last
	treated   map[string][]civil.Date // systemic uses, by row; no date: not known
	worked    map[string][]civil.Date // any use
	felled    map[string]civil.Date   // the last day
	due       []string
	cut       map[string]civil.Date // of due
	unplanned []string              // of due
	open      map[string]*Work      // for rows of due
	steps     []Step
	reasons   []string // why it is not finished, beside what the seasons say
}

func (s *Site) fold(day civil.Date) *fold {
	f := &fold{Site: s, day: day, rows: map[string]Row{}, treated: map[string][]civil.Date{}, worked: map[string][]civil.Date{}, felled: map[string]civil.Date{}, cut: map[string]civil.Date{}, open: map[string]*Work{}}
	for i := range s.Surveys {
		v := &s.Surveys[i]
		switch {
		case v.On > day:
		case v.Sampled:
			f.sampled = true
		default:
			f.survey = v
			f.see(v.Rows)
		}
	}
	for i := range s.Visits {
		if v := &s.Visits[i]; v.On <= day {
			f.see(v.Finds)
			for _, id := range v.Felled {
				f.felled[id] = max(f.felled[id], v.On)
			}
		}
	}
	for i := range s.Uses {
		if u := &s.Uses[i]; u.On <= day {
			f.use(u)
		}
	}
	f.due = f.dueRows()
	return f
}

// see notes rows. A find without a place of its own keeps that of the survey.
func (f *fold) see(rows []Row) {
	for _, r := range rows {
		if known, ok := f.rows[r.ID]; ok {
			if r.Ground.At == nil && len(r.Ground.Outline) == 0 {
				r.Ground = known.Ground
			}
			r.Suckering = max(r.Suckering, known.Suckering)
		}
		f.rows[r.ID] = r
	}
}

func (f *fold) use(u *Use) {
	for _, id := range u.Rows {
		f.worked[id] = append(f.worked[id], u.On)
		if u.Systemic {
			f.treated[id] = append(f.treated[id], u.On)
		}
	}
}

// dueRows lists what lives and was not treated since it was seen: rows of the last full
// survey, and finds since. What was treated on a day that is not known stays due.
func (f *fold) dueRows() []string {
	if f.survey == nil {
		return nil
	}
	seen := map[string]civil.Date{}
	for _, r := range f.survey.Rows {
		seen[r.ID] = f.survey.On
	}
	for _, v := range f.Visits {
		if v.On < f.survey.On || v.On > f.day {
			continue
		}
		for _, r := range v.Finds {
			if r.Kind.Alive() {
				seen[r.ID] = v.On
			} else {
				delete(seen, r.ID)
			}
		}
	}
	var due []string
	for id, on := range seen {
		if !slices.ContainsFunc(f.worked[id], func(d civil.Date) bool { return d.Known() && d >= on }) {
			due = append(due, id)
			if f.felled[id] >= on { // of one day nobody can say which was first
				f.cut[id] = f.felled[id]
			}
		}
	}
	slices.Sort(due)
	return due
}

// history is what the clean seasons are counted from. A survey that finds something
// after the first use is a find, too.
func (f *fold) history(area after.Area) *after.History {
	h := &after.History{Area: area, Demand: f.Demand, Wanted: f.Wanted}
	for _, u := range f.Uses {
		if u.On <= f.day {
			h.Treated = append(h.Treated, u.On)
		}
	}
	for _, v := range f.Visits {
		if v.Looked && v.On <= f.day {
			h.Visits = append(h.Visits, after.Visit{ID: v.ID, On: v.On, Minutes: v.Minutes, Walked: v.Walked, Finds: finds(v.Finds)})
		}
	}
	for _, v := range f.Surveys {
		if len(v.Rows) > 0 && v.On <= f.day && f.usedBefore(v.On) {
			h.Visits = append(h.Visits, after.Visit{ID: v.ID, On: v.On, Finds: finds(v.Rows)})
		}
	}
	return h
}

func (f *fold) usedBefore(day civil.Date) bool {
	return slices.ContainsFunc(f.Uses, func(u Use) bool { return u.On < day })
}

func finds(rows []Row) []after.Find {
	list := make([]after.Find, len(rows))
	for i, r := range rows {
		list[i] = after.Find{ID: r.ID, Kind: r.Kind, Stems: 1}
	}
	return list
}

// area is the ground within reach of everything that was ever treated.
func (f *fold) area() after.Area {
	var grounds []after.Ground
	for id := range f.worked {
		r, known := f.rows[id]
		if !known {
			r.Ground.ID = id // without a position
		}
		grounds = append(grounds, r.Ground)
	}
	slices.SortFunc(grounds, func(a, b after.Ground) int { return cmp.Compare(a.ID, b.ID) })
	return after.InspectionArea(grounds, f.SuckerReach)
}

// fellings tells of each treated row that stands when it may be felled.
func (f *fold) fellings() []RowFelling {
	var list []RowFelling
	for id := range f.treated {
		if _, felled := f.felled[id]; !felled {
			list = append(list, RowFelling{id, f.felling(id)})
		}
	}
	slices.SortFunc(list, func(a, b RowFelling) int { return cmp.Compare(a.ID, b.ID) })
	return list
}

func (f *fold) felling(id string) after.Felling {
	stem := after.Stem{ID: id, Suckering: f.rows[id].Suckering, Treated: f.treated[id]}
	for _, v := range f.Visits {
		if v.On > f.day {
			continue
		}
		for _, r := range v.Finds {
			if r.ID == id && r.Kind.Alive() {
				stem.SeenAlive = max(stem.SeenAlive, v.On)
			}
		}
	}
	return after.Fell(&stem, &f.Felling, f.day)
}

// planned finds the last work for a row that no use has carried out; nil if there is none.
// What was planned for a stem that has been felled since is not for its sprouts.
func (f *fold) planned(id string) *Work {
	for i := len(f.Works) - 1; i >= 0; i-- {
		w := &f.Works[i]
		if w.PlannedOn <= f.day.AddDays(366) && slices.Contains(w.Rows, id) && !f.carriedOut(w, id) && (!f.felled[id].Known() || f.felled[id] < w.PlannedOn) {
			return w
		}
	}
	return nil
}

func (f *fold) carriedOut(w *Work, id string) bool {
	return slices.ContainsFunc(f.Uses, func(u Use) bool { return u.On <= f.day && u.Work == w.ID && slices.Contains(u.Rows, id) })
}

// state decides, and notes the steps and the reasons on the way.
func (f *fold) state(st *Standing) State {
	if f.survey == nil {
		return f.unsurveyed()
	}
	f.stepsAfter(st)
	if len(f.due) > 0 {
		return f.dueState()
	}
	if len(f.worked) == 0 {
		f.note("nothing has been treated: a site is finished by treatment and clean seasons, not by an empty survey")
		return ToInspect
	}
	return f.treatedState(st)
}

func (f *fold) unsurveyed() State {
	why := "no stem of the site is known"
	if f.sampled {
		why = "plots tell how much there is, and not which stems: work is planned from a full inventory"
	}
	f.step(Step{What: "survey every stem", From: f.day, Why: why})
	f.note("%s", why)
	return ToSurvey
}

func (f *fold) step(s Step) { f.steps = append(f.steps, s) }

func (f *fold) note(format string, args ...any) {
	f.reasons = append(f.reasons, fmt.Sprintf(format, args...))
}

// dueState says what is to be done about live rows: planned work first.
func (f *fold) dueState() State {
	works := map[*Work]int{}
	var order []*Work
	unplanned, missed, unsure := 0, 0, 0
	for _, id := range f.due {
		w := f.planned(id)
		switch {
		case f.cut[id].Known():
		case f.rows[id].Kind == after.Doubtful:
			unsure++
		case w == nil:
			unplanned++
			f.unplanned = append(f.unplanned, id)
		case w.Until.Known() && f.day > w.Until:
			missed++
			f.unplanned = append(f.unplanned, id)
		default:
			if works[w] == 0 {
				order = append(order, w)
			}
			works[w]++
			f.open[id] = w
		}
	}
	if unsure > 0 {
		f.note("of %s nobody can say whether %s", rows(unsure), one(unsure, "it lives", "they live"))
		f.step(Step{What: "look again at " + rows(unsure), From: f.day, Why: "nobody can say whether " + one(unsure, "it lives: see it", "they live: see them") + " in leaf"})
	}
	if n := len(f.cut); n > 0 {
		f.note("%s %s felled before a treatment, and nobody has looked since", rows(n), one(n, "was", "were"))
		f.step(Step{What: "survey the sprouts of " + rows(n) + ", and plan anew", From: f.day, Why: one(n, "it was", "they were") + " felled before a treatment: no stem stands to be treated, and the roots send up suckers"})
	}
	if n := len(f.due) - unsure - len(f.cut); n > 0 {
		f.note("%d live %s to be treated", n, one(n, "row is", "rows are"))
	}
	for _, w := range order {
		f.step(Step{What: fmt.Sprintf("treat %s, %s", rows(works[w]), w.ID), Work: w.ID, From: w.From, Until: w.Until, Why: "planned, and not on record"})
	}
	if missed > 0 {
		f.step(Step{What: fmt.Sprintf("plan %s anew", rows(missed)), From: f.day, Why: one(missed, "its", "their") + " time by the plan has passed without a record"})
	}
	if unplanned > 0 {
		f.step(Step{What: "plan " + rows(unplanned), From: f.day, Why: "no plan treats " + one(unplanned, "it", "them")})
	}
	switch {
	case unsure+len(f.cut) == len(f.due):
		return ToInspect
	case len(order) > 0:
		return ToTreat
	case len(f.worked) > 0:
		return ToRetreat
	}
	return ToPlan
}

// one picks the words for one thing, or those for any other number.
func one(n int, single, several string) string {
	if n == 1 {
		return single
	}
	return several
}

func rows(n int) string { return rules.Several(n, "row") }

// stepsAfter notes felling and inspection.
func (f *fold) stepsAfter(st *Standing) {
	if f.ToBeFelled == rules.Yes {
		f.fellingSteps(st)
	}
	if next := st.Finish.Next; next.From.Known() && !st.Finish.Finished {
		why := "suckers and survivors show in the growing season that follows on treatment"
		if unknown := st.Area.Unknown(); unknown != "" {
			why += "; " + unknown
		}
		f.step(Step{What: "inspect", From: max(next.From, f.day), Until: next.Until, Why: why})
	}
}

// fellingSteps gathers the rows that may be felled from the same day on.
func (f *fold) fellingSteps(st *Standing) {
	type opening struct{ from, until civil.Date }
	count := map[opening]int{}
	why := map[opening]string{}
	for _, r := range st.Felling {
		if r.From.Known() && !slices.Contains(f.due, r.ID) {
			count[opening{r.From, r.Until}]++
			why[opening{r.From, r.Until}] = r.Why
		}
	}
	for o, n := range count {
		f.step(Step{What: "fell " + rows(n), From: o.from, Until: o.until, Why: why[o]})
	}
}

// treatedState is for a site on which everything that lives was treated.
func (f *fold) treatedState(st *Standing) State {
	if st.Finish.Finished {
		f.steps = nil
		return Finished
	}
	var last civil.Date
	for _, u := range f.Uses {
		if u.On <= f.day && u.Systemic {
			last = max(last, u.On)
		}
	}
	if last.Known() && f.day < last.AddDays(max(f.Felling.Wait, after.DaysToFelling)) {
		return Waiting
	}
	if f.ToBeFelled == rules.Yes && slices.ContainsFunc(st.Felling, func(r RowFelling) bool { return r.MayFell(f.day) }) {
		return ToFell
	}
	if n := len(st.Finish.Seasons); n > 0 && (st.Finish.Clean > 0 || st.Finish.Seasons[n-1].Looked) {
		return Watched
	}
	return ToInspect
}
