package report

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"example.org/rootward/client"
)

// CSV writes the result as a table with a header: UTF-8, commas, a line feed after
// each record. The caller flushes it.
type CSV struct {
	out    *csv.Writer
	record []string
}

// NewCSV writes the header.
func NewCSV(w io.Writer) (*CSV, error) {
	c := &CSV{out: csv.NewWriter(w), record: make([]string, len(columns))}
	for i := range columns {
		c.record[i] = columns[i].Name
	}
	return c, c.out.Write(c.record)
}

// Row writes the record of one row.
func (c *CSV) Row(r *client.Row) error {
	for i := range columns {
		c.record[i] = cell(columns[i].value(r))
	}
	return c.out.Write(c.record)
}

// Flush writes what is still held back, and gives the first error of all writes.
func (c *CSV) Flush() error {
	c.out.Flush()
	return c.out.Error()
}

// listSeparator stands between the entries of a list within one cell; the entries
// hold commas and semicolons of their own.
const listSeparator = " | "

func cell(value any) string {
	switch v := value.(type) {
	case string:
		return harmless(v)
	case []string:
		return harmless(strings.Join(v, listSeparator))
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return decimal(v)
	}
	return ""
}

// decimal writes a number with its shortest digits that read back as the same.
func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// harmless keeps a spreadsheet from taking a text for a formula, which it would
// run: such a text gets an apostrophe in front.
func harmless(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r\n", rune(s[0])) {
		return "'" + s
	}
	return s
}
