package inventory

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// feature is one feature while it is taken apart.
type feature struct {
	entry *entry
	text  json.RawMessage
}

func (f *feature) fault(line int, column string, value []byte, format string, args ...any) {
	f.entry.faults = append(f.entry.faults, Fault{Line: line, Column: column, Value: shorten(string(value)), Problem: fmt.Sprintf(format, args...)})
}

func (f *feature) read(seen *extent) {
	list, err := members(f.text)
	parts := map[string]*member{}
	var system string
	for i, m := range list {
		system = cmp.Or(system, otherSystem(m.name, m.value))
		if parts[m.name] != nil {
			err = fmt.Errorf("has %q twice; keep one of them", shorten(m.name))
		}
		parts[m.name] = &list[i]
	}
	if kind := parts["type"]; err == nil && (kind == nil || string(kind.value) != `"Feature"`) {
		err = errors.New("is not a GeoJSON Feature; expected an object of the type Feature")
	}
	if err != nil {
		f.entry.partial = true
		f.fault(f.entry.line, "", f.text, "%s", err)
		return
	}
	if properties := parts["properties"]; properties != nil {
		f.readProperties(properties)
	}
	outline := parts["geometry"]
	switch {
	case system != "":
		f.fault(f.entry.line, "geometry", nil, "%s", system)
	case outline != nil:
		f.readGeometry(outline, seen)
	}
}

func (f *feature) readGeometry(m *member, seen *extent) {
	g, problem := parseGeometry(m.value, seen)
	if problem != "" {
		f.fault(f.lineOf(m), "geometry", nil, "%s", problem)
		return
	}
	f.entry.geometry = g
}

func (f *feature) readProperties(m *member) {
	if string(m.value) == "null" {
		return
	}
	list, err := members(m.value)
	if err != nil {
		f.fault(f.lineOf(m), "properties", m.value, "%s", err)
		return
	}
	seen := make(map[string]bool, len(list))
	for i := range list {
		if len(f.entry.faults) > maxFeatureFaults {
			f.fault(f.lineOf(m), "properties", nil, "more is wrong that is not listed here")
			return
		}
		p := &list[i]
		p.at += m.at
		f.readProperty(p, seen[p.name])
		seen[p.name] = true
	}
}

// maxFeatureFaults is more than anyone mends at a time.
const maxFeatureFaults = 50

func (f *feature) readProperty(p *member, again bool) {
	column := columnByName[p.name]
	text, isValue := p.text()
	switch {
	case again:
		f.fault(f.lineOf(p), shorten(p.name), p.value, "the feature has this property twice; keep one of them")
	case column == nil && strings.HasPrefix(p.name, ignoredPrefix):
	case column == nil:
		f.fault(f.lineOf(p), shorten(p.name), nil, "%s", unknownColumn(p.name))
	case !isValue:
		f.fault(f.lineOf(p), p.name, p.value, "is not one value; write a text or a number")
	case text != "":
		f.entry.cells = append(f.entry.cells, cell{column: column, text: text, line: f.lineOf(p)})
	}
}

// lineOf is the line of the file on which a member of the feature begins.
func (f *feature) lineOf(m *member) int {
	return f.entry.line + bytes.Count(f.text[:m.at], []byte{'\n'})
}

// text gives a property's value as it would stand in a CSV file, and empty for
// null. It reports false for a list or an object.
func (m *member) text() (string, bool) {
	switch m.value[0] {
	case '{', '[':
		return "", false
	case 'n':
		return "", true
	case '"':
		return unquote(m.value), true
	}
	return withoutExponent(string(m.value)), true
}

// withoutExponent writes a number out: software writes exponents that nobody
// typed. What is no number stays as it is.
func withoutExponent(literal string) string {
	if v, err := strconv.ParseFloat(literal, 64); err == nil && strings.ContainsAny(literal, "eE") {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return literal
}
