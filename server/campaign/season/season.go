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
	for i := range misfits {
		s.mend(&misfits[i])
	}
	return shifts, misfits
}

// book is what has been given away.
type book struct {
	*Season
	used   map[crewDay]Minutes
	closed map[string][]closure // by site
	shifts []Shift
}

type crewDay struct {
	crew int
	day  civil.Date
}

// closure is days on which only one job may be worked on at a site.
type closure struct {
	job         string
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
	left, stems, days := j.Work, j.Stems, 0
	first := max(j.From, b.Today.AddDays(j.Notice))
	last := j.From.AddDays(ahead)
	if j.Until.Known() {
		last = min(last, j.Until)
	}
	day := first
	for ; day <= last && left > 0; day++ {
		before := left
		for c := range b.Crews {
			left, stems = b.shift(j, c, day, left, stems)
		}
		if left < before {
			days++
		}
	}
	if left > 0 {
		return &Misfit{Job: j.ID, Work: left, Stems: stems, Why: b.whyNot(j, first, last)}
	}
	if missing := b.keepSpare(j, day, last, days); missing > 0 {
		return &Misfit{Job: j.ID, Why: fmt.Sprintf("all of it fits, but %d of the days that rain may take do not, before %s", missing, last.AddDays(1))}
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
	if !crew.works(day) || !crew.may(j.Method) || b.isClosed(j, day) {
		return 0
	}
	return crew.Day*Minutes(crew.People) - b.used[crewDay{c, day}]
}

// isClosed reports whether other work keeps a job from a site: it was done too shortly
// before, or the job would keep out what is planned already.
func (b *book) isClosed(j *Job, day civil.Date) bool {
	return slices.ContainsFunc(b.closed[j.Site], func(c closure) bool {
		return c.job != j.ID && day <= c.until && day.AddDays(j.EntryDays) >= c.from
	})
}

func (b *book) book(j *Job, c int, s Shift) {
	b.used[crewDay{c, s.Day}] += s.Work
	b.closed[j.Site] = append(b.closed[j.Site], closure{j.ID, s.Day, s.Day.AddDays(j.EntryDays)})
	b.shifts = append(b.shifts, s)
}

// keepSpare keeps whole days free behind a job, and gives how many there are too few.
func (b *book) keepSpare(j *Job, from, last civil.Date, days int) int {
	spare := (days*b.Rain + 99 - b.Rain) / (100 - b.Rain)
	for day := from; day <= last && spare > 0; day++ {
		for c := range b.Crews {
			crew := &b.Crews[c]
			whole := crew.Day * Minutes(crew.People)
			if b.free(j, c, day) == whole && whole > 0 {
				b.book(j, c, Shift{Day: day, Crew: crew.ID, Job: j.ID, Work: whole, Spare: true})
				spare--
				break
			}
		}
	}
	return spare
}

// whyNot says what leaves no room for a job.
func (b *book) whyNot(j *Job, first, last civil.Date) string {
	switch {
	case first > last && j.Notice > 0:
		return fmt.Sprintf("notice has to be given %d days before, which is after the window closes on %s", j.Notice, last)
	case first > last:
		return fmt.Sprintf("its window closes on %s", last)
	case !slices.ContainsFunc(b.Crews, func(c Crew) bool { return c.may(j.Method) }):
		return fmt.Sprintf("no crew may do %s", j.Method)
	}
	return fmt.Sprintf("the crews have no more time between %s and %s", first, last)
}
