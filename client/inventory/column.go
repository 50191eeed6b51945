package inventory

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Column is one column of a CSV inventory, and the property of the same name of
// a GeoJSON feature.
type Column struct {
	Name     string
	Type     string // what a value looks like
	Unit     string // empty for what has none
	Required bool
	Term     string // the vocabulary that the name is from; empty: our own
	Meaning  string

	quantity quantityID
	site     bool   // it says something of the site
	bit      uint64 // of a required column, its own
	read     func(r *row, text string) error

	// How a plain text is read quickly, as read does; where none is stated it never is.
	unread bool // any text is in order, and nothing of it comes into a chunk
	// plain gives the value that a text has in a chunk, whatever the row, and reports
	// false where read might not.
	plain func(text []byte) (v int64, ok bool)
	into  int // of a chunk's columns the one that plain fills, or nowhere
	// quick gives where the quick reader is told which field this is, of those that it
	// reads itself, or which column of those with a plain.
	quick func(q *quick) *int
}

// nowhere is for columns whose texts are only held to be in order.
const nowhere = -1

// quantityID names what several columns can state and one row states once.
type quantityID int

const (
	siteArea quantityID = iota + 1
	diameter
	height
	density
	patchArea
	crownWidth
	largerDiameter
	otherWater
	otherPlaces
	latitude
	longitude
	siteLatitude
	siteLongitude
	siteElevation
	slope
	distance      // and one on for each class of water
	placeDistance = distance + 16
	quantities    = placeDistance + 16
)

// measured is a quantity in one unit, as a column states it.
type measured struct {
	name    string // of the column, without the unit
	unit    unit
	term    string
	meaning string
	id      quantityID
	most    int64
	zero    bool // zero is a value too
	set     func(r *row, v int64)
}

// unit is the end of a column's name and the way from there to the whole numbers
// in which quantities are kept.
type unit struct {
	suffix  string
	convert func(v float64) int64
}

var (
	inches      = unit{"in", func(v float64) int64 { return int64(quantity.Inches(v)) }}
	centimetres = unit{"cm", func(v float64) int64 { return int64(quantity.Centimetres(v)) }}
	feet        = unit{"ft", func(v float64) int64 { return int64(quantity.Feet(v)) }}
	metres      = unit{"m", func(v float64) int64 { return int64(quantity.Metres(v)) }}

	girthInches      = unit{"in", func(v float64) int64 { return int64(quantity.DiameterFromGirth(quantity.Inches(v))) }}
	girthCentimetres = unit{"cm", func(v float64) int64 { return int64(quantity.DiameterFromGirth(quantity.Centimetres(v))) }}

	acres        = unit{"ac", func(v float64) int64 { return int64(quantity.Acres(v)) }}
	hectares     = unit{"ha", func(v float64) int64 { return int64(quantity.Hectares(v)) }}
	squareMetres = unit{"m2", func(v float64) int64 { return int64(quantity.SquareMetres(v)) }}
	squareFeet   = unit{"ft2", func(v float64) int64 { return int64(quantity.SquareFeet(v)) }}

	// A distance to water that falls between two micrometres counts as the nearer.
	feetDown   = unit{"ft", func(v float64) int64 { return saturate(nextDown(v * float64(quantity.Foot))) }}
	metresDown = unit{"m", func(v float64) int64 { return saturate(nextDown(v * float64(quantity.Metre))) }}

	// Stems per hectare are whole in the API; rounded up, as what is held against
	// an annual maximum must not be understated. Ten acres are a whole number of
	// square millimetres, one is not.
	perAcre = unit{"per_ac", func(v float64) int64 {
		return saturate(nextUp(v * float64(10*quantity.Hectare) / float64(quantity.Acres(10))))
	}}
	perHectare = unit{"per_ha", func(v float64) int64 { return saturate(nextUp(v)) }}
)

// saturate keeps a number that is far out of every range from wrapping.
func saturate(v float64) int64 { return int64(max(min(v, 1<<62), -1<<62)) }

func (m measured) column() *Column {
	return &Column{
		Name: m.name + "_" + m.unit.suffix, Type: "number " + m.limits(), Unit: m.unit.words(),
		Term: m.term, Meaning: m.meaning, quantity: m.id, site: m.id == siteArea, read: m.read, plain: m.plain, into: chunkColumnOf(m.id),
	}
}

// plain reads what read does, for the column of a chunk.
func (m measured) plain(text []byte) (int64, bool) {
	v, ok := plainDecimal(text)
	if !ok {
		return 0, false
	}
	whole := m.unit.convert(v)
	return whole, whole <= m.most && (whole > 0 || m.zero)
}

func (m measured) read(r *row, text string) error {
	v, err := decimal(text)
	if err != nil {
		return err
	}
	whole := m.unit.convert(v)
	switch {
	case whole > m.most:
		return fmt.Errorf("is more than %s %s; %s", m.largest(), m.unit.words(), orEmpty)
	case v < 0 && m.zero:
		return errors.New("is below 0; " + orEmpty)
	case v < 0 || whole == 0 && !m.zero:
		return errors.New("is not above 0; " + orEmpty)
	}
	m.set(r, whole)
	return nil
}

const orEmpty = "correct it, or leave the field empty where it is not known"

// limits states the limits in the column's own unit.
func (m measured) limits() string {
	from := "above 0, at most "
	if m.zero {
		from = "0 to "
	}
	return from + m.largest()
}

func (m measured) largest() string {
	const sample = 1e6 // large enough that its rounding does not show
	return fiveFigures(float64(m.most) * sample / float64(m.unit.convert(sample)))
}

// fiveFigures writes a limit as people would, and never above what it is.
func fiveFigures(v float64) string {
	const noise = 1e-9 // of the division that made v
	step := math.Pow10(int(math.Floor(math.Log10(v))) - 4)
	short := strconv.FormatFloat(math.Floor(v/step*(1+noise))*step, 'g', 5, 64)
	v, _ = strconv.ParseFloat(short, 64)
	return strconv.FormatFloat(v, 'f', -1, 64)
}

func (u unit) words() string {
	return map[string]string{
		"in": "inches", "cm": "centimetres", "ft": "feet", "m": "metres",
		"ac": "acres", "ha": "hectares", "m2": "square metres", "ft2": "square feet",
		"per_ac": "stems per acre", "per_ha": "stems per hectare", "percent": "percent",
	}[u.suffix]
}

// in gives the columns of one quantity in several units.
func (m measured) in(units ...unit) []*Column {
	list := make([]*Column, len(units))
	for i, u := range units {
		m.unit = u
		list[i] = m.column()
	}
	return list
}

// worded is a column of the words of one vocabulary of package rules.
func worded[T rules.Vocabulary](c Column, set func(r *row, v T)) *Column {
	c.Type = "one of " + rules.AnyOf(rules.Words[T]()...).String()
	var words []string
	for _, v := range rules.Words[T]() {
		words = append(words, fmt.Sprint(v))
	}
	c.read = func(r *row, text string) error {
		v, err := rules.ParseWord[T](text)
		if err != nil {
			return errors.New("is not " + c.Type + orNearest(text, words))
		}
		set(r, v)
		return nil
	}
	c.plain = func(text []byte) (int64, bool) {
		at := slices.Index(words, string(text))
		return int64(at + 1), at >= 0
	}
	return &c
}

// named is a column of a short text.
func named(c Column, set func(r *row, text string)) *Column {
	c.Type = fmt.Sprintf("text of at most %d bytes", maxName)
	c.read = func(r *row, text string) error {
		if len(text) > maxName {
			return fmt.Errorf("has %d bytes, at most %d are taken; shorten it", len(text), maxName)
		}
		set(r, text)
		return nil
	}
	return &c
}

// quickly gives a column its place in the quick reader.
func (c *Column) quickly(place func(q *quick) *int) *Column {
	c.quick = place
	return c
}

// maxName is the API's limit for a stem's id; names are held to the same.
const maxName = 200

// ignored is a column that people keep beside the stems and nothing is computed
// from.
func ignored(name, meaning string) *Column {
	return &Column{Name: name, Type: "text", Term: darwinCore, Meaning: meaning + "; not used", read: func(*row, string) error { return nil }, unread: true}
}

// checked reads the texts of a column that come to nothing in a chunk.
func checked(read func(r *row, text string) error) func(text []byte) (int64, bool) {
	return func(text []byte) (int64, bool) {
		var scratch row
		scratch.Record, scratch.storage = &Record{}, &storage{}
		return 0, read(&scratch, string(text)) == nil
	}
}

// among is a column that is only checked for its words.
func among(c Column, words ...string) *Column {
	c.Type = "one of " + strings.Join(words, ", ")
	c.read = func(_ *row, text string) error {
		if !slices.Contains(words, text) {
			return errors.New("is not " + c.Type + orNearest(text, words))
		}
		return nil
	}
	c.plain, c.into = checked(c.read), nowhere
	return &c
}

// degrees is a column of half a position; the two are judged together.
func degrees(id quantityID, name, meaning string, most float64, set func(r *row, v float64, text string)) *Column {
	place := func(q *quick) *int { return &q.latitude }
	if id == longitude {
		place = func(q *quick) *int { return &q.longitude }
	}
	return &Column{
		Name: name, Type: between(-most, most), Unit: "degrees, WGS 84", Term: darwinCore, Meaning: meaning, quantity: id,
		read: func(r *row, text string) error {
			v, err := decimal(text)
			if err == nil {
				set(r, v, text)
			}
			return err
		},
		quick: place,
	}
}

func between(least, most float64) string {
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	return "number " + number(least) + " to " + number(most)
}

// ranged is a column of a number that can be below zero.
func ranged(c Column, least, most float64, set func(r *row, v float64)) *Column {
	c.Type = between(least, most)
	c.read = func(r *row, text string) error {
		v, err := decimal(text)
		switch {
		case err != nil:
			return err
		case v < least || v > most:
			return fmt.Errorf("is not %g to %g %s", least, most, c.Unit)
		}
		set(r, v)
		return nil
	}
	return &c
}
