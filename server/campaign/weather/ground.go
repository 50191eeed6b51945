package weather

import (
	"fmt"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

const (
	sourceJob   = "the plan's job"
	sourceLight = "common practice, no source: work by daylight (sun by the NOAA solar calculator, level ground)"
	sourceBark  = "Pacific Northwest Weed Management Handbook, basal bark: not on wet or icy bark"
	sourceSoil  = "common practice, no source: not on frozen ground, and with care on wet"
)

// WindowCheck is the name of the check of the job's opening.
const WindowCheck = "treatment window"

// window says whether the work lies within the job's treatment window, from its first day
// to its last.
func (d *Day) window() Check {
	c := Check{What: WindowCheck, Verdict: Go, Unit: "days since it opened", Min: ptr(0.0), Source: sourceJob}
	if !d.From.Known() {
		c.worsen(Unknown, "the job has no first day: plan anew")
		return c
	}
	if d.Until.Known() {
		c.Max = ptr(days(d.From, d.Until))
	}
	first, last := d.dayOf(d.Start), d.dayOf(d.end())
	c.hold(days(d.From, first))
	if first < d.From {
		c.worsen(NoGo, "it opens on %s", d.From)
	}
	if d.Until.Known() && last > d.Until {
		c.worsen(NoGo, "it closed at the end of %s: plan anew", d.Until)
		c.hold(days(d.From, last))
	}
	return c
}

func days(from, to civil.Date) float64 { return float64(to - from) }

// daylight says whether the sun is up from the beginning to the end of the work.
func (d *Day) daylight() Check {
	c := Check{What: "daylight", Verdict: Go, Unit: "hours after sunrise", Min: ptr(0.0), Source: sourceLight}
	if d.Place == nil {
		c.worsen(Unknown, "the site has no position: state its latitude and longitude")
		return c
	}
	sun := d.sun()
	switch {
	case sun.Up:
		return c
	case sun.Down:
		c.worsen(NoGo, "the sun does not rise")
		return c
	}
	c.Max = ptr(sun.Set.Sub(sun.Rise).Hours())
	begins, ends := d.Start.Sub(sun.Rise).Hours(), d.end().Sub(sun.Rise).Hours()
	c.hold(ends)
	if room := begins; room < *c.Margin {
		c.hold(begins)
	}
	if begins < 0 {
		c.worsen(NoGo, "the sun rises at %s", d.clock(sun.Rise))
	}
	if ends > *c.Max {
		c.worsen(NoGo, "the sun sets at %s: begin earlier, or do less", d.clock(sun.Set))
	}
	return c
}

func (d *Day) sun() Sun { return SunOn(d.Start, d.Place.Latitude, d.Place.Longitude) }

// ofGround are the limits on what is seen on the site.
func (d *Day) ofGround() []Check {
	if !d.applied() {
		return nil
	}
	soil := Check{What: "soil", Verdict: Go, Source: sourceSoil, Why: d.Soil.String()}
	switch d.Soil {
	case rules.SoilDry, rules.SoilMoist:
	case rules.SoilWet:
		soil.worsen(Caution, "wet: what drips runs off, keep it off the ground")
	case rules.SoilFrozen:
		soil.worsen(NoGo, "frozen: what drips runs off; wait for a thaw")
	default:
		soil.worsen(Unknown, "not stated: look, and state it")
	}
	if d.Method == rules.LowVolumeFoliar || d.Method == rules.HighVolumeFoliar {
		return []Check{soil}
	}
	return []Check{soil, d.bark()}
}

func (d *Day) bark() Check {
	c := Check{What: "bark", Verdict: Go, Source: sourceBark, Why: d.Bark.String()}
	wetBars := d.Method != rules.HackAndSquirt && d.Method != rules.CutStump
	if !wetBars {
		c.Source = sourceFrost
	}
	switch {
	case !rules.Known(d.Bark):
		c.worsen(Unknown, "not stated: look, and state it")
	case d.Bark == rules.BarkFrozen:
		c.worsen(NoGo, "frozen: wait for a thaw")
	case d.Bark == rules.BarkWet && wetBars:
		c.worsen(NoGo, "wet: wait until it is dry")
	case d.Bark == rules.BarkWet:
		c.worsen(Caution, "wet: keep water out of cuts")
	}
	return c
}

// conditions are what is to be kept in mind besides, by the method.
func (d *Day) conditions() []string {
	if !d.applied() {
		return nil
	}
	list := []string{"The label stands above every limit here: where it is stricter, it holds."}
	if !d.sprayed() {
		return list
	}
	list = append(list,
		"Spray in the droplet class that the label names. A class is relative to reference nozzles, and no size (ASABE S572): of a medium spray at most 20 % of the volume is in droplets below 150 micrometres, of a coarse one less than 10 %, of a very coarse one less than 5 % (GRDC Spray Application Manual, module 4.2, January 2025).",
		"Leaves are dry (common practice, no source).")
	if o := d.Observed; o != nil && o.WindFrom != nil {
		return append(list, fmt.Sprintf("The wind blows towards %s: nobody, no water and nothing that spray harms is on that side (common practice, no source).", compass(*o.WindFrom+180)))
	}
	return append(list, "See where the wind blows: nobody, no water and nothing that spray harms is on that side (common practice, no source).")
}

// compass names the nearest of eight directions.
func compass(degrees float64) string {
	names := [...]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}
	return names[int(degrees+22.5)/45%8]
}
