package inventory

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/format"
)

// NewParquet reads the schema of a Parquet file, whose columns are those of CSV; a
// null says that a value is not known. Numbers may stand as numbers or as texts,
// dates as dates or as texts, and yes and no as booleans. What is wrong with a row
// is said of its number. The error is a *FileError.
func NewParquet(in io.ReaderAt, size int64) (*Reader, error) {
	text, err := newParquetText(in, size)
	if err != nil {
		return nil, err
	}
	s := &csvSource{lines: newLines(text), only: text.only}
	if err := s.readHeader(); err != nil {
		return nil, ofParquet(err)
	}
	return &Reader{source: s, ofRows: true, length: text.file.NumRows}, nil
}

// ofParquet takes the lines out of what is wrong with a header: there are none.
func ofParquet(err error) error {
	var e *FileError
	if errors.As(err, &e) {
		for i := range e.Faults {
			e.Faults[i].Line = 0
		}
	}
	return err
}

// parquetText gives the rows of a Parquet file as those of a CSV file, so that what
// is taken and what is refused is the same. It holds a page of each column.
type parquetText struct {
	in      io.ReaderAt
	file    *parquet.File
	group   int // the next row group
	left    int64
	columns []*parquetColumn
	out     []byte
	whole   int // bytes of out that are whole rows
	at      int
	err     error
}

// parquetColumn is a column of a row group while it is read.
type parquetColumn struct {
	name   string
	left   bool // left out on purpose
	append func(b []byte, v parquet.Value) []byte
	pages  parquet.Pages
	page   parquet.ValueReader
	values []parquet.Value
	next   int
}

// parquetBatch is how many rows are turned into text at a time.
const parquetBatch = 256

func newParquetText(in io.ReaderAt, size int64) (t *parquetText, err error) {
	defer recoverParquet(&err)
	file, err := parquet.OpenFile(in, size, parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	if err != nil {
		return nil, parquetError(err)
	}
	t = &parquetText{in: in, file: file}
	problems := &FileError{}
	for _, node := range file.Root().Columns() {
		c := &parquetColumn{name: node.Name(), values: make([]parquet.Value, 0, parquetBatch)}
		if !node.Leaf() || node.Repeated() {
			problems.Faults = append(problems.Faults, Fault{Column: shorten(c.name), Problem: "holds lists or columns of its own; give each row one value in it"})
		} else if c.append = textOf(node.Type()); c.append == nil {
			problems.Faults = append(problems.Faults, Fault{Column: shorten(c.name), Problem: fmt.Sprintf("is of type %s, which is not read; store it as text, number, boolean or date", node.Type())})
		} else if node.Type().Kind() == parquet.Float && (c.name == "decimalLatitude" || c.name == "decimalLongitude") {
			// How far it was moved is not seen in the decimals that are left of it.
			problems.Faults = append(problems.Faults, Fault{Column: c.name, Problem: "is of type FLOAT, whose 32 bits move a position by up to 0.85 m; store it anew from its source, as DOUBLE or as text"})
		}
		t.columns = append(t.columns, c)
		t.out = append(appendQuoted(t.out, c.name), ',')
	}
	if len(problems.Faults) > 0 {
		problems.Faults = problems.Faults[:min(len(problems.Faults), maxHeaderFaults)]
		return nil, problems
	}
	if len(t.columns) == 0 {
		return nil, fileError(0, "", "the file has no columns")
	}
	t.out[len(t.out)-1] = '\n'
	return t, nil
}

// recoverParquet makes an error of what the decoder panics with on a broken file.
func recoverParquet(err *error) {
	if r := recover(); r != nil {
		*err = parquetError(fmt.Errorf("%v", r))
	}
}

func parquetError(err error) error {
	var e *FileError
	if errors.As(err, &e) {
		return err
	}
	e = fileError(0, "", "the file cannot be read as Parquet: %v", err)
	e.Err = err
	return e
}

// textOf writes the values of a type as CSV has them; nil: it cannot.
func textOf(t parquet.Type) func(b []byte, v parquet.Value) []byte {
	if logical := t.LogicalType(); logical != nil {
		switch of := logical.Value.(type) {
		case *format.DateType:
			return func(b []byte, v parquet.Value) []byte {
				const day = 24 * 60 * 60
				return time.Unix(int64(v.Int32())*day, 0).UTC().AppendFormat(b, time.DateOnly)
			}
		case *format.IntType:
			if !of.IsSigned {
				return unsignedText(t.Kind())
			}
		case *format.StringType, *format.EnumType:
		default:
			return nil
		}
	}
	switch t.Kind() {
	case parquet.Boolean:
		return func(b []byte, v parquet.Value) []byte {
			if v.Boolean() {
				return append(b, "yes"...)
			}
			return append(b, "no"...)
		}
	case parquet.Int32:
		return func(b []byte, v parquet.Value) []byte { return strconv.AppendInt(b, int64(v.Int32()), 10) }
	case parquet.Int64:
		return func(b []byte, v parquet.Value) []byte { return strconv.AppendInt(b, v.Int64(), 10) }
	case parquet.Float:
		return func(b []byte, v parquet.Value) []byte { return strconv.AppendFloat(b, float64(v.Float()), 'f', -1, 32) }
	case parquet.Double:
		return func(b []byte, v parquet.Value) []byte { return strconv.AppendFloat(b, v.Double(), 'f', -1, 64) }
	case parquet.ByteArray:
		return func(b []byte, v parquet.Value) []byte { return appendQuoted(b, v.ByteArray()) }
	}
	return nil
}

func unsignedText(kind parquet.Kind) func(b []byte, v parquet.Value) []byte {
	if kind == parquet.Int32 {
		return func(b []byte, v parquet.Value) []byte { return strconv.AppendUint(b, uint64(v.Uint32()), 10) }
	}
	return func(b []byte, v parquet.Value) []byte { return strconv.AppendUint(b, v.Uint64(), 10) }
}

// appendQuoted writes a text between quotes where CSV needs them. A line end in it
// becomes a space, so that a row is a line.
func appendQuoted[T string | []byte](b []byte, text T) []byte {
	plain := true
	for i := range len(text) {
		if c := text[i]; c == ',' || c == '"' || c == '\n' || c == '\r' {
			plain = false
			break
		}
	}
	if plain {
		return append(b, text...)
	}
	b = append(b, '"')
	for i := range len(text) {
		switch c := text[i]; c {
		case '"':
			b = append(b, '"', '"')
		case '\n', '\r':
			b = append(b, ' ')
		default:
			b = append(b, c)
		}
	}
	return append(b, '"')
}

// only leaves the values out of all columns but some.
func (t *parquetText) only(wanted func(name string) bool) {
	for _, c := range t.columns {
		c.left = !wanted(c.name)
	}
}

// Read gives the text.
func (t *parquetText) Read(p []byte) (int, error) {
	for t.at == len(t.out) {
		if t.err != nil {
			return 0, t.err
		}
		t.at, t.out = 0, t.out[:0]
		t.err = t.more()
		t.out = t.out[:t.whole]
	}
	n := copy(p, t.out[t.at:])
	t.at += n
	return n, nil
}

// more makes the text of some more rows.
func (t *parquetText) more() (err error) {
	defer recoverParquet(&err)
	t.whole = 0
	for t.left == 0 {
		groups := t.file.RowGroups()
		if t.group == len(groups) {
			return io.EOF
		}
		if err := t.begin(groups[t.group]); err != nil {
			return parquetError(err)
		}
		t.group++
	}
	for n := min(t.left, parquetBatch); n > 0 && t.whole <= maxLine; n-- {
		for _, c := range t.columns {
			if !c.left {
				v, err := c.value()
				if err != nil {
					return parquetError(err)
				}
				// A row that is too long already is refused: a few bytes can hold any.
				if !v.IsNull() && len(t.out)-t.whole <= maxLine {
					t.out = c.append(t.out, v)
				}
			}
			t.out = append(t.out, ',')
		}
		t.out[len(t.out)-1] = '\n'
		t.whole = len(t.out)
		t.left--
	}
	return nil
}

// begin turns to a row group.
func (t *parquetText) begin(group parquet.RowGroup) error {
	if t.left = group.NumRows(); t.left < 0 {
		return fmt.Errorf("a row group has %d rows", t.left)
	}
	metadata := t.file.Metadata().RowGroups[t.group].Columns
	if len(metadata) != len(t.columns) {
		return fmt.Errorf("a row group has %d columns, the file %d", len(metadata), len(t.columns))
	}
	for i, chunk := range group.ColumnChunks() {
		c := t.columns[i]
		if c.pages != nil {
			c.pages.Close()
		}
		if c.left {
			continue
		}
		if err := checkPages(t.in, c.name, &metadata[i].MetaData); err != nil {
			return err
		}
		c.pages, c.page, c.values, c.next = chunk.Pages(), nil, c.values[:0], 0
	}
	return nil
}

// value gives the column's next value.
func (c *parquetColumn) value() (parquet.Value, error) {
	for c.next == len(c.values) {
		if c.page == nil {
			page, err := c.pages.ReadPage()
			if err == io.EOF {
				err = errors.New("column " + c.name + " has fewer values than there are rows")
			}
			if err != nil {
				return parquet.Value{}, err
			}
			c.page = page.Values()
		}
		n, err := c.page.ReadValues(c.values[:cap(c.values)])
		c.values, c.next = c.values[:n], 0
		if err == io.EOF {
			c.page, err = nil, nil
		}
		if err == nil && n == 0 && c.page != nil {
			err = io.ErrNoProgress
		}
		if err != nil {
			return parquet.Value{}, err
		}
	}
	c.next++
	return c.values[c.next-1], nil
}
