package command

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"example.org/rootward/rules"

	"example.org/rootward/client"
)

// checkDay is the command day.
type checkDay struct {
	Plan string `arg:"" help:"Name of the plan: plans/ID."`
	Job  string `arg:"" help:"Id of the plan's job; see plans show."`

	Time        moment `required:"" placeholder:"TIME" help:"When the work is to begin, with its distance from UTC: 2026-07-20T08:00-04:00. Nothing is taken from the clock."`
	DurationMin int32  `default:"60" placeholder:"N" help:"How long it takes, in minutes; default 60."`
	measuredWeather
	Forecast string                `placeholder:"FILE" help:"The weather to come, hour by hour: a CSV file with the columns time, wind_m_s or wind_mph, gust_m_s or gust_mph, temperature_c or temperature_f, humidity_percent, rain_mm or rain_in, rain_percent, inversion, wind_from_deg; or YAML or JSON with a list named forecast."`
	Bark     word[rules.BarkState] `placeholder:"WORD" help:"State of the bark as it is seen: ${barks}."`
	Soil     word[rules.SoilState] `placeholder:"WORD" help:"State of the soil as it is seen: ${soils}."`

	RainFreeH      *float64 `placeholder:"N" help:"Hours without rain after the treatment that the label asks for."`
	LabelMaxC      *float64 `xor:"labelheat" placeholder:"N" help:"The highest air temperature that the label allows, in degrees Celsius."`
	LabelMaxF      *float64 `xor:"labelheat" placeholder:"N" help:"The same in degrees Fahrenheit."`
	LabelMaxWindMS *float64 `name:"label-max-wind-m-s" xor:"labelwind" placeholder:"N" help:"The strongest wind that the label allows, in metres a second."`
	LabelMaxMph    *float64 `name:"label-max-wind-mph" xor:"labelwind" placeholder:"N" help:"The same in miles per hour."`

	JSON bool `name:"json" help:"Show everything as JSON instead."`
}

// measuredWeather is the weather on the site. What is not given is not known.
type measuredWeather struct {
	MeasuredAt      *moment           `placeholder:"TIME" help:"When the weather was measured, at most an hour before the work begins. Default: as it begins."`
	WindMS          *float64          `name:"wind-m-s" xor:"wind" placeholder:"N" help:"Mean sustained wind in metres a second."`
	WindMph         *float64          `xor:"wind" placeholder:"N" help:"The same in miles per hour."`
	GustMS          *float64          `name:"gust-m-s" xor:"gust" placeholder:"N" help:"Gusts in metres a second."`
	GustMph         *float64          `xor:"gust" placeholder:"N" help:"The same in miles per hour."`
	WindFromDeg     *float64          `placeholder:"N" help:"Where the wind comes from, in degrees from north."`
	TemperatureC    *float64          `xor:"heat" placeholder:"N" help:"Air temperature in degrees Celsius; below zero write --temperature-c=-3."`
	TemperatureF    *float64          `xor:"heat" placeholder:"N" help:"The same in degrees Fahrenheit."`
	HumidityPercent *float64          `placeholder:"N" help:"Relative humidity in percent."`
	Inversion       word[rules.YesNo] `placeholder:"WORD" help:"Whether there is an inversion: ${yesno}."`
}

// Help is shown with the command.
func (*checkDay) Help() string {
	return "Exits with 0 if work may begin, a caution included, with 3 if it must not: where the verdict is NO_GO, and where it is UNKNOWN, since what is not known is never allowed."
}

// moment is a time with its distance from UTC.
type moment struct{ time.Time }

// momentForms are the forms in which a time is written.
var momentForms = []string{time.RFC3339, "2006-01-02T15:04Z07:00", "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04Z07:00"}

// UnmarshalText reads the time.
func (m *moment) UnmarshalText(text []byte) error {
	for _, form := range momentForms {
		if t, err := time.Parse(form, string(text)); err == nil {
			m.Time = t
			return nil
		}
	}
	return fmt.Errorf("%q is no time with its distance from UTC: write it as 2026-07-20T08:00-04:00", text)
}

// Run checks the day.
func (a *checkDay) Run(r *run) error {
	q, err := a.request()
	if err != nil {
		return err
	}
	code := done
	err = r.with(func(c *client.Client) error {
		answer, err := c.Campaign.CheckDay(r.ctx, q)
		if err != nil {
			return err
		}
		if !letsWork(answer.GetVerdict()) {
			code = held
		}
		if a.JSON {
			return whole(r, answer)
		}
		return a.print(r, answer)
	})
	if err == nil && code != done {
		panic(exit{code})
	}
	return err
}

func letsWork(v campaignv1.Verdict) bool {
	return v == campaignv1.Verdict_VERDICT_GO || v == campaignv1.Verdict_VERDICT_CAUTION
}

func (a *checkDay) request() (*campaignv1.CheckDayRequest, error) {
	q := &campaignv1.CheckDayRequest{
		Plan: a.Plan, JobId: a.Job, Time: timestamppb.New(a.Time.Time), DurationMin: a.DurationMin,
		Observed: a.observed(a.Time), RainFreeH: a.RainFreeH,
		LabelMaxC: either(a.LabelMaxC, celsius(a.LabelMaxF)), LabelMaxWindMS: either(a.LabelMaxWindMS, times(a.LabelMaxMph, mPerSecond)),
		Ground: &campaignv1.GroundState{Bark: commonv1.BarkState(a.Bark.value), Soil: commonv1.SoilState(a.Soil.value)},
	}
	if a.Forecast == "" {
		return q, nil
	}
	hours, err := readForecast(a.Forecast)
	q.Forecast = hours
	return q, err
}

// observed is the weather as it was measured, nil if nothing was.
func (m *measuredWeather) observed(begin moment) *campaignv1.Weather {
	w := &campaignv1.Weather{
		WindMS: either(m.WindMS, times(m.WindMph, mPerSecond)), GustMS: either(m.GustMS, times(m.GustMph, mPerSecond)), WindFromDeg: m.WindFromDeg,
		TemperatureC: either(m.TemperatureC, celsius(m.TemperatureF)), HumidityPercent: m.HumidityPercent, Inversion: commonv1.YesNo(m.Inversion.value),
	}
	nothing := w.WindMS == nil && w.GustMS == nil && w.WindFromDeg == nil && w.TemperatureC == nil && w.HumidityPercent == nil && w.Inversion == 0
	if nothing {
		return nil
	}
	at := begin
	if m.MeasuredAt != nil {
		at = *m.MeasuredAt
	}
	w.Time = timestamppb.New(at.Time)
	return w
}

// mPerSecond is one mile per hour, and mmPerInch an inch.
const (
	mPerSecond = 0.44704
	mmPerInch  = 25.4
)

func celsius(fahrenheit *float64) *float64 {
	if fahrenheit == nil {
		return nil
	}
	v := (*fahrenheit - 32) / 1.8
	return &v
}
