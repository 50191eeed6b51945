package season

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// Minutes is working time of one person.
type Minutes int64

// Hours gives the number of hours.
func (m Minutes) Hours() float64 { return float64(m) / 60 }

// Job is one treatment of the stems of one site.
type Job struct {
	ID, Site    string
	Method      rules.Method
	Stems       int64
	Work        Minutes
	From, Until civil.Date // no Until: it does not close
	Notice      int        // days that somebody has to be told before
	EntryDays   int        // for which nobody else may work on the site, after each day of work
}

// Crew is people who work together.
type Crew struct {
	ID          string
	People      int64
	Day         Minutes // of one person
	Weekdays    [7]bool // by time.Weekday
	Off         []civil.Date
	From, Until civil.Date // no date: not limited
	Methods     []rules.Method
	Cost        float64 // of an hour of one person; 0: not stated
}

// works reports whether a crew is there on a day.
func (c *Crew) works(day civil.Date) bool {
	return c.Weekdays[weekday(day)] && !slices.Contains(c.Off, day) &&
		(!c.From.Known() || day >= c.From) && (!c.Until.Known() || day <= c.Until)
}

func (c *Crew) may(m rules.Method) bool { return len(c.Methods) == 0 || slices.Contains(c.Methods, m) }

func weekday(day civil.Date) time.Weekday {
	year, month, d := day.Parts()
	return time.Date(year, month, d, 0, 0, 0, 0, time.UTC).Weekday()
}

// Shift is one crew's day on one job.
type Shift struct {
	Day   civil.Date
	Crew  string
	Job   string
	Work  Minutes
	Stems int64
	Spare bool // kept free for what rain has put off
}

// Misfit is work that no day was found for.
type Misfit struct {
	Job    string
	Work   Minutes
	Stems  int64
	Why    string
	Change string   // the cheapest that makes the job fit; empty: none of those tried
	Cost   *float64 // of the change; nil: not priced
}

// Season is the work to be planned.
type Season struct {
	Today civil.Date // notices are given from this day on
	Jobs  []Job      // in the order in which they are done
	Crews []Crew
	Rain  int // share of days that rain takes, in percent, below 100
}

// ahead is how far work is planned from the day on which a job opens.
const ahead = 366

// Plan puts the work into days, by day, crew and job.
func (s *Season) Plan() ([]Shift, []Misfit) {
	shifts, misfits := s.plan()
	m := &mending{Season: s, shifts: shifts, misfits: slices.Clone(misfits), left: s.tries()}
	for i := range misfits {
		m.mend(&misfits[i])
	}
	return shifts, misfits
}

// book is what has been given away.
type book struct {
	*Season
	used   map[crewDay]Minutes
	closed map[string][]closure // by site
	shifts []Shift
	spares []spare
}

// spare is a day that is kept free, with the work that it may still stand in for.
type spare struct {
	crewDay
	covers Minutes
}

type crewDay struct {
	crew int
	day  civil.Date
}

// closure is days on which a job keeps others from a site. The crew itself goes on to
// another job on the same day, away from what it has treated.
type closure struct {
	job         string
	crew        int
	from, until civil.Date
}

func (s *Season) plan() ([]Shift, []Misfit) {
	b := &book{Season: s, used: map[crewDay]Minutes{}, closed: map[string][]closure{}}
	var misfits []Misfit
	for i := range s.Jobs {
		if m := b.put(&s.Jobs[i]); m != nil {
			misfits = append(misfits, *m)
		}
	}
	slices.SortStableFunc(b.shifts, func(x, y Shift) int {
		return cmp.Or(cmp.Compare(x.Day, y.Day), cmp.Compare(x.Crew, y.Crew))
	})
	return b.shifts, misfits
}

// put gives a job its days, and then those that rain may take.
func (b *book) put(j *Job) *Misfit {
	left, stems := j.Work, j.Stems
	if left <= 0 {
		return &Misfit{Job: j.ID, Stems: stems, Why: "it has no working time, and so no day: nobody can say how long it takes"}
	}
	first := max(j.From, b.Today.AddDays(j.Notice))
	last := j.From.AddDays(ahead)
	if j.Until.Known() {
		last = min(last, j.Until)
	}
	day := first
	for ; day <= last && left > 0; day++ {
		for c := range b.Crews {
			left, stems = b.shift(j, c, day, left, stems)
		}
	}
	if left > 0 {
		return &Misfit{Job: j.ID, Work: left, Stems: stems, Why: b.whyNot(j, first, last)}
	}
	if missing := b.keepSpare(j, day, last); missing > 0 {
		return &Misfit{Job: j.ID, Why: fmt.Sprintf("all of it fits, but after it no days are left before %s for what rain may put off", last.AddDays(1))}
	}
	return nil
}

// shift gives a crew a day's work of a job, as far as both go.
func (b *book) shift(j *Job, c int, day civil.Date, left Minutes, stems int64) (Minutes, int64) {
	free := b.free(j, c, day)
	if free <= 0 || left <= 0 {
		return left, stems
	}
	work := min(free, left)
	n := stems
	if work < left {
		n = stems * int64(work) / int64(left) // rounded down: the rest comes later
	}
	b.book(j, c, Shift{Day: day, Crew: b.Crews[c].ID, Job: j.ID, Work: work, Stems: n})
	return left - work, stems - n
}

// free is the time that a crew has for a job on a day.
func (b *book) free(j *Job, c int, day civil.Date) Minutes {
	crew := &b.Crews[c]
	if !crew.works(day) || !crew.may(j.Method) || b.isClosed(j, c, day) {
		return 0
	}
	return crew.Day*Minutes(crew.People) - b.used[crewDay{c, day}]
}

// isClosed reports whether other work keeps a job from a site: it was done too shortly
// before, or the job would keep out what is planned already.
func (b *book) isClosed(j *Job, crew int, day civil.Date) bool {
	return slices.ContainsFunc(b.closed[j.Site], func(c closure) bool {
		goesOn := c.crew == crew && c.from == day
		return c.job != j.ID && !goesOn && day <= c.until && day.AddDays(j.EntryDays) >= c.from
	})
}

func (b *book) book(j *Job, c int, s Shift) {
	b.used[crewDay{c, s.Day}] += s.Work
	b.shifts = append(b.shifts, s)
	if !s.Spare { // a spare day that is used is planned anew
		b.closed[j.Site] = append(b.closed[j.Site], closure{j.ID, c, s.Day, s.Day.AddDays(j.EntryDays)})
	}
}

// keepSpare keeps whole days free behind a job, or shares those that are kept for others,
// and gives the work that none stands in for. Of a hundred days rain takes so many; each
// spare day stands in for the work of the others.
func (b *book) keepSpare(j *Job, from, last civil.Date) Minutes {
	left := j.Work
	if b.Rain <= 0 {
		return 0
	}
	for i := range b.spares {
		s := &b.spares[i]
		if left > 0 && s.day >= from && s.day <= last && s.covers > 0 && b.Crews[s.crew].may(j.Method) && !b.isClosed(j, s.crew, s.day) {
			left -= b.cover(j, s, left, 0)
		}
	}
	for day := from; day <= last && left > 0; day++ {
		for c := range b.Crews {
			crew := &b.Crews[c]
			whole := crew.Day * Minutes(crew.People)
			if left > 0 && b.free(j, c, day) == whole && whole > 0 {
				b.spares = append(b.spares, spare{crewDay{c, day}, whole * Minutes(100-b.Rain) / Minutes(b.Rain)})
				left -= b.cover(j, &b.spares[len(b.spares)-1], left, whole)
			}
		}
	}
	return max(0, left)
}

// cover has a spare day stand in for work of a job. Its time is booked once.
func (b *book) cover(j *Job, s *spare, work, time Minutes) Minutes {
	n := min(work, s.covers)
	s.covers -= n
	b.book(j, s.crew, Shift{Day: s.day, Crew: b.Crews[s.crew].ID, Job: j.ID, Work: time, Spare: true})
	return n
}

// whyNot says what leaves no room for a job.
func (b *book) whyNot(j *Job, first, last civil.Date) string {
	switch {
	case first > last && j.Notice > 0:
		return fmt.Sprintf("notice has to be given %s before, which is after the window closes on %s", rules.Several(j.Notice, "day"), last)
	case first > last:
		return fmt.Sprintf("its window closes on %s", last)
	case !slices.ContainsFunc(b.Crews, func(c Crew) bool { return c.may(j.Method) }):
		return fmt.Sprintf("no crew may do %s", j.Method)
	}
	return fmt.Sprintf("the crews have no more time between %s and %s", first, last)
}
