package weather

import (
	"fmt"
	"time"

	"example.org/rootward/rules"
)

// factor is how a factor that rules limit is read, with its unit.
type factor struct {
	what, unit string
	value      func(*Reading) (float64, bool)
}

var factors = map[rules.WeatherFactor]factor{
	rules.WindSpeed:        {"wind", "mph", scaled(wind, toMiles)},
	rules.AirTemperature:   {"temperature", "°F", scaled(temperature, toFahrenheit)},
	rules.DeltaT:           {"delta T", "°C", deltaT},
	rules.Inversion:        {"inversion", "1 if there is one", inverted},
	rules.RelativeHumidity: {"humidity", "%", humidity},
}

func scaled(get func(*Reading) (float64, bool), convert func(float64) float64) func(*Reading) (float64, bool) {
	return func(r *Reading) (float64, bool) {
		v, known := get(r)
		return convert(v), known
	}
}

func toMiles(metresPerSecond float64) float64 { return metresPerSecond / MetresPerSecond }
func toFahrenheit(celsius float64) float64    { return celsius*1.8 + 32 }

// ByRule is how the names of the checks begin that hold a day against the rules.
const ByRule = "by rule"

// byRule holds the day against a limit of the rules.
func (d *Day) byRule(r *Rule, at spell) Check {
	source := r.Source + ": " + r.Text
	if r.Uncertain {
		source += " (whether it applies, or an exemption, is not known: it is kept)"
	}
	c := Check{What: ByRule, Source: source}
	switch e := r.Effect.(type) {
	case rules.DailyHours:
		c.What = ByRule + ": hours of the day"
		return d.inHours(c, e.Open)
	case rules.WeatherLimit:
		c.What = ByRule + ": weather"
		if f, ok := factors[e.Factor]; ok {
			c.What, c.Unit = ByRule+": "+f.what, f.unit
		}
		if r.During.Valid() && !r.During.Holds(d.dayOf(d.Start)) {
			c.Verdict, c.Why = Go, "holds from "+r.During.String()+" alone"
			return c
		}
		return d.byWeather(c, &e, at)
	}
	c.worsen(Unknown, "this version cannot hold the day against it: see to it yourself")
	return c
}

func (d *Day) byWeather(c Check, w *rules.WeatherLimit, at spell) Check {
	if w.HasMin {
		c.Min = ptr(w.Min)
	}
	if w.HasMax {
		c.Max = ptr(w.Max)
	}
	if w.Factor == rules.RainFreeHours {
		return d.dryByRule(c)
	}
	f, ok := factors[w.Factor]
	if !ok || c.Min == nil && c.Max == nil {
		c.worsen(Unknown, "this version cannot hold the day against it: see to it yourself")
		return c
	}
	l := limit{Check: c, value: f.value}
	if w.Factor == rules.Inversion && !w.HasMin {
		l.unforecast = "an inversion is not forecast, nor ruled out: watch smoke and dust"
	}
	if w.Factor != rules.WindSpeed || w.Statistic == rules.SustainedMean {
		return l.over(at)
	}
	return d.byWind(&l, w, at)
}

// byWind holds any single reading of the wind against a limit: the mean against both ends,
// the gusts against the upper. Each decides by itself, so that a mean above the limit breaks
// it also where the gusts are not known.
func (d *Day) byWind(l *limit, w *rules.WeatherLimit, at spell) Check {
	gusts := *l
	gusts.value = scaled(gust, toMiles)
	if w.Statistic == rules.Gust {
		return gusts.over(at)
	}
	mean := l.over(at)
	if l.Max == nil {
		return mean
	}
	gusts.Min = nil
	worse := gusts.over(at)
	if worse.Why != "" {
		worse.Why = "gusts: " + worse.Why
	}
	if !worse.worseThan(&mean) {
		worse = mean
	}
	worse.Min, worse.Max = l.Min, l.Max
	return worse
}

// dryByRule holds the hours without rain after the work against a limit.
func (d *Day) dryByRule(c Check) Check {
	c.What, c.Unit, c.Verdict = ByRule+": rain-free hours", "h", Go
	if c.Min == nil {
		c.worsen(Unknown, "this version cannot hold the day against it: see to it yourself")
		return c
	}
	dry, known := d.dryAfter()
	enough := !below(dry, *c.Min)
	if known || enough {
		c.hold(dry)
	}
	hours, _ := d.hours(d.Start, d.end().Add(asTime(*c.Min)))
	for i := range hours {
		v, why := wetness(&hours[i])
		c.worsen(v, "%s: %s", d.clock(hours[i].At), why)
	}
	if !enough {
		c.worsen(Unknown, "the forecast does not reach so far without a gap")
	}
	return c
}

// inHours says whether the work lies within hours of the day.
func (d *Day) inHours(c Check, h rules.ClockHours) Check {
	c.Verdict, c.Unit = Go, "hours after midnight"
	from, to, known := d.open(h)
	if !known {
		c.worsen(Unknown, "sunrise and sunset are not known: state the latitude and longitude of the site")
		return c
	}
	midnight := d.midnight()
	begins, ends := d.Start.Sub(midnight).Hours(), d.end().Sub(midnight).Hours()
	opens, closes := from.Sub(midnight).Hours(), to.Sub(midnight).Hours()
	if opens > closes { // over midnight
		if begins >= opens {
			closes += 24
		} else {
			opens -= 24
		}
	}
	c.Min, c.Max = &opens, &closes
	c.hold(ends)
	if begins-opens < *c.Margin {
		c.hold(begins)
	}
	if begins < opens || ends > closes {
		c.worsen(NoGo, "open from %s to %s: begin then, or do less", clockOf(opens), clockOf(closes))
	}
	return c
}

func clockOf(hours float64) string {
	minutes := int(hours*60+24*60) % (24 * 60)
	return fmt.Sprintf("%02d:%02d", minutes/60, minutes%60)
}

func (d *Day) midnight() time.Time {
	year, month, day := d.Start.In(d.zone()).Date()
	return time.Date(year, month, day, 0, 0, 0, 0, d.zone())
}

// open is when hours of the day open and close on the day, and false if that is not known.
func (d *Day) open(h rules.ClockHours) (from, to time.Time, known bool) {
	from, ok := d.anchored(h.FromAnchor, h.From)
	to, also := d.anchored(h.ToAnchor, h.To)
	return from, to, ok && also
}

func (d *Day) anchored(anchor rules.ClockAnchor, minutes int) (time.Time, bool) {
	if anchor != rules.Sunrise && anchor != rules.Sunset {
		year, month, day := d.Start.In(d.zone()).Date()
		return time.Date(year, month, day, 0, minutes, 0, 0, d.zone()), true // by the clock, also where that is changed
	}
	if d.Place == nil {
		return time.Time{}, false
	}
	sun := d.sun()
	if sun.Up || sun.Down {
		return time.Time{}, false
	}
	base := map[rules.ClockAnchor]time.Time{rules.Sunrise: sun.Rise, rules.Sunset: sun.Set}[anchor]
	return base.Add(time.Duration(minutes) * time.Minute), true
}
