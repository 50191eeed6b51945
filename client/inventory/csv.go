package inventory

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"example.org/rootward/rules/nearest"
)

// csvSource reads rows of comma-separated values after a header line.
type csvSource struct {
	lines   *lines
	feed    bytes.Reader // the record that fields is to read
	fields  *csv.Reader
	columns []*Column // nil: not read
	partial bool      // columns of rows are left out on purpose
	// only tells what the text is made from that nothing but some columns will be
	// asked for; nil: it is a file.
	only func(wanted func(name string) bool)
}

// NewCSV reads the header of a CSV file in UTF-8. A header with anything wrong in
// it refuses the file; the error is a *FileError with all that is wrong.
func NewCSV(in io.Reader) (*Reader, error) {
	s := &csvSource{lines: newLines(in)}
	if err := s.readHeader(); err != nil {
		return nil, err
	}
	return &Reader{source: s}, nil
}

func (s *csvSource) onlySites() {
	s.partial = true
	if s.only != nil {
		s.only(func(name string) bool { c := columnByName[strings.TrimSpace(name)]; return c != nil && c.site })
	}
	for i, c := range s.columns {
		if c != nil && !c.site {
			s.columns[i] = nil
		}
	}
}

func (s *csvSource) taken(read int64) int64 { return read - int64(s.lines.in.Buffered()) }

func (s *csvSource) readHeader() error {
	if err := skipMark(s.lines.in, "CSV"); err != nil {
		return err
	}
	record, err := s.lines.record()
	switch {
	case err == io.EOF:
		return fileError(1, "", "the file is empty; its first line is to name the columns")
	case err == errLongLine && endsInCR(s.lines.peek(s.lines.in.Buffered())):
		return oldLineEnds(s.lines.line + 1)
	case err == errLongLine:
		return fileError(s.lines.line+1, "", "the header is longer than %d bytes; is this a CSV file?", maxLine)
	case err != nil:
		return readError(s.lines.line+1, err)
	}
	line := s.lines.line + 1
	if endsInCR(record.text) {
		return oldLineEnds(line)
	}
	names, err := s.parse(record.text)
	if err != nil || record.open {
		return fileError(line, "", "the header cannot be read: %s", quoteProblem(err, record.open))
	}
	s.lines.take(len(record.text))
	return s.match(names, line)
}

// endsInCR tells a header in which CR stands outside of quotes, and not in its line end.
func endsInCR(header []byte) bool {
	header = bytes.TrimSuffix(bytes.TrimSuffix(header, []byte("\n")), []byte("\r"))
	quoted := false
	for _, b := range header {
		switch {
		case b == '"':
			quoted = !quoted
		case b == '\r' && !quoted:
			return true
		}
	}
	return false
}

func oldLineEnds(line int) error {
	return fileError(line, "", "the lines end in CR alone, which does not end a line of CSV; save the file with line ends LF or CR LF")
}

// match finds the columns of a header.
func (s *csvSource) match(names []string, line int) error {
	problems := &FileError{}
	refuse := func(column, problem string) {
		problems.Faults = append(problems.Faults, Fault{Line: line, Column: shorten(column), Problem: problem})
	}
	if len(names) == 1 && strings.ContainsAny(names[0], ";\t") {
		refuse("", "the columns are not separated by commas; save the file as CSV with commas")
		return problems
	}
	if !slices.ContainsFunc(names, namesColumn) {
		refuse("", "the first line names no column of an inventory; if it is a row of data, put a line with the names of the columns above it; rootward columns lists them")
		return problems
	}
	seen := make(map[string]bool, len(names))
	for i, name := range names {
		name = strings.TrimSpace(name)
		column := columnByName[name]
		switch {
		case seen[name] && name != "":
			refuse(name, fmt.Sprintf("field %d has the name of an earlier column; keep one of them", i+1))
		case column == nil && name == "":
			refuse("", fmt.Sprintf("field %d: %s", i+1, unknownColumn(name)))
		case column == nil && !strings.HasPrefix(name, ignoredPrefix):
			refuse(name, unknownColumn(name))
		}
		seen[name] = true
		s.columns = append(s.columns, column)
	}
	for _, c := range required {
		if !seen[c.Name] {
			refuse(c.Name, "the column is missing; each row is to state "+c.Meaning)
		}
	}
	if len(problems.Faults) == 0 {
		return nil
	}
	problems.Faults = problems.Faults[:min(len(problems.Faults), maxHeaderFaults)]
	return problems
}

// namesColumn reports whether a field of a header is the name of a column, if with a slip.
func namesColumn(field string) bool {
	field = strings.TrimSpace(field)
	return columnByName[field] != nil || len(inUnits(field)) > 0 || strings.HasPrefix(field, ignoredPrefix) || nearest.To(field, columnNames...) != ""
}

// maxHeaderFaults is more than anyone mends at a time.
const maxHeaderFaults = 50

// ignoredPrefix begins the names of columns that are handed through unread.
const ignoredPrefix = "x_"

// parse splits one record by the strict reader of the standard library.
func (s *csvSource) parse(record []byte) ([]string, error) {
	if s.fields == nil {
		s.fields = csv.NewReader(&s.feed)
		s.fields.FieldsPerRecord = -1
		s.fields.ReuseRecord = true
	}
	s.feed.Reset(record)
	fields, err := s.fields.Read()
	if err != nil {
		s.fields = nil // what it has buffered belongs to no other record
	}
	return fields, err
}

func (s *csvSource) next(e *entry) error {
	record, err := s.lines.record()
	e.line = s.lines.line + 1
	switch {
	case err == io.EOF:
		return err
	case err == errLongLine:
		return s.dropLine(e)
	case err != nil:
		return readError(e.line, err)
	}
	fields, err := s.parse(record.text)
	if err != nil || record.open {
		s.refuse(e, quoteProblem(err, record.open || len(record.text) > record.first))
		s.lines.take(record.first)
		return nil
	}
	s.lines.take(len(record.text))
	if len(fields) != len(s.columns) {
		s.refuse(e, fmt.Sprintf("the row has %d fields and the header %d; put a value with a comma in it between quotes", len(fields), len(s.columns)))
		return nil
	}
	s.cells(e, fields)
	return nil
}

func (s *csvSource) refuse(e *entry, problem string) {
	e.partial = true
	e.faults = append(e.faults, Fault{Line: e.line, Problem: problem})
}

func (s *csvSource) dropLine(e *entry) error {
	s.refuse(e, fmt.Sprintf("the line is longer than %d bytes and was not read; shorten it", maxLine))
	if err := s.lines.drop(); err != nil && err != io.EOF {
		return readError(e.line, err)
	}
	return nil
}

func (s *csvSource) cells(e *entry, fields []string) {
	e.partial = s.partial
	start, _ := s.fields.FieldPos(0)
	for i, text := range fields {
		if text == "" || s.columns[i] == nil {
			continue
		}
		line, _ := s.fields.FieldPos(i)
		e.cells = append(e.cells, cell{column: s.columns[i], text: text, line: e.line + line - start})
	}
}

// quoteProblem says in words what keeps a line from being split into fields.
func quoteProblem(err error, goesOn bool) string {
	problem := "a quote inside a field between quotes is to be written twice"
	if errors.Is(err, csv.ErrBareQuote) {
		problem = "a value with a quote in it is to stand between quotes, and the quote inside to be written twice"
	}
	var at *csv.ParseError
	switch {
	case goesOn && !errors.Is(err, csv.ErrBareQuote):
		problem = fmt.Sprintf("a quote is opened and not closed as it should be; close it, or write a quote inside a value twice; a value has at most %d bytes", maxField)
	case errors.As(err, &at):
		problem = fmt.Sprintf("at byte %d: %s", at.Column, problem)
	}
	return problem + "; the line was not read"
}
