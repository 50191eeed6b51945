package api

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/genproto/googleapis/type/date"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign/season"
)

var plans = kind[*campaignv1.Plan]{
	word: planKind, plural: "plans", blank: func() *campaignv1.Plan { return &campaignv1.Plan{} },
	output: names("jobs", "shifts", "notices", "wanted_permits", "misfits", "purchases", "rule_sets", "remarks"), check: checkPlan, fill: fillPlan,
}

// CreatePlan plans a season's work.
func (s *Campaign) CreatePlan(ctx context.Context, q *campaignv1.CreatePlanRequest) (*campaignv1.CreatePlanResponse, error) {
	s.oneByOne.Lock() // or two plans might share one maximum
	defer s.oneByOne.Unlock()
	t, err := create(ctx, s, &plans, creation[*campaignv1.Plan]{call: q, id: q.GetPlanId(), request: q.GetRequestId(), thing: q.GetPlan()})
	return &campaignv1.CreatePlanResponse{Plan: t}, err
}

// GetPlan gives a plan.
func (s *Campaign) GetPlan(ctx context.Context, q *campaignv1.GetPlanRequest) (*campaignv1.GetPlanResponse, error) {
	t, err := get(ctx, s, &plans, q.GetName(), q.GetVersion())
	return &campaignv1.GetPlanResponse{Plan: t}, err
}

// ListPlans lists plans.
func (s *Campaign) ListPlans(ctx context.Context, q *campaignv1.ListPlansRequest) (*campaignv1.ListPlansResponse, error) {
	list, next, err := list(ctx, s, &plans, listing{size: q.GetPageSize(), token: q.GetPageToken()})
	return &campaignv1.ListPlansResponse{Plans: list, NextPageToken: next}, err
}

// Limits of a plan, beyond which a number is a slip of the pen.
const (
	maxPlanSites   = 1_000
	maxCrews       = 50
	maxPeople      = 100
	maxDayHours    = 16
	maxDaysOff     = 366
	maxRainPercent = 90
	minRate        = 0.01   // stems an hour
	maxRate        = 10_000 // stems an hour
	maxSetup       = 100    // hours
	maxPermits     = 100
	maxCost        = 1e9
)

func checkPlan(f *faults, p *campaignv1.Plan) {
	f.text("title", p.GetTitle(), maxTitle)
	f.day("from", p.GetFrom())
	f.unless(len(p.GetSites()) > 0 && len(p.GetSites()) <= maxPlanSites, "sites", "has %d: name 1 to %d", len(p.GetSites()), maxPlanSites)
	seen := map[string]bool{}
	for i, name := range p.GetSites()[:min(len(p.GetSites()), maxPlanSites)] {
		at := fmt.Sprintf("sites[%d]", i)
		f.resource(at, name, "sites")
		f.unless(!seen[name], at, "%s is there twice: name it once", quoted(name))
		seen[name] = true
	}
	f.unless(len(p.GetCrews()) > 0 && len(p.GetCrews()) <= maxCrews, "crews", "has %d: state 1 to %d", len(p.GetCrews()), maxCrews)
	f.crews(p)
	f.rates(p)
	f.between("rain_days_percent", p.RainDaysPercent, 0, maxRainPercent, "percent")
	f.unless(len(p.GetPermits()) <= maxPermits, "permits", "has %d, at most %d are taken", len(p.GetPermits()), maxPermits)
	for i, held := range p.GetPermits()[:min(len(p.GetPermits()), maxPermits)] {
		at := fmt.Sprintf("permits[%d].", i)
		f.required(at+"permit", held.GetPermit(), "name the document as the rules call it")
		f.unless(held.GetSite() == "" || seen[held.GetSite()], at+"site", "%s is none of the plan's sites", quoted(held.GetSite()))
		if held.GetValidUntil() != nil {
			f.day(at+"valid_until", held.GetValidUntil())
		}
	}
}

// crews reads the crews of a plan.
func (f *faults) crews(p *campaignv1.Plan) []season.Crew {
	var list []season.Crew
	seen := map[string]bool{}
	for i, c := range p.GetCrews()[:min(len(p.GetCrews()), maxCrews)] {
		at := fmt.Sprintf("crews[%d].", i)
		id := f.required(at+"crew_id", c.GetCrewId(), "give the crew an id")
		f.unless(!seen[id], at+"crew_id", "%s is there twice: give each crew an id of its own", quoted(id))
		seen[id] = true
		f.unless(c.GetPeople() >= 1 && c.GetPeople() <= maxPeople, at+"people", "is %d: state 1 to %d", c.GetPeople(), maxPeople)
		hours := c.GetHoursPerDay()
		f.unless(hours > 0 && hours <= maxDayHours, at+"hours_per_day", "is %g: state above 0 and at most %d", hours, maxDayHours)
		f.between(at+"cost_per_hour", c.CostPerHour, 0, maxCost, "an hour")
		crew := season.Crew{
			ID: id, People: int64(c.GetPeople()), Day: season.Minutes(hours * 60), Weekdays: f.weekdays(at+"weekdays", c.GetWeekdays()),
			From: f.dayIf(at+"from", c.GetFrom()), Until: f.dayIf(at+"until", c.GetUntil()), Cost: c.GetCostPerHour(),
		}
		f.unless(len(c.GetDaysOff()) <= maxDaysOff, at+"days_off", "has %d, at most %d are taken: use from and until", len(c.GetDaysOff()), maxDaysOff)
		for n, day := range c.GetDaysOff()[:min(len(c.GetDaysOff()), maxDaysOff)] {
			crew.Off = append(crew.Off, f.day(fmt.Sprintf("%sdays_off[%d]", at, n), day))
		}
		for n, m := range c.GetMethods() {
			crew.Methods = append(crew.Methods, word[rules.Method](f, fmt.Sprintf("%smethods[%d]", at, n), m))
		}
		list = append(list, crew)
	}
	return list
}

// weekdays reads days of the week, 1 Monday to 7 Sunday; Monday to Friday for none.
func (f *faults) weekdays(field string, list []int32) (days [7]bool) {
	if len(list) == 0 {
		list = []int32{1, 2, 3, 4, 5}
	}
	for i, day := range list {
		f.unless(day >= 1 && day <= 7, fmt.Sprintf("%s[%d]", field, i), "is %d: state 1 for Monday to 7 for Sunday", day)
		days[(day%7+7)%7] = true
	}
	return days
}

// rate is how fast one person works, by a method.
type rate struct {
	perHour, setup float64
	costPerStem    float64
	isDefault      bool
}

// defaultRates are stems an hour of one person; common practice, no source.
var defaultRates = map[rules.Method]float64{
	rules.LowVolumeFoliar: 60, rules.HighVolumeFoliar: 90, rules.BasalBark: 40, rules.HackAndSquirt: 25, rules.CutStump: 20, rules.HandPull: 30,
}

// slowest is the rate of a method that has no default.
const slowest = 20

func (f *faults) rates(p *campaignv1.Plan) map[rules.Method]rate {
	by := map[rules.Method]rate{}
	for i, r := range p.GetRates() {
		at := fmt.Sprintf("rates[%d].", i)
		m := word[rules.Method](f, at+"method", r.GetMethod())
		f.unless(r.GetMethod() != 0, at+"method", "is not stated: use one of %v", rules.Words[rules.Method]())
		_, twice := by[m]
		f.unless(!twice, at+"method", "%s has two rates: state one", m)
		f.unless(r.GetStemsPerHour() >= minRate && r.GetStemsPerHour() <= maxRate, at+"stems_per_hour", "is %g: state %g to %d", r.GetStemsPerHour(), minRate, maxRate)
		f.between(at+"setup_h", r.SetupH, 0, maxSetup, "hours")
		f.between(at+"cost_per_stem", r.CostPerStem, 0, maxCost, "a stem")
		by[m] = rate{perHour: r.GetStemsPerHour(), setup: r.GetSetupH(), costPerStem: r.GetCostPerStem()}
	}
	return by
}

// dayIf reads a day that may be left out.
func (f *faults) dayIf(field string, p *date.Date) civil.Date {
	if p == nil {
		return 0
	}
	return f.day(field, p)
}

// defaultRain is the share of days that rain takes, in percent; common practice, no
// source.
const defaultRain = 20

// fillPlan plans, after everything that is kept of the sites by the day.
func fillPlan(f *filling[*campaignv1.Plan]) error {
	p := f.thing
	var faults faults
	faults.settings(p.GetSettings(), f.prescriber.catalogue)
	if err := faults.err(); err != nil {
		return err
	}
	w := &planning{Campaign: f.Campaign, Plan: p, crews: faults.crews(p), rates: faults.rates(p), now: f.now, sets: map[string]*rules.Set{}}
	from, _ := rulewire.DecodeDate(p.GetFrom())
	for i, name := range p.GetSites() {
		h, err := f.Campaign.history(f.Context, name)
		if err != nil {
			faults.add(fmt.Sprintf("plan.sites[%d]", i), "%s", err)
			continue
		}
		w.site(f.Context, h, from)
	}
	if err := faults.err(); err != nil {
		return err
	}
	w.finish()
	return f.keepTables(f.Context, w.sets)
}

// firstDay is the first day that a plan may use at a site.
func firstDay(from civil.Date, now time.Time, site *campaignv1.Site) civil.Date {
	return max(from, dayIn(now, zoneOf(site)))
}
