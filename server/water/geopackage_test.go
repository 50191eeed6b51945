package water_test

import (
	"bytes"
	"database/sql"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	_ "modernc.org/sqlite"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"
)

// wkb is a geometry in well-known binary, little endian.
func wkb(code uint32, body ...any) []byte {
	var b bytes.Buffer
	b.WriteByte(1)
	write(&b, code)
	write(&b, body...)
	return b.Bytes()
}

func write(b *bytes.Buffer, values ...any) {
	for _, v := range values {
		if err := binary.Write(b, binary.LittleEndian, v); err != nil {
			panic(err)
		}
	}
}

// gp puts the header of a GeoPackage before a geometry.
func gp(flags byte, srs int32, geometry []byte) []byte {
	var b bytes.Buffer
	b.WriteString("GP\x00")
	write(&b, flags|1, srs)
	b.Write(geometry)
	return b.Bytes()
}

func lineWKB(line ...[2]float64) []byte { return wkb(2, uint32(len(line)), line) }

func polygonWKB(ring [][2]float64) []byte { return wkb(3, uint32(1), uint32(len(ring)), ring) }

// row is a row of a table of features.
type row struct {
	geometry          any
	class, origin, of any
}

const schema = `
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
	organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (table_name TEXT PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT, description TEXT,
	last_change DATETIME, min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER);
CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, geometry_type_name TEXT, srs_id INTEGER, z TINYINT, m TINYINT);
INSERT INTO gpkg_spatial_ref_sys VALUES ('WGS 84 geodetic', 4326, 'EPSG', 4326, '', ''), ('WGS 84 / UTM zone 18N', 32618, 'EPSG', 32618, '', '');
INSERT INTO gpkg_contents (table_name, data_type, srs_id) VALUES ('my "water"', 'features', 4326), ('notes', 'attributes', 0);
INSERT INTO gpkg_geometry_columns VALUES ('my "water"', 'geom', 'GEOMETRY', 4326, 2, 2);
CREATE TABLE "my ""water""" (fid INTEGER PRIMARY KEY, geom BLOB, name TEXT, water_class TEXT, origin TEXT, area_m2 REAL, coverage_of TEXT);
`

// geoPackage writes a folder with one.
func geoPackage(t testing.TB, sqlAfter string, rows ...row) string {
	t.Helper()
	dir := t.TempDir()
	db, err := sql.Open("sqlite", filepath.Join(dir, "written")+"?_pragma=synchronous(0)&_pragma=journal_mode(off)")
	require.NoError(t, err)
	_, err = db.Exec(schema)
	require.NoError(t, err)
	for _, r := range rows {
		_, err = db.Exec(`INSERT INTO "my ""water""" (geom, water_class, origin, coverage_of) VALUES (?, ?, ?, ?)`, r.geometry, r.class, r.origin, r.of)
		require.NoError(t, err)
	}
	_, err = db.Exec(sqlAfter)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	require.NoError(t, os.Rename(filepath.Join(dir, "written"), filepath.Join(dir, "a b%20?.gpkg")))
	return dir
}

func TestGeoPackage(t *testing.T) {
	envelope := make([]byte, 32)
	withHeight := wkb(1002, uint32(2), [3]float64{20 * metre, -1, 5}, [3]float64{20 * metre, 1, 5})
	wells := wkb(7, uint32(1), wkb(4, uint32(2), wkb(1, 5.0, 5.0), wkb(1, 40*metre, 0.0)))
	dir := geoPackage(t, "",
		row{gp(0, 4326, polygonWKB(square(0, 0, 1))), nil, "bank_top", "ditch, well,spring"},
		row{gp(1<<1, 4326, append(envelope, withHeight...)), "ditch", "water_edge", ""},
		row{gp(0, 4326, wells), "well", nil, nil},
	)
	l, err := water.Load(dir)
	require.NoError(t, err)
	got := l.Finder(every, 100*quantity.Metre).Measure(spot(0, 0))
	assert.Equal(t, "20", short(&got.Water, rules.Ditch))
	assert.Equal(t, "40", short(&got.Water, rules.Well))
	assert.Zero(t, distance(t, got, rules.Well).Origin)
	assert.Equal(t, ">=100", short(&got.Water, rules.Spring))
	assert.Equal(t, "unknown", short(&got.Water, rules.Lake))
	assert.Equal(t, "a b%20?", l.Describe()[0].Name)
	assert.Equal(t, 3, l.Describe()[0].Edges)
}

// A table that is passed over would be wells that the coverage beside it says are not there.
func TestEveryTableOfAGeoPackageIsReadOrTold(t *testing.T) {
	const (
		wells    = `CREATE TABLE wells (fid INTEGER PRIMARY KEY, geom BLOB, water_class TEXT); INSERT INTO wells SELECT fid, geom, 'well' FROM "my ""water""" WHERE water_class = 'spring';`
		view     = wells + `CREATE VIEW wells_of_today AS SELECT * FROM wells;`
		content  = `INSERT INTO gpkg_contents (table_name, data_type, srs_id) VALUES (TABLE, 'features', 4326);`
		geometry = `INSERT INTO gpkg_geometry_columns VALUES (TABLE, 'geom', 'GEOMETRY', 4326, 2, 2);`
	)
	for name, c := range map[string]struct{ after, table, want string }{
		"a table":                    {wells + content + geometry, "wells", ""},
		"names in another case":      {wells + content + geometry, "Wells", ""},
		"a data type in capitals":    {strings.ReplaceAll(wells+content+geometry, "'features'", "'FEATURES'"), "wells", ""},
		"a view":                     {view + content + geometry, "wells_of_today", `table "wells_of_today": is a view, and what it shows may change while the file does not; copy it into a table`},
		"no column of geometries":    {wells + content, "wells", `table "wells": is in gpkg_contents and not in gpkg_geometry_columns`},
		"no contents":                {wells + geometry, "wells", `table "wells": is in gpkg_geometry_columns and not in gpkg_contents as 'features'`},
		"contents of another kind":   {strings.ReplaceAll(wells+content+geometry, "'features'", "'attributes'"), "wells", `table "wells": is in gpkg_geometry_columns and not in gpkg_contents as 'features'`},
		"a table that is not there":  {content + geometry, "wells", `table "wells": is listed in gpkg_contents and is not there`},
		"no reference system at all": {wells + content + strings.ReplaceAll(geometry, "4326", "NULL"), "wells", `table "wells": srs_id: 0 is not in gpkg_spatial_ref_sys`},
	} {
		t.Run(name, func(t *testing.T) {
			l, err := water.Load(geoPackage(t, strings.ReplaceAll(c.after, "(TABLE,", "('"+c.table+"',"),
				row{gp(0, 4326, polygonWKB(square(0, 0, 1))), nil, nil, "well"}, row{gp(0, 4326, wkb(1, 10*metre, 0.0)), "spring", nil, nil}))
			if c.want != "" {
				assert.ErrorContains(t, err, "a b%20?.gpkg: "+c.want)
				return
			}
			require.NoError(t, err)
			got := l.Finder(every, reach).Measure(spot(0, 0))
			assert.Equal(t, "10", short(&got.Water, rules.Well))
		})
	}
}

// What a column states counts whatever the case of its name, and where it is computed.
func TestColumnsOfAnotherCase(t *testing.T) {
	for name, c := range map[string]struct{ after, want string }{
		"another case":     {`ALTER TABLE "my ""water""" ADD COLUMN Uncertainty_M REAL; UPDATE "my ""water""" SET Uncertainty_M = 3`, ""},
		"all in capitals":  {`ALTER TABLE "my ""water""" RENAME COLUMN water_class TO WATER_CLASS; ALTER TABLE "my ""water""" ADD COLUMN UNCERTAINTY_M REAL DEFAULT 3`, ""},
		"generated":        {`ALTER TABLE "my ""water""" ADD COLUMN uncertainty_m REAL GENERATED ALWAYS AS (1.0 + 2.0) VIRTUAL`, ""},
		"two of one name":  {`ALTER TABLE "my ""water""" ADD COLUMN state TEXT; ALTER TABLE "my ""water""" ADD COLUMN "ſtate" TEXT`, `table "my \"water\"": has a column state and a column ſtate; keep one of them`},
		"what is no value": {`ALTER TABLE "my ""water""" ADD COLUMN State TEXT DEFAULT 'damp'`, `fid 2: state: "damp" is not one of`},
	} {
		t.Run(name, func(t *testing.T) {
			l, err := water.Load(geoPackage(t, c.after,
				row{gp(0, 4326, polygonWKB(square(0, 0, 1))), nil, nil, "well"}, row{gp(0, 4326, wkb(1, 10*metre, 0.0)), "well", nil, nil}))
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

func TestFaultsOfGeoPackages(t *testing.T) {
	good := lineWKB([2]float64{0, 0}, [2]float64{1, 1})
	for name, c := range map[string]struct {
		geometry any
		after    string
		want     string
	}{
		"another reference system": {gp(0, 4326, good), `UPDATE gpkg_geometry_columns SET srs_id = 32618`,
			`table "my \"water\"": srs_id: 32618 is "WGS 84 / UTM zone 18N" ("EPSG":32618), not WGS 84; convert the layer to EPSG:4326`},
		"a reference system that is not there": {gp(0, 4326, good), `UPDATE gpkg_geometry_columns SET srs_id = 7`,
			`srs_id: 7 is not in gpkg_spatial_ref_sys`},
		"a number that says 4326 and is not": {gp(0, 4326, good), `UPDATE gpkg_spatial_ref_sys SET organization_coordsys_id = 4269, srs_name = 'NAD83' WHERE srs_id = 4326`,
			`srs_id: 4326 is "NAD83" ("EPSG":4269), not WGS 84`},
		"a geometry in another one": {gp(0, 32618, good), "", "fid 1: geom: is in the reference system srs_id 32618 and its table in 4326"},
		"no tables":                 {gp(0, 4326, good), `DELETE FROM gpkg_contents; DELETE FROM gpkg_geometry_columns`, "gpkg_contents: lists no table of features"},
		"not a GeoPackage":          {gp(0, 4326, good), `DROP TABLE gpkg_contents`, "cannot be read as a GeoPackage (OGC 12-128r19): "},
		"no columns": {gp(0, 4326, good), `ALTER TABLE "my ""water""" DROP COLUMN water_class; ALTER TABLE "my ""water""" DROP COLUMN coverage_of`,
			`has neither a column water_class nor a column coverage_of`},
		"no class":               {gp(0, 4326, good), `UPDATE "my ""water""" SET water_class = ''`, "fid 1: water_class: is not given"},
		"no geometry":            {nil, "", "fid 1: geometry: is empty"},
		"an empty geometry":      {gp(1<<4, 4326, nil), "", "fid 1: geometry: is empty"},
		"a text":                 {"LINESTRING(0 0, 1 1)", "", `fid 1: geom: "LINESTRING(0 0, 1 1)" is not a geometry`},
		"not a geometry":         {[]byte("POINT(0 0)"), "", "geom: does not start as a geometry of a GeoPackage does"},
		"an extended geometry":   {gp(1<<5, 4326, good), "", "geom: is of an extended kind"},
		"an envelope of no kind": {gp(5<<1, 4326, good), "", "geom: is of an extended kind"},
		"cut off":                {gp(0, 4326, good[:len(good)-1]), "", "geom: ends too soon"},
		"too long":               {gp(0, 4326, append(good[:len(good):len(good)], 0)), "", "geom: has 1 bytes after its end"},
		"a count without end":    {gp(0, 4326, wkb(2, uint32(math.MaxUint32))), "", "geom: ends too soon"},
		"a curve":                {gp(0, 4326, wkb(8, uint32(0))), "", "geom: has the type 8 where it has no place"},
		"a line among points":    {gp(0, 4326, wkb(4, uint32(1), good)), "", "geom: has the type 2 where it has no place"},
		"off the earth":          {gp(0, 4326, lineWKB([2]float64{0, 0}, [2]float64{math.NaN(), 0})), "", "fid 1: geometry: position [NaN, 0] is not a longitude"},
		"in collections":         {gp(0, 4326, wkb(7, uint32(1), wkb(7, uint32(1), wkb(7, uint32(1), wkb(7, uint32(1), wkb(7, uint32(1), wkb(7, uint32(0)))))))), "", "deeper than 4"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := water.Load(geoPackage(t, c.after, row{c.geometry, "perennial_stream", nil, nil}))
			assert.ErrorContains(t, err, "a b%20?.gpkg: ")
			assert.ErrorContains(t, err, c.want)
		})
	}
	t.Run("being written", func(t *testing.T) {
		dir := geoPackage(t, "", row{gp(0, 4326, good), "ditch", nil, nil})
		require.NoError(t, os.WriteFile(filepath.Join(dir, "a b%20?.gpkg-wal"), []byte("something"), 0o600))
		_, err := water.Load(dir)
		assert.ErrorContains(t, err, "a b%20?.gpkg: is being written: there is a file ")
		assert.ErrorContains(t, err, "/a b%20?.gpkg-wal; close the program that has it open")
	})
	t.Run("being written behind a link", func(t *testing.T) {
		dir, linked := geoPackage(t, ""), t.TempDir()
		target := filepath.Join(dir, "w.gpkg")
		require.NoError(t, os.Rename(filepath.Join(dir, "a b%20?.gpkg"), target))
		db, err := sql.Open("sqlite", target+"?_pragma=journal_mode(wal)")
		require.NoError(t, err)
		defer db.Close()
		_, err = db.Exec(`INSERT INTO "my ""water""" (geom, water_class) VALUES (?, 'ditch')`, gp(0, 4326, good))
		require.NoError(t, err)
		require.NoError(t, os.Symlink(target, filepath.Join(linked, "link.gpkg")))
		_, err = water.Load(linked)
		assert.ErrorContains(t, err, "link.gpkg: is being written: there is a file ")
		assert.ErrorContains(t, err, "/w.gpkg-wal; close the program that has it open")
		require.NoError(t, db.Close())
		l, err := water.Load(linked)
		require.NoError(t, err)
		assert.Equal(t, 1, l.Describe()[0].Features, "what was written is in the file")
	})
}
