package weather

import "time"

const (
	sourceRain = "the label, as stated; an hour is dry without rain and up to 20 % of chance, doubtful up to 50 % (common practice, no source)"
	noRainFree = "the hours without rain that the label asks for are not stated, and the catalogue has none: read the label, and state them"
)

// rainFree is how many hours without rain are wanted after the work, and whose they are: of
// the label's and those that are usual the longer. Where nothing is applied none are wanted.
func (d *Day) rainFree() (hours *float64, source string, wanted bool) {
	switch {
	case !d.applied():
		return nil, "", false
	case d.RainFree == nil && d.Usual == nil:
		return nil, "the label", true
	case d.RainFree == nil, d.Usual != nil && *d.Usual > *d.RainFree:
		return d.Usual, d.UsualSource, true
	}
	return d.RainFree, sourceRain, true
}

// rain says whether it stays dry from the beginning of the work until the hours after it
// are over; nil if the method does not ask for that.
func (d *Day) rain() *Check {
	need, source, wanted := d.rainFree()
	if !wanted {
		return nil
	}
	c := &Check{What: "rain-free hours", Verdict: Go, Unit: "h", Min: need, Source: source}
	if need == nil {
		c.worsen(Unknown, noRainFree)
		return c
	}
	if d.RainFree == nil {
		c.worsen(Caution, "the label's hours are not stated, these are the catalogue's: read the label")
	}
	hours, gap := d.hours(d.Start, d.end().Add(asTime(*need)))
	for i := range hours {
		v, why := wetness(&hours[i])
		c.worsen(v, "%s: %s", d.clock(hours[i].At), why)
	}
	if gap != "" {
		c.worsen(Unknown, "%s", gap)
	}
	if dry, known := d.dryAfter(); known || c.Verdict.LetsWork() {
		c.hold(dry)
	}
	return c
}

func asTime(hours float64) time.Duration { return time.Duration(hours * float64(time.Hour)) }

// wetness is what an hour of the forecast says of rain.
func wetness(r *Reading) (Verdict, string) {
	switch {
	case r.Rain != nil && *r.Rain > 0, r.RainChance != nil && above(*r.RainChance, likelyRain):
		return NoGo, "rain is forecast: wait for a longer dry spell"
	case r.Rain == nil || r.RainChance == nil:
		return Unknown, "the forecast does not state the rain and its chance"
	case above(*r.RainChance, possibleRain):
		return Caution, "rain is possible"
	}
	return Go, ""
}

// dryAfter is how many hours after the work are dry, at least. It is known if an hour
// follows that is wet.
func (d *Day) dryAfter() (hours float64, known bool) {
	until, known := d.dryUntil()
	return max(0, until.Sub(d.end()).Hours()), known
}

// dryUntil is until when it stays dry from the beginning of the work on, as far as the
// forecast tells, and whether rain ends it, or else only what is not known.
func (d *Day) dryUntil() (time.Time, bool) {
	at := d.Start
	for i := range d.Forecast {
		r := &d.Forecast[i]
		end := r.At.Add(time.Hour)
		if !end.After(at) {
			continue
		}
		if r.At.After(at) {
			return at, false
		}
		switch v, _ := wetness(r); v {
		case NoGo:
			return at, true
		case Unknown:
			return at, false
		}
		at = end
	}
	return at, false
}
