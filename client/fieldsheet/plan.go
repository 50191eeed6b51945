package fieldsheet

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/rootward/client"
	"example.org/rootward/client/measure"
)

// plan is a small map of a site: the stems where they stand, north up, in metres
// on the plane that touches the ellipsoid in the middle of them. Over the few
// kilometres of a site that is off by less than the line is wide. Coordinates are
// those of the drawing.
type plan struct {
	Width, Height int
	Marks         []mark
	Outlines      []string // of patches, as path data
	Labels        []label
	Bar           bar
	Legend        []legend
}

// Foot is where the scale bar stands, from the top.
func (p *plan) Foot() int { return p.Height - 10 }

// North is where the arrow stands, from the left.
func (p *plan) North() int { return p.Width - 30 }

type mark struct {
	X, Y   float64
	Symbol symbol
}

type label struct {
	X, Y float64
	Text string
}

// bar is the scale bar.
type bar struct {
	Length float64 // in the drawing
	Text   string
}

type legend struct {
	Symbol symbol
	Text   string
}

const (
	planWidth  = 680
	planHeight = 360 // at most
	planMargin = 26
	planFoot   = 34 // for the scale bar
	// leastSpan keeps a single stem from filling the map, in metres.
	leastSpan = 20
)

// newPlan draws the rows that have a position; without any there is no map.
func newPlan(rows []*client.Row, units measure.System) *plan {
	g := ground{}
	for _, r := range rows {
		g.add(r)
	}
	if len(g.places) == 0 {
		return nil
	}
	return g.draw(units)
}

// ground is positions in degrees.
type ground struct {
	places []place
	rings  [][]position
}

type place struct {
	at     position
	symbol symbol
	number int64
}

type position struct{ lon, lat float64 }

func (g *ground) add(r *client.Row) {
	rings := ringsOf(r.Record.Geometry())
	g.rings = append(g.rings, rings...)
	at, known := position{}, false
	switch {
	case r.Record.Lat != nil && r.Record.Lon != nil:
		at, known = position{*r.Record.Lon, *r.Record.Lat}, true
	case len(rings) > 0:
		at, known = middle(rings[0]), true
	}
	if known {
		g.places = append(g.places, place{at, symbolOf(r), r.Record.Number})
	}
}

// ringsOf gives the outer and inner rings of the polygons of a geometry.
func ringsOf(geometry json.RawMessage) [][]position {
	var shape struct {
		Type        string          `json:"type"`
		Coordinates json.RawMessage `json:"coordinates"`
	}
	if json.Unmarshal(geometry, &shape) != nil {
		return nil
	}
	var polygons [][][][]float64
	switch shape.Type {
	case "Polygon":
		var one [][][]float64
		if json.Unmarshal(shape.Coordinates, &one) == nil {
			polygons = append(polygons, one)
		}
	case "MultiPolygon":
		if json.Unmarshal(shape.Coordinates, &polygons) != nil {
			return nil
		}
	}
	var rings [][]position
	for _, ring := range slices.Concat(polygons...) {
		if positions := positionsOf(ring); len(positions) > 2 {
			rings = append(rings, positions)
		}
	}
	return rings
}

func positionsOf(ring [][]float64) []position {
	var list []position
	for _, p := range ring {
		if len(p) >= 2 {
			list = append(list, position{p[0], p[1]})
		}
	}
	return list
}

// middle is the mean of a ring's corners, the closing one left out.
func middle(ring []position) position {
	var sum position
	corners := ring[:len(ring)-1]
	for _, p := range corners {
		sum.lon += around(p.lon-ring[0].lon) + ring[0].lon
		sum.lat += p.lat
	}
	n := float64(len(corners))
	return position{sum.lon / n, sum.lat / n}
}

// around brings a difference of longitudes over the 180th meridian home.
func around(degrees float64) float64 { return math.Remainder(degrees, 360) }

// Half axis in metres and squared eccentricity of the WGS 84 ellipsoid (NGA
// standard 0036, 2014: a = 6,378,137 m, 1/f = 298.257223563).
const (
	halfAxis     = 6378137.0
	eccentricity = 6.69437999014e-3
)

// plane gives metres east and north of an origin.
type plane struct {
	origin      position
	east, north float64 // metres per degree
}

func planeAt(origin position) plane {
	sin, cos := math.Sincos(origin.lat * math.Pi / 180)
	w := 1 - eccentricity*sin*sin
	return plane{origin,
		math.Pi / 180 * halfAxis * cos / math.Sqrt(w),
		math.Pi / 180 * halfAxis * (1 - eccentricity) / (w * math.Sqrt(w))}
}

func (p plane) metres(at position) (x, y float64) {
	return around(at.lon-p.origin.lon) * p.east, (at.lat - p.origin.lat) * p.north
}

// frame turns metres into the drawing's coordinates.
type frame struct {
	plane
	minX, maxY float64
	scale      float64 // drawing per metre
}

func (f frame) place(at position) (x, y float64) {
	mx, my := f.metres(at)
	return tenth(planMargin + (mx-f.minX)*f.scale), tenth(planMargin + (f.maxY-my)*f.scale)
}

func tenth(v float64) float64 { return math.Round(v*10) / 10 }

func (g *ground) draw(units measure.System) *plan {
	f, height := g.frame()
	p := &plan{Width: planWidth, Height: height + planFoot, Bar: newBar(f.scale, units)}
	for _, ring := range g.rings {
		p.Outlines = append(p.Outlines, path(f, ring))
	}
	for _, one := range g.places {
		x, y := f.place(one.at)
		p.Marks = append(p.Marks, mark{x, y, one.symbol})
	}
	p.label(g.places)
	p.explain()
	return p
}

// frame fits all positions into the drawing, in its middle.
func (g *ground) frame() (frame, int) {
	pl := planeAt(g.places[0].at)
	minX, maxX, minY, maxY := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	include := func(at position) {
		x, y := pl.metres(at)
		minX, maxX, minY, maxY = min(minX, x), max(maxX, x), min(minY, y), max(maxY, y)
	}
	for _, one := range g.places {
		include(one.at)
	}
	for _, ring := range g.rings {
		for _, at := range ring {
			include(at)
		}
	}
	spanX, spanY := max(maxX-minX, leastSpan), max(maxY-minY, leastSpan)
	scale := min((planWidth-2*planMargin)/spanX, (planHeight-2*planMargin)/spanY)
	height := int(math.Ceil(spanY*scale)) + 2*planMargin
	middleX, middleY := (minX+maxX)/2, (minY+maxY)/2
	return frame{pl, middleX - (planWidth-2*planMargin)/2/scale, middleY + spanY/2, scale}, height
}

func path(f frame, ring []position) string {
	var b strings.Builder
	for i, at := range ring {
		x, y := f.place(at)
		command := "L"
		if i == 0 {
			command = "M"
		}
		fmt.Fprintf(&b, "%s%g %g", command, x, y)
	}
	return b.String() + "Z"
}
