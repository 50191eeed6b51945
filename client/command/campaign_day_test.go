package command_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
)

// forecaster answers one way, and keeps what it was asked last.
type forecaster struct {
	campaignv1.UnimplementedCampaignServiceServer
	verdict campaignv1.Verdict
	asked   *campaignv1.CheckDayRequest
}

func (k *forecaster) CheckDay(_ context.Context, q *campaignv1.CheckDayRequest) (*campaignv1.CheckDayResponse, error) {
	k.asked = q
	a := &campaignv1.CheckDayResponse{Verdict: k.verdict, Checks: []*campaignv1.DayCheck{
		{What: "plan", Verdict: campaignv1.Verdict_VERDICT_GO, Why: "the job is prescribed as it was planned", Source: "prescribed anew"},
		{What: "wind, label", Verdict: k.verdict, Value: some(2.2352), Unit: "m/s", Max: some(2.234), Margin: some(-0.0012), Why: "measured: above the limit: wait", Source: "the label, as stated"},
		{What: "soil", Verdict: campaignv1.Verdict_VERDICT_UNKNOWN, Why: "not stated: look, and state it", Source: "common practice, no source"},
		{What: "wind, at least", Verdict: campaignv1.Verdict_VERDICT_GO, Value: some(2), Unit: "m/s", Min: some(1.34112), Margin: some(0.65888), Source: "extension guidance (W14)"},
		{What: "temperature, label", Verdict: campaignv1.Verdict_VERDICT_GO, Value: some(24), Unit: "°C", Max: some(30), Margin: some(6), Source: "the label, as stated"},
		{What: "delta T", Verdict: campaignv1.Verdict_VERDICT_GO, Value: some(4), Unit: "°C", Max: some(10), Margin: some(6), Source: "weather services"},
		{What: "daylight", Verdict: campaignv1.Verdict_VERDICT_GO, Value: some(3), Unit: "hours after sunrise", Min: some(0), Max: some(14.5), Margin: some(3), Source: "common practice, no source"},
	}, Conditions: []string{"The label stands above every limit here: where it is stricter, it holds."}}
	if k.verdict <= campaignv1.Verdict_VERDICT_CAUTION {
		a.ValidUntil = timestamppb.New(q.GetTime().AsTime().Add(time.Hour))
	}
	return a, nil
}

func (k *forecaster) serve(t *testing.T) string { return serveCampaigns(t, k) }

func TestTheExitCodeSaysWhetherWorkMayBegin(t *testing.T) {
	for verdict, code := range map[campaignv1.Verdict]int{
		campaignv1.Verdict_VERDICT_GO: 0, campaignv1.Verdict_VERDICT_CAUTION: 0, campaignv1.Verdict_VERDICT_UNKNOWN: 3,
		campaignv1.Verdict_VERDICT_NO_GO: 3, campaignv1.Verdict_VERDICT_UNSPECIFIED: 3,
	} {
		server := (&forecaster{verdict: verdict}).serve(t)
		got := direct(t, "day", "plans/summer", "j1", "--time", "2026-07-20T09:00-04:00", "--server", server)
		assert.Equal(t, code, got.code, "%s: %s", verdict, got.stderr)
		got = direct(t, "day", "plans/summer", "j1", "--time", "2026-07-20T09:00-04:00", "--server", server, "--json")
		assert.Equal(t, code, got.code, "%s", verdict)
		assert.True(t, json.Valid([]byte(got.stdout)), got.stdout)
		assert.Empty(t, got.stderr)
	}
}

func TestADayIsShown(t *testing.T) {
	server := (&forecaster{verdict: campaignv1.Verdict_VERDICT_NO_GO}).serve(t)
	golden(t, "day_no_go.txt", direct(t, "day", "plans/summer", "j1", "--time", "2026-07-20T09:00-04:00", "--server", server).stdout)
	server = (&forecaster{verdict: campaignv1.Verdict_VERDICT_CAUTION}).serve(t)
	golden(t, "day_caution.txt", direct(t, "day", "plans/summer", "j1", "--time", "2026-07-20T09:00-04:00", "--duration-min", "45", "--server", server).stdout)
}

// A crew that types miles per hour and degrees Fahrenheit reads them: 2.2352 m/s are 5 mph by
// definition of the mile, 24 °C are 75.2 °F.
func TestADayIsShownInTheUnitsThatWereTyped(t *testing.T) {
	server := (&forecaster{verdict: campaignv1.Verdict_VERDICT_NO_GO}).serve(t)
	day := func(flags ...string) string {
		return direct(t, append([]string{"day", "plans/summer", "j1", "--time", "2026-07-20T09:00-04:00", "--server", server}, flags...)...).stdout
	}
	const inMiles, inMetres = "wind, label 5 at most 5 -0.01 mph", "wind, label 2.24 at most 2.23 -0.01 m/s"
	const inFahrenheit, inCelsius = "temperature, label 75.2 at most 86 10.8 °F", "temperature, label 24 at most 30 6 °C"
	contains(t, day("--wind-mph", "5"), inMiles, inCelsius, "delta T 4 at most 10 6 °C")
	contains(t, day("--gust-mph", "5"), inMiles)
	contains(t, day("--label-max-wind-mph", "5"), inMiles)
	contains(t, day("--temperature-f", "75.2"), inMetres, inFahrenheit, "delta T 4 at most 10 6 °C")
	contains(t, day("--label-max-f", "86"), inMetres, inFahrenheit)
	contains(t, day("--wind-m-s", "2.2352", "--temperature-c", "24"), inMetres, inCelsius)
}

func TestADayIsReadFromFlagsAndFiles(t *testing.T) {
	k := &forecaster{verdict: campaignv1.Verdict_VERDICT_GO}
	server := k.serve(t)
	folder := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return path
	}
	ask := func(args ...string) outcome {
		return direct(t, append([]string{"day", "plans/summer", "j1", "--time", "2026-07-20T09:00-04:00", "--server", server}, args...)...)
	}
	file := write("hours.csv", "time,wind_mph,gust_mph,temperature_f,humidity_percent,rain_in,rain_percent,inversion,wind_from_deg\n"+
		"2026-07-20T09:00-04:00,5,10,68,60,0.1,20,no,270\n2026-07-20T10:00:00-04:00,,,,,,,,\n")
	got := ask("--wind-mph", "5", "--gust-m-s", "3", "--temperature-f", "68", "--humidity-percent", "60", "--inversion", "no", "--wind-from-deg", "90",
		"--measured-at", "2026-07-20 08:50-04:00", "--bark", "dry", "--soil", "moist", "--rain-free-h", "6", "--label-max-f", "86", "--label-max-wind-mph", "10",
		"--duration-min", "45", "--forecast", file)
	require.Zero(t, got.code, got.stderr)
	q := k.asked
	assert.Equal(t, "2026-07-20T13:00:00Z", q.GetTime().AsTime().Format(time.RFC3339))
	assert.Equal(t, "2026-07-20T12:50:00Z", q.GetObserved().GetTime().AsTime().Format(time.RFC3339))
	assert.InDelta(t, 2.2352, q.GetObserved().GetWindMS(), 1e-9)
	assert.InDelta(t, 20, q.GetObserved().GetTemperatureC(), 1e-9)
	assert.InDelta(t, 30, q.GetLabelMaxC(), 1e-9)
	assert.InDelta(t, 4.4704, q.GetLabelMaxWindMS(), 1e-9)
	assert.Equal(t, commonv1.BarkState_BARK_STATE_DRY, q.GetGround().GetBark())
	assert.Equal(t, commonv1.SoilState_SOIL_STATE_MOIST, q.GetGround().GetSoil())
	assert.Equal(t, commonv1.YesNo_YES_NO_NO, q.GetObserved().GetInversion())
	require.Len(t, q.GetForecast(), 2)
	assert.InDelta(t, 2.54, q.GetForecast()[0].GetRainMm(), 1e-9)
	assert.InDelta(t, 4.4704, q.GetForecast()[0].GetGustMS(), 1e-9)
	assert.Nil(t, q.GetForecast()[1].WindMS, "an empty field is not known")

	require.Zero(t, ask().code)
	assert.Nil(t, k.asked.GetObserved(), "nothing was measured")
	assert.Nil(t, k.asked.RainFreeH)

	require.Zero(t, ask("--forecast", write("hours.yaml", "forecast:\n- {time: \"2026-07-20T13:00:00Z\", wind_m_s: 2, rain_mm: 0}\n")).code)
	require.Len(t, k.asked.GetForecast(), 1)
	assert.InDelta(t, 2, k.asked.GetForecast()[0].GetWindMS(), 0)

	for name, c := range map[string]struct{ text, want string }{
		"unknown.csv":  {"time,breeze\n", `no column "breeze"`},
		"twice.csv":    {"time,time\n", "there twice"},
		"same.csv":     {"time,rain_mm,rain_in\n", "rain_mm and rain_in are the same"},
		"timeless.csv": {"rain_mm\n", "column time is missing"},
		"empty.csv":    {"", "column names"},
		"word.csv":     {"time,rain_mm,inversion\n2026-07-20,much,perhaps\n", "line 2, column rain_mm"},
		"ragged.csv":   {"time,rain_mm\n2026-07-20T09:00-04:00\n", "wrong number of fields"},
		"other.yaml":   {"plan: plans/x\n", "one list named forecast"},
		"bad.yaml":     {"forecast: [{wind: 3}]\n", "wind"},
	} {
		got := ask("--forecast", write(name, c.text))
		assert.Equal(t, 2, got.code, name)
		contains(t, got.stderr, c.want)
	}
	got = direct(t, "day", "plans/summer", "j1", "--time", "2026-07-20 9:00", "--server", server)
	assert.Equal(t, 2, got.code)
	contains(t, got.stderr, "no time with its distance from UTC")
	got = ask("--wind-mph", "5", "--wind-m-s", "2")
	assert.Equal(t, 2, got.code)
}

// From a survey to a day's verdict, through the real programs and the invented district:
// its law opens foliar treatment on 1 August, and wants a wind of 3 to 10 mph.
func TestADayOfAPlanThatWasMade(t *testing.T) {
	folder := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return path
	}
	campaign := func(args ...string) outcome {
		return rootward(t, append(args, "--data", filepath.Join(folder, "data"), "--quiet")...)
	}
	must := func(args ...string) {
		got := campaign(args...)
		require.Zero(t, got.code, got.stderr)
	}
	must("sites", "add", "north-bank", "--file", write("site.yaml", "place: us/velmora/ossel-creek\ntime_zone: America/New_York\narea_m2: 50000\nlatitude_deg: 40.4\nlongitude_deg: -75.2\n"))
	must("surveys", "add", "sites/north-bank", "first", "--file", write("survey.yaml", "date: {year: 2026, month: 6, day: 20}\n"),
		"--stems", write("stems.csv", "occurrenceID,scientificName,locationID,place,form,dbh_cm,height_m,bark_state,desirable_vegetation,soil_state,land_use,other_water_beyond_m,other_places_beyond_m,individualCount\n"+
			"s1,Ailanthus altissima,north-bank,us/velmora/ossel-creek,root_sucker,1,0.8,dry,none,moist,forest,300,300,400\n"))
	must("plans", "make", "summer", "--file", write("plan.yaml", "from: {year: 2031, month: 7, day: 1}\nsites: [sites/north-bank]\nsettings: {standing: STANDING_CERTIFIED}\ncrews: [{crew_id: one, people: 2, hours_per_day: 8}]\n"))

	contains(t, campaign("plans", "show", "plans/summer").stdout, "fl oz of mix with", "fl oz of product", "TO BUY", "fl oz, spare")
	contains(t, campaign("plans", "show", "plans/summer", "--units", "metric").stdout, "mL of mix with", "mL of product", "mL, spare")

	hours := "time,wind_mph,gust_mph,temperature_f,humidity_percent,rain_in,rain_percent,inversion\n"
	for hour := 9; hour < 18; hour++ {
		hours += fmt.Sprintf("2031-08-04T%02d:00-04:00,5,7,68,60,0,5,no\n", hour)
	}
	forecast := write("hours.csv", hours)
	day := func(date, wind string) outcome {
		return campaign("day", "plans/summer", "north-bank-1", "--time", date+"T09:00-04:00", "--duration-min", "45", "--wind-mph", wind, "--gust-mph", "9", "--temperature-f", "68",
			"--humidity-percent", "60", "--inversion", "no", "--bark", "dry", "--soil", "moist", "--rain-free-h", "6", "--label-max-wind-mph", "12", "--label-max-f", "85", "--forecast", forecast)
	}
	got := day("2031-08-04", "5")
	assert.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "Valid until 2031-08-04 10:00 -04:00", "velmora/weather-wind", "tell the watershed district at least 7 days before")
	got = day("2031-08-04", "10.1")
	assert.Equal(t, 3, got.code, got.stdout)
	contains(t, got.stdout, "NO GO by rule: wind 10.1 3 to 10 -0.1 mph")
	got = day("2031-07-31", "5")
	assert.Equal(t, 3, got.code, got.stdout)
	contains(t, got.stdout, "it opens on 2031-08-01", "ossel-creek/window-low-water: only from 1 August to 30 September")
	got = campaign("day", "plans/summer", "nobody", "--time", "2031-08-04T09:00-04:00")
	assert.Equal(t, 1, got.code)
	contains(t, got.stderr, "nobody")
}
