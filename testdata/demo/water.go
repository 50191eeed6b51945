package demo

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"strconv"
)

// MapFile is where the map of the water goes, in the folder of the demo: a folder of its
// own, which a server reads.
var MapFile = filepath.Join("water", "ossel-creek.geojson")

// The creek runs due north past alder-ford, between the tops of its banks.
const (
	westBank = -37.9705
	eastBank = -37.9704
)

// spot is where a row lies: metres west of the creek's bank, and on which latitude.
type spot struct {
	west        float64
	latitude    string
	uncertainty string // metres; blank: not stated
}

// The spots lie about the distances that the district's law names: 15, 50 and 100 ft.
var (
	saplingsByTheMap = []spot{
		{4, "42.998400", "2"}, {12, "42.998650", "2"}, {18, "42.998900", "2"},
		{19, "42.999150", "8"}, {30, "42.999400", ""}, {45, "42.999650", "5"},
	}
	suckersByTheMap = []spot{
		{14, "42.998500", "2"}, {30, "42.998750", "2"}, {60, "42.999000", "3"}, {60, "43.003000", "3"},
	}
)

// byTheMap places rows of which nobody measured how far they are from water.
func byTheMap(spots []spot) map[string][]string {
	columns := map[string][]string{"other_water_beyond_ft": always("")}
	for _, s := range spots {
		longitude := strconv.FormatFloat(westBank-s.west/metresEast, 'f', 6, 64)
		columns["decimalLatitude"] = append(columns["decimalLatitude"], s.latitude)
		columns["decimalLongitude"] = append(columns["decimalLongitude"], longitude)
		columns["coordinateUncertaintyInMeters"] = append(columns["coordinateUncertaintyInMeters"], s.uncertainty)
	}
	return columns
}

// allWater is what the map shows all of, as far as it goes.
var allWater = []string{
	"perennial_stream", "intermittent_stream", "ditch", "lake", "wetland", "estuary", "well", "spring", "intake",
}

// Map draws the creek with a pond and a well beside it, and says that it shows all
// water from 42.9965 to 43.0015 N and from 37.9735 to 37.9675 W.
func Map() []byte {
	type properties = map[string]any
	features := []feature{
		{"Feature", box(42.9960, 43.0020, westBank, eastBank), properties{"water_class": "perennial_stream", "origin": "bank_top"}},
		{"Feature", box(42.9972, 42.9974, -37.9692, -37.9689), properties{"water_class": "lake", "origin": "bank_top"}},
		{"Feature", geometry{"Point", [2]json.Number{number(-37.9720), number(43.0008)}}, properties{"water_class": "well", "origin": "water_edge"}},
		{"Feature", box(42.9965, 43.0015, -37.9735, -37.9675), properties{"coverage_of": allWater, "origin": "bank_top"}},
	}
	var out bytes.Buffer
	out.WriteString("{\"type\":\"FeatureCollection\",\"features\":[\n")
	for i, f := range features {
		text, err := json.Marshal(f)
		if err != nil {
			panic(err) // only strings and numbers of our own are in it
		}
		out.Write(text)
		if i < len(features)-1 {
			out.WriteString(",")
		}
		out.WriteString("\n")
	}
	out.WriteString("]}\n")
	return out.Bytes()
}

// box is a closed ring along two parallels and two meridians, counter-clockwise.
func box(south, north, west, east float64) geometry {
	corner := func(longitude, latitude float64) [2]json.Number {
		return [2]json.Number{number(longitude), number(latitude)}
	}
	return geometry{"Polygon", [][][2]json.Number{{
		corner(west, south), corner(east, south), corner(east, north), corner(west, north), corner(west, south),
	}}}
}
