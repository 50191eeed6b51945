package inventory

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
)

// geometry is where a row lies.
type geometry struct {
	raw      json.RawMessage
	lat, lon *float64                   // of a point
	area     quantity.SquareMillimetres // of an outline; zero: a point
	outline  []*treatmentv1.Ring
	rounding float64 // of the position, or of the outline's, metres
}

// parseGeometry reads a point or an outline of RFC 7946, or says what is wrong
// with it. No geometry is neither.
func parseGeometry(text json.RawMessage, seen *extent) (*geometry, string) {
	if string(text) == "null" {
		return nil, ""
	}
	list, err := members(text)
	if err != nil {
		return nil, "is not a GeoJSON geometry"
	}
	var kind string
	var coordinates json.RawMessage
	for _, m := range list {
		switch m.name {
		case "type":
			_ = json.Unmarshal(m.value, &kind) // another type leaves it empty
		case "coordinates":
			if coordinates != nil {
				return nil, `has "coordinates" twice; keep one of them`
			}
			coordinates = m.value
		default:
			if problem := otherSystem(m.name, m.value); problem != "" {
				return nil, problem
			}
		}
	}
	g := &geometry{raw: text}
	switch kind {
	case "Point":
		err = g.readPoint(coordinates, seen)
	case "Polygon":
		var outline polygon
		err = g.readOutline(coordinates, &outline, func() []polygon { return []polygon{outline} }, seen)
	case "MultiPolygon":
		var outlines []polygon
		err = g.readOutline(coordinates, &outlines, func() []polygon { return outlines }, seen)
	default:
		err = fmt.Errorf("the type %q is not read; a stem is a Point, a patch a Polygon or a MultiPolygon", shorten(kind))
	}
	if err != nil {
		return nil, err.Error()
	}
	return g, ""
}

func (g *geometry) readPoint(coordinates json.RawMessage, seen *extent) error {
	var p position
	if err := unmarshal(coordinates, &p); err != nil {
		return err
	}
	if err := seen.admit(p); err != nil {
		return err
	}
	g.lat, g.lon, g.rounding = &p.lat, &p.lon, pointRounding(coordinates)
	return nil
}

func (g *geometry) readOutline(coordinates json.RawMessage, into any, outlines func() []polygon, seen *extent) error {
	if err := unmarshal(coordinates, into); err != nil {
		return err
	}
	area := 0.0
	for i, p := range outlines() {
		part, err := p.area()
		if err != nil {
			return fmt.Errorf("polygon %d: %w", i+1, err)
		}
		area += part
	}
	if len(outlines()) == 0 {
		return errors.New("has no rings; a patch is outlined by at least one")
	}
	if area > maxArea.SquareMetres() {
		return fmt.Errorf("encloses %.6g square metres, more than the %.6g of a patch; is the outline right?", area, maxArea.SquareMetres())
	}
	g.area = quantity.SquareMetres(area)
	if g.area == 0 {
		return errors.New("encloses no area; a patch that is a line or a point has to state infested_area beside a Point")
	}
	g.outline, g.rounding = rings(outlines()), outlineRounding(coordinates)
	return seen.admit(outlines()[0][0][0])
}

func unmarshal(coordinates json.RawMessage, into any) error {
	if coordinates == nil {
		return errors.New("has no coordinates")
	}
	err := json.Unmarshal(coordinates, into)
	var shape *json.UnmarshalTypeError
	if errors.As(err, &shape) {
		return errors.New("the coordinates are not nested as the type asks: a Point is one position, a Polygon a list of rings, a MultiPolygon a list of those")
	}
	return err
}

// polygon is an outer ring and the rings of its holes.
type polygon []ring

// area is that of the outer ring less that of the holes, in square metres.
func (p polygon) area() (float64, error) {
	if len(p) == 0 {
		return 0, errors.New("has no rings; a patch is outlined by at least one")
	}
	var area float64
	for i, r := range p {
		if err := r.check(); err != nil {
			return 0, fmt.Errorf("ring %d: %w", i+1, err)
		}
		if i == 0 {
			area = r.area()
		} else {
			area -= r.area()
		}
	}
	if area < 0 {
		return 0, errors.New("ring 1: is smaller than its holes; the first ring is the outer one")
	}
	return area, nil
}

// ring is a closed line, wound either way.
type ring []position

func (r ring) check() error {
	for i, p := range r {
		if problem := p.fault(); problem != "" {
			return fmt.Errorf("position %d: %s", i+1, problem)
		}
	}
	switch {
	case len(r) < 4:
		return fmt.Errorf("has %d positions; a ring has at least 4, the last the same as the first", len(r))
	case r[0] != r[len(r)-1]:
		return errors.New("is not closed; repeat its first position at its end")
	}
	for i := range len(r) - 1 {
		if math.Abs(r[i+1].lon-r[i].lon) > 180 {
			return fmt.Errorf("position %d: the ring crosses longitude 180; split it there into a MultiPolygon (RFC 7946, 3.1.9)", i+2)
		}
	}
	return nil
}

// position is in degrees of WGS 84; a height in it is passed over.
type position struct{ lon, lat float64 }

// UnmarshalJSON reads a position, and nothing that is less than one.
func (p *position) UnmarshalJSON(text []byte) error {
	var numbers []*float64
	if err := json.Unmarshal(text, &numbers); err != nil {
		return fmt.Errorf("%s is not a position of two numbers, longitude and latitude", shorten(string(text)))
	}
	if len(numbers) < 2 || numbers[0] == nil || numbers[1] == nil {
		return fmt.Errorf("%s is not a position; it needs two numbers, longitude and latitude", shorten(string(text)))
	}
	p.lon, p.lat = *numbers[0], *numbers[1]
	return nil
}

// fault says what is wrong with a position that is not on the Earth.
func (p position) fault() string {
	switch {
	case math.Abs(p.lat) > 90 && math.Abs(p.lat) <= 180 && math.Abs(p.lon) <= 90:
		return fmt.Sprintf("latitude %g is not -90 to 90, while longitude %g would be a latitude; the two look swapped", p.lat, p.lon)
	case math.Abs(p.lat) > 90:
		return fmt.Sprintf("latitude %g is not -90 to 90", p.lat)
	case math.Abs(p.lon) > 180:
		return fmt.Sprintf("longitude %g is not -180 to 180", p.lon)
	}
	return ""
}

// extent is the box around the positions that were taken.
type extent struct {
	west, south, east, north float64
	any                      bool
}

// takes reports whether a position is admitted; most lie among those before, which are in
// order.
func (e *extent) takes(p position) bool {
	return e.any && e.holds(p, 0) || e.admit(p) == nil
}

// admit takes a position into the extent, unless it is out of range or clearly
// swapped: farther than 10 degrees from all the others, while the other way round
// it lies within a degree of them. Which of the two are swapped nobody can tell from
// numbers, so the message blames neither.
func (e *extent) admit(p position) error {
	if problem := p.fault(); problem != "" {
		return errors.New(problem)
	}
	swapped := position{lon: p.lat, lat: p.lon}
	if e.any && !e.holds(p, 10) && e.holds(swapped, 1) {
		return fmt.Errorf("longitude %g and latitude %g look swapped against the rows before, which lie near longitude %g and latitude %g; one or the other are wrong: see on a map where the site lies, then exchange those that do not lie there, here or in the rows before (GeoJSON writes longitude first)",
			p.lon, p.lat, (e.west+e.east)/2, (e.south+e.north)/2)
	}
	if !e.any {
		*e = extent{p.lon, p.lat, p.lon, p.lat, true}
	}
	e.west, e.east = min(e.west, p.lon), max(e.east, p.lon)
	e.south, e.north = min(e.south, p.lat), max(e.north, p.lat)
	return nil
}

// holds reports whether a position lies in the box or within a margin of it, in
// degrees.
func (e *extent) holds(p position, margin float64) bool {
	return p.lon >= e.west-margin && p.lon <= e.east+margin && p.lat >= e.south-margin && p.lat <= e.north+margin
}
