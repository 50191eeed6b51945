package rules_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Every kind of effect, on a treatment to which its row applies, does not
// apply, or may apply for all that is known.
func TestWhatEachEffectSays(t *testing.T) {
	const limit = 30 * quantity.Foot
	buffer := rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: limit, From: rules.WaterEdge}
	cases := []struct {
		name     string
		effect   rules.Effect
		lake     quantity.Micrometres // zero: not known
		standing rules.Standing
		applies  rules.Decision
		maybe    rules.Decision
	}{
		{name: "prohibit", effect: rules.Prohibit{}, applies: rules.Prohibited, maybe: rules.Undetermined},
		{name: "buffer, inside", effect: buffer, lake: limit - 1, applies: rules.Prohibited, maybe: rules.Undetermined},
		{name: "buffer, at the limit", effect: buffer, lake: limit, applies: rules.Allowed, maybe: rules.Allowed},
		{name: "buffer, outside", effect: buffer, lake: limit + 1, applies: rules.Allowed, maybe: rules.Allowed},
		{name: "buffer, distance not known", effect: buffer, applies: rules.Undetermined, maybe: rules.Undetermined},
		{name: "window, open", effect: rules.Window{Open: window(time.July, 20, time.July, 20)}, applies: rules.Allowed, maybe: rules.Allowed},
		{name: "window, closed", effect: rules.Window{Open: window(time.July, 21, time.July, 19)}, applies: rules.Prohibited, maybe: rules.Undetermined},
		{name: "season", effect: rules.InSeason{Season: rules.Growing, During: window(time.June, 1, time.July, 31)}, applies: rules.Allowed, maybe: rules.Allowed},
		{name: "cap", effect: rules.Cap{Active: "triclopyr", Rate: 1}, applies: rules.Allowed, maybe: rules.Allowed},
		{name: "standing, as required", effect: rules.RequireStanding{AtLeast: rules.Supervised}, standing: rules.Supervised, applies: rules.Allowed, maybe: rules.Allowed},
		{name: "standing, higher", effect: rules.RequireStanding{AtLeast: rules.Supervised}, standing: rules.Certified, applies: rules.Allowed, maybe: rules.Allowed},
		{name: "standing, lower", effect: rules.RequireStanding{AtLeast: rules.Supervised}, standing: rules.Unlicensed, applies: rules.Prohibited, maybe: rules.Undetermined},
		{name: "standing, nobody named yet", effect: rules.RequireStanding{AtLeast: rules.Supervised}, applies: rules.Undetermined, maybe: rules.Undetermined},
		{name: "permit", effect: rules.Permit{Name: "a permit", From: "the district"}, applies: rules.Conditional, maybe: rules.Conditional},
		{name: "notice", effect: rules.Notice{To: "neighbours", MinDays: 2}, applies: rules.Conditional, maybe: rules.Conditional},
		{name: "posting", effect: rules.Posting{Says: "keep out"}, applies: rules.Conditional, maybe: rules.Conditional},
		{name: "weather", effect: rules.WeatherLimit{Factor: rules.WindSpeed, Max: 10, HasMax: true}, applies: rules.Conditional, maybe: rules.Conditional},
		{name: "record", effect: rules.Record{Fields: []string{"date"}}, applies: rules.Conditional, maybe: rules.Conditional},
		{name: "entry interval", effect: rules.EntryInterval{Hours: 12}, applies: rules.Conditional, maybe: rules.Conditional},
		{name: "exclusion zone", effect: rules.ExclusionZone{Radius: 25 * quantity.Foot}, applies: rules.Conditional, maybe: rules.Conditional},
		{name: "exclusion zone of nothing", effect: rules.ExclusionZone{}, applies: rules.Allowed, maybe: rules.Allowed},
		{name: "setback, distance not known", effect: rules.Setback{Places: rules.AnyOf(rules.School), Distance: 1}, applies: rules.Undetermined, maybe: rules.Undetermined},
		{name: "daily hours", effect: rules.DailyHours{Open: rules.ClockHours{From: 60, To: 120}}, applies: rules.Conditional, maybe: rules.Conditional},
		{name: "use threshold", effect: rules.UseThreshold{Area: 1, RepeatsCounted: rules.Yes, Then: "file a plan"}, applies: rules.Conditional, maybe: rules.Conditional},
		{name: "lookup", effect: rules.Lookup{Register: "the register", Then: "tell"}, applies: rules.Conditional, maybe: rules.Conditional},
		{name: "computed", effect: rules.Computed{Method: "degree days", Needs: rules.AnyOf(rules.FactPosition)}, applies: rules.Undetermined, maybe: rules.Undetermined},
		{name: "mixing and loading", effect: rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: limit, From: rules.WaterEdge, Activity: rules.MixAndLoad}, lake: 1, applies: rules.Conditional, maybe: rules.Conditional},
		{name: "warn", effect: rules.Warn{Message: "take care"}, applies: rules.Allowed, maybe: rules.Allowed},
	}
	covered := map[rules.EffectKind]bool{}
	for _, c := range cases {
		covered[c.effect.Kind()] = true
		t.Run(c.name, func(t *testing.T) {
			r := when("row", rules.Selector{Species: []string{"Ailanthus altissima"}}, c.effect)
			var site rules.Surroundings
			if c.lake > 0 {
				site.Water.Set(rules.Lake, rules.WaterDistance{Distance: c.lake, Origin: rules.WaterEdge})
			}
			treatment := rules.Treatment{Species: "Ailanthus altissima", Standing: c.standing}
			assert.Equal(t, c.applies, decide(t, treatment, site, r), "applies")
			treatment.Species = "Rhamnus cathartica"
			assert.Equal(t, rules.Allowed, decide(t, treatment, site, r), "does not apply")
			treatment.Species = ""
			assert.Equal(t, c.maybe, decide(t, treatment, site, r), "may apply")
		})
	}
	assert.Len(t, covered, len(rules.Words[rules.EffectKind]()), "a kind of effect has no case here")
}

// The strictest water decides, and one that is not known is not outvoted.
func TestABufferOfSeveralWaters(t *testing.T) {
	const limit = 10 * quantity.Metre
	r := row("row", rules.Buffer{Water: rules.AnyOf(rules.Lake, rules.Well), Distance: limit, From: rules.WaterEdge})
	far := rules.WaterDistance{Distance: limit, Origin: rules.WaterEdge}
	near := rules.WaterDistance{Distance: limit - 1, Origin: rules.WaterEdge}
	cases := []struct {
		name string
		at   map[rules.WaterClass]rules.WaterDistance
		want rules.Decision
	}{
		{"both far", map[rules.WaterClass]rules.WaterDistance{rules.Lake: far, rules.Well: far}, rules.Allowed},
		{"one near", map[rules.WaterClass]rules.WaterDistance{rules.Lake: far, rules.Well: near}, rules.Prohibited},
		{"one near, one not known", map[rules.WaterClass]rules.WaterDistance{rules.Well: near}, rules.Prohibited},
		{"one far, one not known", map[rules.WaterClass]rules.WaterDistance{rules.Lake: far}, rules.Undetermined},
		{"another water near", map[rules.WaterClass]rules.WaterDistance{rules.Lake: far, rules.Well: far, rules.Ditch: near}, rules.Allowed},
		{"none known", nil, rules.Undetermined},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var site rules.Surroundings
			for class, d := range c.at {
				site.Water.Set(class, d)
			}
			assert.Equal(t, c.want, decide(t, rules.Treatment{}, site, r))
		})
	}
}

func TestInWaterForbidsTheWaterAlone(t *testing.T) {
	r := row("row", rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: rules.InWater, From: rules.WaterEdge})
	for d, want := range map[quantity.Micrometres]rules.Decision{0: rules.Prohibited, 1: rules.Allowed} {
		var site rules.Surroundings
		site.Water.Set(rules.Lake, rules.WaterDistance{Distance: d, Origin: rules.WaterEdge})
		assert.Equal(t, want, decide(t, rules.Treatment{}, site, r), "at %d µm", d)
	}
}

func TestEffectsInWords(t *testing.T) {
	cases := []struct {
		effect rules.Effect
		want   string
	}{
		{rules.Prohibit{}, "forbidden"},
		{rules.Buffer{Water: rules.AnyOf(rules.PerennialStream, rules.Lake), Distance: 60 * quantity.Foot, From: rules.BankTop},
			"not within 60 ft (18.29 m) of perennial stream, lake, counted from the bank top"},
		{rules.Buffer{Water: rules.AnyOf(rules.Well), Distance: 30 * quantity.Metre, From: rules.WaterEdge},
			"not within 30 m (98.43 ft) of well, counted from the water edge"},
		{rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: rules.InWater, From: rules.WaterEdge}, "not in lake"},
		{rules.Buffer{Water: rules.AnyOf(rules.Ditch), Distance: 3 * quantity.Metre, From: rules.BankTop, Allowance: rules.Allowance{Distance: 5 * quantity.Metre, Basis: "section 4(2)"}},
			"not within 3 m (9.843 ft) of ditch, counted from the bank top (5 m (16.4 ft) are taken off a distance that starts nearer the water: section 4(2))"},
		{rules.Window{Open: window(time.July, 15, time.October, 15)}, "only from 15 July to 15 October"},
		{rules.InSeason{Season: rules.SapFlow, During: window(time.March, 1, time.May, 15)}, "1 March to 15 May is spring sap flow"},
		{rules.Cap{Active: "imazapyr", Rate: quantity.PoundsPerAcre(1.5)}, "at most 1.5 lb ae of imazapyr per acre in a calendar year"},
		{rules.RequireStanding{AtLeast: rules.Certified}, "applicator at least certified"},
		{rules.Permit{Name: "a shoreline permit", From: "the district"}, "needs a shoreline permit from the district"},
		{rules.Notice{To: "neighbours", MinDays: 3, MaxDays: 60, Within: 500 * quantity.Foot, RainDates: 2},
			"tell neighbours at least 3 days before and at most 60, within 500 ft (152.4 m), naming up to 2 rain dates"},
		{rules.Posting{Says: "keep out", Every: 20 * quantity.Metre, EarliestHours: 24, RemoveWithinDays: 3},
			"post signs: keep out, every 20 m (65.62 ft), no sooner than 24 hours before, removed within 3 days after the entry interval"},
		{rules.WeatherLimit{Factor: rules.WindSpeed, Min: 3, Max: 10, HasMin: true, HasMax: true}, "wind at least 3 and at most 10 mph, by any single reading, gusts included"},
		{rules.Record{Fields: []string{"date", "amount"}, WithinDays: 14, KeepYears: 2}, "record date, amount within 14 days; keep for 2 years"},
		{rules.EntryInterval{Hours: 48}, "no entry for 48 hours"},
		{rules.ExclusionZone{Radius: 100 * quantity.Foot}, "nobody within 100 ft (30.48 m) while it is applied"},
		{rules.ExclusionZone{}, "no exclusion zone"},
		{rules.Warn{Message: "roots may graft"}, "roots may graft"},
		{rules.Buffer{Water: rules.AnyOf(rules.Ditch), Distance: 3 * quantity.Metre, From: rules.BankTop, Along: rules.AlongSlope, WhileWet: true},
			"not within 3 m (9.843 ft) along the slope of ditch, counted from the bank top while there is water in it"},
		{rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: rules.InWater, From: rules.WaterEdge, WhileWet: true}, "not in lake while there is water in it"},
		{rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: 50 * quantity.Foot, From: rules.WaterEdge, Activity: rules.MixAndLoad},
			"no mixing and loading within 50 ft (15.24 m) of lake, counted from the water edge"},
		{rules.Buffer{Water: rules.AnyOf(rules.Well), Distance: 30 * quantity.Metre, From: rules.WaterEdge,
			Reduction: rules.Reduction{Distance: 10 * quantity.Metre, Evidence: "a survey of the ground", DecidedBy: "the licensed manager", RecordField: "reduction"}},
			"not within 30 m (98.43 ft) of well, counted from the water edge; not within 10 m (32.81 ft) where the licensed manager has decided so on a survey of the ground, kept in the record as reduction"},
		{rules.Setback{Places: rules.AnyOf(rules.School, rules.Childcare), Distance: 3 * quantity.Metre}, "not within 3 m (9.843 ft) of school, childcare"},
		{rules.Setback{Places: rules.AnyOf(rules.School), Distance: 30 * quantity.Metre, Hours: rules.ClockHours{From: 420, To: 1080}},
			"not within 30 m (98.43 ft) of school from 07:00 to 18:00"},
		{rules.DailyHours{Open: rules.ClockHours{From: 30, FromAnchor: rules.Sunrise, ToAnchor: rules.Sunset}}, "only from 30 minutes after sunrise to sunset"},
		{rules.DailyHours{Open: rules.ClockHours{From: 300, To: -45, ToAnchor: rules.Sunset}}, "only from 05:00 to 45 minutes before sunset"},
		{rules.UseThreshold{Area: quantity.Acres(80), RepeatsCounted: rules.Yes, Then: "file a notice of intent", SingleArea: true},
			"once more than 80 acres (32.37 ha) in one area is treated in a calendar year, ground treated again counting again: file a notice of intent"},
		{rules.UseThreshold{Length: 20 * quantity.Mile, RepeatsCounted: rules.No, BothBanks: rules.Yes, Then: "file a notice of intent"},
			"once more than 105600 ft (3.219e+04 m) of shore is treated in a calendar year, both banks counting: file a notice of intent"},
		{rules.Lookup{Register: "the apiary register", Within: 5 * quantity.Foot, MaxDays: 3, Then: "tell the keeper"},
			"look up the apiary register within 5 ft (1.524 m), at most 3 days before; for an entry: tell the keeper"},
		{rules.Lookup{Register: "the bulletin", Then: "keep its limits"}, "look up the bulletin on the day; for an entry: keep its limits"},
		{rules.Computed{Method: "degree days above 10 °C", Needs: rules.AnyOf(rules.FactPosition, rules.FactTemperatures)},
			"only in the part of the year that degree days above 10 °C gives for the place, from its position, temperatures"},
		{rules.Cap{Active: "imazapyr", Rate: quantity.PoundsPerAcre(1.5), Over: rules.OverParcel, RepeatsCounted: rules.No},
			"at most 1.5 lb ae of imazapyr per acre in a calendar year over the whole parcel, ground treated again not counting again"},
		{rules.RequireStanding{AtLeast: rules.Supervised, Categories: rules.AnyOf(rules.CertifiedForest, rules.CertifiedRightOfWay), MaxSupervised: 8},
			"applicator at least supervised, certified in one of forest, right of way, one certified applicator for at most 8 supervised"},
		{rules.Permit{Name: "an approved vegetation plan", From: "the agency", ValidYears: 5, Yearly: "an operational plan"},
			"needs an approved vegetation plan from the agency, no older than 5 years, and every year an operational plan"},
		{rules.Notice{To: "residents", MinDays: 7, MaxDays: 21, By: "in a newspaper", Languages: []string{"French", "English"}},
			"tell residents at least 7 days before and at most 21, in a newspaper, in French and English"},
		{rules.Posting{Says: "keep out", Width: 14 * quantity.Foot / 10, Height: 16 * quantity.Foot / 10, Until: "the fruit is past"},
			"post signs: keep out, at least 1.4 ft (0.4267 m) by 1.6 ft (0.4877 m), until the fruit is past"},
		{rules.WeatherLimit{Factor: rules.WindSpeed, Max: 10, HasMax: true, Statistic: rules.SustainedMean, OverMinutes: 10},
			"wind at most 10 mph, as a sustained mean over 10 minutes"},
		{rules.WeatherLimit{Factor: rules.Inversion, HasMax: true}, "no temperature inversion"},
		{rules.WeatherLimit{Factor: rules.RelativeHumidity, Min: 40, HasMin: true}, "relative humidity at least 40 %, by any single reading"},
		{rules.WeatherLimit{Factor: rules.WindSpeed, Max: 10, HasMax: true, Statistic: rules.Gust, OverMinutes: 5}, "wind at most 10 mph, by the greatest gust over 5 minutes"},
		{rules.WeatherLimit{Factor: rules.WindSpeed, Max: 10, HasMax: true, Statistic: rules.Reading}, "wind at most 10 mph, by any single reading, gusts included"},
		{rules.WeatherLimit{Factor: rules.AirTemperature, Max: 85, HasMax: true}, "air temperature at most 85 °F, by any single reading"},
		{rules.WeatherLimit{Factor: rules.DeltaT, Min: 2, HasMin: true}, "dry less wet bulb at least 2 °C, by any single reading"},
		{rules.WeatherLimit{Factor: rules.RainFreeHours, Min: 6, HasMin: true}, "time without rain afterwards, by the forecast, at least 6 hours"},
		{rules.WeatherLimit{Factor: rules.Inversion, Min: 1, HasMin: true}, "temperature inversion (1 while there is one) at least 1"},
		{rules.Record{Fields: []string{"wind at start", "wind on change"}, WithinHours: 48, KeepYears: 3}, "record wind at start, wind on change within 48 hours; keep for 3 years"},
	}
	for _, c := range cases {
		assert.Equal(t, c.want, c.effect.Text(), c.effect.Kind().String())
	}
}
