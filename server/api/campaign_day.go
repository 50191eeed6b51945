package api

import (
	"context"
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign/weather"
	"example.org/rootward/server/ledger"
)

// CheckDay says whether planned work may begin at a time. It keeps nothing: the law of
// the day at the site is decided anew, and held against with the weather.
func (s *Campaign) CheckDay(ctx context.Context, q *campaignv1.CheckDayRequest) (*campaignv1.CheckDayResponse, error) {
	if err := s.keeping(); err != nil {
		return nil, err
	}
	var f faults
	day := f.dayCheck(q)
	if err := f.err(); err != nil {
		return nil, err
	}
	plan, job, err := s.plannedJob(ctx, q.GetPlan(), q.GetJobId())
	if err != nil {
		return nil, err
	}
	h, err := s.history(ctx, job.GetSite())
	if err != nil {
		return nil, err
	}
	return s.checkDay(ctx, day, h, plan, job), nil
}

// plannedJob finds a job of a plan.
func (s *Campaign) plannedJob(ctx context.Context, name, id string) (*campaignv1.Plan, *campaignv1.Job, error) {
	e, err := s.ledger.Get(ctx, name, 0)
	if err != nil {
		return nil, nil, ledgerRefused(err, name)
	}
	plan, err := readInto(&campaignv1.Plan{}, e)
	if err != nil {
		return nil, nil, err
	}
	at := slices.IndexFunc(plan.GetJobs(), func(j *campaignv1.Job) bool { return j.GetJobId() == id })
	if at < 0 {
		return nil, nil, ledgerRefused(ledger.ErrUnknown, name+", job "+id)
	}
	return plan, plan.GetJobs()[at], nil
}

// checkDay holds a day against its limits; the rules of the day are added to those that the
// day has.
func (s *Campaign) checkDay(ctx context.Context, day *weather.Day, h *history, plan *campaignv1.Plan, job *campaignv1.Job) *campaignv1.CheckDayResponse {
	day.Zone = zoneOf(h.site)
	st := s.standingOn(ctx, h, dayIn(day.Start, day.Zone))
	day.From, _ = rulewire.DecodeDate(job.GetTreatFrom())
	day.Until = lastDay(plan, job)
	day.Place = st.placeOf(job)
	s.addChoice(day, job)
	law := s.dayLaw(ctx, st, plan, job, day)
	day.Plan = law.checks()
	for _, r := range law.weather {
		if !slices.ContainsFunc(day.Rules, func(have weather.Rule) bool { return have.Source == r.Source }) {
			day.Rules = append(day.Rules, r)
		}
	}
	answer := day.Check()
	p := &campaignv1.CheckDayResponse{Verdict: campaignv1.Verdict(answer.Verdict), Conditions: append(answer.Conditions, law.conditions...)}
	for i := range answer.Checks {
		p.Checks = append(p.Checks, writeDayCheck(&answer.Checks[i]))
	}
	if !answer.ValidUntil.IsZero() {
		p.ValidUntil = timestamppb.New(answer.ValidUntil)
	}
	return p
}

func writeDayCheck(c *weather.Check) *campaignv1.DayCheck {
	return &campaignv1.DayCheck{
		What: c.What, Verdict: campaignv1.Verdict(c.Verdict), Value: c.Value, Unit: c.Unit,
		Min: c.Min, Max: c.Max, Margin: c.Margin, Why: c.Why, Source: c.Source,
	}
}

// placeOf is where a job is done: the site's position, or that of one of its stems.
func (st *standing) placeOf(job *campaignv1.Job) *weather.Place {
	site := st.history.site
	if site.LatitudeDeg != nil && site.LongitudeDeg != nil {
		return &weather.Place{Latitude: site.GetLatitudeDeg(), Longitude: site.GetLongitudeDeg()}
	}
	for _, id := range rowsOf(job) {
		if r := st.rows[id]; r != nil && r.message.LatitudeDeg != nil && r.message.LongitudeDeg != nil {
			return &weather.Place{Latitude: r.message.GetLatitudeDeg(), Longitude: r.message.GetLongitudeDeg()}
		}
	}
	return nil
}

// addChoice adds what is applied, and what the catalogue tells of it.
func (s *Campaign) addChoice(day *weather.Day, job *campaignv1.Job) {
	var f faults
	choice := job.GetChoice()
	day.Method, day.Oil = word[rules.Method](&f, "", choice.GetMethod()), choice.GetCarrier() == "oil"
	if known := s.prescriber.catalogue.Formulation(choice.GetFormulationId()); known != nil {
		hours := float64(known.RainFreeHours)
		day.Kind, day.Usual = known.Kind, &hours
		day.UsualSource = "the catalogue: " + known.Sources["rain_free_hours"]
	}
}

// Limits of what CheckDay takes.
const (
	maxForecast    = 10 * 24 // hours
	maxWorkMinutes = 24 * 60
	maxRainFree    = 7 * 24 // hours
	maxWind        = 120    // m/s; 113 is the strongest gust measured (from memory)
	maxRain        = 500    // mm in an hour; 305 is the most measured (from memory)
)

// dayCheck reads all of the request but what the log tells.
func (f *faults) dayCheck(q *campaignv1.CheckDayRequest) *weather.Day {
	f.resource("plan", q.GetPlan(), "plans")
	f.required("job_id", q.GetJobId(), "name the job of the plan")
	d := &weather.Day{}
	d.Start = f.moment("time", q.GetTime())
	minutes := q.GetDurationMin()
	f.unless(minutes >= 0 && minutes <= maxWorkMinutes, "duration_min", "%d is not from 1 to %d minutes: check longer work day by day", minutes, maxWorkMinutes)
	if minutes == 0 {
		minutes = 60
	}
	d.For = time.Duration(minutes) * time.Minute
	if q.GetObserved() != nil {
		r := f.weather("observed.", q.GetObserved())
		f.unless(!r.At.After(d.Start), "observed.time", "is after time, when the work is to begin: let it begin no sooner than the last measurement")
		d.Observed = &r
	}
	f.forecast(d, q.GetForecast())
	d.Bark = word[rules.BarkState](f, "ground.bark", q.GetGround().GetBark())
	d.Soil = word[rules.SoilState](f, "ground.soil", q.GetGround().GetSoil())
	d.RainFree = f.value("rain_free_h", q.RainFreeH, 0, maxRainFree, "hours")
	d.MaxTemperature = f.value("label_max_c", q.LabelMaxC, minTemperature, maxTemperature, "degrees Celsius")
	d.MaxWind = f.value("label_max_wind_m_s", q.LabelMaxWindMS, 0, maxWind, "metres a second")
	return d
}

func (f *faults) forecast(d *weather.Day, list []*campaignv1.Weather) {
	f.unless(len(list) <= maxForecast, "forecast", "has %d hours, at most %d are taken: send those from the beginning of the work on", len(list), maxForecast)
	seen := map[time.Time]int{}
	for i, p := range list[:min(len(list), maxForecast)] {
		at := fmt.Sprintf("forecast[%d].", i)
		r := f.weather(at, p)
		if j, twice := seen[r.At]; twice {
			f.add(at+"time", "is that of forecast[%d], too: send each hour once", j)
		}
		seen[r.At] = i
		d.Forecast = append(d.Forecast, r)
	}
}

func (f *faults) weather(at string, p *campaignv1.Weather) weather.Reading {
	return weather.Reading{
		At:          f.moment(at+"time", p.GetTime()),
		Wind:        f.value(at+"wind_m_s", p.WindMS, 0, maxWind, "metres a second"),
		Gust:        f.value(at+"gust_m_s", p.GustMS, 0, maxWind, "metres a second"),
		WindFrom:    f.value(at+"wind_from_deg", p.WindFromDeg, 0, 360, "degrees"),
		Temperature: f.value(at+"temperature_c", p.TemperatureC, minTemperature, maxTemperature, "degrees Celsius"),
		Humidity:    f.value(at+"humidity_percent", p.HumidityPercent, 0, 100, "percent"),
		Rain:        f.value(at+"rain_mm", p.RainMm, 0, maxRain, "millimetres"),
		RainChance:  f.value(at+"rain_percent", p.RainPercent, 0, 100, "percent"),
		Inversion:   word[rules.YesNo](f, at+"inversion", p.GetInversion()),
	}
}

// value reads a number, nil if it is absent or wrong.
func (f *faults) value(field string, v *float64, least, most float64, unit string) *float64 {
	if v == nil {
		return nil
	}
	if n, ok := f.between(field, v, least, most, unit); ok {
		return &n
	}
	return nil
}

// moment reads a time that is required.
func (f *faults) moment(field string, p *timestamppb.Timestamp) time.Time {
	f.unless(p.IsValid(), field, "is missing or no time: state it as 2026-07-20T08:00:00-04:00")
	if !p.IsValid() {
		return time.Time{}
	}
	return p.AsTime()
}
