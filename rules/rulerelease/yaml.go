package rulerelease

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// yamlReader reads a file of plain mappings, lists and scalars, and gathers what
// is wrong with it. A scalar is the text that stands there, so that version: 2024
// is the text "2024".
type yamlReader struct {
	file   string
	faults Faults
}

func (r *yamlReader) add(n ast.Node, where, format string, args ...any) {
	f := Fault{File: r.file, Where: where, Problem: fmt.Sprintf(format, args...)}
	if n != nil && n.GetToken() != nil && n.GetToken().Position != nil {
		f.Line, f.Column = n.GetToken().Position.Line, n.GetToken().Position.Column
	}
	r.faults = append(r.faults, f)
}

// maxYAML bounds a file, in bytes.
const maxYAML = 4 << 20

// document gives the one document of a file, and nil where there is none.
func (r *yamlReader) document(text []byte) (body ast.Node) {
	if len(text) > maxYAML {
		r.add(nil, "", "has %d bytes; it may have %d", len(text), maxYAML)
		return nil
	}
	// A parser of foreign code must not end the server at a text nobody foresaw.
	defer func() {
		if recover() != nil {
			r.add(nil, "", "is not YAML that can be read")
			body = nil
		}
	}()
	f, err := parser.ParseBytes(text, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		r.syntax(err)
		return nil
	}
	if len(f.Docs) != 1 || f.Docs[0].Body == nil {
		r.add(nil, "", "has %d documents; it needs one that is not empty", len(f.Docs))
		return nil
	}
	return f.Docs[0].Body
}

func (r *yamlReader) syntax(err error) {
	f := Fault{File: r.file, Problem: "is not YAML: " + strings.TrimSpace(yaml.FormatError(err, false, false))}
	var at yaml.Error
	if errors.As(err, &at) && at.GetToken() != nil && at.GetToken().Position != nil {
		f.Line, f.Column = at.GetToken().Position.Line, at.GetToken().Position.Column
		f.Problem = "is not YAML: " + at.GetMessage()
	}
	r.faults = append(r.faults, f)
}

// mapping gives the values by key. Keys that are not known, stated twice or
// missing though required are faults; known keys that end in "?" may be missing.
func (r *yamlReader) mapping(n ast.Node, where string, known ...string) map[string]ast.Node {
	values := map[string]ast.Node{}
	pairs, ok := pairsOf(n)
	if !ok {
		r.add(n, where, "is not a mapping; write %s under it, one a line", strings.Join(bare(known), ", "))
		return values
	}
	for _, p := range pairs {
		key := p.Key.GetToken().Value
		_, again := values[key]
		switch {
		case !slices.Contains(bare(known), key):
			r.add(p.Key, where, "%q is not known here; known are %s", clip(key), strings.Join(bare(known), ", "))
		case again:
			r.add(p.Key, where, "%q is stated twice; state it once", key)
			continue
		}
		values[key] = p.Value
	}
	for _, key := range known {
		if _, ok := values[key]; !ok && !strings.HasSuffix(key, "?") {
			r.add(n, where, "%q is missing; state it", key)
		}
	}
	return values
}

func bare(known []string) []string {
	names := make([]string, len(known))
	for i, k := range known {
		names[i] = strings.TrimSuffix(k, "?")
	}
	return names
}

func pairsOf(n ast.Node) ([]*ast.MappingValueNode, bool) {
	switch m := n.(type) {
	case *ast.MappingNode:
		return m.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{m}, true
	}
	return nil, false
}

// list gives the entries of a list; a value that is missing has none.
func (r *yamlReader) list(n ast.Node, where string) []ast.Node {
	switch s := n.(type) {
	case nil:
		return nil
	case *ast.SequenceNode:
		return s.Values
	}
	r.add(n, where, "is not a list; write each entry on a line that begins with \"- \"")
	return nil
}

// text gives a scalar's text; that of a missing value is empty and no fault.
func (r *yamlReader) text(n ast.Node, where string) string {
	switch s := n.(type) {
	case nil:
		return ""
	case *ast.StringNode:
		return s.Value
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return s.GetToken().Value
	}
	r.add(n, where, "is not a text on one line; write the value itself")
	return ""
}

// line gives a text that has something to read, on one line.
func (r *yamlReader) line(n ast.Node, where string) string {
	faults := len(r.faults)
	s := r.text(n, where)
	if n != nil && len(r.faults) == faults && !oneLine(s) {
		r.add(n, where, "%q is not a text on one line without spaces around it", clip(s))
	}
	return s
}

func (r *yamlReader) texts(n ast.Node, where string) []string {
	var all []string
	for i, entry := range r.list(n, where) {
		all = append(all, r.line(entry, fmt.Sprintf("%s[%d]", where, i+1)))
	}
	return all
}

func (r *yamlReader) number(n ast.Node, where string, least, most int) int {
	if n == nil {
		return 0
	}
	s := r.text(n, where)
	v, err := strconv.Atoi(s)
	if err != nil || v < least || v > most {
		r.add(n, where, "%q is not a number from %d to %d", clip(s), least, most)
	}
	return v
}

func (r *yamlReader) truth(n ast.Node, where string) bool {
	switch s := r.text(n, where); {
	case n == nil || s == "false":
	case s == "true":
		return true
	default:
		r.add(n, where, "%q is neither true nor false", clip(s))
	}
	return false
}

// timeForm is how a time is written: UTC, to the second.
const timeForm = "2006-01-02T15:04:05Z"

func (r *yamlReader) time(n ast.Node, where string) time.Time {
	if n == nil {
		return time.Time{}
	}
	s := r.text(n, where)
	t, err := time.Parse(timeForm, s)
	if err != nil {
		r.add(n, where, "%q is not a time in UTC such as \"2026-08-01T14:30:00Z\"", clip(s))
	}
	return t
}
