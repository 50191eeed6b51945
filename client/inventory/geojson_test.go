package inventory_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/client/inventory"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
)

// The properties that every feature has.
const properties = `"occurrenceID":"a1","scientificName":"Ailanthus altissima","locationID":"s1","place":"us/velmora","form":"tree"`

func collection(features ...string) string {
	return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",\n") + `]}`
}

func feature(geometry, more string) string {
	return `{"type":"Feature","geometry":` + geometry + `,"properties":{` + properties + more + `}}`
}

func point(coordinates string) string {
	return feature(`{"type":"Point","coordinates":`+coordinates+`}`, "")
}

func outline(kind, coordinates, more string) string {
	return feature(`{"type":"`+kind+`","coordinates":`+coordinates+`}`, more)
}

func TestFeatureOfGeoJSON(t *testing.T) {
	list := readGeoJSON(t, collection(feature(`{"type":"Point","coordinates":[-38.01,43.0046,210.5]}`,
		`,"dbh_in":6,"height_ft":"30","slope_percent":1.5e1,"soil_state":"moist","distance_well_ft":50,"distance_well_from":"bank_top","crown_width_m":null,"x_tags":[1,{"a":2}],"occurrenceRemarks":"by the gate"`)))
	require.Len(t, list, 1)
	rec := list[0]
	require.Empty(t, rec.Faults)
	assert.Equal(t, 15.24, *rec.Stem.DiameterCm)
	assert.InDelta(t, 9.144, *rec.Stem.HeightM, 1e-12)
	assert.Equal(t, 15.0, *rec.Stem.SlopePercent)
	assert.Nil(t, rec.Stem.CrownWidthM)
	assert.Nil(t, rec.Stem.AreaM2)
	assert.Equal(t, commonv1.SoilState_SOIL_STATE_MOIST, rec.Stem.Soil)
	assert.Equal(t, 15.24, rec.Stem.WaterDistances[0].DistanceM)
	assert.Equal(t, commonv1.DistanceOrigin_DISTANCE_ORIGIN_BANK_TOP, rec.Stem.WaterDistances[0].Origin)
	assert.Equal(t, []float64{43.0046, -38.01}, []float64{*rec.Lat, *rec.Lon})
	assert.Equal(t, "by the gate", rec.Remarks)
	assert.JSONEq(t, `{"type":"Point","coordinates":[-38.01,43.0046,210.5]}`, string(rec.Geometry()))
}

func TestFeatureWithoutGeometry(t *testing.T) {
	list := readGeoJSON(t, apart(collection(
		feature("null", ""),
		feature("null", `,"decimalLatitude":43,"decimalLongitude":-38`),
		feature(`{"type":"Point","coordinates":[-38,43]}`, `,"decimalLatitude":43.000001,"decimalLongitude":-38`))))
	for _, rec := range list {
		assert.Empty(t, rec.Faults)
	}
	assert.Nil(t, list[0].Geometry())
	assert.JSONEq(t, `{"type":"Point","coordinates":[-38,43]}`, string(list[1].Geometry()))
	assert.Equal(t, 43.0, *list[2].Lat, "the geometry's, not the property's")
}

// Areas from Planimeter of GeographicLib 2.1.2 (Debian geographiclib-tools), run
// on the same rings with each side cut into 2,000, so that its shortest lines
// follow the straight lines in longitude and latitude of RFC 7946.
func TestAreaOfOutline(t *testing.T) {
	const square = `[[-38,43],[-37.999,43],[-37.999,43.001],[-38,43.001],[-38,43]]`
	cases := []struct {
		name, kind, coordinates string
		squareMetres, tolerance float64
	}{
		{"small square", "Polygon", `[` + square + `]`, 9058.5366, 1e-4},
		{"wound the other way", "Polygon", `[[[-38,43],[-38,43.001],[-37.999,43.001],[-37.999,43],[-38,43]]]`, 9058.5366, 1e-4},
		{"a metre", "Polygon", `[[[-38,43],[-37.99999,43],[-37.99999,43.00001],[-38,43.00001],[-38,43]]]`, 0.9059, 1e-4},
		{"irregular", "Polygon", `[[[-38.01,43.002],[-38.0034,43.0041],[-38.0002,43.0102],[-38.0051,43.0095],[-38.0123,43.0117],[-38.01,43.002]]]`, 596170.5032, 1e-3},
		{"large, 60 S", "Polygon", `[[[20,-60],[20.5,-60],[20.5,-59.8],[20,-59.8],[20,-60]]]`, 623545944.684, 0.01},
		{"across the equator", "Polygon", `[[[-0.1,-0.1],[0.1,-0.1],[0.1,0.1],[-0.1,0.1],[-0.1,-0.1]]]`, 492362639.895, 0.01},
		{"84 N", "Polygon", `[[[100,84],[101,84],[101,84.2],[100,84.2],[100,84]]]`, 256441919.938, 0.01},
		{"with heights", "Polygon", `[[[-38,43,1],[-37.999,43,2],[-37.999,43.001,3],[-38,43.001,4],[-38,43,1]]]`, 9058.5366, 1e-4},
		{"two parts", "MultiPolygon", `[[` + square + `],[[[20,-60],[20.5,-60],[20.5,-59.8],[20,-59.8],[20,-60]]]]`, 623545944.684 + 9058.537, 0.01},
		// A quarter of the square's sides: 1/16 of it, but for 2 in a million.
		{"with a hole", "Polygon", `[` + square + `,[[-37.9995,43.0005],[-37.99925,43.0005],[-37.99925,43.00075],[-37.9995,43.00075],[-37.9995,43.0005]]]`, 9058.5366 * 15 / 16, 0.01},
		{"with a hole wound as its ring", "Polygon", `[` + square + `,[[-37.9995,43.0005],[-37.9995,43.00075],[-37.99925,43.00075],[-37.99925,43.0005],[-37.9995,43.0005]]]`, 9058.5366 * 15 / 16, 0.01},
		{"split at longitude 180", "MultiPolygon", `[[[[179.9995,43],[180,43],[180,43.001],[179.9995,43.001],[179.9995,43]]],[[[-180,43],[-179.9995,43],[-179.9995,43.001],[-180,43.001],[-180,43]]]]`, 9058.5366, 1e-4},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			list := readGeoJSON(t, collection(outline(c.kind, c.coordinates, "")))
			require.Len(t, list, 1)
			require.Empty(t, list[0].Faults)
			require.NotNil(t, list[0].Stem.AreaM2)
			assert.InDelta(t, c.squareMetres, *list[0].Stem.AreaM2, c.tolerance)
			assert.Nil(t, list[0].Lat)
			assert.NotNil(t, list[0].Geometry())
		})
	}
	t.Run("stated", func(t *testing.T) {
		list := readGeoJSON(t, collection(outline("Polygon", `[`+square+`]`, `,"infested_area_m2":5000`)))
		assert.Equal(t, 5000.0, *list[0].Stem.AreaM2)
	})
	t.Run("stated wrongly", func(t *testing.T) {
		list := readGeoJSON(t, collection(outline("Polygon", `[`+square+`]`, `,"infested_area_m2":"5000 m2"`)))
		assert.True(t, list[0].Rejected())
		assert.Nil(t, list[0].Stem.AreaM2, "what was stated and cannot be read is not replaced")
	})
}

func TestFaultsOfGeoJSON(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("testdata", "faults.geojson"))
	require.NoError(t, err)
	list := readGeoJSON(t, string(text))
	golden(t, "faults.geojson.golden", faultsOf(list))
	for i, rec := range list {
		assert.Equal(t, int64(i+1), rec.Number)
		assert.Equal(t, rec.Remarks == "good", !rec.Rejected(), "row %d, line %d", rec.Number, rec.Line)
	}
}

func TestSwappedPositions(t *testing.T) {
	cases := []struct {
		name, coordinates string
		swapped           bool
	}{
		{"another row", "[-38.02,43.01]", false},
		{"swapped among the rows before", "[43.01,-38.02]", true},
		{"out of range", "[43.01,-138.02]", true},
		{"far away, but not the other way round", "[20,-60]", false},
		{"near", "[-40,45]", false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			list := readGeoJSON(t, apart(collection(point("[-38,43]"), point("[-38.1,43.1]"), point(c.coordinates))))
			require.Len(t, list, 3)
			require.Equal(t, c.swapped, list[2].Rejected())
			if c.swapped {
				assert.Contains(t, list[2].Faults[0].Problem, "look swapped")
				assert.Equal(t, "geometry", list[2].Faults[0].Column)
				assert.Nil(t, list[2].Geometry())
			}
		})
	}
}

// Where the first row is the one that is swapped, the good rows after it are not blamed.
func TestAFirstRowThatIsSwapped(t *testing.T) {
	list := readGeoJSON(t, apart(collection(point("[43,-38]"), point("[-38,43]"))))
	require.Len(t, list, 2)
	require.True(t, list[1].Rejected())
	assert.Contains(t, list[1].Faults[0].Problem, "exchange those that do not lie there, here or in the rows before")
}

func TestLinesOfGeoJSON(t *testing.T) {
	text := "{\"type\":\"FeatureCollection\",\n\"features\":[\n\n" +
		feature("null", "") + ",\n" +
		"{\"type\":\"Feature\",\n\"geometry\":null,\n\"properties\":{" + properties + ",\n\"form\":\"x\",\n\"dbh_in\":\"6 in\"}}\n]}"
	list := readGeoJSON(t, apart(text))
	require.Len(t, list, 2)
	assert.Equal(t, []int{4, 5}, []int{list[0].Line, list[1].Line})
	require.Len(t, list[1].Faults, 2)
	assert.Equal(t, []int{8, 9}, []int{list[1].Faults[0].Line, list[1].Faults[1].Line})
}

func TestRefusedCollections(t *testing.T) {
	cases := []struct{ name, text, want string }{
		{"no text", "", "the file ends"},
		{"not JSON", "occurrenceID,form", "not JSON"},
		{"list", `[1]`, "expected a FeatureCollection of RFC 7946"},
		{"geometry", `{"type":"Point","coordinates":[1,2]}`, "the type is \"Point\"; expected a FeatureCollection"},
		{"single feature", point("[-38,43]"), "the type is \"Feature\"; expected a FeatureCollection"},
		{"no features", `{"type":"FeatureCollection"}`, "has no features"},
		{"features is no list", `{"type":"FeatureCollection","features":{}}`, "features is not a list"},
		{"no type", `{"features":[]}`, `does not say "type": "FeatureCollection"`},
		{"type behind the features", `{"features":[],"type":"Feature"}`, "expected a FeatureCollection"},
		{"two lists", `{"type":"FeatureCollection","features":[],"features":[]}`, "a second list of features"},
		{"another crs", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"EPSG:32618"}},"features":[]}`, "is not WGS 84"},
		{"another crs at the end", `{"type":"FeatureCollection","features":[],"crs":{"type":"link","properties":{"href":"x"}}}`, "is not WGS 84"},
		{"cut off", `{"type":"FeatureCollection","features":[` + point("[-38,43]"), "the file ends"},
		{"cut off in a feature", "{\"type\":\"FeatureCollection\",\n\"features\":[{\"type\":", "line 2: the file ends"},
		{"broken", collection(point("[-38,43]")) + "]", "goes on behind the collection"},
		{"second collection", collection() + "\n" + collection(), "goes on behind the collection"},
		{"broken feature", "{\"type\":\"FeatureCollection\",\"features\":[\n{\"type\":}]}", "not JSON: invalid character '}'"},
		{"long feature", collection(point("[-38,43" + strings.Repeat(",1", 1<<19) + "]")), "longer than 1048576 bytes"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r, err := inventory.NewGeoJSON(strings.NewReader(c.text))
			for err == nil {
				_, err = r.Next()
			}
			var refused *inventory.FileError
			require.ErrorAs(t, err, &refused)
			assert.Contains(t, err.Error(), c.want)
			assert.Contains(t, err.Error(), "line ")
		})
	}
}

func TestAcceptedCollections(t *testing.T) {
	cases := []struct{ name, text string }{
		{"plain", collection(point("[-38,43]"))},
		{"members around", `{"name":"survey","bbox":[-39,42,-37,44],"features":[` + point("[-38,43]") + `],"type":"FeatureCollection","note":{"a":[1]}}` + "\n\n"},
		{"old crs of WGS 84", strings.Replace(collection(point("[-38,43]")), `"features"`, `"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:OGC:1.3:CRS84"}},"features"`, 1)},
		{"crs null", strings.Replace(collection(point("[-38,43]")), `"features"`, `"crs":null,"features"`, 1)},
		{"feature just within the limit", collection(strings.Replace(point("[-38,43]"), `"properties":{`, `"properties":{"x_long":"`+strings.Repeat("a", 1<<20-300)+`",`, 1))},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			list := readGeoJSON(t, c.text)
			require.Len(t, list, 1)
			assert.Empty(t, list[0].Faults)
		})
	}
	assert.Empty(t, readGeoJSON(t, collection()))
}

func TestCoordinatesThatStandTwice(t *testing.T) {
	list := readGeoJSON(t, collection(feature(`{"type":"Point","coordinates":[-38,43],"coordinates":[-38,43.1]}`, "")))
	require.Len(t, list, 1)
	require.Len(t, list[0].Faults, 1)
	assert.Equal(t, `has "coordinates" twice; keep one of them`, list[0].Faults[0].Problem)
}

// A reference system may be named at every level; a row in another one is rejected, and
// its position is not what others are held against.
func TestReferenceSystemsOfFeatures(t *testing.T) {
	const geometry = `"geometry":{"type":"Point","coordinates":[-38,43]`
	for _, c := range []struct{ name, member, want string }{
		{"crs", `"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::4267"}}`, "the crs urn:ogc:def:crs:EPSG::4267 is not WGS 84"},
		{"coordRefSys", `"coordRefSys":"http://www.opengis.net/def/crs/EPSG/0/4267"`, `the coordRefSys http://www.opengis.net/def/crs/EPSG/0/4267 is not WGS 84`},
		{"coordRefSys of several", `"coordRefSys":["EPSG:4326"]`, `the coordRefSys ["EPSG:4326"] is not WGS 84`},
		{"crs of WGS 84", `"crs":{"type":"name","properties":{"name":"EPSG:4326"}}`, ""},
		{"crs null", `"crs":null`, ""},
		{"coordRefSys of WGS 84", `"coordRefSys":"http://www.opengis.net/def/crs/OGC/1.3/CRS84"`, ""},
	} {
		good := point("[-38,43]")
		for where, text := range map[string]string{
			"feature": strings.Replace(good, geometry, c.member+","+geometry, 1), "geometry": strings.Replace(good, geometry, geometry+","+c.member, 1),
		} {
			t.Run(c.name+" of a "+where, func(t *testing.T) {
				list := readGeoJSON(t, apart(collection(text, strings.ReplaceAll(good, "[-38,43]", "[43,-38]"))))
				require.Len(t, list, 2)
				if c.want == "" {
					assert.Empty(t, list[0].Faults)
					return
				}
				require.Len(t, list[0].Faults, 1)
				assert.Contains(t, list[0].Faults[0].Problem, c.want)
				assert.Equal(t, "geometry", list[0].Faults[0].Column)
				assert.Nil(t, list[0].Geometry())
				assert.Empty(t, list[1].Faults)
			})
		}
		t.Run(c.name+" of a collection", func(t *testing.T) {
			r, err := inventory.NewGeoJSON(strings.NewReader(strings.Replace(collection(good), "{", "{"+c.member+",", 1)))
			if err == nil {
				_, err = r.Next()
			}
			if c.want == "" {
				require.NoError(t, err)
			} else {
				require.ErrorContains(t, err, c.want)
			}
		})
	}
}

// What some programs write before the text is no part of it; lines are counted as without.
func TestByteOrderMarksOfGeoJSON(t *testing.T) {
	list := readGeoJSON(t, "\xEF\xBB\xBF\n"+collection(point("[-38.01,43.0046]"), point("[-38.01,143]")))
	require.Len(t, list, 2)
	assert.Empty(t, list[0].Faults)
	assert.NotEmpty(t, list[1].Faults)
	assert.Equal(t, []int{2, 3}, []int{list[0].Line, list[1].Line})
	for _, mark := range []string{"\xFF\xFE", "\xFE\xFF"} {
		_, err := inventory.NewGeoJSON(strings.NewReader(mark + "{\x00"))
		assert.EqualError(t, err, "line 1: the file is in UTF-16; save it as GeoJSON in UTF-8")
	}
	_, err := inventory.NewGeoJSON(strings.NewReader("\xEF\xBB\xBF"))
	assert.ErrorContains(t, err, "the file ends behind this line")
}

func TestManyFaultsOfOneFeatureAreCutShort(t *testing.T) {
	list := readGeoJSON(t, collection(feature("null", strings.Repeat(`,"nonsense":1`, 10_000))))
	require.Len(t, list, 1)
	assert.Less(t, len(list[0].Faults), 60)
	assert.Contains(t, list[0].Faults[len(list[0].Faults)-1].Problem, "more is wrong")
}
