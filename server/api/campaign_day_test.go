package api_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/api"
)

// weatherLaw is a state's law of weather and hours: a limit on the wind in a season that
// wraps the year, from which approved equipment is exempt if it sprays a full volume as
// well, an inversion ban with an exemption in two parts, and hours of work. Kinds and the
// 10 miles an hour: Washington Administrative Code 16-231-340 (2007 text) (L55); the rest
// is invented.
func weatherLaw(tb testing.TB) *rules.Set {
	leaves := rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar)
	approved := rules.AnyOf(rules.DriftApproved)
	wind := row("wind", rules.Selector{Methods: leaves}, rules.WeatherLimit{Factor: rules.WindSpeed, Max: 5, HasMax: true, Statistic: rules.SustainedMean})
	wind.During = yearly(8, 1, 2, 1)
	wind.Unless = []rules.Selector{{DriftControl: approved, Ranges: []rules.Range{rules.AtLeast(rules.Carrier, int64(quantity.GallonsPerAcre(10).On(quantity.Hectare)/quantity.Millilitre))}}}
	inversion := row("inversion", rules.Selector{Methods: leaves}, rules.WeatherLimit{Factor: rules.Inversion, Max: 0, HasMax: true})
	inversion.Unless = []rules.Selector{{DriftControl: approved, Droplets: rules.AnyOf(rules.DropletMedium)}}
	hours := row("hours", rules.Selector{}, rules.DailyHours{Open: rules.ClockHours{From: 7 * 60, To: 19 * 60}})
	return setOf(tb, "velmora-weather", rules.State, "us/velmora", wind, inversion, hours)
}

// dayFight is a fight with a job of injections and one of spraying suckers.
type dayFight struct {
	*fight
	law  *api.Law
	plan *campaignv1.Plan
}

func newDayFight(t *testing.T, settings *treatmentv1.Settings) *dayFight {
	t.Helper()
	known, err := shipped()
	require.NoError(t, err)
	law := lawOf(nation(t), state(t), creek(t), weatherLaw(t))
	f := newFight(t)
	f.Campaign = api.NewCampaign(api.Services{Catalogue: known, Current: func() api.Law { return law }, Ledger: f.log})
	d := &dayFight{fight: f, law: &law}
	f.mustVisit("suckers", inspection(2026, 7, 1, suckerAt("s1", campaignv1.FindKind_FIND_KIND_MISSED_STEM, 40.4), suckerAt("s2", campaignv1.FindKind_FIND_KIND_MISSED_STEM, 40.4002)))
	settings.Standing = commonv1.Standing_STANDING_CERTIFIED
	d.plan = &campaignv1.Plan{Name: "plans/day", Version: 1, From: on(2026, 7, 1), Sites: []string{bank}, Settings: settings, Jobs: []*campaignv1.Job{
		dayJob("inject", commonv1.Method_METHOD_HACK_AND_SQUIRT, "a", "b", "c"), dayJob("spray", commonv1.Method_METHOD_LOW_VOLUME_FOLIAR, "s1", "s2"),
	}}
	for _, set := range rules.Govern(district, civil.Of(2026, 7, 1), law.Sets).Sets {
		d.plan.RuleSets = append(d.plan.RuleSets, rulewire.EncodeRef(set))
	}
	return d
}

func dayJob(id string, method commonv1.Method, rows ...string) *campaignv1.Job {
	j := &campaignv1.Job{
		JobId: id, Site: bank, TreatFrom: on(2026, 7, 15), TreatUntil: on(2026, 10, 15),
		Choice: &treatmentv1.Choice{Method: method, FormulationId: "glyphosate-ipa-4-aquatic", Active: "glyphosate", Carrier: "water"},
	}
	for _, r := range rows {
		j.Rows = append(j.Rows, &campaignv1.PlannedRow{StemId: r})
	}
	return j
}

// nineOn is nine in the morning at the site.
func nineOn(month time.Month, day int) time.Time {
	return time.Date(2026, month, day, 13, 0, 0, 0, time.UTC)
}

func fairly(at time.Time) *campaignv1.Weather {
	return &campaignv1.Weather{
		Time: timestamppb.New(at), WindMS: ptr(2.0), GustMS: ptr(3.0), WindFromDeg: ptr(270.0), TemperatureC: ptr(20.0), HumidityPercent: ptr(60.0),
		RainMm: ptr(0.0), RainPercent: ptr(0.0), Inversion: commonv1.YesNo_YES_NO_NO,
	}
}

func fairDay(job string, at time.Time) *campaignv1.CheckDayRequest {
	q := &campaignv1.CheckDayRequest{
		Plan: "plans/day", JobId: job, Time: timestamppb.New(at), DurationMin: 45, Observed: fairly(at),
		Ground:    &campaignv1.GroundState{Bark: commonv1.BarkState_BARK_STATE_DRY, Soil: commonv1.SoilState_SOIL_STATE_MOIST},
		RainFreeH: ptr(6.0), LabelMaxC: ptr(32.0), LabelMaxWindMS: ptr(4.0),
	}
	for hour := range 9 {
		q.Forecast = append(q.Forecast, fairly(at.Add(time.Duration(hour)*time.Hour)))
	}
	return q
}

func (d *dayFight) check(q *campaignv1.CheckDayRequest) *campaignv1.CheckDayResponse {
	d.Helper()
	if d.plan != nil {
		d.put("plan", d.plan.GetName(), d.plan)
		d.plan = nil
	}
	answer, err := d.CheckDay(d.Context(), q)
	require.NoError(d, err)
	return answer
}

func checkOf(t *testing.T, a *campaignv1.CheckDayResponse, what string) *campaignv1.DayCheck {
	t.Helper()
	for _, c := range a.GetChecks() {
		if c.GetWhat() == what {
			return c
		}
	}
	require.Fail(t, "no such check", "%s in %v", what, a)
	return nil
}

const (
	isGo      = campaignv1.Verdict_VERDICT_GO
	isCaution = campaignv1.Verdict_VERDICT_CAUTION
	isUnknown = campaignv1.Verdict_VERDICT_UNKNOWN
	isNoGo    = campaignv1.Verdict_VERDICT_NO_GO
)

func TestADayIsAGoOrNot(t *testing.T) {
	f := newDayFight(t, &treatmentv1.Settings{})
	at := nineOn(time.July, 20)
	for _, job := range []string{"inject", "spray"} {
		a := f.check(fairDay(job, at))
		assert.Equal(t, isGo, a.GetVerdict(), "%s: %v", job, a)
		assert.Equal(t, at.Add(time.Hour), a.GetValidUntil().AsTime())
	}
	for name, c := range map[string]struct {
		change func(*campaignv1.CheckDayRequest)
		what   string
		want   campaignv1.Verdict
	}{
		"no forecast":       {func(q *campaignv1.CheckDayRequest) { q.Forecast = nil }, "rain-free hours", isUnknown},
		"no measurement":    {func(q *campaignv1.CheckDayRequest) { q.Observed = nil }, "wind, at most", isUnknown},
		"no soil":           {func(q *campaignv1.CheckDayRequest) { q.Ground = nil }, "soil", isUnknown},
		"wind":              {func(q *campaignv1.CheckDayRequest) { q.Observed.WindMS = ptr(4.1) }, "wind, label", isNoGo},
		"inversion by rule": {func(q *campaignv1.CheckDayRequest) { q.Observed.Inversion = commonv1.YesNo_YES_NO_YES }, "by rule: inversion", isNoGo},
		"too early by rule": {func(q *campaignv1.CheckDayRequest) {
			q.Time = timestamppb.New(at.Add(-2*time.Hour - time.Minute))
			q.Observed.Time = q.Time
		}, "by rule: hours of the day", isNoGo},
		"label unread": {func(q *campaignv1.CheckDayRequest) { q.LabelMaxC = nil }, "temperature, label", isCaution},
		"hours unread": {func(q *campaignv1.CheckDayRequest) { q.RainFreeH = nil }, "rain-free hours", isCaution},
		"window": {func(q *campaignv1.CheckDayRequest) {
			q.Time = timestamppb.New(nineOn(time.July, 14))
			q.Observed.Time = q.Time
		}, "treatment window", isNoGo},
	} {
		t.Run(name, func(t *testing.T) {
			q := fairDay("spray", at)
			c.change(q)
			a := f.check(q)
			got := checkOf(t, a, c.what)
			assert.Equal(t, c.want, got.GetVerdict(), "%v", got)
			assert.GreaterOrEqual(t, a.GetVerdict(), c.want)
			assert.Equal(t, a.GetVerdict() <= isCaution, a.GetValidUntil() != nil)
		})
	}
}

// L55: both sides of 10 mph are in testdata/checks; here the season that wraps, and the
// exemption that wants two things at once.
func TestRulesOfWeatherAreThoseOfTheDay(t *testing.T) {
	breeze := func(q *campaignv1.CheckDayRequest) *campaignv1.CheckDayRequest {
		q.Observed.WindMS = ptr(2.5) // 5.6 mph
		return q
	}
	standard := newDayFight(t, &treatmentv1.Settings{DriftControl: commonv1.DriftControl_DRIFT_CONTROL_STANDARD})
	summer := checkOf(t, standard.check(breeze(fairDay("spray", nineOn(time.July, 31)))), "by rule: wind")
	assert.Equal(t, isGo, summer.GetVerdict(), summer.GetWhy())
	assert.Contains(t, summer.GetWhy(), "holds from 1 August to 1 February alone")
	autumn := checkOf(t, standard.check(breeze(fairDay("spray", nineOn(time.August, 1)))), "by rule: wind")
	assert.Equal(t, isNoGo, autumn.GetVerdict())
	assert.InDelta(t, 5.592, autumn.GetValue(), 0.001)
	assert.InDelta(t, 5-5.592, autumn.GetMargin(), 0.001)
	assert.Contains(t, autumn.GetSource(), "velmora-weather/wind")

	unstated := newDayFight(t, &treatmentv1.Settings{})
	c := checkOf(t, unstated.check(breeze(fairDay("spray", nineOn(time.August, 1)))), "by rule: wind")
	assert.Equal(t, isNoGo, c.GetVerdict(), "whether the equipment is exempt is not known")
	assert.Contains(t, c.GetSource(), "is not known: it is kept")

	for gallons, exempt := range map[float64]bool{10: true, 9.9: false} {
		f := newDayFight(t, &treatmentv1.Settings{DriftControl: commonv1.DriftControl_DRIFT_CONTROL_APPROVED, LowVolumeGalPerAc: ptr(gallons)})
		a := f.check(breeze(fairDay("spray", nineOn(time.August, 1))))
		assert.Equal(t, exempt, a.GetVerdict() == isGo, "%g gal/ac: %v", gallons, a)
	}
}

func TestAPlanThatNoLongerHolds(t *testing.T) {
	at := nineOn(time.July, 20)
	f := newDayFight(t, &treatmentv1.Settings{})
	f.plan.RuleSets[0].Digest = "of before"
	a := f.check(fairDay("inject", at))
	assert.Equal(t, isCaution, a.GetVerdict())
	assert.Contains(t, checkOf(t, a, "plan").GetWhy(), "the law has changed since the plan: nation")

	// A ban that came after the plan.
	ban := setOf(t, "late", rules.State, "us/velmora", row("ban", rules.Selector{Methods: rules.AnyOf(rules.HackAndSquirt)}, rules.Prohibit{}))
	*f.law = lawOf(append(f.law.Sets, ban)...)
	a = f.check(fairDay("inject", at))
	assert.GreaterOrEqual(t, a.GetVerdict(), isUnknown)
	assert.Contains(t, checkOf(t, a, "plan").GetWhy(), "the law has changed since the plan")

	f = newDayFight(t, &treatmentv1.Settings{})
	f.plan.Jobs[0].Choice.Method = commonv1.Method_METHOD_BASAL_BARK
	c := checkOf(t, f.check(fairDay("inject", at)), "plan")
	assert.Equal(t, isUnknown, c.GetVerdict())
	assert.Contains(t, c.GetWhy(), "something else is prescribed than was planned")

	f = newDayFight(t, &treatmentv1.Settings{})
	f.plan.Jobs[0].Choice.FormulationId = "gone"
	assert.Equal(t, isUnknown, f.check(fairDay("inject", at)).GetVerdict())

	f = newDayFight(t, &treatmentv1.Settings{})
	f.plan.Jobs[0].Rows = append(f.plan.Jobs[0].Rows, &campaignv1.PlannedRow{StemId: "nobody"})
	assert.Contains(t, checkOf(t, f.check(fairDay("inject", at)), "plan").GetWhy(), `no survey and no visit up to the day names row "nobody"`)

	f = newDayFight(t, &treatmentv1.Settings{})
	f.treat("r1", 2026, 7, 18, "a", "b", "c")
	c = checkOf(t, f.check(fairDay("inject", at)), "plan")
	assert.Equal(t, isNoGo, c.GetVerdict())
	assert.Contains(t, c.GetWhy(), "none of the job's rows is still to be treated")
}

// A felled tree is not treated as one that stands.
func TestADayAfterAFelling(t *testing.T) {
	f := newDayFight(t, &treatmentv1.Settings{})
	fell := func(id string, rows ...string) {
		f.mustVisit(id, &campaignv1.Visit{Kind: campaignv1.VisitKind_VISIT_KIND_FELLING, Date: on(2026, 7, 15), FelledStemIds: rows})
	}
	at := nineOn(time.July, 16)
	require.Equal(t, isGo, f.check(fairDay("inject", at)).GetVerdict())
	fell("one", "a")
	some := f.check(fairDay("inject", at))
	assert.Equal(t, isCaution, some.GetVerdict(), "b and c stand")
	assert.Equal(t, `felled before a treatment, and not seen since: "a" on 2026-07-15; do not treat them, survey the sprouts, and plan anew`, checkOf(t, some, "felled rows").GetWhy())
	due := map[string]*campaignv1.DueRow{}
	for _, d := range f.progress(2026, 7, 16).GetDue() {
		due[d.GetStemId()] = d
	}
	assert.Equal(t, "felled on 2026-07-15, untreated since it was seen: survey the sprouts, and plan anew", due["a"].GetWhy())
	assert.Equal(t, "No stem stands to be treated.", due["a"].GetTreatment())
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_UNDETERMINED, due["a"].GetOutcome())
	assert.Nil(t, due["a"].GetTreatFrom())
	assert.Contains(t, due["b"].GetTreatment(), "Treat it by plans/")

	fell("all", "b", "c")
	all := f.check(fairDay("inject", at))
	assert.Equal(t, isNoGo, all.GetVerdict())
	assert.Equal(t, isNoGo, checkOf(t, all, "felled rows").GetVerdict())
	assert.Contains(t, checkOf(t, all, "felled rows").GetWhy(), `"a" on 2026-07-15, "b" on 2026-07-15, "c" on 2026-07-15`)
	assert.Equal(t, isGo, f.check(fairDay("spray", at)).GetVerdict(), "of other rows")
}

func TestPermitsAndNoticesOfTheDay(t *testing.T) {
	at := nineOn(time.July, 20)
	for name, c := range map[string]struct {
		permits []*campaignv1.HeldPermit
		want    campaignv1.Verdict
		why     string
	}{
		"none":              {nil, isUnknown, "does not have watershed permit in hand"},
		"another":           {[]*campaignv1.HeldPermit{{Permit: "burning permit"}}, isUnknown, "does not have"},
		"of another site":   {[]*campaignv1.HeldPermit{{Permit: "watershed permit", Site: "sites/south-bank"}}, isUnknown, "does not have"},
		"unlimited":         {[]*campaignv1.HeldPermit{{Permit: "watershed permit"}}, isGo, "in hand"},
		"to the day":        {[]*campaignv1.HeldPermit{{Permit: "watershed permit", Site: bank, ValidUntil: on(2026, 7, 20)}}, isGo, "in hand"},
		"to the day before": {[]*campaignv1.HeldPermit{{Permit: "watershed permit", ValidUntil: on(2026, 7, 19)}}, isNoGo, "ran out at the end of 2026-07-19"},
		"renewed":           {[]*campaignv1.HeldPermit{{Permit: "watershed permit", ValidUntil: on(2026, 7, 19)}, {Permit: "watershed permit", ValidUntil: on(2026, 8, 19)}}, isGo, "in hand"},
	} {
		t.Run(name, func(t *testing.T) {
			f := newDayFight(t, &treatmentv1.Settings{})
			asks := setOf(t, "permits", rules.State, "us/velmora", row("permit", rules.Selector{}, rules.Permit{Name: "watershed permit", From: "the district"}))
			*f.law = lawOf(append(f.law.Sets, asks)...)
			f.plan.RuleSets = append(f.plan.RuleSets, rulewire.EncodeRef(asks.Ref))
			f.plan.Permits = c.permits
			a := f.check(fairDay("inject", at))
			got := checkOf(t, a, "permit")
			assert.Equal(t, c.want, got.GetVerdict())
			assert.Contains(t, got.GetWhy(), c.why)
			assert.Contains(t, got.GetSource(), "permits/permit")
			assert.Equal(t, c.want, a.GetVerdict())
		})
	}

	f := newDayFight(t, &treatmentv1.Settings{})
	f.plan.Notices = []*campaignv1.PlannedNotice{{JobId: "inject", To: "the district", WorkDate: on(2026, 7, 20)}}
	f.plan.Shifts = []*campaignv1.Shift{{JobId: "inject", Date: on(2026, 7, 20)}, {JobId: "inject", Date: on(2026, 7, 22), Spare: true}, {JobId: "spray", Date: on(2026, 7, 21)}}
	for day, want := range map[int]campaignv1.Verdict{20: isGo, 21: isCaution, 22: isGo} {
		assert.Equal(t, want, checkOf(t, f.check(fairDay("inject", nineOn(time.July, day))), "notices").GetVerdict(), "%d July", day)
	}
	for _, c := range f.check(fairDay("spray", at)).GetChecks() {
		assert.NotEqual(t, "notices", c.GetWhat(), "nobody is to be told of it")
	}
}

func TestADayThatCannotBeChecked(t *testing.T) {
	f := newDayFight(t, &treatmentv1.Settings{})
	at := nineOn(time.July, 20)
	f.check(fairDay("inject", at))
	_, err := f.CheckDay(t.Context(), &campaignv1.CheckDayRequest{})
	assert.ElementsMatch(t, []string{"job_id", "plan", "time"}, faultyFields(t, err))

	q := fairDay("inject", at)
	q.DurationMin, q.RainFreeH, q.LabelMaxC, q.LabelMaxWindMS = -1, ptr(-1.0), ptr(99.0), ptr(-2.0)
	q.Observed.Time, q.Observed.WindMS, q.Observed.HumidityPercent = timestamppb.New(at.Add(time.Minute)), ptr(-1.0), ptr(101.0)
	q.Forecast[1].Time, q.Forecast[2].Time, q.Forecast[3].TemperatureC, q.Forecast[3].RainMm, q.Forecast[3].RainPercent = q.Forecast[0].Time, nil, ptr(99.0), ptr(-1.0), ptr(101.0)
	q.Forecast[4].Inversion, q.Ground.Bark, q.Ground.Soil = 99, 99, 99
	_, err = f.CheckDay(t.Context(), q)
	assert.ElementsMatch(t, []string{
		"duration_min", "rain_free_h", "label_max_c", "label_max_wind_m_s", "observed.time", "observed.wind_m_s", "observed.humidity_percent",
		"forecast[1].time", "forecast[2].time", "forecast[3].temperature_c", "forecast[3].rain_mm", "forecast[3].rain_percent", "forecast[4].inversion", "ground.bark", "ground.soil",
	}, faultyFields(t, err))

	for _, change := range []func(*campaignv1.CheckDayRequest){
		func(q *campaignv1.CheckDayRequest) { q.Plan = "plans/nothing" }, func(q *campaignv1.CheckDayRequest) { q.JobId = "nothing" },
	} {
		q := proto.CloneOf(fairDay("inject", at))
		change(q)
		_, err = f.CheckDay(t.Context(), q)
		assert.Equal(t, codes.NotFound, status.Code(err))
		assert.ErrorContains(t, err, "nothing")
	}
	_, err = api.NewCampaign(api.Services{}).CheckDay(t.Context(), q)
	assert.Equal(t, codes.Unimplemented, status.Code(err))
}

// Whatever is asked gets either faults by field, or an answer whose verdict is the worst
// of its checks, each with a source, and which holds for a time only where work may begin.
func TestWhateverIsAskedOfADay(t *testing.T) {
	f := newDayFight(t, &treatmentv1.Settings{})
	f.check(fairDay("inject", nineOn(time.July, 20)))
	rapid.Check(t, func(t *rapid.T) {
		wild := rapid.IntRange(0, 3).Draw(t, "some wild") == 0
		number := func(name string) *float64 {
			if wild && rapid.IntRange(0, 5).Draw(t, "wild") == 0 {
				return rapid.SampledFrom([]*float64{ptr(-1.0), ptr(math.NaN()), ptr(math.Inf(1)), ptr(1e300)}).Draw(t, name)
			}
			return rapid.SampledFrom([]*float64{nil, ptr(0.0), ptr(2.0), ptr(20.0), ptr(60.0)}).Draw(t, name)
		}
		at := rapid.SampledFrom([]time.Time{nineOn(time.July, 20), nineOn(time.July, 20), nineOn(time.January, 1), time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(9999, 12, 31, 23, 59, 0, 0, time.UTC)}).Draw(t, "time")
		q := fairDay(rapid.SampledFrom([]string{"inject", "spray"}).Draw(t, "job"), at)
		q.DurationMin = rapid.SampledFrom([]int32{0, 1, 45, 600, 1440}).Draw(t, "minutes")
		if at.Year() == 9999 {
			q.Forecast = q.Forecast[:1]
		}
		for _, w := range append(q.Forecast, q.Observed) {
			if rapid.IntRange(0, 3).Draw(t, "changed") == 0 {
				w.WindMS, w.TemperatureC, w.HumidityPercent, w.RainMm = number("wind"), number("temperature"), number("humidity"), number("rain")
			}
		}
		if wild {
			q.DurationMin = rapid.SampledFrom([]int32{1441, -1, math.MaxInt32}).Draw(t, "wild minutes")
		}
		q.RainFreeH, q.LabelMaxC, q.LabelMaxWindMS = number("hours"), number("heat"), number("label's wind")
		a, err := f.CheckDay(t.Context(), q)
		if err != nil {
			assert.Equal(t, codes.InvalidArgument, status.Code(err), "%v", err)
			assert.True(t, wild || at.Year() == 9999, "%v", err)
			return
		}
		worst := campaignv1.Verdict_VERDICT_UNSPECIFIED
		for _, c := range a.GetChecks() {
			worst = max(worst, c.GetVerdict())
			assert.NotEmpty(t, c.GetSource(), c.GetWhat())
		}
		assert.Equal(t, worst, a.GetVerdict())
		assert.Equal(t, a.GetVerdict() <= isCaution, a.GetValidUntil() != nil)
		assert.True(t, a.GetValidUntil() == nil || a.GetValidUntil().AsTime().After(at))
	})
}

// A record is held against every limit of the law on its weather: one that is broken is
// named, and one that the record does not show is named, too. That of 3 to 10 miles an hour
// is L55's of weatherLaw, as any single reading.
func TestARecordShowsThatItsWeatherWasLawful(t *testing.T) {
	f := newDayFight(t, &treatmentv1.Settings{})
	known, err := shipped()
	require.NoError(t, err)
	breeze := setOf(t, "breeze", rules.State, "us/velmora", row("wind", rules.Selector{}, rules.WeatherLimit{Factor: rules.WindSpeed, Min: 3, HasMin: true, Max: 10, HasMax: true}))
	law := lawOf(append(f.law.Sets, breeze)...)
	f.Campaign = api.NewCampaign(api.Services{Catalogue: known, Current: func() api.Law { return law }, Ledger: &shelved{entries: f.log, tables: map[string][]byte{}}})
	f.put("plan", f.plan.GetName(), f.plan)
	start := nineOn(time.July, 20)
	f.At(start.Add(5 * time.Hour))
	at := func(hours float64, change func(*campaignv1.Weather)) *campaignv1.Weather {
		w := fairly(start.Add(time.Duration(hours * float64(time.Hour))))
		change(w)
		return w
	}
	fair := func(*campaignv1.Weather) {}
	storm := func(w *campaignv1.Weather) { w.WindMS, w.GustMS = ptr(9.0), nil }
	const broken, unsaid = "by rule: wind: measured at ", "nobody can say whether it was kept: by rule: wind: "
	for name, c := range map[string]struct {
		start, end *campaignv1.Weather
		changes    []*campaignv1.Weather
		want       string // in a departure; empty: there is none of the wind
	}{
		"kept":            {start: at(0, fair), end: at(2, fair)},
		"storm":           {start: at(0, storm), end: at(2, storm), want: broken + "09:00 -04:00: above the limit"},
		"storm-at-end":    {start: at(0, fair), end: at(2, storm), want: broken + "11:00 -04:00: above the limit"},
		"storm-between":   {start: at(0, fair), end: at(2, fair), changes: []*campaignv1.Weather{at(1, storm)}, want: broken + "10:00 -04:00: above the limit"},
		"gust-not-known":  {start: at(0, fair), end: at(2, func(w *campaignv1.Weather) { w.GustMS = nil }), want: unsaid + "gusts: not known as measured at 11:00 -04:00"},
		"wind-not-known":  {start: at(0, func(w *campaignv1.Weather) { w.WindMS, w.GustMS = nil, nil }), end: at(2, fair), want: unsaid},
		"nothing-written": {want: unsaid + "nothing was written down within the hour round the beginning"},
	} {
		f.call++
		a, err := f.CreateRecord(t.Context(), &campaignv1.CreateRecordRequest{Parent: bank, RecordId: name, RequestId: fmt.Sprintf("6ba7b810-9dad-41d1-80b4-%012d", f.call), Record: &campaignv1.Record{
			Plan: "plans/day", JobId: "spray", StemIds: []string{"s1"}, StartTime: timestamppb.New(start), EndTime: timestamppb.New(start.Add(2 * time.Hour)),
			ProductMl: ptr(1.0), MixL: ptr(1.0), StartWeather: c.start, EndWeather: c.end, WeatherChanges: c.changes,
		}})
		require.NoError(t, err, name)
		var found []string
		for _, b := range a.GetRecord().GetBreaches() {
			if strings.Contains(b, "breeze/wind") {
				found = append(found, b)
			}
		}
		if c.want == "" {
			assert.Empty(t, found, name)
			continue
		}
		require.Len(t, found, 1, "%s: %v", name, a.GetRecord().GetBreaches())
		assert.Contains(t, found[0], c.want, name)
	}
}
