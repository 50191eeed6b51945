package api

import (
	"context"
	"math"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// The elevations that the proto files state: dry land lies within.
const (
	minElevation = -500
	maxElevation = 9_000
)

// The air temperatures that anyone has measured lie within these, in degrees Celsius
// (from memory: -89.2 and 56.7).
const (
	minTemperature = -95
	maxTemperature = 65
)

// maxDays is how many days of temperatures a site has at most: two years, since rules
// count from 1 January of the year of treatment.
const maxDays = 731

// siteFacts reads what computed rows ask of a site.
func (f *faults) siteFacts(path string, p *treatmentv1.Site) rules.SiteFacts {
	facts := f.position(path, p.LatitudeDeg, p.LongitudeDeg, p.ElevationM)
	if t := p.GetTemperatures(); t != nil {
		facts.Temperatures = f.temperatures(path+"temperatures", t)
	}
	return facts
}

// position reads where a site lies: to the ten-millionth of a degree and the
// centimetre.
func (f *faults) position(path string, latitude, longitude, elevation *float64) rules.SiteFacts {
	var s rules.SiteFacts
	if latitude == nil && longitude == nil && elevation == nil {
		return s // as most sites have it
	}
	f.unless((latitude == nil) == (longitude == nil), path+"latitude_deg", "and longitude_deg belong together: state both, or neither")
	north, hasNorth := f.between(path+"latitude_deg", latitude, -90, 90, "degrees")
	east, hasEast := f.between(path+"longitude_deg", longitude, -180, 180, "degrees")
	if hasNorth && hasEast {
		s.HasPosition, s.Latitude, s.Longitude = true, int32(math.Round(north*1e7)), int32(math.Round(east*1e7))
	}
	if height, ok := f.between(path+"elevation_m", elevation, minElevation, maxElevation, "metres"); ok {
		s.HasElevation, s.Elevation = true, quantity.Micrometres(math.Round(height*100))*quantity.Centimetre
	}
	return s
}

// between reads a number from one limit to another, both included, and false if it is
// absent or wrong.
func (f *faults) between(field string, v *float64, least, most float64, unit string) (float64, bool) {
	if v == nil {
		return 0, false
	}
	ok := *v >= least && *v <= most // never so for what is not a number
	f.unless(ok, field, "%g is not from %g to %g %s: correct it, or leave the field out if it is not known", *v, least, most, unit)
	return *v, ok
}

// temperatures reads the daily temperatures of a site, to the hundredth of a degree,
// and gives nil if something is wrong with them.
func (f *faults) temperatures(field string, p *treatmentv1.Temperatures) *rules.TemperatureSeries {
	before := len(f.list)
	s := &rules.TemperatureSeries{First: f.day(field+".first_day", p.GetFirstDay())}
	n := len(p.GetMinC())
	f.unless(n == len(p.GetMaxC()), field, "has %d least and %d greatest temperatures: each day has both", n, len(p.GetMaxC()))
	f.unless(n > 0 && n <= maxDays, field, "has %d days: state 1 to %d, from 1 January of the year of treatment on", n, maxDays)
	if len(f.list) > before {
		return nil
	}
	for i := range n {
		s.Min, s.Max = append(s.Min, hundredths(p.MinC[i])), append(s.Max, hundredths(p.MaxC[i]))
		if ok := p.MinC[i] >= minTemperature && p.MinC[i] <= p.MaxC[i] && p.MaxC[i] <= maxTemperature; !ok {
			f.add(field, "%g to %g °C on %s are no temperatures of a day: from %d to %d °C, the least first, can be",
				p.MinC[i], p.MaxC[i], s.First.AddDays(i), minTemperature, maxTemperature)
			return nil
		}
	}
	return s
}

// hundredths gives what is out of range as zero; it is refused anyway.
func hundredths(celsius float64) int32 {
	if !(math.Abs(celsius) <= 1_000) {
		return 0
	}
	return int32(math.Round(celsius * 100))
}

// at gives the law at a place's site: the law itself unless it has computed rows. The
// result may be another each time it is called.
func (l *Law) at(ctx context.Context, g *rules.Governing, site rules.SiteFacts) *rules.Governing {
	return l.atAll(ctx, g, []rules.SiteFacts{site})[0]
}

// atAll gives the law at each of a place's sites. Without a plugin to ask, computed
// rows stay UNDETERMINED.
func (l *Law) atAll(ctx context.Context, g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing {
	if l.Compute != nil && len(g.Computed()) > 0 {
		return l.Compute(ctx, g, sites)
	}
	laws := make([]*rules.Governing, len(sites))
	for i := range laws {
		laws[i] = g
	}
	return laws
}

// lawAt gives the law at a site on the day.
func (b *session) lawAt(ctx context.Context, s *site) *rules.Governing {
	g := b.governing(s.place)
	b.bound = b.bound || len(g.Computed()) > 0
	return b.law.at(ctx, g, s.facts)
}
