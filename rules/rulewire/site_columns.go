package rulewire

import (
	"fmt"
	"math"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// unknown stands in a column of numbers for a value that is not known.
const unknown = math.MinInt32

// noSeries stands in the column of indexes for a site without temperatures.
const noSeries = -1

// The bounds of a position, in ten-millionths of a degree.
const (
	maxLatitude  = 90 * 10_000_000
	maxLongitude = 180 * 10_000_000
)

// EncodeSites writes sites in columns. A fact that no site has takes no column, and
// sites that hold the same series of temperatures share it. An elevation that an
// int32 of centimetres cannot hold is written as not known.
func EncodeSites(sites []rules.SiteFacts) *pluginv1.SiteColumns {
	c := &pluginv1.SiteColumns{Count: int32(len(sites))}
	series := map[*rules.TemperatureSeries]int32{}
	for i := range sites {
		s := &sites[i]
		if s.HasPosition {
			put(&c.LatitudeE7, len(sites), i, s.Latitude, unknown)
			put(&c.LongitudeE7, len(sites), i, s.Longitude, unknown)
		}
		if cm := s.Elevation / quantity.Centimetre; s.HasElevation && cm > unknown && cm <= math.MaxInt32 {
			put(&c.ElevationCm, len(sites), i, int32(cm), unknown)
		}
		if t := s.Temperatures; t != nil {
			at, ok := series[t]
			if !ok {
				at = int32(len(c.Temperatures))
				series[t] = at
				c.Temperatures = append(c.Temperatures, encodeSeries(t))
			}
			put(&c.TemperaturesOf, len(sites), i, at, noSeries)
		}
	}
	return c
}

// put sets a value of a column, which begins as not known throughout.
func put(column *[]int32, count, i int, value, absent int32) {
	if *column == nil {
		*column = make([]int32, count)
		for j := range *column {
			(*column)[j] = absent
		}
	}
	(*column)[i] = value
}

func encodeSeries(t *rules.TemperatureSeries) *pluginv1.TemperatureSeries {
	return &pluginv1.TemperatureSeries{FirstDay: EncodeDate(t.First), MinCE2: t.Min, MaxCE2: t.Max}
}

// DecodeSites reads what EncodeSites writes. Its error is a rules.Faults.
func DecodeSites(c *pluginv1.SiteColumns) ([]rules.SiteFacts, error) {
	r := &reader{}
	r.noUnknown("sites", c.ProtoReflect())
	count := int(c.GetCount())
	if count < 0 {
		r.add("sites.count", "%d is below zero", count)
		return nil, r.err()
	}
	r.columnOf("sites.latitude_e7", len(c.GetLatitudeE7()), count)
	r.columnOf("sites.longitude_e7", len(c.GetLongitudeE7()), count)
	r.columnOf("sites.elevation_cm", len(c.GetElevationCm()), count)
	r.columnOf("sites.temperatures_of", len(c.GetTemperaturesOf()), count)
	series := r.series(c.GetTemperatures())
	if err := r.err(); err != nil {
		return nil, err
	}
	if len(c.GetLatitudeE7())+len(c.GetElevationCm())+len(c.GetTemperaturesOf()) == 0 && count > maxBareSites {
		r.add("sites.count", "%d sites without any fact; at most %d", count, maxBareSites)
		return nil, r.err()
	}
	sites := make([]rules.SiteFacts, count)
	for i := range sites {
		r.siteFacts(&sites[i], c, i, series)
	}
	return sites, r.err()
}

// maxBareSites bounds what is made of a message that names a count and no column.
const maxBareSites = 1 << 20

func (r *reader) columnOf(field string, n, count int) {
	if n != 0 && n != count {
		r.add(field, "has %d values for %d sites; a column has one a site or none", n, count)
	}
}

func (r *reader) series(list []*pluginv1.TemperatureSeries) []*rules.TemperatureSeries {
	series := make([]*rules.TemperatureSeries, len(list))
	for i, p := range list {
		at := fmt.Sprintf("sites.temperatures[%d]", i)
		first, err := DecodeDate(p.GetFirstDay())
		if err != nil || !first.Known() {
			r.add(at+".first_day", "is no day; state it in full")
		}
		if len(p.GetMinCE2()) != len(p.GetMaxCE2()) {
			r.add(at, "has %d least and %d greatest temperatures; each day has both", len(p.GetMinCE2()), len(p.GetMaxCE2()))
		}
		series[i] = &rules.TemperatureSeries{First: first, Min: p.GetMinCE2(), Max: p.GetMaxCE2()}
	}
	return series
}

func (r *reader) siteFacts(s *rules.SiteFacts, c *pluginv1.SiteColumns, i int, series []*rules.TemperatureSeries) {
	latitude, longitude := valueAt(c.GetLatitudeE7(), i, unknown), valueAt(c.GetLongitudeE7(), i, unknown)
	if latitude != unknown && longitude != unknown {
		s.HasPosition, s.Latitude, s.Longitude = true, latitude, longitude
		if latitude < -maxLatitude || latitude > maxLatitude || longitude < -maxLongitude || longitude > maxLongitude {
			r.add(fmt.Sprintf("sites[%d]", i), "latitude %d and longitude %d ten-millionths of a degree are no place on earth", latitude, longitude)
		}
	}
	if cm := valueAt(c.GetElevationCm(), i, unknown); cm != unknown {
		s.HasElevation, s.Elevation = true, quantity.Micrometres(cm)*quantity.Centimetre
	}
	switch at := valueAt(c.GetTemperaturesOf(), i, noSeries); {
	case at == noSeries:
	case at < 0 || int(at) >= len(series):
		r.add(fmt.Sprintf("sites.temperatures_of[%d]", i), "is %d, and there are %d series", at, len(series))
	default:
		s.Temperatures = series[at]
	}
}

func valueAt(column []int32, i int, absent int32) int32 {
	if len(column) == 0 {
		return absent
	}
	return column[i]
}
