package inventory

import (
	"bufio"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// maxFeature is how long one feature, or another member of the collection, may be.
const maxFeature = 1 << 20

var errLongFeature = errors.New("feature too long")

// geojsonSource reads the features of one collection of RFC 7946.
type geojsonSource struct {
	window  *window
	decoder *json.Decoder
	typed   bool // the collection has said what it is
	seen    extent
}

// NewGeoJSON reads a GeoJSON text up to its first feature. Anything but a
// FeatureCollection of RFC 7946 refuses the file; the error is a *FileError.
func NewGeoJSON(in io.Reader) (*Reader, error) {
	text := bufio.NewReader(in)
	if err := skipMark(text, "GeoJSON"); err != nil {
		return nil, err
	}
	w := &window{in: text, limit: maxFeature, line: 1}
	s := &geojsonSource{window: w, decoder: json.NewDecoder(w)}
	if err := s.open(); err != nil {
		return nil, err
	}
	return &Reader{source: s}, nil
}

// onlySites saves nothing here: a feature is read as a whole.
func (s *geojsonSource) onlySites() {}

func (s *geojsonSource) taken(int64) int64 { return s.decoder.InputOffset() }

// open reads up to the first feature.
func (s *geojsonSource) open() error {
	if start, err := s.token(); err != nil || start != json.Delim('{') {
		return s.fault(err, "the file is not a GeoJSON object; expected a FeatureCollection of RFC 7946")
	}
	found, err := s.members()
	switch {
	case err != nil:
		return err
	case !found:
		return s.fault(nil, "the object has no features; expected a FeatureCollection of RFC 7946, also for a single feature")
	}
	if start, err := s.token(); err != nil || start != json.Delim('[') {
		return s.fault(err, "features is not a list; expected a FeatureCollection of RFC 7946")
	}
	return nil
}

// close reads what follows the last feature.
func (s *geojsonSource) close() error {
	if _, err := s.token(); err != nil {
		return s.fault(err, "")
	}
	again, err := s.members()
	if err != nil {
		return err
	}
	if again {
		return s.fault(nil, "the collection has a second list of features; join the two")
	}
	if _, err := s.token(); err != nil {
		return s.fault(err, "")
	}
	if !s.typed {
		return s.fault(nil, `the object does not say "type": "FeatureCollection"; expected a FeatureCollection of RFC 7946`)
	}
	if _, err := s.token(); err != io.EOF {
		return s.fault(nil, "the file goes on behind the collection; give one collection a file")
	}
	return io.EOF
}

// members reads the collection's members up to a list of features, and reports
// whether there is one.
func (s *geojsonSource) members() (bool, error) {
	for s.more() {
		token, err := s.token()
		if err != nil {
			return false, s.fault(err, "")
		}
		if token == "features" {
			return true, nil
		}
		var value json.RawMessage
		if err := s.decode(&value); err != nil {
			return false, s.fault(err, "")
		}
		if err := s.member(token.(string), value); err != nil {
			return false, err
		}
	}
	return false, nil
}

// The decoder reads ahead through the window, which moves on with each of these.

func (s *geojsonSource) more() bool {
	s.window.open(s.decoder.InputOffset())
	return s.decoder.More()
}

func (s *geojsonSource) token() (json.Token, error) {
	s.window.open(s.decoder.InputOffset())
	return s.decoder.Token()
}

func (s *geojsonSource) decode(value *json.RawMessage) error {
	s.window.open(s.decoder.InputOffset())
	return s.decoder.Decode(value)
}

// member judges a member of the collection other than its features.
func (s *geojsonSource) member(name string, value json.RawMessage) error {
	switch name {
	case "type":
		var kind string
		if json.Unmarshal(value, &kind) != nil || kind != "FeatureCollection" {
			return s.fault(nil, "the type is %s; expected a FeatureCollection of RFC 7946, also for a single feature", shorten(string(value)))
		}
		s.typed = true
	default:
		if problem := otherSystem(name, value); problem != "" {
			return s.fault(nil, "%s", problem)
		}
	}
	return nil
}

// wgs84 names what the draft before RFC 7946 had for its default as a crs, and drafts
// after it as a coordRefSys.
var wgs84 = []string{
	"urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:OGC::CRS84", "OGC:CRS84",
	"urn:ogc:def:crs:EPSG::4326", "EPSG:4326",
	"http://www.opengis.net/def/crs/OGC/1.3/CRS84", "http://www.opengis.net/def/crs/OGC/0/CRS84",
}

// otherSystem says what is wrong with a member of a collection, a feature or a geometry
// that names another reference system than WGS 84, and nothing of any other.
func otherSystem(member string, value json.RawMessage) string {
	if member != "crs" && member != "coordRefSys" || string(value) == "null" {
		return ""
	}
	var name string
	if json.Unmarshal(value, &name) != nil {
		var crs struct {
			Type       string
			Properties struct{ Name string }
		}
		if err := json.Unmarshal(value, &crs); err == nil && crs.Type == "name" {
			name = crs.Properties.Name
		}
	}
	if slices.Contains(wgs84, name) {
		return ""
	}
	return fmt.Sprintf("the %s %s is not WGS 84; RFC 7946 knows longitude and latitude in WGS 84 alone: transform the positions and leave %s out", member, shorten(cmp.Or(name, string(value))), member)
}

// fault is an error at the place that the decoder has come to. What the decoder
// says goes before what was expected.
func (s *geojsonSource) fault(err error, format string, args ...any) error {
	line := s.window.lineAt(s.decoder.InputOffset())
	var syntax *json.SyntaxError
	switch {
	case err == nil:
		return fileError(line, "", format, args...)
	case errors.Is(err, errLongFeature):
		return fileError(line, "", "what begins here is longer than %d bytes; simplify the outline, or split it into several features", maxFeature)
	case err == io.EOF || err == io.ErrUnexpectedEOF:
		return fileError(line, "", "the file ends behind this line before the collection does; is it complete?")
	case errors.As(err, &syntax) || s.window.err == nil:
		return fileError(line, "", "what begins here is not JSON: %s; the rest cannot be read", strings.TrimPrefix(err.Error(), "json: "))
	}
	return readError(line, err)
}

func (s *geojsonSource) next(e *entry) error {
	if !s.more() {
		return s.close()
	}
	var text json.RawMessage
	if err := s.decode(&text); err != nil {
		return s.fault(err, "")
	}
	e.line = s.window.lineAt(s.decoder.InputOffset() - int64(len(text)))
	f := feature{entry: e, text: text}
	f.read(&s.seen)
	return nil
}
