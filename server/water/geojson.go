package water

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// geoJSON reads a FeatureCollection.
func (r *reader) geoJSON(path string) (string, error) {
	data, digest, err := contents(path)
	if err != nil {
		return "", err
	}
	if bytes.HasPrefix(data, []byte("\xFF\xFE")) || bytes.HasPrefix(data, []byte("\xFE\xFF")) {
		return "", errors.New("is in UTF-16; save it as GeoJSON in UTF-8")
	}
	return digest, r.collection(bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF"))) // less its byte order mark
}

// member is a feature as it is written, until the defaults are known.
type member struct {
	where      string
	properties properties
	shape      geometry
}

// collectionReader reads the members of a FeatureCollection in whatever order.
type collectionReader struct {
	*reader
	dec      *json.Decoder
	kind     any
	seen     map[string]bool // of collectionMembers
	defaults properties
	members  []member
	count    int // of features, with those that are at fault
}

// collection reads the text of a FeatureCollection.
func (r *reader) collection(data []byte) error {
	c := collectionReader{reader: r, dec: json.NewDecoder(bytes.NewReader(data)), defaults: properties{}, seen: map[string]bool{}}
	if err := c.read(); err != nil {
		return fmt.Errorf("is not a GeoJSON FeatureCollection (RFC 7946): near byte %d: %w", c.dec.InputOffset(), err)
	}
	if _, err := c.dec.Token(); err == nil {
		return errors.New("holds something after its FeatureCollection; take it out")
	}
	if c.kind != "FeatureCollection" {
		return fmt.Errorf("type: %s is not \"FeatureCollection\"; put the features into one", clip(c.kind))
	}
	for i := range c.members {
		m := &c.members[i]
		m.properties.fill(c.defaults)
		if err := r.add(m.where, m.properties, m.shape); err != nil {
			return err
		}
	}
	return nil
}

// fill gives a feature what it does not state itself. What states a coverage is of no
// class.
func (p properties) fill(defaults properties) {
	for name, v := range defaults {
		if p[name] == nil && (name != propertyClass || p[propertyCoverage] == nil) {
			p[name] = v
		}
	}
}

func (c *collectionReader) read() error {
	if err := c.delimiter('{'); err != nil {
		return err
	}
	for c.dec.More() {
		key, err := c.dec.Token()
		if err != nil {
			return err
		}
		if err := c.member(key.(string)); err != nil {
			return err
		}
	}
	return c.delimiter('}')
}

// collectionMembers are those that are read. As the properties they may be in another case.
var collectionMembers = []string{"type", "features", "crs", "coordRefSys", propertyClass, propertyOrigin, propertyUncertainty}

func (c *collectionReader) member(key string) error {
	if i := slices.IndexFunc(collectionMembers, func(m string) bool { return strings.EqualFold(m, key) }); i >= 0 {
		key = collectionMembers[i]
		if c.seen[key] {
			return fmt.Errorf("%s: %w", key, errTwice)
		}
		c.seen[key] = true
	}
	switch key {
	case "features":
		return c.features()
	case "type":
		return c.dec.Decode(&c.kind)
	case "crs", "coordRefSys":
		return c.crs(key)
	case propertyClass, propertyOrigin, propertyUncertainty:
		var v any
		err := c.dec.Decode(&v)
		c.defaults[key] = v
		return err
	}
	var passedOver json.RawMessage
	return c.dec.Decode(&passedOver)
}

func (c *collectionReader) delimiter(want json.Delim) error {
	t, err := c.dec.Token()
	if err != nil {
		return err
	}
	if t != want {
		return fmt.Errorf("%s stands where %s should", clip(t), want)
	}
	return nil
}

// wgs84 names the reference systems that GeoJSON and its drafts have had for longitude and latitude
// of WGS 84. In all of them the longitude is first (GeoJSON of 2008, section 2.1.1).
var wgs84 = map[string]bool{
	"urn:ogc:def:crs:OGC:1.3:CRS84": true, "urn:ogc:def:crs:OGC::CRS84": true, "OGC:CRS84": true,
	"urn:ogc:def:crs:EPSG::4326": true, "EPSG:4326": true,
	"http://www.opengis.net/def/crs/OGC/1.3/CRS84": true, "http://www.opengis.net/def/crs/OGC/0/CRS84": true,
}

// crs reads the reference system of the collection.
func (c *collectionReader) crs(name string) error {
	var raw json.RawMessage
	if err := c.dec.Decode(&raw); err != nil {
		return err
	}
	if err := inWGS84(name, raw); err != nil {
		c.faults.add(c.file, "%v", err)
	}
	return nil
}

// system is what may name the reference system of a collection, a feature or a geometry:
// crs, which GeoJSON of 2008 had, and coordRefSys, which drafts after RFC 7946 have.
type system struct {
	CRS         once `json:"crs"`
	CoordRefSys once `json:"coordRefSys"`
}

func (s *system) check() error {
	if err := repeated([]string{"crs", "coordRefSys"}, s.CRS, s.CoordRefSys); err != nil {
		return err
	}
	if err := inWGS84("crs", s.CRS.text); err != nil {
		return err
	}
	return inWGS84("coordRefSys", s.CoordRefSys.text)
}

// inWGS84 refuses a member that names another reference system, or none.
func inWGS84(member string, raw json.RawMessage) error {
	if raw == nil {
		return nil
	}
	var name string
	if json.Unmarshal(raw, &name) != nil {
		var crs struct {
			Properties struct {
				Name string `json:"name"`
			} `json:"properties"`
		}
		if err := json.Unmarshal(raw, &crs); err == nil {
			name = crs.Properties.Name
		}
	}
	if wgs84[name] {
		return nil
	}
	if name == "" {
		name = string(raw)
	}
	return fmt.Errorf("%s: %.80q is not WGS 84; convert the layer to longitude and latitude of WGS 84 and leave %s out (RFC 7946, section 4)", member, name, member)
}

func (c *collectionReader) features() error {
	if err := c.delimiter('['); err != nil {
		return fmt.Errorf("features: %w", err)
	}
	for c.dec.More() {
		if c.count == maxFeatures {
			return fmt.Errorf("features: more than %d; split it into several layers", maxFeatures)
		}
		if err := c.feature(fmt.Sprintf("features[%d]", c.count)); err != nil {
			return err
		}
		c.count++
	}
	return c.delimiter(']')
}

func (c *collectionReader) feature(where string) error {
	var raw struct {
		Type       once `json:"type"`
		ID         any  `json:"id"`
		Properties once `json:"properties"`
		Geometry   once `json:"geometry"`
		system
	}
	var wrong *json.UnmarshalTypeError
	if err := c.dec.Decode(&raw); err != nil && !errors.As(err, &wrong) {
		return fmt.Errorf("%s: %w", where, err)
	}
	if raw.ID != nil {
		where += " (id " + clip(raw.ID) + ")"
	}
	m := member{where: where, properties: properties{}}
	if err := repeated([]string{"type", "properties", "geometry"}, raw.Type, raw.Properties, raw.Geometry); err != nil {
		c.faults.add(c.file+": "+where, "%v", err)
	} else if kind := raw.Type.word(); kind != "Feature" {
		c.faults.add(c.file+": "+where, "type: %s is not \"Feature\"", clip(kind))
	} else if err := raw.check(); err != nil {
		c.faults.add(c.file+": "+where, "%v", err)
	} else if err := m.read(raw.Properties.text, raw.Geometry.text); err != nil {
		c.faults.add(c.file+": "+where, "%v", err)
	} else {
		c.members = append(c.members, m)
		return nil
	}
	return nil
}

// once is a member that may stand once, in whatever case: encoding/json joins them all, and
// the last would decide.
type once struct {
	text  json.RawMessage // nil: it is not there
	twice bool
}

// UnmarshalJSON keeps the text.
func (o *once) UnmarshalJSON(text []byte) error {
	o.twice = o.text != nil
	o.text = bytes.Clone(text)
	return nil
}

// word is the text of a member that is a string, and else empty.
func (o *once) word() (text string) {
	_ = json.Unmarshal(o.text, &text)
	return text
}

// repeated tells of the first of some members, which have names, that stands twice.
func repeated(names []string, members ...once) error {
	for i := range members {
		if members[i].twice {
			return fmt.Errorf("%s: %w", names[i], errTwice)
		}
	}
	return nil
}

// read takes the properties that are known, and the geometry.
func (m *member) read(values, shape json.RawMessage) error {
	var all struct {
		Class       once `json:"water_class"`
		Origin      once `json:"origin"`
		State       once `json:"state"`
		Area        once `json:"area_m2"`
		Uncertainty once `json:"uncertainty_m"`
		Coverage    once `json:"coverage_of"`
	}
	if len(values) > 0 {
		if err := json.Unmarshal(values, &all); err != nil {
			return fmt.Errorf("properties: %s is not an object", clip(string(values)))
		}
	}
	list := []once{all.Class, all.Origin, all.State, all.Area, all.Uncertainty, all.Coverage}
	if err := repeated(propertyNames, list...); err != nil {
		return err
	}
	for i, property := range list {
		name := propertyNames[i]
		if property.text != nil {
			var v any
			if err := json.Unmarshal(property.text, &v); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
			m.properties[name] = v
		}
	}
	if err := m.shape.readJSON(shape, 0); err != nil {
		return fmt.Errorf("geometry: %w", err)
	}
	return nil
}

var errTwice = errors.New("is given twice, though perhaps not in the same case; keep one of them")

// maxNesting is how deep collections of geometries may lie in each other.
const maxNesting = 4

// readJSON adds a geometry object. A feature may have none: it is then empty.
func (g *geometry) readJSON(raw json.RawMessage, depth int) error {
	if len(raw) == 0 || string(raw) == "null" {
		return nil
	}
	var object struct {
		Type        once `json:"type"`
		Coordinates once `json:"coordinates"`
		Geometries  once `json:"geometries"`
		system
	}
	if err := json.Unmarshal(raw, &object); err != nil {
		return fmt.Errorf("%s is not a geometry object", clip(string(raw)))
	}
	if err := repeated([]string{"type", "coordinates", "geometries"}, object.Type, object.Coordinates, object.Geometries); err != nil {
		return err
	}
	if err := object.check(); err != nil {
		return err
	}
	if object.Type.word() == "GeometryCollection" {
		if depth == maxNesting {
			return fmt.Errorf("has collections in collections, deeper than %d; take the geometries out of them", maxNesting)
		}
		var parts []json.RawMessage
		if err := json.Unmarshal(object.Geometries.text, &parts); err != nil {
			return fmt.Errorf("geometries: %s is not a list; give the list of them", clip(string(object.Geometries.text)))
		}
		for _, part := range parts {
			if err := g.readJSON(part, depth+1); err != nil {
				return err
			}
		}
		return nil
	}
	return g.readCoordinates(object.Type.word(), object.Coordinates.text)
}

func (g *geometry) readCoordinates(kind string, raw []byte) error {
	c := coordinates{text: raw}
	switch kind {
	case "Point":
		g.points = append(g.points, c.position())
	case "MultiPoint":
		g.points = append(g.points, c.line()...)
	case "LineString":
		g.lines = append(g.lines, c.line())
	case "MultiLineString":
		c.list(func() { g.lines = append(g.lines, c.line()) })
	case "Polygon":
		g.polygons = append(g.polygons, c.rings())
	case "MultiPolygon":
		c.list(func() { g.polygons = append(g.polygons, c.rings()) })
	default:
		return fmt.Errorf("type: %s is not one of Point, MultiPoint, LineString, MultiLineString, Polygon, MultiPolygon, GeometryCollection", clip(kind))
	}
	return c.end()
}
