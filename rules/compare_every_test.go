package rules_test

import (
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
)

// A part that is added to selectors must be compared: one that is stated where none
// was makes the row apply to less.
func TestEveryPartOfASelectorIsCompared(t *testing.T) {
	all := row("r", rules.Prohibit{})
	for i := range reflect.TypeFor[rules.Selector]().NumField() {
		less := all
		part := reflect.ValueOf(&less.When).Elem().Field(i)
		name := reflect.TypeFor[rules.Selector]().Field(i).Name
		switch part.Kind() {
		case reflect.Uint32:
			part.SetUint(2)
		case reflect.Slice:
			part.Set(reflect.MakeSlice(part.Type(), 1, 1))
			if part.Type().Elem().Kind() == reflect.String {
				part.Index(0).SetString("x")
			}
		default:
			require.Fail(t, "a part of a kind that this test does not know", name)
		}
		assert.True(t, lifts(all, less), name)
		assert.False(t, lifts(less, all), name)
	}
}

func lifts(old, new rules.Row) bool {
	for _, r := range compareRows(old, new).Rows {
		if r.MayLift {
			return true
		}
	}
	return false
}

// A field that is added to an effect must be compared: without it the effect asks for
// something else, so that one way or the other may lift.
func TestEveryFieldOfAnEffectIsCompared(t *testing.T) {
	hours := rules.ClockHours{From: 420, To: 1080}
	summer := window(time.June, 1, time.August, 31)
	effects := []rules.Effect{
		rules.Buffer{Water: 6, Distance: 9, From: rules.BankTop, Activity: rules.Activity(1), Along: rules.AlongSlope, WhileWet: true,
			Reduction: rules.Reduction{Distance: 3, Evidence: "a survey", DecidedBy: "the state", RecordField: "survey"},
			Allowance: rules.Allowance{Distance: 4, Basis: "a survey of banks"}},
		rules.Setback{Places: 6, Distance: 9, Hours: hours},
		rules.Window{Open: summer}, rules.DailyHours{Open: hours},
		rules.Cap{Active: "imazapyr", Rate: 4, Over: rules.AreaCounted(2), RepeatsCounted: rules.No},
		rules.RequireStanding{AtLeast: rules.Certified, Categories: 2, MaxSupervised: 3},
		rules.Permit{Name: "a permit", From: "the state", ValidYears: 2, Yearly: "a report"},
		rules.Notice{To: "neighbours", MinDays: 2, MaxDays: 9, Within: 4, RainDates: 2, By: "letter", Languages: []string{"en"}},
		rules.Posting{Says: "keep out", Every: 4, EarliestHours: 24, RemoveWithinDays: 3, Width: 2, Height: 2, Until: "noon"},
		rules.WeatherLimit{Factor: rules.WindSpeed, Min: 3, Max: 10, HasMin: true, HasMax: true, Statistic: rules.Statistic(2), OverMinutes: 10},
		rules.Record{Fields: []string{"date"}, WithinDays: 3, KeepYears: 2}, rules.Record{Fields: []string{"date"}, WithinHours: 3},
		rules.EntryInterval{Hours: 4}, rules.ExclusionZone{Radius: 4},
		rules.UseThreshold{Area: 4, RepeatsCounted: rules.No, BothBanks: rules.No, Then: "file a plan", SingleArea: true}, rules.UseThreshold{Length: 4},
		rules.Lookup{Register: "beehives", Within: 4, MaxDays: 2, Then: "tell them"},
		rules.InSeason{Season: rules.Dormant, During: summer}, rules.Computed{Method: "degree days", Needs: 2},
	}
	seen := map[rules.EffectKind]map[string]bool{}
	for _, e := range effects {
		if seen[e.Kind()] == nil {
			seen[e.Kind()] = map[string]bool{}
		}
		value := reflect.ValueOf(e)
		for i := range value.NumField() {
			if value.Field(i).IsZero() {
				continue
			}
			name := value.Type().Field(i).Name
			seen[e.Kind()][name] = true
			without := reflect.New(value.Type()).Elem()
			without.Set(value)
			without.Field(i).SetZero()
			other := without.Interface().(rules.Effect)
			assert.True(t, lifts(row("r", e), row("r", other)) || lifts(row("r", other), row("r", e)), "%s: %s", e.Kind(), name)
		}
	}
	for _, e := range effects {
		for i := range reflect.TypeOf(e).NumField() {
			name := reflect.TypeOf(e).Field(i).Name
			assert.True(t, seen[e.Kind()][name], "%s: %s is not tried", e.Kind(), name)
		}
	}
	for kind := rules.KindProhibit; kind <= rules.KindComputed; kind++ {
		if kind != rules.KindProhibit && kind != rules.KindWarn {
			assert.NotEmpty(t, seen[kind], kind)
		}
	}
}
