package inventory

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/civil"
)

// Record is one row of an inventory. It belongs to the caller. Its texts share
// the memory of their row of the file: clone one that is to be kept alone.
type Record struct {
	Number int64 // from 1 in the order of the file, rejected rows counted
	Line   int   // of the file, from 1, on which the row or the feature begins
	OfRow  bool  // the file has no lines, and Line is Number

	// Stem holds all that was read without fault and is never nil. Lengths are
	// whole micrometres and areas whole square millimetres, expressed in the
	// message's unit. What an inventory can only state too finely is rounded to
	// the careful side: density and slope up, distances to water down.
	Stem *treatmentv1.Stem

	SiteID      string
	Place       string // "us/velmora/ossel-creek"
	SiteAreaM2  *float64
	Lat, Lon    *float64   // degrees, WGS 84
	Uncertainty *float64   // metres around the position
	Surveyed    civil.Date // zero: not stated
	Remarks     string

	Faults []Fault // any of them rejects the row

	geometry json.RawMessage
	rounding float64 // of the position, metres
}

// Rejected reports whether the row cannot be prescribed for.
func (r *Record) Rejected() bool { return len(r.Faults) > 0 }

// Geometry is the row's geometry as RFC 7946 writes it: a feature's own, a Point
// for a CSV row with a position, and nil where there is none that can be read.
func (r *Record) Geometry() json.RawMessage {
	if r.geometry != nil || r.Lat == nil || r.Lon == nil {
		return r.geometry
	}
	point := []byte(`{"type":"Point","coordinates":[`)
	point = strconv.AppendFloat(point, *r.Lon, 'f', -1, 64)
	point = append(point, ',')
	point = strconv.AppendFloat(point, *r.Lat, 'f', -1, 64)
	return append(point, "]}"...)
}

// Fault is one thing that is wrong with a row or with a file.
type Fault struct {
	Line    int    // of the file; zero where none can be named
	OfRow   bool   // the file has no lines, and Line is the number of a row
	Column  string // column or property, "geometry", or empty for the whole row
	Value   string // as it stands in the file, shortened
	Problem string // what was expected, and the remedy
}

// String gives the fault in one line for people.
func (f Fault) String() string {
	var parts []string
	switch {
	case f.Line > 0 && f.OfRow:
		parts = append(parts, fmt.Sprintf("row %d", f.Line))
	case f.Line > 0:
		parts = append(parts, fmt.Sprintf("line %d", f.Line))
	}
	if f.Column != "" {
		parts = append(parts, "column "+onOneLine(f.Column))
	}
	if f.Value != "" {
		parts = append(parts, strconv.Quote(f.Value))
	}
	if len(parts) == 0 {
		return f.Problem
	}
	return strings.Join(parts, ", ") + ": " + f.Problem
}

// onOneLine quotes a name that would break the line, turn it round or blot it out.
func onOneLine(name string) string {
	if !utf8.ValidString(name) || strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return strconv.Quote(name)
	}
	return name
}

// shorten keeps a fault printable whatever the file holds.
func shorten(value string) string {
	const most = 60
	value = strings.ToValidUTF8(value[:min(len(value), most+utf8.UTFMax)], "\uFFFD")
	if len(value) <= most {
		return value
	}
	cut := most
	for !utf8.RuneStart(value[cut]) {
		cut--
	}
	return value[:cut] + "…"
}

// FileError says why a file cannot be read, or not to its end.
type FileError struct {
	File   string  // empty for a reader that Open did not make
	Faults []Fault // all that was found; at least one
	Err    error   // what the operating system said, if it is about that
}

// Error lists the faults, one a line.
func (e *FileError) Error() string {
	lines := make([]string, len(e.Faults))
	for i, f := range e.Faults {
		lines[i] = f.String()
		if e.File != "" {
			lines[i] = e.File + ": " + lines[i]
		}
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the operating system's error.
func (e *FileError) Unwrap() error { return e.Err }

func fileError(line int, column, format string, args ...any) *FileError {
	return &FileError{Faults: []Fault{{Line: line, Column: column, Problem: fmt.Sprintf(format, args...)}}}
}

func readError(line int, err error) *FileError {
	e := fileError(line, "", "the file cannot be read on: %v", err)
	e.Err = err
	return e
}
