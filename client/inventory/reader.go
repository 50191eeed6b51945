package inventory

import (
	"bufio"
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// Reader reads an inventory row by row. It is for one goroutine.
type Reader struct {
	source source
	file   string
	closer io.Closer
	rows   int64
	sites  register
	ids    idSet
	entry  entry
	row    row
	err    error

	ofRows bool         // the file has no lines; rows are told by their number
	length func() int64 // rows of the file, about; nil: nobody can tell

	quick       *quick
	held        *Record // that had no room in the block before
	sent        int64   // good rows of the blocks before
	only        string
	uncertainty *float64
}

// source finds the rows of one file format.
type source interface {
	// next overwrites e with the next row. Its error is io.EOF or a *FileError.
	next(e *entry) error
	// onlySites tells that nothing but the columns of sites will be asked for.
	onlySites()
	// taken gives how many bytes of a file the rows up to now were taken from, of which
	// so many were read.
	taken(read int64) int64
}

// Open opens a file, whose name says by .csv, .parquet, .geojson or .json what it
// is. The caller closes the Reader. The error is a *FileError.
func Open(path string) (*Reader, error) {
	stream := func(read func(io.Reader) (*Reader, error)) func(*os.File) (*Reader, error) {
		return func(f *os.File) (*Reader, error) { return openText(f, read) }
	}
	read := map[string]func(*os.File) (*Reader, error){
		".csv": stream(NewCSV), ".geojson": stream(NewGeoJSON), ".json": stream(NewGeoJSON), ".parquet": openParquet,
	}[strings.ToLower(filepath.Ext(path))]
	if read == nil {
		return nil, inFile(path, fileError(0, "", "the name does not say the format; name a CSV file .csv, a Parquet file .parquet and a GeoJSON file .geojson or .json"))
	}
	f, err := os.Open(path)
	if err != nil {
		e := fileError(0, "", "the file cannot be opened: %v", reason(err))
		e.Err = err
		return nil, inFile(path, e)
	}
	r, err := read(f)
	if err != nil {
		f.Close()
		return nil, inFile(path, err)
	}
	r.file, r.closer = path, f
	return r, nil
}

// skipMark passes over a byte order mark of a text; that of UTF-16 refuses the file.
func skipMark(in *bufio.Reader, format string) error {
	const utf8Mark = "\xEF\xBB\xBF"
	start, _ := in.Peek(len(utf8Mark))
	switch {
	case string(start) == utf8Mark:
		in.Discard(len(utf8Mark))
	case bytes.HasPrefix(start, []byte("\xFF\xFE")) || bytes.HasPrefix(start, []byte("\xFE\xFF")):
		return fileError(1, "", "the file is in UTF-16; save it as %s in UTF-8", format)
	}
	return nil
}

// openText opens a file of which is known how long it is, but not how many rows it has.
func openText(f *os.File, read func(io.Reader) (*Reader, error)) (*Reader, error) {
	r, err := read(f)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err != nil || !info.Mode().IsRegular() {
		return r, nil
	}
	r.length = func() int64 {
		at, err := f.Seek(0, io.SeekCurrent)
		taken := r.source.taken(at)
		if err != nil || taken <= 0 {
			return r.rows
		}
		return int64(float64(r.rows) * max(1, float64(info.Size())/float64(taken)))
	}
	return r, nil
}

func openParquet(f *os.File) (*Reader, error) {
	info, err := f.Stat()
	if err != nil {
		return nil, readError(0, err)
	}
	return NewParquet(f, info.Size())
}

// reason is an error without the path, which is named already.
func reason(err error) error {
	if e, ok := err.(*os.PathError); ok {
		return e.Err
	}
	return err
}

func inFile(path string, err error) error {
	if e, ok := err.(*FileError); ok {
		e.File = path
	}
	return err
}

// Rows is how many rows the file has, about, by how many bytes those take that were read;
// 0: that cannot be told.
func (r *Reader) Rows() int64 {
	if r.length == nil {
		return 0
	}
	return r.length()
}

// Close closes the file that Open opened.
func (r *Reader) Close() error {
	if r.closer == nil {
		return nil
	}
	return r.closer.Close()
}

// Next gives the next row, good or not. At the end its error is io.EOF; another
// error is a *FileError, says why the rest cannot be read, and comes again with
// each further call.
func (r *Reader) Next() (*Record, error) {
	row, err := r.next()
	if err != nil {
		return nil, err
	}
	r.ids.enter(row)
	return row.Record, nil
}

func (r *Reader) next() (*row, error) {
	if r.err != nil {
		return nil, r.err
	}
	r.entry = entry{cells: r.entry.cells[:0]}
	if err := r.source.next(&r.entry); err != nil {
		return nil, r.fail(err)
	}
	r.rows++
	row := &r.row
	if row.ofRows = r.ofRows; r.ofRows {
		r.entry.number(int(r.rows))
	}
	row.assemble(r.rows, &r.entry)
	if !r.sites.enter(row) {
		return nil, r.fail(fileError(row.Line, "locationID", "names more than %d sites, the most that one inventory may have; split the file by site", maxSites))
	}
	return row, nil
}

// line is where the row is whose number this is, if it begins on this line.
func (r *Reader) line(number int64, line int) int {
	if r.ofRows {
		return int(number)
	}
	return line
}

func (r *Reader) fail(err error) error {
	if e, ok := err.(*FileError); ok {
		for i := range e.Faults {
			e.Faults[i].OfRow = r.ofRows
		}
	}
	if r.file != "" {
		err = inFile(r.file, err)
	}
	r.err = err
	return err
}
