package inventory_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A footprint is read as the GeoJSON outline that says the same.
func TestFootprints(t *testing.T) {
	for wkt, coordinates := range map[string]string{
		"POLYGON ((10.0000 43, 10.001 43, 10.001 43.001, 10.0000 43))":                                                          `{"type":"Polygon","coordinates":[[[10.0000,43],[10.001,43],[10.001,43.001],[10.0000,43]]]}`,
		"polygon((-10 -43,-10.01 -43,-10.01 -43.01,-10 -43),(-10.006 -43.001,-10.007 -43.001,-10.007 -43.002,-10.006 -43.001))": `{"type":"Polygon","coordinates":[[[-10,-43],[-10.01,-43],[-10.01,-43.01],[-10,-43]],[[-10.006,-43.001],[-10.007,-43.001],[-10.007,-43.002],[-10.006,-43.001]]]}`,
		"MULTIPOLYGON (((10 43, 10.01 43, 10.01 43.01, 10 43)), ((+11 043., 11.01 43, 11.01 43.01, 11 43.)))":                   `{"type":"MultiPolygon","coordinates":[[[[10,43],[10.01,43],[10.01,43.01],[10,43]]],[[[11,43],[11.01,43],[11.01,43.01],[11,43]]]]}`,
	} {
		rec := rowOf(t, "footprintWKT,footprintSRS,coordinateUncertaintyInMeters", `"`+wkt+`",EPSG:4326,2`)
		require.Empty(t, rec.Faults, wkt)
		same := readGeoJSON(t, featureAt(coordinates))[0]
		require.Empty(t, same.Faults)
		assert.Equal(t, same.Stem.Outline, rec.Stem.Outline)
		assert.Equal(t, same.Stem.GetAreaM2(), rec.Stem.GetAreaM2(), "the area is that of the outline")
		assert.Equal(t, same.Stem.GetCoordinateUncertaintyM(), rec.Stem.GetCoordinateUncertaintyM())
		assert.True(t, json.Valid(rec.Geometry()), "it is drawn")
		assert.JSONEq(t, coordinates, string(rec.Geometry()))
	}
}

func TestFaultyFootprints(t *testing.T) {
	for value, problem := range map[string]string{
		"somewhere":             "is not well-known text",
		`"POINT (10 43)"`:       "a POLYGON or a MULTIPOLYGON",
		`"POLYGON Z ((10 43))"`: "a POLYGON or a MULTIPOLYGON",
		`"POLYGON ((10 43, 10.1 43 5, 10.1 43.1, 10 43))"`:      "not a position of two numbers",
		`"POLYGON ((10 43, 10.1 43e0, 10.1 43.1, 10 43))"`:      "has an exponent",
		`"POLYGON ((10 43, 10.1 43, 10.1 43.1, 10 43)"`:         "parentheses or commas",
		`"POLYGON (10 43, 10.1 43, 10.1 43.1, 10 43)"`:          "10 is not a position",
		`"POLYGON ((10 43, 10.1 43, 10.1 43.1, 10 43.05))"`:     "is not closed",
		`"POLYGON ((10 43, 10.1 43, 10.1 93, 10 43))"`:          "latitude 93 is not -90 to 90",
		`"POLYGON ((10 43, 10.1 43, 10.1 43.1, 10 43))",EPSG:1`: "is not one of EPSG:4326, OGC:CRS84",
	} {
		columns := "footprintWKT"
		if value[len(value)-1] == '1' {
			columns += ",footprintSRS"
		}
		rec := rowOf(t, columns, value)
		require.NotEmpty(t, rec.Faults, value)
		assert.Contains(t, rec.Faults[0].String(), problem)
	}
	both := readGeoJSON(t, `{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[10,43]},"properties":{"occurrenceID":"a1",
		"scientificName":"Ailanthus altissima","locationID":"s1","place":"us/velmora","form":"tree","footprintWKT":"POLYGON ((10 43, 10.1 43, 10.1 43.1, 10 43))"}}]}`)[0]
	require.Len(t, both.Faults, 1)
	assert.Contains(t, both.Faults[0].String(), "keep one of the two")
}
