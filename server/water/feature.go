package water

import (
	"fmt"
	"strings"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// reader reads the features of a file, and what is wrong with them.
type reader struct {
	file     string
	faults   *faults
	edges    *int // in all files
	features []feature
}

// properties are the values of the properties of a feature by name: nil, a string, a
// float64, a []any of strings, or what is a fault.
type properties map[string]any

// The properties that are read.
const (
	propertyClass       = "water_class"
	propertyOrigin      = "origin"
	propertyState       = "state"
	propertyArea        = "area_m2"
	propertyUncertainty = "uncertainty_m"
	propertyCoverage    = "coverage_of"
)

var propertyNames = []string{propertyClass, propertyOrigin, propertyState, propertyArea, propertyUncertainty, propertyCoverage}

var (
	onlyAreas = rules.AnyOf(rules.Lake, rules.Wetland, rules.Estuary)
	noPoints  = onlyAreas | rules.AnyOf(rules.PerennialStream, rules.IntermittentStream, rules.Ditch)
)

// add checks a feature and keeps it.
func (r *reader) add(where string, p properties, g geometry) error {
	if len(r.features) == maxFeatures {
		return fmt.Errorf("has more than %d features; split it into several layers", maxFeatures)
	}
	c := check{reader: r, where: r.file + ": " + where}
	f := feature{shape: g}
	f.origin = oneWord[rules.DistanceOrigin](&c, p, propertyOrigin)
	f.uncertainty = c.number(p, propertyUncertainty, "metres", 0, maxMapUncertainty)
	f.covers = c.covers(p)
	if f.covers.Empty() {
		c.water(&f, p)
	} else if p[propertyClass] != nil {
		c.fault(propertyClass, "is given beside coverage_of; a feature is water, or says where a layer shows all of it")
	}
	if c.geometry(&f); c.found {
		return nil
	}
	if *r.edges += f.shape.pieces(); *r.edges > maxEdges {
		return fmt.Errorf("is the one with which the folder holds more than %d edges, each of at most 20 km; take layers out, or make their lines coarser", maxEdges)
	}
	r.features = append(r.features, f)
	return nil
}

// pieces is how many edges the index has of a geometry, or more.
func (g *geometry) pieces() int {
	n := len(g.points)
	count := func(line []Point) {
		for i := range len(line) - 1 {
			n += pieces(line[i], line[i+1])
		}
	}
	for _, line := range g.lines {
		count(line)
	}
	for _, p := range g.polygons {
		for _, r := range p {
			count(r)
		}
	}
	return n
}

// check gathers the faults of one feature.
type check struct {
	*reader
	where string
	found bool
}

func (c *check) fault(property, format string, args ...any) {
	c.found = true
	c.faults.add(c.where+": "+property, format, args...)
}

// water reads what water a feature is.
func (c *check) water(f *feature, p properties) {
	f.class = oneWord[rules.WaterClass](c, p, propertyClass)
	if p[propertyClass] == nil {
		c.fault(propertyClass, "is not given; give one of %s, or coverage_of", words[rules.WaterClass]())
	}
	f.state = oneWord[rules.WaterState](c, p, propertyState)
	if f.class == rules.Lake {
		f.area = quantity.SquareMetres(c.number(p, propertyArea, "square metres", minArea, maxArea))
	}
}

const (
	// maxArea is beyond any lake: the Caspian Sea has 371,000 km2 (from memory).
	maxArea = 1e12
	minArea = 1e-6 // a square millimetre, the least that is told apart
	// maxMapUncertainty is beyond any map to treat by (common practice, no source).
	maxMapUncertainty = 10_000
)

// number reads a number between two; what is not stated is 0.
func (c *check) number(p properties, name, unit string, least, most float64) float64 {
	if p[name] == nil {
		return 0
	}
	if v, ok := p[name].(float64); ok && v >= least && v <= most {
		return v
	}
	c.fault(name, "%s is not a number of %s from %g to %g; leave it out if it is not known", clip(p[name]), unit, least, most)
	return 0
}

// covers reads of which classes a feature states the coverage.
func (c *check) covers(p properties) (set rules.OneOf[rules.WaterClass]) {
	var list []any
	switch v := p[propertyCoverage].(type) {
	case nil:
		return 0
	case string:
		for _, w := range strings.Split(v, ",") {
			list = append(list, strings.TrimSpace(w))
		}
	case []any:
		list = v
	default:
		list = []any{v}
	}
	for _, v := range list {
		set |= rules.AnyOf(parse[rules.WaterClass](c, propertyCoverage, v))
	}
	if set&^1 == 0 {
		c.fault(propertyCoverage, "names no class; name one of %s, or leave it out", words[rules.WaterClass]())
		return rules.AnyOf(rules.Lake) // so that it is not taken for water besides
	}
	return set &^ 1
}

func oneWord[T rules.Vocabulary](c *check, p properties, name string) T {
	if p[name] == nil {
		return 0
	}
	return parse[T](c, name, p[name])
}

func parse[T rules.Vocabulary](c *check, name string, value any) T {
	text, ok := value.(string)
	if ok && len(text) < 64 {
		if v, err := rules.ParseWord[T](text); err == nil {
			return v
		}
	}
	c.fault(name, "%s is not one of %s", clip(value), words[T]())
	return 0
}

func words[T rules.Vocabulary]() string {
	var set rules.OneOf[T]
	for _, v := range rules.Words[T]() {
		set |= rules.AnyOf(v)
	}
	return set.String()
}

// clip writes a value for a message.
func clip(v any) string {
	const most = 40
	text := fmt.Sprintf("%v", v)
	if s, ok := v.(string); ok {
		text = fmt.Sprintf("%q", s)
	}
	if r := []rune(text); len(r) > most {
		text = string(r[:most]) + "..."
	}
	return text
}

// geometry checks positions, and that they are of a kind that the feature can be.
func (c *check) geometry(f *feature) {
	g := &f.shape
	switch {
	case len(g.points)+len(g.lines)+len(g.polygons) == 0:
		c.fault("geometry", "is empty; give the feature positions, or take it out")
	case !f.covers.Empty() && len(g.points)+len(g.lines) > 0:
		c.fault("geometry", "is not polygons alone, and only a polygon says where a layer shows all water")
	case onlyAreas.Has(f.class) && len(g.points)+len(g.lines) > 0:
		c.fault("geometry", "is not polygons alone; draw a %s as a polygon, because what is inside of it must be known", f.class)
	case f.origin > rules.WaterEdge && len(g.lines) > 0:
		c.fault("geometry", "is a line, and its origin is %s; draw what lies within it as a polygon, because on which side of a line the water is cannot be told", f.origin)
	case noPoints.Has(f.class) && len(g.points) > 0:
		c.fault("geometry", "is a point; draw a %s as a line or a polygon, because a point does not say how far it reaches", f.class)
	}
	for _, p := range g.points {
		c.position(p)
	}
	for _, line := range g.lines {
		c.line(line)
	}
	for _, p := range g.polygons {
		if len(p) == 0 {
			c.fault("geometry", "has a polygon without a ring; give it one, or take it out")
		}
		for _, r := range p {
			c.ring(r)
			if !f.covers.Empty() {
				c.width(r)
			}
		}
	}
}

// width finds edges of a coverage that may be meant to go either way round the earth:
// taken for the wrong one, the coverage would be where it is not.
func (c *check) width(r Ring) {
	for i := 1; i < len(r); i++ {
		if d := step(r[i-1], r[i]); d != r[i].Longitude-r[i-1].Longitude && !c.found {
			c.fault("geometry", "goes from longitude %v to %v, and a coverage that does is not known to go one way or the other; cut it at longitude 180 (RFC 7946, section 3.1.9), or give it positions between", r[i-1].Longitude, r[i].Longitude)
		}
	}
}

func (c *check) position(p Point) bool {
	if p.onEarth() {
		return true
	}
	c.fault("geometry", "position [%v, %v] is not a longitude of -180 to 180 and a latitude of -90 to 90; give degrees of WGS 84, the longitude first", p.Longitude, p.Latitude)
	return false
}

// line checks the positions of a line; one fault is enough of each.
func (c *check) line(line []Point) bool {
	if len(line) < 2 {
		c.fault("geometry", "has a line of %d positions; a line has 2 or more", len(line))
		return false
	}
	for i, p := range line {
		if !c.position(p) {
			return false
		}
		if i == 0 {
			continue
		}
		if d := step(line[i-1], p); d == 0 && p.Longitude != line[i-1].Longitude {
			c.fault("geometry", "goes from longitude %v to %v at latitude %v; give it a position between, so that it is seen which way", line[i-1].Longitude, p.Longitude, p.Latitude)
			return false
		}
	}
	return true
}

func (c *check) ring(r Ring) {
	switch {
	case len(r) < 4 || r[0] != r[len(r)-1]:
		c.fault("geometry", "has a ring of %d positions that does not end where it starts, or has fewer than 4; close it (RFC 7946, section 3.1.6)", len(r))
	case !c.line(r):
	default:
		if _, closed := unrolled(r[:len(r)-1]); !closed {
			c.fault("geometry", "has a ring that goes round a pole; cut it at longitude 180 and lead it along that meridian to the pole (RFC 7946, section 3.1.9)")
		}
	}
}
