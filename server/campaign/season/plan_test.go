package season_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/campaign/season"
)

var monday = civil.Of(2026, 7, 20)

func crew(id string) season.Crew {
	c := season.Crew{ID: id, People: 2, Day: 6 * 60, Cost: 40}
	for day := time.Monday; day <= time.Friday; day++ {
		c.Weekdays[day] = true
	}
	return c
}

func job(id string, hours int) season.Job {
	return season.Job{ID: id, Site: "site", Method: rules.HackAndSquirt, Stems: int64(hours) * 10, Work: season.Minutes(hours) * 60, From: monday, Until: monday.AddDays(11)}
}

func days(shifts []season.Shift, job string, spare bool) (list []string) {
	for _, s := range shifts {
		if s.Job == job && s.Spare == spare {
			list = append(list, fmt.Sprintf("%s %s %g", s.Day, s.Crew, s.Work.Hours()))
		}
	}
	return list
}

func TestWorkIsPutIntoDays(t *testing.T) {
	s := season.Season{Today: monday.AddDays(-10), Crews: []season.Crew{crew("a")}, Jobs: []season.Job{job("first", 18), job("second", 4)}}
	shifts, misfits := s.Plan()
	assert.Empty(t, misfits)
	assert.Equal(t, []string{"2026-07-20 a 12", "2026-07-21 a 6"}, days(shifts, "first", false))
	assert.Equal(t, []string{"2026-07-21 a 4"}, days(shifts, "second", false), "the crew goes on at the site on the same day")

	s.Rain = 20
	shifts, misfits = s.Plan()
	assert.Empty(t, misfits)
	assert.Equal(t, []string{"2026-07-22 a 12"}, days(shifts, "first", true))
	assert.Equal(t, []string{"2026-07-22 a 0"}, days(shifts, "second", true), "a spare day stands in for both")

	s.Jobs[0].EntryDays, s.Crews = 1, append(s.Crews, crew("b"))
	s.Jobs[0].Work, s.Rain = 60, 0
	s.Crews[0].Off = []civil.Date{monday}
	s.Crews[0].Methods = []rules.Method{rules.HandPull}
	shifts, _ = s.Plan()
	assert.Equal(t, []string{"2026-07-20 b 1"}, days(shifts, "first", false), "a is off, and may not")
	s.Crews[0].Methods, s.Crews[1].Until = nil, monday
	s.Crews[1].Day = 30
	shifts, _ = s.Plan()
	assert.Equal(t, []string{"2026-07-20 b 1"}, days(shifts, "first", false))
	assert.Equal(t, []string{"2026-07-22 a 4"}, days(shifts, "second", false), "on the 21st the entry interval of the first closes the site to another crew")
}

func TestNoticeComesBeforeWork(t *testing.T) {
	s := season.Season{Today: monday, Crews: []season.Crew{crew("a")}, Jobs: []season.Job{job("told", 2)}}
	s.Jobs[0].Notice = 7 // as a paper's at least a week before (L45: Quebec, s. 63)
	shifts, _ := s.Plan()
	assert.Equal(t, []string{"2026-07-27 a 2"}, days(shifts, "told", false))
	s.Jobs[0].Notice = 15 // as of forest work in Oregon (L35)
	_, misfits := s.Plan()
	require.Len(t, misfits, 1)
	assert.Contains(t, misfits[0].Why, "notice has to be given 15 days before")
	assert.Empty(t, misfits[0].Change, "more people do not help")
}

func TestWhatDoesNotFitIsNamedWithTheCheapestChange(t *testing.T) {
	s := season.Season{Today: monday.AddDays(-10), Crews: []season.Crew{crew("a")}, Jobs: []season.Job{job("long", 126)}}
	_, misfits := s.Plan()
	require.Len(t, misfits, 1)
	assert.Equal(t, season.Minutes(126-10*12)*60, misfits[0].Work)
	assert.Equal(t, int64(60), misfits[0].Stems)
	assert.Contains(t, misfits[0].Why, "no more time between 2026-07-20 and 2026-07-31")
	assert.Equal(t, "crew a works on Saturdays, too", misfits[0].Change)
	require.NotNil(t, misfits[0].Cost)
	assert.InDelta(t, 6*40, *misfits[0].Cost, 1e-9, "six hours more, at 40")

	s.Jobs[0].Method = rules.CutStump
	s.Crews[0].Methods = []rules.Method{rules.HandPull}
	s.Jobs[0].Work = 600
	_, misfits = s.Plan()
	require.Len(t, misfits, 1)
	assert.Contains(t, misfits[0].Why, "no crew may do cut_stump")
	assert.Contains(t, misfits[0].Change, "let crew a do cut_stump, if it is certified for it")
}

// A job on no day is told, whatever keeps it from having one.
func TestWorkWithoutATimeIsNamed(t *testing.T) {
	s := season.Season{Today: monday, Crews: []season.Crew{crew("a")}, Jobs: []season.Job{job("none", 0)}}
	shifts, misfits := s.Plan()
	assert.Empty(t, shifts)
	require.Len(t, misfits, 1)
	assert.Contains(t, misfits[0].Why, "it has no working time")
}

// Whatever is planned keeps to windows, crews, notices and entry intervals, by a monitor
// that was written apart from the planner, and loses no work.
func TestPlansKeepToTheirBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := season.Season{Today: monday.AddDays(-rapid.IntRange(0, 20).Draw(t, "today")), Rain: rapid.SampledFrom([]int{0, 20, 50}).Draw(t, "rain")}
		for i := range rapid.IntRange(1, 3).Draw(t, "crews") {
			c := crew(fmt.Sprintf("c%d", i))
			c.People, c.Day = rapid.Int64Range(1, 4).Draw(t, "people"), season.Minutes(rapid.IntRange(60, 600).Draw(t, "day"))
			if rapid.Bool().Draw(t, "some") {
				c.Methods = []rules.Method{rules.HackAndSquirt}
			}
			c.Off = []civil.Date{monday.AddDays(rapid.IntRange(0, 10).Draw(t, "off"))}
			s.Crews = append(s.Crews, c)
		}
		for i := range rapid.IntRange(1, 6).Draw(t, "jobs") {
			j := job(fmt.Sprintf("j%d", i), rapid.IntRange(1, 60).Draw(t, "hours"))
			j.Site = rapid.SampledFrom([]string{"x", "y"}).Draw(t, "site")
			j.Method = rapid.SampledFrom([]rules.Method{rules.HackAndSquirt, rules.BasalBark}).Draw(t, "method")
			j.From = monday.AddDays(rapid.IntRange(0, 8).Draw(t, "from"))
			j.Until = j.From.AddDays(rapid.IntRange(0, 20).Draw(t, "until"))
			j.Notice, j.EntryDays = rapid.IntRange(0, 15).Draw(t, "notice"), rapid.IntRange(0, 2).Draw(t, "entry")
			s.Jobs = append(s.Jobs, j)
		}
		shifts, misfits := s.Plan()
		again, _ := s.Plan()
		if fmt.Sprint(shifts) != fmt.Sprint(again) {
			t.Fatal("twice the same gives two plans")
		}
		monitor(t, &s, shifts, misfits)
	})
}

func monitor(t *rapid.T, s *season.Season, shifts []season.Shift, misfits []season.Misfit) {
	jobs, crews := map[string]season.Job{}, map[string]season.Crew{}
	work, stems := map[string]season.Minutes{}, map[string]int64{}
	for _, j := range s.Jobs {
		jobs[j.ID] = j
	}
	for _, c := range s.Crews {
		crews[c.ID] = c
	}
	used := map[string]season.Minutes{}
	for _, one := range shifts {
		j, c := jobs[one.Job], crews[one.Crew]
		if one.Day < j.From || one.Day > j.Until || one.Day < s.Today.AddDays(j.Notice) {
			t.Fatalf("%v is outside its window, or before its notice", one)
		}
		if one.Day == c.Off[0] || (one.Day-monday)%7 > 4 || len(c.Methods) > 0 && c.Methods[0] != j.Method {
			t.Fatalf("%v is not for this crew", one)
		}
		used[fmt.Sprint(one.Crew, one.Day)] += one.Work
		if used[fmt.Sprint(one.Crew, one.Day)] > c.Day*season.Minutes(c.People) {
			t.Fatalf("%v is more than a day", one)
		}
		if one.Spare {
			continue
		}
		work[one.Job] += one.Work
		stems[one.Job] += one.Stems
		for _, other := range shifts {
			o := jobs[other.Job]
			early := other.Day <= one.Day && one.Day <= other.Day.AddDays(o.EntryDays)
			if !other.Spare && o.Site == j.Site && o.ID != j.ID && early && (other.Crew != one.Crew || other.Day != one.Day) {
				t.Fatalf("%v is within the entry interval of %v", one, other)
			}
		}
	}
	for _, m := range misfits {
		work[m.Job] += m.Work
		stems[m.Job] += m.Stems
	}
	for id, j := range jobs {
		if work[id] != j.Work || stems[id] != j.Stems {
			t.Fatalf("%s: %d of %d minutes, %d of %d stems", id, work[id], j.Work, stems[id], j.Stems)
		}
	}
}

func TestWhatSpreadsFarthestComesFirst(t *testing.T) {
	at := func(north float64) season.Standing {
		return season.Standing{Method: rules.HackAndSquirt, Placed: true, Lat: 43 + north/111_195, Lon: -38}
	}
	seeds, low, unplaced := at(1), at(2), season.Standing{Method: rules.BasalBark}
	seeds.Seeds = true
	low.Method = rules.LowVolumeFoliar
	got := season.Turns([]season.Standing{at(0), seeds, low, at(120), unplaced})
	assert.Equal(t, []season.Turn{season.Large, season.Seeding, season.Low, season.Outlier, season.Large}, got)
	assert.Equal(t, []season.Turn{season.Large}, season.Turns([]season.Standing{at(0)}), "alone it stands apart from nothing")
}
