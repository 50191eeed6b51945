package weather

import (
	"example.org/rootward/rules"
)

// limit is one limit on a value that varies with the weather.
type limit struct {
	Check // what, unit, limits and source
	// safeMin and safeMax are where caution begins; nil: nowhere.
	safeMin, safeMax *float64
	careful          string // what to do where caution is wanted
	value            func(*Reading) (float64, bool)
	unforecast       string // what to do where a forecast does not tell; empty: it is not known
	// outside is the verdict on what breaks the limits; nil: it must not be.
	outside func(*Reading) finding
}

// finding is a verdict with what was found, and what to do while there is work to do.
type finding struct {
	Verdict
	why, remedy string
}

// over holds a spell against the limit. The value shown is the worst that is known.
func (l *limit) over(s spell) Check {
	c := l.Check
	c.Verdict = Go
	for _, r := range s.telling(l.value) {
		when := "measured"
		if s.done != nil {
			when += " at " + r.At.Format("15:04 -07:00")
		}
		l.judge(&c, &r, when, "", s.done != nil)
	}
	for i := range s.forecast {
		l.judge(&c, &s.forecast[i], "forecast for "+s.forecast[i].At.Format("15:04 -07:00"), l.unforecast, false)
	}
	if s.gap != "" {
		c.worsen(Unknown, "%s", s.gap)
	}
	return c
}

// judge holds one reading against the limit; caution is what to do where it does not tell,
// if that is all.
func (l *limit) judge(c *Check, r *Reading, when, caution string, done bool) {
	v, known := l.value(r)
	if !known && caution != "" {
		c.worsen(Caution, "%s", caution)
		return
	}
	if !known {
		c.worsen(Unknown, "not known as %s", when)
		return
	}
	one := *c
	one.hold(v)
	if c.Value == nil || one.Margin != nil && *one.Margin < *c.Margin {
		c.Value, c.Margin = one.Value, one.Margin
	}
	found := l.grade(r, v)
	if found.remedy != "" && !done {
		found.why += ": " + found.remedy
	}
	c.worsen(found.Verdict, "%s: %s", when, found.why)
}

func (l *limit) grade(r *Reading, v float64) finding {
	low, high := l.Min != nil && below(v, *l.Min), l.Max != nil && above(v, *l.Max)
	switch {
	case (low || high) && l.outside != nil:
		return l.outside(r)
	case low:
		return finding{NoGo, "below the limit", "wait"}
	case high:
		return finding{NoGo, "above the limit", "wait"}
	case l.safeMin != nil && below(v, *l.safeMin), l.safeMax != nil && above(v, *l.safeMax):
		return finding{Caution, l.careful, ""}
	}
	return finding{Verdict: Go}
}

func of(get func(*Reading) *float64) func(*Reading) (float64, bool) {
	return func(r *Reading) (float64, bool) {
		if v := get(r); v != nil {
			return *v, true
		}
		return 0, false
	}
}

var (
	wind        = of(func(r *Reading) *float64 { return r.Wind })
	gust        = of(func(r *Reading) *float64 { return r.Gust })
	temperature = of(func(r *Reading) *float64 { return r.Temperature })
	humidity    = of(func(r *Reading) *float64 { return r.Humidity })
)

func deltaT(r *Reading) (float64, bool) {
	if r.Temperature == nil || r.Humidity == nil {
		return 0, false
	}
	return DeltaT(*r.Temperature, *r.Humidity)
}

// inverted is 1 under an inversion and 0 without one.
func inverted(r *Reading) (float64, bool) {
	return map[rules.YesNo]float64{rules.Yes: 1, rules.No: 0}[r.Inversion], rules.Known(r.Inversion)
}

// MetresPerSecond is one mile an hour.
const MetresPerSecond = 0.44704

// Limits of good practice, in metres a second and degrees Celsius.
const (
	calm          = 3 * MetresPerSecond
	breezy        = 8 * MetresPerSecond
	windiest      = 10 * MetresPerSecond
	hotForEster   = (85 - 32) / 1.8
	hotForOil     = 25.0
	warmForOil    = 24.0
	frost         = 0.0
	moistDeltaT   = 2.0
	dryDeltaT     = 8.0
	driestDeltaT  = 10.0
	likelyRain    = 50.0
	possibleRain  = 20.0
	sourceWind    = "Pesticide Environmental Stewardship, evaluate the weather: 3 to 8 mph where the label states no limit"
	sourceCalm    = "Pesticide Environmental Stewardship, evaluate the weather, and the label of a product of triclopyr and 2,4-D: look for an inversion below 3 mph, treat in none"
	sourceGust    = "common practice, no source: gusts within 10 mph, the upper end of the widest published window of wind"
	sourceDeltaT  = "Australian Bureau of Meteorology, delta T, as weather services quote it: 2 to 8 °C, marginal below and up to 10; wet bulb by Stull 2011"
	sourceEster   = "from memory: esters turn to vapour above about 85 °F"
	sourceOil     = "Canadian guidance on basal bark: 25 °C for mineral oil, 24 °C in another note"
	sourceLabel   = "the label, as stated"
	sourceFrost   = "common practice, no source: nothing is applied to frozen stems"
	unstatedLabel = "not stated: read the label, and state the limit where it has one"
)

// sprayed reports whether the liquid goes through the air.
func (w *Work) sprayed() bool {
	return w.Method == rules.LowVolumeFoliar || w.Method == rules.HighVolumeFoliar || w.Method == 0
}

// applied reports whether there is a product.
func (w *Work) applied() bool { return w.Method != rules.HandPull }

// limits are those of practice and label that bear on the work, on what varies by the hour.
func (d *Day) limits() []limit {
	if !d.applied() {
		return nil
	}
	var list []limit
	if d.sprayed() {
		list = append(list, d.drift()...)
	}
	list = append(list, limit{Check: Check{What: "temperature, at least", Unit: "°C", Min: ptr(frost), Source: sourceFrost}, value: temperature})
	switch {
	case d.Oil:
		list = append(list, limit{
			Check:   Check{What: "temperature, oil", Unit: "°C", Max: ptr(hotForOil), Source: sourceOil},
			safeMax: ptr(warmForOil), careful: "near the limit: the cool of the morning is safer", value: temperature,
		})
	case d.Kind == rules.Ester || d.Kind == 0:
		list = append(list, limit{Check: Check{What: "temperature, ester", Unit: "°C", Max: ptr(hotForEster), Source: sourceEster}, value: temperature})
	}
	return append(list, d.byLabel()...)
}

// drift are the limits on what is sprayed into the air.
func (d *Day) drift() []limit {
	upper := limit{Check: Check{What: "wind, at most", Unit: "m/s", Max: ptr(breezy), Source: sourceWind}, value: wind}
	if d.MaxWind != nil { // the label's own limit decides
		upper.outside = func(*Reading) finding {
			return finding{Caution, "above what is advised without a limit on the label", "watch the drift"}
		}
	}
	steady := breezy
	if d.MaxWind != nil {
		steady = *d.MaxWind
	}
	return []limit{
		{Check: Check{What: "wind, at least", Unit: "m/s", Min: ptr(calm), Source: sourceCalm}, value: wind, outside: whileCalm},
		upper,
		{
			Check:   Check{What: "gusts", Unit: "m/s", Max: ptr(windiest), Source: sourceGust},
			safeMax: ptr(steady), careful: "gusts pass the limit on the wind: stop while they do", value: gust,
		},
		{
			Check: Check{What: "inversion", Unit: "1 if there is one", Max: ptr(0.0), Source: sourceCalm}, value: inverted,
			unforecast: "an inversion is not forecast, nor ruled out: watch smoke and dust", outside: inversionThere,
		},
		{
			Check:   Check{What: "delta T", Unit: "°C", Max: ptr(driestDeltaT), Source: sourceDeltaT},
			safeMin: ptr(moistDeltaT), safeMax: ptr(dryDeltaT), careful: "marginal: droplets last long in moist air, and dry up in dry air", value: deltaT,
		},
	}
}

func whileCalm(r *Reading) finding {
	switch r.Inversion {
	case rules.No:
		return finding{Caution, "calm, without an inversion", "look again while you work"}
	case rules.Yes:
		return finding{NoGo, "calm, under an inversion", "wait until it breaks up"}
	}
	return finding{Unknown, "calm, and whether there is an inversion is not known", "look for one, by smoke or a thermometer at two heights"}
}

func inversionThere(*Reading) finding {
	return finding{NoGo, "droplets hang in an inversion and drift as a cloud", "wait until it breaks up"}
}

// byLabel are the limits of the label that are stated.
func (d *Day) byLabel() []limit {
	var list []limit
	if d.MaxWind != nil {
		list = append(list, limit{Check: Check{What: "wind, label", Unit: "m/s", Max: d.MaxWind, Source: sourceLabel}, value: wind})
	}
	if d.MaxTemperature != nil {
		list = append(list, limit{Check: Check{What: "temperature, label", Unit: "°C", Max: d.MaxTemperature, Source: sourceLabel}, value: temperature})
	}
	return list
}

// unread are the limits of the label that are not stated. Each calls for a look at it.
func (d *Day) unread() []Check {
	var list []Check
	if d.applied() && d.MaxWind == nil {
		list = append(list, Check{What: "wind, label", Verdict: Caution, Unit: "m/s", Why: unstatedLabel, Source: "the label"})
	}
	if d.applied() && d.MaxTemperature == nil {
		list = append(list, Check{What: "temperature, label", Verdict: Caution, Unit: "°C", Why: unstatedLabel, Source: "the label"})
	}
	return list
}
