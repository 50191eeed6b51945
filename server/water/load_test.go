package water_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/server/water"
)

func TestDescribe(t *testing.T) {
	bank := bed(5, "bank_top")
	area := square(0, 0, 1)
	dir := folder(t, t.TempDir(),
		collection(stream([2]float64{0, 0}, [2]float64{0, 1}), bank, well([2]float64{1, 1}), coverage([]string{"well", "perennial_stream"}, area)),
		collection(coverage("spring", area)))
	l, err := water.Load(dir)
	require.NoError(t, err)

	var ring water.Ring
	for _, p := range area {
		ring = append(ring, water.Point{Latitude: p[1], Longitude: p[0]})
	}
	covered := [][]water.Ring{{ring}}
	text, err := os.ReadFile(filepath.Join(dir, "layer0.geojson"))
	require.NoError(t, err)
	sum := sha256.Sum256(text)

	got := l.Describe()
	require.Len(t, got, 2)
	assert.Equal(t, water.Layer{
		Name: "layer0", Digest: hex.EncodeToString(sum[:]), Features: 3, Edges: 6,
		Coverages: []water.Coverage{
			{Class: rules.PerennialStream, Origin: rules.WaterEdge, Features: 1, Area: covered},
			{Class: rules.PerennialStream, Origin: rules.BankTop, Features: 1, Area: covered},
			{Class: rules.Well, Origin: rules.WaterEdge, Features: 1, Area: covered},
		},
	}, got[0])
	assert.Equal(t, []water.Coverage{{Class: rules.Spring, Area: covered}}, got[1].Coverages)
	assert.Positive(t, l.LoadTime())
}

func TestDefaultsOfACollection(t *testing.T) {
	bare := shape("Polygon", [][][2]float64{{{-1, -1}, {0, -1}, {0, 1}, {-1, 1}, {-1, -1}}}, object{"name": "a river"})
	own := shape("Point", [2]float64{10 * metre, 0}, object{"water_class": "well", "origin": "wetland_boundary"})
	c := collection(all(), bare, own)
	c["water_class"], c["origin"], c["uncertainty_m"] = "ditch", "bank_top", 3
	got := load(t, c).Finder(every, reach).Measure(spot(20*metre, 0))
	assert.Equal(t, rules.BankTop, distance(t, got, rules.Ditch).Origin)
	assert.Equal(t, "17", short(&got.Water, rules.Ditch))
	assert.Equal(t, rules.WetlandBoundary, distance(t, got, rules.Well).Origin)
}

// What some programs write before the text of a file is no part of it.
func TestAByteOrderMarkIsPassedOver(t *testing.T) {
	dir := folder(t, t.TempDir(), collection(all()))
	path := filepath.Join(dir, "layer0.geojson")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	marked := append([]byte("\xEF\xBB\xBF"), text...)
	require.NoError(t, os.WriteFile(path, marked, 0o600))
	l, err := water.Load(dir)
	require.NoError(t, err)
	sum := sha256.Sum256(marked)
	assert.Equal(t, hex.EncodeToString(sum[:]), l.Describe()[0].Digest, "of the file as it is")
}

func TestOtherFilesArePassedOver(t *testing.T) {
	dir := folder(t, t.TempDir(), collection(all()))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "README.md"), []byte("where it is from"), 0o600))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "old"), 0o700))
	l, err := water.Load(dir)
	require.NoError(t, err)
	assert.Len(t, l.Describe(), 1)
}

// Each fault names the feature, the property, the value, the limit and the remedy.
func TestFaultsOfGeoJSON(t *testing.T) {
	with := func(f object, name string, value any) object {
		f["properties"].(object)[name] = value
		return f
	}
	aStream := func() object { return stream([2]float64{0, 0}, [2]float64{1, 1}) }
	line := func(positions any) object { return shape("LineString", positions, aStream()["properties"].(object)) }
	for _, c := range []struct {
		name string
		f    object
		want string
	}{
		{"no class", shape("Point", [2]float64{0, 0}, object{}), "water_class: is not given; give one of perennial_stream, "},
		{"no such class", with(aStream(), "water_class", "pond"), `water_class: "pond" is not one of perennial_stream, `},
		{"a class that is a number", with(aStream(), "water_class", 4), `water_class: 4 is not one of perennial_stream, `},
		{"a class without end", with(aStream(), "water_class", strings.Repeat("x", 5000)), `water_class: "` + strings.Repeat("x", 39) + `... is not one of`},
		{"no such origin", with(aStream(), "origin", "middle"), `origin: "middle" is not one of water_edge, wetland_boundary, bank_top`},
		{"no such state", with(aStream(), "state", "damp"), `state: "damp" is not one of wet, dry`},
		{"an area below zero", with(lake(square(0, 0, 1)), "area_m2", -1), "area_m2: -1 is not a number of square metres from 1e-06 to 1e+12; leave it out if it is not known"},
		{"an area in words", with(lake(square(0, 0, 1)), "area_m2", "1 ha"), `area_m2: "1 ha" is not a number`},
		{"an uncertainty below zero", with(aStream(), "uncertainty_m", -1), "uncertainty_m: -1 is not a number of metres from 0 to 10000; leave it out"},
		{"a coverage of nothing", coverage([]string{}, square(0, 0, 1)), "coverage_of: names no class; name one of"},
		{"a coverage of anything", coverage("all", square(0, 0, 1)), `coverage_of: "all" is not one of`},
		{"a coverage that is water", with(coverage("lake", square(0, 0, 1)), "water_class", "lake"), "water_class: is given beside coverage_of;"},
		{"a coverage along a line", with(aStream(), "coverage_of", "lake"), "geometry: is not polygons alone, and only a polygon says where"},
		{"a lake as a point", shape("Point", [2]float64{0, 0}, object{"water_class": "lake"}), "geometry: is not polygons alone; draw a lake as a polygon"},
		{"a wetland as a line", with(aStream(), "water_class", "wetland"), "geometry: is not polygons alone; draw a wetland as a polygon"},
		{"the top of a bank as a line", with(aStream(), "origin", "bank_top"), "geometry: is a line, and its origin is bank_top; draw what lies within it as a polygon"},
		{"a stream as a point", shape("Point", [2]float64{0, 0}, object{"water_class": "ditch"}), "geometry: is a point; draw a ditch as a line or a polygon"},
		{"no geometry", object{"type": "Feature", "properties": object{"water_class": "well"}, "geometry": nil}, "geometry: is empty; give the feature positions"},
		{"an empty geometry", shape("MultiPoint", []any{}, object{"water_class": "well"}), "geometry: is empty"},
		{"not a feature", object{"type": "Thing"}, `type: "Thing" is not "Feature"`},
		{"no such geometry", shape("Circle", [2]float64{0, 0}, object{}), `geometry: type: "Circle" is not one of Point, `},
		{"latitude and longitude", line([][2]float64{{0, 0}, {45, 100}}), "geometry: position [45, 100] is not a longitude of -180 to 180 and a latitude of -90 to 90; give degrees of WGS 84, the longitude first"},
		{"metres", line([][2]float64{{500_000, 4_649_776}, {500_010, 4_649_776}}), "geometry: position [500000, 4.649776e+06] is not a longitude"},
		{"a position of one number", line([][]float64{{0, 0}, {1}}), "geometry: coordinates: position [1] has 1 numbers; give longitude and latitude"},
		{"a position of nothing", line([]any{[]any{0, nil}, []any{1, 1}}), `geometry: coordinates: "null" is not a number in a position`},
		{"a position of words", line([]any{[]any{"0", "0"}, []any{1, 1}}), `geometry: coordinates: "\"0\"" is not a number in a position`},
		{"a line of one position", line([][2]float64{{0, 0}}), "geometry: has a line of 1 positions; a line has 2 or more"},
		{"a line that is a point", line([2]float64{0, 0}), "geometry: coordinates: are not nested as this type of geometry has them"},
		{"a line that is a polygon", line([][][2]float64{square(0, 0, 1)}), "geometry: coordinates: "},
		{"a line all round the earth", line([][2]float64{{-180, 10}, {180, 10}}), "geometry: goes from longitude -180 to 180 at latitude 10; give it a position between"},
		{"a ring that is open", lake(square(0, 0, 1)[:4]), "geometry: has a ring of 4 positions that does not end where it starts"},
		{"a ring of three", lake([][2]float64{{0, 0}, {1, 1}, {0, 0}}), "geometry: has a ring of 3 positions that does not end where it starts, or has fewer than 4"},
		{"a ring round a pole", lake([][2]float64{{0, 80}, {120, 80}, {-120, 80}, {0, 80}}), "geometry: has a ring that goes round a pole; cut it at longitude 180"},
		{"a polygon without a ring", shape("Polygon", []any{}, object{"water_class": "lake"}), "geometry: has a polygon without a ring"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := water.Load(folder(t, t.TempDir(), collection(all(), c.f)))
			assert.ErrorContains(t, err, "layer0.geojson: features[1]: "+c.want)
		})
	}
}

func TestFaultsOfFiles(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"nothing":                {"", "a.json: is not a GeoJSON FeatureCollection (RFC 7946): near byte 0: EOF"},
		"cut off":                {`{"type":"FeatureCollection","features":[`, "a.json: is not a GeoJSON FeatureCollection (RFC 7946): "},
		"UTF-16":                 {"\xFF\xFE{\x00", "a.json: is in UTF-16; save it as GeoJSON in UTF-8"},
		"UTF-16, the other way":  {"\xFE\xFF\x00{", "a.json: is in UTF-16; save it as GeoJSON in UTF-8"},
		"a list":                 {"[]", "a.json: is not a GeoJSON FeatureCollection (RFC 7946): near byte 1: [ stands where { should"},
		"a feature":              {`{"type":"Feature"}`, `a.json: type: "Feature" is not "FeatureCollection"`},
		"features that are none": {`{"type":"FeatureCollection","features":{}}`, "a.json: is not a GeoJSON FeatureCollection (RFC 7946): near byte 40: features: { stands where [ should"},
		"two of them":            {`{"type":"FeatureCollection","features":[]}{}`, "a.json: holds something after its FeatureCollection"},
		"another reference system": {`{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::32618"}},"features":[]}`,
			`a.json: crs: "urn:ogc:def:crs:EPSG::32618" is not WGS 84; convert the layer to longitude and latitude of WGS 84 and leave crs out`},
		"no reference system": {`{"type":"FeatureCollection","crs":null,"features":[]}`, `a.json: crs: "null" is not WGS 84`},
		"collections in collections": {`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":` +
			strings.Repeat(`{"type":"GeometryCollection","geometries":[`, 9) + strings.Repeat(`]}`, 9) + `}]}`,
			"a.json: features[0]: geometry: has collections in collections, deeper than 4"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			require.NoError(t, os.WriteFile(filepath.Join(dir, "a.json"), []byte(c.text), 0o600))
			_, err := water.Load(dir)
			assert.ErrorContains(t, err, c.want)
		})
	}
}

// What is stated counts whatever the case of its name, on a feature and on the
// collection; what is stated twice does not.
func TestNamesOfAnotherCase(t *testing.T) {
	covered, err := json.Marshal(all())
	require.NoError(t, err)
	for name, c := range map[string]struct{ properties, of, want string }{
		"of a feature":          {`"Water_Class":"well","UNCERTAINTY_M":3`, ``, ""},
		"of the collection":     {`"name":"w"`, `"WATER_CLASS":"well","Uncertainty_m":3`, ""},
		"null":                  {`"Water_Class":null,"uncertainty_m":3`, `"water_class":"well"`, ""},
		"others twice":          {`"water_class":"well","uncertainty_m":3,"name":1,"Name":2,"name":3`, `"note":1,"note":2`, ""},
		"two cases":             {`"water_class":"well","state":"wet","State":"dry"`, ``, "features[1]: state: is given twice, though perhaps not in the same case; keep one of them"},
		"twice":                 {`"water_class":"well","uncertainty_m":9,"uncertainty_m":null`, ``, "features[1]: uncertainty_m: is given twice"},
		"two of the collection": {`"water_class":"well"`, `"uncertainty_m":9,"Uncertainty_M":3`, "uncertainty_m: is given twice"},
		"two lists":             {`"water_class":"well"`, `"Features":[]`, "features: is given twice"},
	} {
		t.Run(name, func(t *testing.T) {
			of := c.of
			if of != "" {
				of = "," + of
			}
			text := fmt.Sprintf(`{"type":"FeatureCollection","features":[%s,{"type":"Feature","properties":{%s},"geometry":{"type":"Point","coordinates":[%v,0]}}]%s}`, covered, c.properties, 10*metre, of)
			dir := t.TempDir()
			require.NoError(t, os.WriteFile(filepath.Join(dir, "a.json"), []byte(text), 0o600))
			l, err := water.Load(dir)
			if c.want != "" {
				assert.ErrorContains(t, err, c.want)
				return
			}
			require.NoError(t, err)
			got := l.Finder(every, reach).Measure(spot(0, 0))
			assert.Equal(t, "7", short(&got.Water, rules.Well))
		})
	}
}

// The last of several members would decide where a well is.
func TestMembersThatStandTwice(t *testing.T) {
	const geometry = `"geometry":{"type":"Point","coordinates":[0,0]}`
	good := `{"type":"Feature","properties":{"water_class":"well"},` + geometry + `,"id":7,"note":1,"note":2,"Note":3}`
	for _, c := range []struct{ name, old, new, want string }{
		{"a good one", "", "", ""},
		{"none of geometries", geometry, `"geometry":{"type":"GeometryCollection"}`, "features[0] (id 7): geometry: geometries: \"\" is not a list"},
		{"coordinates", `[0,0]`, `[0,0],"Coordinates":[1,1]`, "features[0] (id 7): geometry: coordinates: is given twice, though perhaps not in the same case; keep one of them"},
		{"geometry", geometry, `"geometry":null,` + geometry, "features[0] (id 7): geometry: is given twice"},
		{"properties", geometry, geometry + `,"properties":{"state":"dry"}`, "features[0] (id 7): properties: is given twice"},
		{"type", `"Feature"`, `"Feature","TYPE":"Feature"`, "features[0] (id 7): type: is given twice"},
		{"type of a geometry", `"Point"`, `"LineString","type":"Point"`, "features[0] (id 7): geometry: type: is given twice"},
		{"crs", geometry, geometry + `,"crs":null,"CRS":null`, "features[0] (id 7): crs: is given twice"},
		{"geometries", geometry, `"geometry":{"type":"GeometryCollection","geometries":[],"geometries":[]}`, "features[0] (id 7): geometry: geometries: is given twice"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			text := `{"type":"FeatureCollection","features":[` + strings.Replace(good, c.old, c.new, 1) + `]}`
			require.True(t, json.Valid([]byte(text)))
			require.NoError(t, os.WriteFile(filepath.Join(dir, "a.json"), []byte(text), 0o600))
			if _, err := water.Load(dir); c.want == "" {
				assert.NoError(t, err)
			} else {
				assert.ErrorContains(t, err, "a.json: "+c.want)
			}
		})
	}
}

// A reference system may be named at every level.
func TestReferenceSystemsOfGeoJSON(t *testing.T) {
	named := func(name string) object { return object{"type": "name", "properties": object{"name": name}} }
	well := `{"type":"Feature","properties":{"water_class":"well"},"geometry":{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[0,0]%s}]%s}%s}`
	for level, where := range map[string]string{"part": "features[0]: geometry: ", "geometry": "features[0]: geometry: ", "feature": "features[0]: ", "collection": ""} {
		for _, c := range []struct {
			member string
			value  any
			want   string
		}{
			{"crs", named("urn:ogc:def:crs:EPSG::4267"), `crs: "urn:ogc:def:crs:EPSG::4267" is not WGS 84; convert the layer to longitude and latitude of WGS 84 and leave crs out`},
			{"crs", object{"type": "link", "properties": object{"href": "x"}}, `crs: "{\"properties\":{\"href\":\"x\"},`},
			{"crs", nil, `crs: "null" is not WGS 84`},
			{"coordRefSys", "http://www.opengis.net/def/crs/EPSG/0/4267", `coordRefSys: "http://www.opengis.net/def/crs/EPSG/0/4267" is not WGS 84; convert the layer to longitude and latitude of WGS 84 and leave coordRefSys out`},
			{"coordRefSys", []string{"http://www.opengis.net/def/crs/OGC/1.3/CRS84"}, `coordRefSys: "[\"http`},
			{"crs", named("urn:ogc:def:crs:OGC:1.3:CRS84"), ""},
			{"crs", named("EPSG:4326"), ""},
			{"coordRefSys", "http://www.opengis.net/def/crs/OGC/1.3/CRS84", ""},
		} {
			value, err := json.Marshal(c.value)
			require.NoError(t, err)
			at := func(l string) string {
				if l != level {
					return ""
				}
				return fmt.Sprintf(`,%q:%s`, c.member, value)
			}
			dir := t.TempDir()
			text := fmt.Sprintf(`{"type":"FeatureCollection","features":[`+well+`]%s}`, at("part"), at("geometry"), at("feature"), at("collection"))
			require.NoError(t, os.WriteFile(filepath.Join(dir, "a.json"), []byte(text), 0o600))
			if _, err = water.Load(dir); c.want == "" {
				assert.NoError(t, err, text)
			} else {
				assert.ErrorContains(t, err, "a.json: "+where+c.want, text)
			}
		}
	}
}

func TestFaultsOfFolders(t *testing.T) {
	t.Run("none", func(t *testing.T) {
		_, err := water.Load(filepath.Join(t.TempDir(), "none"))
		assert.ErrorContains(t, err, "the folder of water layers cannot be read")
	})
	t.Run("empty", func(t *testing.T) {
		_, err := water.Load(t.TempDir())
		assert.ErrorContains(t, err, "holds no file that ends in .geojson, .json or .gpkg")
	})
	t.Run("a folder with the name of a layer", func(t *testing.T) {
		dir := t.TempDir()
		require.NoError(t, os.Mkdir(filepath.Join(dir, "lakes.gpkg"), 0o700))
		_, err := water.Load(dir)
		assert.ErrorContains(t, err, "lakes.gpkg: is not a regular file")
	})
	t.Run("a file without end", func(t *testing.T) {
		for _, name := range []string{"a.json", "a.gpkg"} {
			path := filepath.Join(t.TempDir(), name)
			require.NoError(t, os.WriteFile(path, nil, 0o600))
			require.NoError(t, os.Truncate(path, 1<<40))
			_, err := water.Load(filepath.Dir(path))
			assert.ErrorContains(t, err, name+": is longer than 536870912 bytes; split it into several layers")
		}
	})
	t.Run("edges that are to be split without end", func(t *testing.T) {
		var positions [][2]float64
		for i := range 20_000 {
			positions = append(positions, [2]float64{float64(i%2)*179 - 90, 0})
		}
		_, err := water.Load(folder(t, t.TempDir(), collection(stream(positions...))))
		assert.ErrorContains(t, err, "layer0.geojson: is the one with which the folder holds more than 20000000 edges, each of at most 20 km; take layers out")
	})
	t.Run("two of a name", func(t *testing.T) {
		dir := folder(t, t.TempDir(), collection(all()))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "layer0.json"), []byte(`{"type":"FeatureCollection","features":[]}`), 0o600))
		_, err := water.Load(dir)
		assert.ErrorContains(t, err, "layer0.json: has the name of the layer layer0.geojson; give it another")
	})
	t.Run("all faults of all files at once", func(t *testing.T) {
		bad := shape("Point", [2]float64{200, 0}, object{"water_class": "pond"})
		bad["id"] = "pond 7"
		_, err := water.Load(folder(t, t.TempDir(), collection(bad), collection(all(), bad)))
		require.Error(t, err)
		assert.Len(t, strings.Split(err.Error(), "\n"), 4)
		assert.ErrorContains(t, err, `layer1.geojson: features[1] (id "pond 7"): geometry: position [200, 0]`)
	})
	t.Run("more faults than anyone reads", func(t *testing.T) {
		var features []object
		for range 80 {
			features = append(features, well([2]float64{200, 0}))
		}
		_, err := water.Load(folder(t, t.TempDir(), collection(features...)))
		require.Error(t, err)
		assert.Len(t, strings.Split(err.Error(), "\n"), 51)
		assert.ErrorContains(t, err, "and 30 more")
	})
}

// The order of members, white space, heights and other properties mean nothing, and
// every kind of geometry is read.
func TestGeoJSONAsOthersWriteIt(t *testing.T) {
	const text = `{ "features" : [
	  {"geometry":{"coordinates":[ [ 0 , -1e0, 12.5 ] ,
	     [0,1,13]],"type":"LineString"},"type":"Feature","properties":{"name":"a \"river\"","water_class":"ditch","state":null},"bbox":[0,-1,0,1]},
	  {"type":"Feature","properties":{"water_class":"well"},"geometry":{"type":"MultiPoint","coordinates":[[5,5],[6,6]]}},
	  {"type":"Feature","properties":{"water_class":"perennial_stream"},"geometry":{"type":"GeometryCollection","geometries":[
	    {"type":"MultiLineString","coordinates":[[[7,7],[8,8]],[[9,9],[9,8]]]},{"type":"Polygon","coordinates":[[[1,1],[2,1],[2,2],[1,1]]]}]}},
	  {"type":"Feature","properties":{"coverage_of":"lake,well"},"geometry":{"type":"MultiPolygon","coordinates":[[[[-9,-9],[9,-9],[9,9],[-9,-9]]]]}}
	 ], "crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:OGC:1.3:CRS84"}}, "origin": "water_edge",
	 "name":"layer", "type" : "FeatureCollection" }`
	require.True(t, json.Valid([]byte(text)))
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a.GeoJSON"), []byte(text), 0o600))
	l, err := water.Load(dir)
	require.NoError(t, err)
	got := l.Describe()[0]
	assert.Equal(t, 3, got.Features)
	assert.Equal(t, 1+2+2+3, got.Edges)
	assert.Len(t, got.Coverages, 4)
}
