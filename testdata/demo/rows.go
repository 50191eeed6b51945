package demo

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
)

var columns = strings.Split("occurrenceID,scientificName,locationID,place,site_area_ac,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,"+
	"form,dbh_in,girth_in,root_collar_in,height_ft,individualCount,stem_density_per_ac,infested_area_ac,larger_count,"+
	"larger_dbh_in,desirable_vegetation,land_use,soil_state,bark_state,root_check,seed_bearing,slope_percent,"+
	"distance_perennial_stream_ft,distance_perennial_stream_from,distance_wetland_ft,distance_well_ft,"+
	"other_water_beyond_ft,occurrenceRemarks", ",")

// Row is one line of the inventory, by column; an absent column is blank.
type Row map[string]string

// Rows makes the inventory, the same every time: the generator's seed is fixed.
func Rows() []Row {
	rng := rand.New(rand.NewPCG(20, 26))
	numbers := map[string]int{}
	var rows []Row
	for _, g := range groups() {
		for i := range g.n {
			numbers[g.site]++
			rows = append(rows, g.row(rng, i, numbers[g.site]))
		}
	}
	return rows
}

// row draws the i-th row of the group, the number-th of its site.
func (g group) row(rng *rand.Rand, i, number int) Row {
	s := sites[g.site]
	r := Row{
		"occurrenceID":          fmt.Sprintf("%s-%03d", g.site, number),
		"scientificName":        g.species[i%len(g.species)],
		"locationID":            g.site,
		"place":                 s.place,
		"site_area_ac":          s.areaAc,
		"form":                  g.form,
		"individualCount":       "1",
		"desirable_vegetation":  "none",
		"land_use":              s.landUse,
		"soil_state":            "moist",
		"bark_state":            "dry",
		"seed_bearing":          g.seedBearing(rng),
		"slope_percent":         strconv.Itoa(rng.IntN(31)),
		"other_water_beyond_ft": "500",
		"occurrenceRemarks":     g.remark,
	}
	s.put(r, rng)
	g.measure(r, rng, i)
	for column, values := range g.columns {
		r[column] = values[i%len(values)]
	}
	return r
}

// put gives the row a position on the site, to about a decimetre.
func (s site) put(r Row, rng *rand.Rand) {
	side := sideMetres(s.areaAc)
	north := (rng.Float64() - 0.5) * side / metresNorth
	east := (rng.Float64() - 0.5) * side / metresEast
	r["decimalLatitude"] = strconv.FormatFloat(s.latitude+north, 'f', 6, 64)
	r["decimalLongitude"] = strconv.FormatFloat(s.longitude+east, 'f', 6, 64)
}

// girthEvery: one standing stem in so many was taped round instead of across.
const girthEvery = 5

// measure gives a diameter where the form has it, and a height.
func (g group) measure(r Row, rng *rand.Rand, i int) {
	tenths := draw(rng, g.diameter)
	height := draw(rng, g.height)
	standing := g.form == "sapling" || g.form == "tree"
	switch {
	case !standing:
		r["root_collar_in"] = inches(tenths)
	case i%girthEvery == girthEvery-1:
		r["girth_in"] = strconv.FormatFloat(math.Pi*float64(tenths)/10, 'f', 1, 64)
	default:
		r["dbh_in"] = inches(tenths)
	}
	if g.height == (span{}) {
		height = 8 + 3*tenths/10 + rng.IntN(6)
	}
	r["height_ft"] = strconv.Itoa(height)
}

// seedBearing is drawn for trees; anything younger bears none.
func (g group) seedBearing(rng *rand.Rand) string {
	if g.form == "tree" && rng.IntN(5) < 2 {
		return "yes"
	}
	return "no"
}

func draw(rng *rand.Rand, s span) int { return s.from + rng.IntN(s.to-s.from+1) }

// inches writes tenths of an inch.
func inches(tenths int) string { return fmt.Sprintf("%d.%d", tenths/10, tenths%10) }

// CSV writes the inventory with one header line.
func CSV(rows []Row) []byte {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	_ = w.Write(columns) // a buffer takes every write
	for _, r := range rows {
		record := make([]string, len(columns))
		for i, column := range columns {
			record[i] = r[column]
		}
		_ = w.Write(record)
	}
	w.Flush()
	return out.Bytes()
}
