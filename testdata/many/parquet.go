package many

import (
	"io"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress/zstd"
)

// rowGroupRows keeps a row group, and with it the memory of who writes or reads
// it, small.
const rowGroupRows = 100_000

// WriteParquet writes the inventory that WriteCSV writes: numbers as doubles, words
// as texts, null where nothing is stated. A diameter that is no number is null too,
// which is known to nobody as well.
func WriteParquet(w io.Writer, seed uint64, rows int64) error {
	group := parquet.Group{}
	for _, c := range fileColumns {
		if c.number != nil {
			group[c.name] = parquet.Optional(parquet.Leaf(parquet.DoubleType))
		} else {
			group[c.name] = parquet.Optional(parquet.String())
		}
	}
	schema := parquet.NewSchema("inventory", group)
	out := parquet.NewGenericWriter[any](w, schema, parquet.MaxRowsPerRowGroup(rowGroupRows), parquet.Compression(&zstd.Codec{}))
	places := map[string]int{}
	for i, path := range schema.Columns() {
		places[path[0]] = i
	}
	g := generator{seed: seed}
	values := make([]parquet.Value, len(fileColumns))
	for number := int64(1); number <= rows; number++ {
		r := g.draw(number)
		for i := range fileColumns {
			place := places[fileColumns[i].name]
			values[place] = fileColumns[i].value(&r).Level(0, 1, place)
			if values[place].IsNull() {
				values[place] = parquet.NullValue().Level(0, 0, place)
			}
		}
		if _, err := out.WriteRows([]parquet.Row{values}); err != nil {
			return err
		}
	}
	return out.Close()
}

func (c *column) value(r *row) parquet.Value {
	if c.text != nil {
		if text := c.text(r); text != "" {
			return parquet.ByteArrayValue([]byte(text))
		}
		return parquet.NullValue()
	}
	v := c.number(r)
	if v == absent || c.isDiameter() && r.fault == noNumber {
		return parquet.NullValue()
	}
	return parquet.DoubleValue(v)
}
