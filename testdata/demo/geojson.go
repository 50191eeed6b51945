package demo

import (
	"bytes"
	"encoding/json"
	"slices"
	"strconv"
	"strings"
)

// feature is a GeoJSON feature (RFC 7946, section 3.2).
type feature struct {
	Type       string         `json:"type"`
	Geometry   geometry       `json:"geometry"`
	Properties map[string]any `json:"properties"`
}

type geometry struct {
	Type        string `json:"type"`
	Coordinates any    `json:"coordinates"`
}

const (
	pointEvery = 25 // every so-many-th stem has a twin
	polygons   = 5  // and so many patches, by their outline
)

// GeoJSON writes some of the rows as features: stems as points, and patches as
// squares of their area, which the properties then do not repeat. Rows that are
// faults on purpose have no twin.
func GeoJSON(rows []Row) []byte {
	var lines []string
	patches := 0
	for i, r := range rows {
		isPatch := r["infested_area_ac"] != ""
		switch {
		case strings.HasPrefix(r["occurrenceRemarks"], "fault"):
		case isPatch && patches < polygons:
			patches++
			lines = append(lines, r.feature(r.square()))
		case !isPatch && i%pointEvery == 0:
			lines = append(lines, r.feature(geometry{"Point", r.position(0, 0)}))
		}
	}
	var out bytes.Buffer
	out.WriteString("{\"type\":\"FeatureCollection\",\"features\":[\n")
	out.WriteString(strings.Join(lines, ",\n"))
	out.WriteString("\n]}\n")
	return out.Bytes()
}

// geometryColumns say where and how large, which the geometry does.
var geometryColumns = []string{"decimalLatitude", "decimalLongitude", "infested_area_ac"}

func (r Row) feature(g geometry) string {
	properties := map[string]any{}
	for _, column := range columns {
		if r[column] != "" && !slices.Contains(geometryColumns, column) {
			properties[column] = property(column, r[column])
		}
	}
	text, err := json.Marshal(feature{"Feature", g, properties})
	if err != nil {
		panic(err) // only strings and numbers of our own are in it
	}
	return string(text)
}

// property is a number where the column holds numbers.
func property(column, value string) any {
	for _, ending := range []string{"_in", "_ft", "_ac", "_percent", "_count", "Count", "InMeters"} {
		if strings.HasSuffix(column, ending) {
			return json.Number(value)
		}
	}
	return value
}

// square is a closed ring about the row's position, counter-clockwise, of the
// patch's area.
func (r Row) square() geometry {
	half := sideMetres(r["infested_area_ac"]) / 2
	ring := [][2]json.Number{
		r.position(-half, -half), r.position(half, -half),
		r.position(half, half), r.position(-half, half),
		r.position(-half, -half),
	}
	return geometry{"Polygon", [][][2]json.Number{ring}}
}

// position is longitude and latitude, so many metres from the row's own, to
// about a centimetre.
func (r Row) position(east, north float64) [2]json.Number {
	longitude := degrees(r["decimalLongitude"]) + east/metresEast
	latitude := degrees(r["decimalLatitude"]) + north/metresNorth
	return [2]json.Number{number(longitude), number(latitude)}
}

func degrees(text string) float64 {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		panic("demo: a position that was drawn is no number: " + text)
	}
	return v
}

func number(v float64) json.Number { return json.Number(strconv.FormatFloat(v, 'f', 7, 64)) }
