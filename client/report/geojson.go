package report

import (
	"bytes"
	"encoding/json"
	"io"

	"example.org/rootward/client"
)

// GeoJSON writes the result as a FeatureCollection (RFC 7946): a feature for each
// row with the geometry of the inventory, or null where it has none that can be
// trusted, and the columns as properties. A list is an array; what is not known
// has no property. The caller closes it.
type GeoJSON struct {
	out     io.Writer
	columns []Column
	buf     bytes.Buffer
	begun   bool
}

// NewGeoJSON makes a writer of columns from Columns; nothing is written before the first row.
func NewGeoJSON(w io.Writer, columns []Column) *GeoJSON {
	return &GeoJSON{out: w, columns: columns}
}

// Row writes the feature of one row.
func (g *GeoJSON) Row(r *client.Row) error {
	g.buf.Reset()
	g.open()
	g.buf.WriteString(`{"type":"Feature",`)
	if id := r.Record.Stem.GetStemId(); id != "" {
		g.member("id", id)
		g.buf.WriteByte(',')
	}
	g.buf.WriteString(`"geometry":`)
	g.geometry(r)
	g.buf.WriteString(`,"properties":{`)
	g.properties(r)
	g.buf.WriteString("}}")
	_, err := g.out.Write(g.buf.Bytes())
	return err
}

func (g *GeoJSON) open() {
	if g.begun {
		g.buf.WriteString(",\n")
		return
	}
	g.begun = true
	g.buf.WriteString("{\"type\":\"FeatureCollection\",\"features\":[\n")
}

// geometry leaves out one that was found faulty, so that no stem is shown where it
// does not stand.
func (g *GeoJSON) geometry(r *client.Row) {
	geometry := r.Record.Geometry()
	for _, f := range r.Faults {
		if f.Column == "geometry" || f.Column == "decimalLatitude" || f.Column == "decimalLongitude" {
			geometry = nil
		}
	}
	if geometry == nil {
		g.buf.WriteString("null")
		return
	}
	g.buf.Write(geometry)
}

func (g *GeoJSON) properties(r *client.Row) {
	first := true
	for i := range g.columns {
		value := g.columns[i].value(r)
		if value == nil {
			continue
		}
		if !first {
			g.buf.WriteByte(',')
		}
		first = false
		g.member(g.columns[i].Name, value)
	}
}

func (g *GeoJSON) member(name string, value any) {
	g.value(name)
	g.buf.WriteByte(':')
	g.value(value)
}

func (g *GeoJSON) value(v any) {
	encoder := json.NewEncoder(&g.buf)
	encoder.SetEscapeHTML(false)
	// Texts, finite numbers and lists of texts always encode.
	if err := encoder.Encode(v); err == nil {
		g.buf.Truncate(g.buf.Len() - 1) // the encoder's line feed
	}
}

// Close ends the collection.
func (g *GeoJSON) Close() error {
	g.buf.Reset()
	if !g.begun {
		g.open()
	}
	g.buf.WriteString("\n]}\n")
	_, err := g.out.Write(g.buf.Bytes())
	return err
}
