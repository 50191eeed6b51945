package report

import (
	"fmt"
	"io"
	"reflect"
	"slices"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress/zstd"

	"example.org/rootward/client"
)

// Parquet writes the result as a Parquet file with the columns of the table: numbers
// are doubles or whole numbers, lists are lists of texts, and what is not known is
// null or an empty list. It holds one row group. The caller closes it.
type Parquet struct {
	out    *parquet.GenericWriter[any]
	rows   []parquet.Row
	values []parquet.Value // of the rows
	parts  []part
	texts  map[sharing][][]parquet.Value // of explained columns, by the part
}

const (
	parquetRows   = 256    // that are handed on together
	rowGroupRows  = 50_000 // of which the writer holds the columns
	maxParquetSet = 4_096  // explanations whose values are kept
)

// kinds of columns in Parquet; a column that is not named holds texts.
var (
	wholeColumns = []string{"row", "line", "stems", "cuts", "second_stems", "second_cuts", "entry_interval_h"}
	realColumns  = []string{
		"diameter_cm", "decimalLatitude", "decimalLongitude", "mix_g_ae_per_l", "exclusion_zone_ft",
		"cut_ml", "mix_ml", "product_ml", "carrier_ml", "adjuvant_ml", "dye_ml", "ae_g", "rate_lb_ae_per_ac",
		"second_cut_ml", "second_mix_ml", "second_product_ml", "second_carrier_ml", "second_adjuvant_ml", "second_dye_ml",
		"second_ae_g", "second_rate_lb_ae_per_ac",
	}
	listColumns = []string{
		"steps", "cautions", "follow_up", "reasons_against_others", "findings", "remedies", "faults", "rule_sets", "water_distances",
	}
)

// schema is a struct, since the library sorts the columns of any other by name.
func schema(columns []Column) *parquet.Schema {
	fields := make([]reflect.StructField, len(columns))
	for i, c := range columns {
		f := reflect.StructField{Name: fmt.Sprintf("Column%d", i), Type: reflect.TypeFor[string](), Tag: tag(c.Name, "optional,dict")}
		switch {
		case slices.Contains(wholeColumns, c.Name):
			f.Type, f.Tag = reflect.TypeFor[int64](), tag(c.Name, "optional")
		case slices.Contains(realColumns, c.Name):
			f.Type, f.Tag = reflect.TypeFor[float64](), tag(c.Name, "optional")
		case slices.Contains(listColumns, c.Name):
			f.Type, f.Tag = reflect.TypeFor[[]string](), tag(c.Name, "list")+` parquet-element:",dict"`
		case c.Name == "occurrenceID": // each is another
			f.Tag = tag(c.Name, "optional")
		}
		fields[i] = f
	}
	return parquet.SchemaOf(reflect.New(reflect.StructOf(fields)).Interface())
}

func tag(name, options string) reflect.StructTag {
	return reflect.StructTag(fmt.Sprintf(`parquet:"%s,%s"`, name, options))
}

// NewParquet makes a writer of columns from Columns, in their order.
func NewParquet(w io.Writer, columns []Column) *Parquet {
	return &Parquet{
		out:   parquet.NewGenericWriter[any](w, schema(columns), parquet.MaxRowsPerRowGroup(rowGroupRows), parquet.Compression(&zstd.Codec{})),
		parts: partsOf(columns), texts: map[sharing][][]parquet.Value{},
	}
}

// Row writes one row.
func (p *Parquet) Row(r *client.Row) error {
	from := len(p.values)
	shared := p.shared(r)
	column := 0
	for i := range p.parts {
		if part := &p.parts[i]; part.explained {
			p.values = append(p.values, shared[i]...)
		} else {
			p.values = part.values(p.values, r, column)
		}
		column += len(p.parts[i].columns)
	}
	p.rows = append(p.rows, p.values[from:len(p.values):len(p.values)])
	if len(p.rows) == parquetRows {
		return p.write()
	}
	return nil
}

// shared gives the values of explained columns, which many rows repeat.
func (p *Parquet) shared(r *client.Row) [][]parquet.Value {
	of := sharing{r.Explanation, r.Outcome, r.Second != nil}
	if known := p.texts[of]; known != nil {
		return known
	}
	if len(p.texts) == maxParquetSet {
		clear(p.texts)
	}
	values, column := make([][]parquet.Value, len(p.parts)), 0
	for i := range p.parts {
		if p.parts[i].explained {
			values[i] = p.parts[i].values(nil, r, column)
		}
		column += len(p.parts[i].columns)
	}
	p.texts[of] = values
	return values
}

// values appends the values of columns, the first of which has this place.
func (p *part) values(list []parquet.Value, r *client.Row, first int) []parquet.Value {
	for i := range p.columns {
		list = appendValue(list, p.columns[i].value(r), first+i)
	}
	return list
}

func appendValue(list []parquet.Value, value any, column int) []parquet.Value {
	switch v := value.(type) {
	case string:
		return append(list, parquet.ByteArrayValue([]byte(v)).Level(0, 1, column))
	case int64:
		return append(list, parquet.Int64Value(v).Level(0, 1, column))
	case float64:
		return append(list, parquet.DoubleValue(v).Level(0, 1, column))
	case []string:
		for i, text := range v {
			list = append(list, parquet.ByteArrayValue([]byte(text)).Level(min(i, 1), 1, column))
		}
		return list
	}
	return append(list, parquet.NullValue().Level(0, 0, column))
}

func (p *Parquet) write() error {
	_, err := p.out.WriteRows(p.rows)
	clear(p.values)
	p.rows, p.values = p.rows[:0], p.values[:0]
	return err
}

// Close writes what is still held back and ends the file.
func (p *Parquet) Close() error {
	if err := p.write(); err != nil {
		return err
	}
	return p.out.Close()
}
