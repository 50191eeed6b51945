package water

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	_ "modernc.org/sqlite" // GeoPackages are SQLite files
)

// geoPackage reads the feature tables of a GeoPackage.
func (r *reader) geoPackage(path string) (string, error) {
	path, err := filepath.EvalSymlinks(path) // what is written lies beside the file, not beside a link to it
	if err != nil {
		return "", err
	}
	if err := atRest(path); err != nil {
		return "", err
	}
	digest, err := digestOf(path)
	if err != nil {
		return "", err
	}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Opaque: url.PathEscape(path), RawQuery: "mode=ro&immutable=1"}).String())
	if err != nil {
		return "", err
	}
	defer db.Close()
	p := packageReader{reader: r, db: db}
	if err := p.read(); err != nil {
		return "", fmt.Errorf("cannot be read as a GeoPackage (OGC 12-128r19): %w", err)
	}
	if again, err := digestOf(path); err != nil || again != digest {
		return "", errors.New("changed while it was read; put it there whole, under another name first")
	}
	return digest, atRest(path)
}

// atRest tells of what is beside a GeoPackage while it is written, and would not be read.
func atRest(path string) error {
	for _, beside := range []string{path + "-wal", path + "-journal"} {
		switch info, err := os.Stat(beside); {
		case err == nil && info.Size() > 0:
			return fmt.Errorf("is being written: there is a file %s; close the program that has it open", beside)
		case err != nil && !errors.Is(err, fs.ErrNotExist):
			return fmt.Errorf("may be being written: %w", err)
		}
	}
	return nil
}

func digestOf(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	n, err := io.Copy(sum, io.LimitReader(f, maxFileBytes+1))
	if err != nil {
		return "", err
	}
	if n > maxFileBytes {
		return "", errTooLong
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// packageReader reads one GeoPackage.
type packageReader struct {
	*reader
	db *sql.DB
}

// table is a table of features.
type table struct {
	name, key, geometry string
	columns             []column // those of properties that it has
	srs                 int32
}

// column holds a property. Its own name may be in another case.
type column struct{ property, name string }

// maxTables is how many tables of features a GeoPackage may have (common practice,
// no source).
const maxTables = 1_000

func (p *packageReader) read() error {
	tables, err := p.tables()
	if err != nil {
		return err
	}
	for _, t := range tables {
		if !p.isWGS84(t) {
			continue
		}
		if err := p.describe(t); err != nil {
			return fmt.Errorf("table %q: %w", t.name, err)
		}
		if len(t.columns) == 0 {
			p.faults.add(p.file, "table %q: has neither a column water_class nor a column coverage_of; add one, or take the table out", t.name)
			continue
		}
		if err := p.rows(t); err != nil {
			return fmt.Errorf("table %q: %w", t.name, err)
		}
	}
	return nil
}

// tables lists the tables of features, by both lists that a GeoPackage has of them, and
// tells of each that cannot be read: a table that is passed over would be water that a
// coverage says is not there. SQLite compares names without case, and so do these lists.
func (p *packageReader) tables() ([]*table, error) {
	rows, err := p.db.Query(`SELECT coalesce(c.table_name, g.table_name), c.table_name, g.table_name, g.column_name, g.srs_id, m.type
		FROM (SELECT table_name FROM gpkg_contents WHERE data_type = 'features' COLLATE NOCASE) c
		FULL JOIN gpkg_geometry_columns g ON g.table_name = c.table_name COLLATE NOCASE
		LEFT JOIN sqlite_master m ON m.name = coalesce(c.table_name, g.table_name) COLLATE NOCASE AND m.type IN ('table', 'view')
		ORDER BY 1 LIMIT ?`, maxTables+1)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []*table
	n := 0
	for ; rows.Next(); n++ {
		var name, content, geometries, column, kind sql.NullString
		var srs sql.NullInt32
		if err := rows.Scan(&name, &content, &geometries, &column, &srs, &kind); err != nil {
			return nil, err
		}
		if problem := listed(content.Valid, geometries.Valid, kind.String); problem != "" {
			p.faults.add(p.file, "table %q: %s", name.String, problem)
			continue
		}
		list = append(list, &table{name: name.String, geometry: column.String, srs: srs.Int32})
	}
	switch err := rows.Err(); {
	case err != nil:
		return nil, err
	case n == 0:
		return nil, errors.New("gpkg_contents: lists no table of features; add one, or take the file out")
	case n > maxTables:
		return nil, fmt.Errorf("gpkg_contents: lists more than %d tables of features; split it into several layers", maxTables)
	}
	return list, nil
}

// listed says what is wrong with how a table is listed, if anything is. What a view shows
// may depend on the day, and the file's digest would not tell.
func listed(content, geometries bool, kind string) string {
	switch {
	case !geometries:
		return "is in gpkg_contents and not in gpkg_geometry_columns, so where its geometry is is not known; write the layer again, or take the table out of gpkg_contents"
	case !content:
		return "is in gpkg_geometry_columns and not in gpkg_contents as 'features'; write the layer again, or take the table out of gpkg_geometry_columns"
	case kind == "view":
		return "is a view, and what it shows may change while the file does not; copy it into a table"
	case kind == "":
		return "is listed in gpkg_contents and is not there; write the layer again, or take the table out of both lists"
	}
	return ""
}

// isWGS84 looks a table's reference system up.
func (p *packageReader) isWGS84(t *table) bool {
	var name, organization string
	var code int64
	err := p.db.QueryRow(`SELECT srs_name, organization, organization_coordsys_id FROM gpkg_spatial_ref_sys WHERE srs_id = ?`, t.srs).
		Scan(&name, &organization, &code)
	switch {
	case err != nil:
		p.faults.add(p.file, "table %q: srs_id: %d is not in gpkg_spatial_ref_sys; write the layer again in WGS 84 (EPSG:4326)", t.name, t.srs)
	case !strings.EqualFold(organization, "EPSG") || code != 4326:
		p.faults.add(p.file, "table %q: srs_id: %d is %s (%s:%d), not WGS 84; convert the layer to EPSG:4326", t.name, t.srs, clip(name), clip(organization), code)
	default:
		return true
	}
	return false
}

// describe finds the columns of a table.
func (p *packageReader) describe(t *table) error {
	rows, err := p.db.Query(`SELECT name, pk FROM pragma_table_xinfo(?)`, t.name) // with generated columns
	if err != nil {
		return err
	}
	defer rows.Close()
	named := map[string]string{}
	for rows.Next() {
		var name string
		var key int
		if err := rows.Scan(&name, &key); err != nil {
			return err
		}
		if key == 1 {
			t.key = name
		}
		i := slices.IndexFunc(propertyNames, func(p string) bool { return strings.EqualFold(p, name) })
		if i < 0 {
			continue
		}
		property := propertyNames[i]
		if named[property] != "" {
			return fmt.Errorf("has a column %s and a column %s; keep one of them", named[property], name)
		}
		named[property] = name
		t.columns = append(t.columns, column{property: property, name: name})
	}
	if named[propertyClass] == "" && named[propertyCoverage] == "" {
		t.columns = nil
	}
	return rows.Err()
}

// query selects a table's key, geometry and properties.
func (t *table) query() string {
	names := make([]string, 0, len(t.columns)+2)
	names = append(names, quoted(t.key), quoted(t.geometry))
	for _, c := range t.columns {
		names = append(names, quoted(c.name))
	}
	return "SELECT " + strings.Join(names, ", ") + " FROM " + quoted(t.name)
}

func quoted(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

func (p *packageReader) rows(t *table) error {
	if t.key == "" {
		t.key = "rowid"
	}
	rows, err := p.db.Query(t.query())
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := p.row(t, rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (p *packageReader) row(t *table, rows *sql.Rows) error {
	values := make([]any, len(t.columns)+2)
	into := make([]any, len(values))
	for i := range values {
		into[i] = &values[i]
	}
	if err := rows.Scan(into...); err != nil {
		return err
	}
	where := fmt.Sprintf("table %q: %s %s", t.name, t.key, clip(values[0]))
	props := properties{}
	for i, c := range t.columns {
		props[c.property] = property(values[i+2])
	}
	data, ok := values[1].([]byte)
	if !ok && values[1] != nil {
		p.faults.add(p.file+": "+where, "%s: %s is not a geometry; write the layer again", t.geometry, clip(values[1]))
		return nil
	}
	var g geometry
	if ok {
		var err error
		if g, err = readBlob(data, t.srs); err != nil {
			p.faults.add(p.file+": "+where, "%s: %v", t.geometry, err)
			return nil
		}
	}
	return p.add(where, props, g)
}

// property brings a column's value to the kinds that properties have. An empty text
// is no value.
func property(v any) any {
	switch v := v.(type) {
	case int64:
		return float64(v)
	case string:
		if strings.TrimSpace(v) == "" {
			return nil
		}
	}
	return v
}
