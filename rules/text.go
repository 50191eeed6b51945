package rules

import (
	"fmt"
	"strings"

	"example.org/rootward/rules/quantity"
)

// Text implements Effect.
func (Prohibit) Text() string { return "forbidden" }

// Text implements Effect.
func (b Buffer) Text() string {
	if b.Distance == InWater && b.Activity != MixAndLoad {
		return "not in " + spaced(b.Water.String()) + b.whileWet() + b.Allowance.text()
	}
	text := "not within "
	if b.Activity == MixAndLoad {
		text = "no mixing and loading within "
	}
	text += length(b.Distance)
	if b.Along == AlongSlope {
		text += " along the slope"
	}
	text += fmt.Sprintf(" of %s, counted from the %s", spaced(b.Water.String()), spaced(b.From.String())) + b.whileWet() + b.Allowance.text()
	if r := b.Reduction; r.Stated() {
		text += fmt.Sprintf("; not within %s where %s has decided so on %s, kept in the record as %s", length(r.Distance), r.DecidedBy, r.Evidence, r.RecordField)
	}
	return text
}

func (a Allowance) text() string {
	if !a.Stated() {
		return ""
	}
	return fmt.Sprintf(" (%s are taken off a distance that starts nearer the water: %s)", length(a.Distance), a.Basis)
}

func (b *Buffer) whileWet() string {
	if b.WhileWet {
		return " while there is water in it"
	}
	return ""
}

// Text implements Effect.
func (s Setback) Text() string {
	text := fmt.Sprintf("not within %s of %s", length(s.Distance), spaced(s.Places.String()))
	if s.Hours.Stated() {
		text += " from " + s.Hours.String()
	}
	return text
}

// Text implements Effect.
func (d DailyHours) Text() string { return "only from " + d.Open.String() }

// String gives the hours as "07:00 to 30 minutes before sunset".
func (h ClockHours) String() string {
	return h.FromAnchor.time(h.From) + " to " + h.ToAnchor.time(h.To)
}

// time is a time of day so many minutes after the anchor.
func (v ClockAnchor) time(minutes int) string {
	switch {
	case v == 0 || v == Midnight:
		return fmt.Sprintf("%02d:%02d", minutes/60, minutes%60)
	case minutes < 0:
		return fmt.Sprintf("%d minutes before %s", -minutes, v)
	case minutes > 0:
		return fmt.Sprintf("%d minutes after %s", minutes, v)
	}
	return v.String()
}

// Text implements Effect.
func (u UseThreshold) Text() string {
	limit := length(u.Length) + " of shore"
	if u.Area > 0 {
		limit = fmt.Sprintf("%.4g acres (%.4g ha)", u.Area.Acres(), u.Area.SquareMetres()/1e4)
	}
	text := "once more than " + limit
	if u.SingleArea {
		text += " in one area"
	}
	text += " is treated in a calendar year"
	if u.RepeatsCounted == Yes {
		text += ", ground treated again counting again"
	}
	if u.BothBanks == Yes {
		text += ", both banks counting"
	}
	return text + ": " + u.Then
}

// Text implements Effect.
func (l Lookup) Text() string {
	text := "look up " + l.Register
	if l.Within > 0 {
		text += " within " + length(l.Within)
	}
	if l.MaxDays > 0 {
		text += ", at most " + Several(l.MaxDays, "day") + " before"
	} else {
		text += " on the day"
	}
	return text + "; for an entry: " + l.Then
}

// Text implements Effect.
func (c Computed) Text() string {
	return fmt.Sprintf("only in the part of the year that %s gives for the place, from its %s", c.Method, spaced(c.Needs.String()))
}

// Text implements Effect.
func (w Window) Text() string { return "only from " + w.Open.String() }

// Text implements Effect.
func (s InSeason) Text() string {
	return fmt.Sprintf("%s is %s", s.During, spaced(s.Season.String()))
}

// Text implements Effect.
func (c Cap) Text() string {
	text := fmt.Sprintf("at most %.4g lb ae of %s per acre in a calendar year", c.Rate.PoundsPerAcre(), c.Active)
	switch c.Over {
	case OverSite:
		text += " over the site"
	case OverParcel:
		text += " over the whole parcel"
	}
	if c.RepeatsCounted == No {
		text += ", ground treated again not counting again"
	}
	return text
}

// Text implements Effect.
func (r RequireStanding) Text() string {
	text := "applicator at least " + r.AtLeast.String()
	if !r.Categories.Empty() {
		text += ", certified in one of " + spaced(r.Categories.String())
	}
	if r.MaxSupervised > 0 {
		text += fmt.Sprintf(", one certified applicator for at most %d supervised", r.MaxSupervised)
	}
	return text
}

// Text implements Effect.
func (p Permit) Text() string {
	text := "needs " + p.Name + " from " + p.From
	if p.ValidYears > 0 {
		text += ", no older than " + Several(p.ValidYears, "year")
	}
	if p.Yearly != "" {
		text += ", and every year " + p.Yearly
	}
	return text
}

// Text implements Effect.
func (n Notice) Text() string {
	text := "tell " + n.To + " at least " + Several(n.MinDays, "day") + " before"
	if n.MaxDays > 0 {
		text += fmt.Sprintf(" and at most %d", n.MaxDays)
	}
	if n.Within > 0 {
		text += ", within " + length(n.Within)
	}
	if n.RainDates > 0 {
		text += fmt.Sprintf(", naming up to %d rain dates", n.RainDates)
	}
	if n.By != "" {
		text += ", " + n.By
	}
	if len(n.Languages) > 0 {
		text += ", in " + strings.Join(n.Languages, " and ")
	}
	return text
}

// Text implements Effect.
func (p Posting) Text() string {
	text := "post signs: " + p.Says + p.size()
	if p.Every > 0 {
		text += ", every " + length(p.Every)
	}
	if p.EarliestHours > 0 {
		text += ", no sooner than " + Several(p.EarliestHours, "hour") + " before"
	}
	if p.RemoveWithinDays > 0 {
		text += ", removed within " + Several(p.RemoveWithinDays, "day") + " after the entry interval"
	}
	if p.Until != "" {
		text += ", until " + p.Until
	}
	return text
}

func (p *Posting) size() string {
	switch {
	case p.Width > 0 && p.Height > 0:
		return fmt.Sprintf(", at least %s by %s", length(p.Width), length(p.Height))
	case p.Width > 0:
		return ", at least " + length(p.Width) + " wide"
	case p.Height > 0:
		return ", at least " + length(p.Height) + " high"
	}
	return ""
}

// weatherWords are the terms and units of people for what a weather limit is about.
var weatherWords = map[WeatherFactor]struct{ name, unit string }{
	WindSpeed:        {"wind", " mph"},
	AirTemperature:   {"air temperature", " °F"},
	DeltaT:           {"dry less wet bulb", " °C"},
	RainFreeHours:    {"time without rain afterwards, by the forecast,", " hours"},
	Inversion:        {"temperature inversion (1 while there is one)", ""},
	RelativeHumidity: {"relative humidity", " %"},
}

// Text implements Effect.
func (w WeatherLimit) Text() string {
	if w.Factor == Inversion && w.HasMax && w.Max < 1 {
		return "no temperature inversion" + w.statistic()
	}
	var parts []string
	if w.HasMin {
		parts = append(parts, fmt.Sprintf("at least %g", w.Min))
	}
	if w.HasMax {
		parts = append(parts, fmt.Sprintf("at most %g", w.Max))
	}
	words := weatherWords[w.Factor]
	return words.name + " " + strings.Join(parts, " and ") + words.unit + w.statistic()
}

// statistic says which value is meant. Any single reading is one of the gusts, too.
func (w *WeatherLimit) statistic() string {
	text := ""
	switch {
	case w.Statistic == SustainedMean:
		text = ", as a sustained mean"
	case w.Statistic == Gust:
		text = ", by the greatest gust"
	case w.Factor == WindSpeed:
		text = ", by any single reading, gusts included"
	case w.Statistic == Reading || w.Factor != Inversion && w.Factor != RainFreeHours:
		text = ", by any single reading"
	}
	if w.OverMinutes > 0 {
		text += fmt.Sprintf(" over %d minutes", w.OverMinutes)
	}
	return text
}

// Text implements Effect.
func (r Record) Text() string {
	text := "record " + strings.Join(r.Fields, ", ")
	if r.WithinDays > 0 {
		text += " within " + Several(r.WithinDays, "day")
	}
	if r.WithinHours > 0 {
		text += " within " + Several(r.WithinHours, "hour")
	}
	if r.KeepYears > 0 {
		text += "; keep for " + Several(r.KeepYears, "year")
	}
	return text
}

// Text implements Effect.
func (e EntryInterval) Text() string { return "no entry for " + Several(e.Hours, "hour") }

// Text implements Effect.
func (e ExclusionZone) Text() string {
	if e.Radius == 0 {
		return "no exclusion zone"
	}
	return "nobody within " + length(e.Radius) + " while it is applied"
}

// Text implements Effect.
func (w Warn) Text() string { return w.Message }

// length prints a limit as it was probably written: in feet where it is a whole
// tenth of a foot, in metres otherwise.
func length(l quantity.Micrometres) string {
	const tenthOfFoot = quantity.Foot / 10
	if l%tenthOfFoot == 0 {
		return fmt.Sprintf("%g ft (%.4g m)", l.Feet(), l.Metres())
	}
	return fmt.Sprintf("%g m (%.4g ft)", l.Metres(), l.Feet())
}

func spaced(words string) string { return strings.ReplaceAll(words, "_", " ") }

// Several is a number of things, of which the word for one is given.
func Several[N int | int32 | int64](n N, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
