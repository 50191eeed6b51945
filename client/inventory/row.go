package inventory

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"unicode/utf8"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// maxField is how long a value may be; a longer one is no value of an inventory.
const maxField = 64 << 10

// placePattern is what package rules accepts as the scope of a rule set.
var placePattern = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*(/[a-z][a-z0-9]*(-[a-z0-9]+)*)*$`)

// entry is what a source found of one row, before anything in it is read. The
// next one overwrites it.
type entry struct {
	line     int
	cells    []cell
	partial  bool // the cells are not all there are: do not miss any
	geometry *geometry
	faults   []Fault
}

// number says where the row is by its number.
func (e *entry) number(row int) {
	e.line = row
	for i := range e.cells {
		e.cells[i].line = row
	}
	for i := range e.faults {
		e.faults[i].Line, e.faults[i].OfRow = row, true
	}
}

// cell is one value that is not empty.
type cell struct {
	column *Column
	text   string
	line   int
}

// row is a record while it is put together. The next one uses it again.
type row struct {
	*Record
	given      [quantities]*Column // by quantity, the column that stated it
	stated     uint64              // required columns, by their order
	siteFaults []Fault             // those of Faults that are conflicts between rows of a site
	siteArea   quantity.SquareMillimetres
	lat, lon   *float64

	latText, lonText string
	footprint        *geometry
	water            [16]struct {
		metres *float64
		origin rules.DistanceOrigin
		state  rules.WaterState
	}
	places    [16]*float64 // metres
	siteFacts [siteFacts]*float64
	lastPlace string // that was found to be one
	ofRows    bool   // of a file without lines
	seen      extent // positions of the rows before, from columns
	storage   *storage
}

// storage is a record with what it points to, in one piece.
type storage struct {
	record  Record
	stem    treatmentv1.Stem
	numbers [12]float64
	used    int
}

// number keeps a number that the record points to.
func (r *row) number(v float64) *float64 {
	s := r.storage
	if s.used == len(s.numbers) {
		return new(v)
	}
	p := &s.numbers[s.used]
	s.used++
	*p = v
	return p
}

// assemble reads an entry's cells into a new record.
func (r *row) assemble(number int64, e *entry) {
	s := &storage{}
	*r = row{lastPlace: r.lastPlace, seen: r.seen, ofRows: r.ofRows, storage: s, Record: &s.record}
	s.record = Record{Number: number, Line: e.line, OfRow: r.ofRows, Stem: &s.stem, Faults: e.faults}
	for i := range e.cells {
		r.take(&e.cells[i])
	}
	if !e.partial {
		r.require()
	}
	r.gatherWater()
	r.gatherPlaces()
	g := r.outline(e.geometry)
	r.locate(g)
	r.locateSite()
	r.measure(g)
	r.settle(g)
}

// where says where another row is.
func (r *row) where(line int) string {
	if r.ofRows {
		return fmt.Sprintf("in row %d", line)
	}
	return fmt.Sprintf("on line %d", line)
}

func (r *row) fault(line int, column, value, format string, args ...any) {
	r.Faults = append(r.Faults, Fault{Line: line, OfRow: r.ofRows, Column: column, Value: shorten(value), Problem: fmt.Sprintf(format, args...)})
}

func (r *row) take(c *cell) {
	text := strings.TrimSpace(c.text)
	if text == "" {
		return
	}
	r.stated |= c.column.bit
	if problem := unreadable(c.text); problem != "" {
		r.fault(c.line, c.column.Name, c.text, "%s", problem)
		return
	}
	if id := c.column.quantity; id != 0 {
		if first := r.given[id]; first != nil {
			r.fault(c.line, c.column.Name, c.text, "the row gives %s too; keep one of the two", first.Name)
			return
		}
		r.given[id] = c.column
	}
	if err := c.column.read(r, text); err != nil {
		r.fault(c.line, c.column.Name, c.text, "%s", err)
	}
}

func unreadable(text string) string {
	switch {
	case len(text) > maxField:
		return fmt.Sprintf("has %d bytes, at most %d are taken; shorten it", len(text), maxField)
	case !utf8.ValidString(text):
		return "is not UTF-8; save the file in UTF-8"
	}
	return ""
}

// require misses what every row must state.
func (r *row) require() {
	for _, c := range required {
		if r.stated&c.bit == 0 {
			r.fault(r.Line, c.Name, "", "is missing; expected %s: %s", c.Meaning, c.Type)
		}
	}
}

// gatherWater puts each distance with its origin.
func (r *row) gatherWater() {
	for _, class := range waterClasses {
		switch w := &r.water[class]; {
		case w.metres != nil:
			r.Stem.WaterDistances = append(r.Stem.WaterDistances, &commonv1.WaterDistance{
				WaterClass: commonv1.WaterClass(class), DistanceM: *w.metres, Origin: commonv1.DistanceOrigin(w.origin), State: commonv1.WaterState(w.state),
			})
		case rules.Known(w.origin) && r.given[distance+quantityID(class)] == nil:
			r.fault(r.Line, fmt.Sprintf("distance_%s_from", class), w.origin.String(), "starts a distance that the row does not give; state distance_%s_ft or distance_%[1]s_m", class)
		case rules.Known(w.state) && r.given[distance+quantityID(class)] == nil:
			r.fault(r.Line, class.String()+"_state", w.state.String(), "is said of water whose distance the row does not give; state distance_%s_ft or distance_%[1]s_m", class)
		}
	}
}

func (r *row) gatherPlaces() {
	for _, class := range placeClasses {
		if metres := r.places[class]; metres != nil {
			r.Stem.PlaceDistances = append(r.Stem.PlaceDistances, &commonv1.PlaceDistance{
				PlaceClass: commonv1.PlaceClass(class), DistanceM: *metres,
			})
		}
	}
}

// locate settles the position from the two columns and the geometry.
func (r *row) locate(g *geometry) {
	if g != nil {
		r.geometry = g.raw
		r.Lat, r.Lon = g.lat, g.lon
	}
	switch {
	case (r.given[latitude] == nil) != (r.given[longitude] == nil):
		r.fault(r.Line, "decimalLatitude", "", "decimalLatitude and decimalLongitude make a position together; give both or none")
	case r.lat == nil || r.lon == nil: // not given, or at fault already
	case r.Lat == nil:
		r.place(position{lon: *r.lon, lat: *r.lat})
	case math.Abs(*r.lat-*r.Lat) > sameDegrees || math.Abs(*r.lon-*r.Lon) > sameDegrees:
		r.fault(r.Line, "decimalLatitude", "", "decimalLatitude %g and decimalLongitude %g are not the geometry's %g and %g; keep one position", *r.lat, *r.lon, *r.Lat, *r.Lon)
	}
}

// locateSite keeps half a position from being taken for the site's.
func (r *row) locateSite() {
	if (r.given[siteLatitude] == nil) != (r.given[siteLongitude] == nil) {
		r.fault(r.Line, "site_latitude_deg", "", "site_latitude_deg and site_longitude_deg make a position together; give both or none")
	}
	if r.siteFacts[atLatitude] == nil || r.siteFacts[atLongitude] == nil {
		r.siteFacts[atLatitude], r.siteFacts[atLongitude] = nil, nil
	}
}

// sameDegrees is about a metre, the precision to which tables round positions.
const sameDegrees = 1e-5

func (r *row) place(p position) {
	if err := r.seen.admit(p); err != nil {
		column := r.given[longitude].Name
		if math.Abs(p.lat) > 90 {
			column = r.given[latitude].Name
		}
		r.fault(r.Line, column, "", "%s", err)
		return
	}
	r.Lat, r.Lon = &p.lat, &p.lon
}

// measure takes the area of a patch from its outline where the row states none.
func (r *row) measure(g *geometry) {
	if g != nil && g.area > 0 && r.given[patchArea] == nil {
		r.Stem.AreaM2 = r.number(g.area.SquareMetres())
	}
}
