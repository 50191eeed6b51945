package decline

import (
	"fmt"
	"io"
	"math"
	"strings"

	"example.org/rootward/client/measure"
	"example.org/rootward/rules/quantity"
)

// Map is where to look.
type Map struct {
	Title    string
	Units    measure.System
	Rings    [][]Position // edges of the inspection area, each closed
	Stems    []Stem
	AreaM2   *float64 // nil: not known
	Unplaced int      // treated rows without a position
}

// Position is a point of WGS 84, in degrees.
type Position struct{ Latitude, Longitude float64 }

// Stem is what stands, or stood, at a place.
type Stem struct {
	At    Position
	Kind  StemKind
	Label string // written beside it where there is room; empty: none
}

// StemKind is how a stem is drawn.
type StemKind uint8

// Kinds of stems.
const (
	Treated StemKind = iota // treated
	Alive                   // found alive after its treatment, or new
	Gone                    // found dead, or felled
)

var stemMarks = [...]mark{Treated: dot, Alive: diamond, Gone: square}

// Size of a map and of its parts.
const (
	mapWidth  = 680
	mapMost   = 520 // height of the ground, at most
	mapMargin = 24
	mapHead   = 34
	mapFoot   = 84
)

// Half axis in metres and squared eccentricity of the WGS 84 ellipsoid (NGA.STND.0036:
// a = 6,378,137 m, 1/f = 298.257223563).
const (
	halfAxis     = 6_378_137.0
	eccentricity = 6.69437999014e-3
)

// frame turns positions into places of the drawing: on the plane that touches the
// ellipsoid in the middle, north up.
type frame struct {
	origin      Position
	east, north float64 // metres per degree
	min, max    place   // metres
	scale       float64 // drawing per metre
}

// WriteSVG draws a map as an SVG file. It reports an error where nothing has a
// position: an empty map could be read as nowhere to look.
func (m *Map) WriteSVG(w io.Writer) error {
	f, ok := m.frame()
	if !ok {
		return fmt.Errorf("no treated stem has a position: measure them, and add them to the survey")
	}
	tall := (f.max.y - f.min.y) * f.scale
	height := mapHead + int(math.Ceil(tall)) + 2*mapMargin + mapFoot
	d := newDrawing(mapWidth, height, m.Title, m.describe())
	d.text(place{mapMargin, 22}, "start", `font-size="15" font-weight="bold"`, m.Title)
	if len(m.Rings) > 0 {
		fmt.Fprintf(d, "<path d=\"%s\" fill=\"%s\" fill-rule=\"nonzero\" %s/>\n", m.outline(f), ground, stroke(edge, 1.5))
	}
	m.marks(d, f)
	foot := float64(height - mapFoot)
	m.scaleBar(d, place{mapMargin, foot + 14}, f.scale)
	d.text(place{mapWidth - 30, foot + 2}, "middle", `font-weight="bold"`, "N")
	d.path([]place{{mapWidth - 30, foot + 30}, {mapWidth - 30, foot + 8}}, `fill="none" `+stroke(ink, 1.5))
	d.path([]place{{mapWidth - 35, foot + 14}, {mapWidth - 30, foot + 6}, {mapWidth - 25, foot + 14}}, `fill="none" `+stroke(ink, 1.5))
	d.text(place{mapMargin, foot + 44}, "start", "", m.size())
	d.legend(mapMargin, foot+68, mapWidth-2*mapMargin, []entry{{dot, "treated"}, {diamond, "found alive"}, {square, "dead or felled"}})
	return d.end(w)
}

// size says how large the area is, or that nobody knows.
func (m *Map) size() string {
	switch {
	case m.Unplaced > 0:
		return fmt.Sprintf("Inspection area NOT KNOWN: %d treated rows have no position. What is drawn is not all.", m.Unplaced)
	case m.AreaM2 == nil:
		return "Inspection area NOT KNOWN."
	case m.Units == measure.Metric:
		return fmt.Sprintf("Inspection area %s ha", number(*m.AreaM2/10_000))
	}
	return fmt.Sprintf("Inspection area %s acres", number(quantity.SquareMetres(*m.AreaM2).Acres()))
}

func (m *Map) describe() string {
	var count [len(stemMarks)]int
	for _, s := range m.Stems {
		if int(s.Kind) < len(count) {
			count[s.Kind]++
		}
	}
	return fmt.Sprintf("Map, north up. %s. %d places treated, %d with something found alive, %d dead or felled.", strings.TrimSuffix(m.size(), "."), count[Treated], count[Alive], count[Gone])
}

func (m *Map) frame() (*frame, bool) {
	var all []Position
	for _, r := range m.Rings {
		all = append(all, r...)
	}
	for _, s := range m.Stems {
		all = append(all, s.At)
	}
	if len(all) == 0 {
		return nil, false
	}
	f := &frame{origin: all[0]}
	sin, cos := math.Sincos(f.origin.Latitude * math.Pi / 180)
	v := 1 - eccentricity*sin*sin
	f.east = math.Pi / 180 * halfAxis * cos / math.Sqrt(v)
	f.north = math.Pi / 180 * halfAxis * (1 - eccentricity) / (v * math.Sqrt(v))
	f.min, f.max = place{math.Inf(1), math.Inf(1)}, place{math.Inf(-1), math.Inf(-1)}
	for _, p := range all {
		at := f.metres(p)
		f.min = place{min(f.min.x, at.x), min(f.min.y, at.y)}
		f.max = place{max(f.max.x, at.x), max(f.max.y, at.y)}
	}
	const least = 20 // metres: a single stem does not fill the map
	f.max.x, f.max.y = max(f.max.x, f.min.x+least), max(f.max.y, f.min.y+least)
	f.scale = min((mapWidth-2*mapMargin)/(f.max.x-f.min.x), (mapMost-2*mapMargin)/(f.max.y-f.min.y))
	return f, true
}

func (f *frame) metres(p Position) place {
	return place{math.Remainder(p.Longitude-f.origin.Longitude, 360) * f.east, (p.Latitude - f.origin.Latitude) * f.north}
}

func (f *frame) place(p Position) place {
	at := f.metres(p)
	side := (mapWidth - (f.max.x-f.min.x)*f.scale) / 2
	return place{side + (at.x-f.min.x)*f.scale, mapHead + mapMargin + (f.max.y-at.y)*f.scale}
}

func (m *Map) outline(f *frame) string {
	var b strings.Builder
	for _, ring := range m.Rings {
		places := make([]place, len(ring))
		for i, p := range ring {
			places[i] = f.place(p)
		}
		b.WriteString(through(places) + "Z")
	}
	return b.String()
}

// marks draws stems, those that live above the others, each label where no other is.
func (m *Map) marks(d *drawing, f *frame) {
	var labels []place
	for _, kind := range []StemKind{Gone, Treated, Alive} {
		for _, s := range m.Stems {
			if s.Kind == kind {
				d.mark(stemMarks[kind], f.place(s.At))
			}
		}
	}
	for _, s := range m.Stems {
		at := f.place(s.At)
		if s.Label == "" || crowded(labels, at, s.Label) {
			continue
		}
		labels = append(labels, at)
		d.text(place{at.x + 8, at.y + 4}, "start", `font-size="10"`, s.Label)
	}
}

// crowded reports whether a label would run into another.
func crowded(labels []place, at place, label string) bool {
	for _, l := range labels {
		if math.Abs(l.y-at.y) < 11 && math.Abs(l.x-at.x) < 12+6*float64(len(label)) {
			return true
		}
	}
	return at.x+8+6*float64(len(label)) > mapWidth
}

// scaleBar is the longest round length that takes at most a quarter of the map.
func (m *Map) scaleBar(d *drawing, left place, scale float64) {
	unit, name := 1.0, "m"
	if m.Units == measure.US {
		unit, name = quantity.Foot.Metres(), "ft"
	}
	long := down(mapWidth / 4 / scale / unit)
	right := place{left.x + long*unit*scale, left.y}
	d.path([]place{{left.x, left.y - 5}, left, right, {right.x, right.y - 5}}, `fill="none" `+stroke(ink, 1.5))
	d.text(place{right.x + 8, right.y}, "start", "", number(long)+" "+name)
}
