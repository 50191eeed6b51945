package many

import (
	"bufio"
	"io"
	"strconv"

	"example.org/rootward/rules"
)

// column is a column of the files. An absent number and an empty word leave its
// field empty.
type column struct {
	name   string
	text   func(r *row) string
	number func(r *row) float64 // of a column of numbers; absent where it is not stated
	places int                  // decimals that are always written; 0: as few as do
}

var fileColumns = []column{
	words("occurrenceID", func(r *row) string { return string(appendID(nil, r.number)) }),
	words("scientificName", func(r *row) string { return r.species }),
	words("locationID", func(r *row) string { return r.siteID }),
	words("place", func(r *row) string { return r.site.place }),
	numbers("site_area_ac", func(r *row) float64 { return r.site.acres }),
	{name: "decimalLatitude", number: func(r *row) float64 { return degrees(r.latitude) }, places: 6},
	{name: "decimalLongitude", number: func(r *row) float64 { return degrees(r.longitude) }, places: 6},
	whole("coordinateUncertaintyInMeters", func(r *row) int64 { return r.uncertainty }),
	words("form", func(r *row) string { return rules.GrowthForm(r.form).String() }),
	numbers("dbh_in", func(r *row) float64 { return inches(r.diameter, !r.rootCollar) }),
	numbers("root_collar_in", func(r *row) float64 { return inches(r.diameter, r.rootCollar) }),
	whole("height_ft", func(r *row) int64 { return r.height }),
	whole("individualCount", func(r *row) int64 { return r.count }),
	whole("stem_density_per_ha", func(r *row) int64 { return r.perHectare }),
	whole("infested_area_m2", func(r *row) int64 { return r.area }),
	whole("larger_count", func(r *row) int64 { return r.larger }),
	numbers("larger_dbh_in", func(r *row) float64 { return inches(r.largerDBH, r.largerDBH != absent) }),
	words("desirable_vegetation", func(r *row) string { return rules.Desirable(r.desirable).String() }),
	words("land_use", func(r *row) string { return rules.LandUse(r.site.landUse).String() }),
	words("soil_state", func(r *row) string { return rules.SoilState(r.soil).String() }),
	words("bark_state", func(r *row) string { return rules.BarkState(r.bark).String() }),
	words("root_check", func(r *row) string { return rules.RootCheck(r.rootCheck).String() }),
	words("seed_bearing", func(r *row) string { return rules.YesNo(r.seed).String() }),
	whole("slope_percent", func(r *row) int64 { return r.slope }),
	whole("distance_perennial_stream_ft", func(r *row) int64 { return r.stream }),
	words("distance_perennial_stream_from", func(r *row) string { return rules.DistanceOrigin(r.streamFrom).String() }),
	whole("distance_wetland_ft", func(r *row) int64 { return r.wetland }),
	words("distance_wetland_from", func(r *row) string { return rules.DistanceOrigin(r.wetlandFrom).String() }),
	whole("distance_well_ft", func(r *row) int64 { return r.well }),
	words("distance_well_from", func(r *row) string { return rules.DistanceOrigin(r.wellFrom).String() }),
	whole("other_water_beyond_ft", func(r *row) int64 { return r.beyond }),
}

func words(name string, of func(r *row) string) column { return column{name: name, text: of} }

func numbers(name string, of func(r *row) float64) column { return column{name: name, number: of} }

func whole(name string, of func(r *row) int64) column {
	return numbers(name, func(r *row) float64 { return float64(of(r)) })
}

func inches(tenths int64, stated bool) float64 {
	if !stated {
		return absent
	}
	return float64(tenths) / 10
}

// isDiameter tells the columns in which the fault of a diameter that is no number
// shows.
func (c *column) isDiameter() bool { return c.name == "dbh_in" || c.name == "root_collar_in" }

// noNumberText is what such a diameter is.
const noNumberText = "about 6"

// WriteCSV writes an inventory of so many rows with a header line.
func WriteCSV(w io.Writer, seed uint64, rows int64) error {
	out := bufio.NewWriterSize(w, 1<<16)
	var line []byte
	for i := range fileColumns {
		line = append(append(line, fileColumns[i].name...), ',')
	}
	line[len(line)-1] = '\n'
	out.Write(line) // an error stays and comes with Flush
	g := generator{seed: seed}
	for number := int64(1); number <= rows; number++ {
		r := g.draw(number)
		line = r.append(line[:0])
		if _, err := out.Write(line); err != nil {
			return err
		}
	}
	return out.Flush()
}

// append writes the row; none of its values needs quotes.
func (r *row) append(b []byte) []byte {
	for i := range fileColumns {
		b = append(fileColumns[i].append(b, r), ',')
	}
	b[len(b)-1] = '\n'
	return b
}

func (c *column) append(b []byte, r *row) []byte {
	if c.text != nil {
		return append(b, c.text(r)...)
	}
	switch v := c.number(r); {
	case v == absent:
		return b
	case c.isDiameter() && r.fault == noNumber:
		return append(b, noNumberText...)
	case c.places > 0:
		return strconv.AppendFloat(b, v, 'f', c.places, 64)
	default:
		return strconv.AppendFloat(b, v, 'f', -1, 64)
	}
}
