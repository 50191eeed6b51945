package tabletext

import (
	"fmt"
	"slices"

	"example.org/rootward/plugins/tablefile/internal/shape"
	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulewire"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// Read reads a table and compiles it. name is the file's, for messages. Its error is
// Faults, with everything that is wrong.
func Read(name string, text []byte) (*rules.Set, error) {
	set, _, err := ReadPlaces(name, text)
	return set, err
}

// Places says where the parts of a text stand.
type Places struct {
	file string
	at   map[string]*token.Position
}

// Row makes a fault of a row, by its place in the table from 0.
func (p *Places) Row(i int, problem string) Fault {
	path := fmt.Sprintf("rows[%d]", i)
	where := p.at[path]
	return Fault{File: p.file, Line: where.Line, Column: where.Column, Path: path, Problem: problem}
}

// ReadPlaces is Read, and says where the parts stand.
func ReadPlaces(name string, text []byte) (*rules.Set, *Places, error) {
	r := newReader(name)
	set := r.read(text)
	if len(r.faults) > 0 {
		r.faults.sort()
		return nil, nil, r.shown()
	}
	return set, &r.places, nil
}

// reader gathers what is wrong with a text, and where its parts stand.
type reader struct {
	places Places
	faults Faults
	cases  map[string]*pb.Case // those that were read, by name
}

func newReader(name string) *reader {
	return &reader{places: Places{file: name, at: map[string]*token.Position{}}, cases: map[string]*pb.Case{}}
}

func (r *reader) read(text []byte) *rules.Set {
	body := r.parse(text)
	if body == nil {
		return nil
	}
	var message pb.Table
	r.message("", body, message.ProtoReflect())
	r.distinct(&message)
	table, err := rulewire.DecodeTable(&message)
	if err != nil {
		r.locate(&message, err)
	}
	if len(r.faults) > 0 {
		r.locate(&message, rules.Validate(&table))
		return nil
	}
	set, err := rules.NewSet(table)
	if err != nil {
		r.locate(&message, err)
	}
	return set
}

func (r *reader) shown() Faults {
	if len(r.faults) <= maxShown {
		return r.faults
	}
	last := r.faults[maxShown]
	last.Path, last.Problem = "", fmt.Sprintf("%d faults more from here on; mend those above first", len(r.faults)-maxShown)
	return append(r.faults[:maxShown:maxShown], last)
}

func (r *reader) at(line, column int, path, format string, args ...any) {
	r.faults = append(r.faults, Fault{
		File: r.places.file, Line: line, Column: max(1, column), Path: path, Problem: fmt.Sprintf(format, args...),
	})
}

func (r *reader) atToken(t *token.Token, path, format string, args ...any) {
	r.at(t.Position.Line, t.Position.Column, path, format, args...)
}

func (r *reader) atNode(n ast.Node, path, format string, args ...any) {
	r.atToken(start(n), path, format, args...)
}

// start is the token with which a node begins.
func start(n ast.Node) *token.Token {
	switch n := n.(type) {
	case *ast.MappingNode:
		if !n.IsFlowStyle && len(n.Values) > 0 {
			return start(n.Values[0].Key)
		}
	case *ast.MappingValueNode:
		return start(n.Key)
	}
	return n.GetToken()
}

// entry is one key of a mapping with its value.
type entry struct {
	key   string
	field shape.Field
	token *token.Token
	value ast.Node
	path  string
}

// message reads a mapping into a message.
func (r *reader) message(path string, n ast.Node, m protoreflect.Message) {
	r.places.at[path] = start(n).Position
	values, ok := pairs(n)
	switch {
	case !ok && r.alone(path, n, m):
		return
	case !ok:
		r.atNode(n, path, "%s is here; write keys with values: %s", what(n), keyList(m.Descriptor()))
		return
	}
	entries := r.entries(path, values, m.Descriptor())
	r.oneKind(path, n, entries, m.Descriptor())
	r.required(path, n, entries, m.Descriptor())
	r.fill(entries, m)
	if c, ok := m.Interface().(*pb.Case); ok && c.GetName() != "" {
		r.cases[c.GetName()] = c
	}
}

// fill reads the values in the order in which they need each other: first what is
// the same as in another case, last what depends on the keys beside it, the unit of
// an amount on the measure and "others" on the words that have an entry.
func (r *reader) fill(entries []entry, m protoreflect.Message) {
	pass := func(read func(entry, protoreflect.Message), kinds ...shape.Kind) {
		for _, e := range entries {
			if slices.Contains(kinds, e.field.Kind) {
				read(e, m)
			}
		}
	}
	pass(r.like, shape.Like)
	pass(func(e entry, m protoreflect.Message) { m.Clear(e.field.Desc) }, shape.Others)
	pass(r.set, shape.Text, shape.Integer, shape.Number, shape.Flag, shape.Word, shape.Length, shape.Area,
		shape.Rate, shape.Date, shape.Window, shape.Hours, shape.Keys)
	pass(r.amount, shape.Amount)
	pass(r.others, shape.Others)
}

// pairs lists a mapping's keys with their values.
func pairs(n ast.Node) ([]*ast.MappingValueNode, bool) {
	switch n := n.(type) {
	case *ast.MappingNode:
		return n.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{n}, true
	}
	return nil, false
}

// alone reads the name of a kind that has no keys of its own, as "prohibit".
func (r *reader) alone(path string, n ast.Node, m protoreflect.Message) bool {
	name, ok := n.(*ast.StringNode)
	if !ok || !shape.OneKind(m.Descriptor()) {
		return false
	}
	f := m.Descriptor().Fields().ByName(protoreflect.Name(name.Value))
	if f == nil {
		r.atNode(n, path, "%s", notOneOf(name.Value, names(m.Descriptor())))
		return true
	}
	if len(requiredOf(f.Message())) > 0 {
		r.atNode(n, path, "%s needs keys of its own: %s", name.Value, keyList(f.Message()))
		return true
	}
	m.Set(f, m.NewField(f))
	return true
}

// entries pairs the keys with the fields that they set, and tells of those that
// are unknown, stand twice or have no value.
func (r *reader) entries(path string, values []*ast.MappingValueNode, d protoreflect.MessageDescriptor) []entry {
	fields := map[string]shape.Field{}
	for _, f := range shape.Of(d) {
		fields[f.Key] = f
	}
	seen := map[string]*token.Token{}
	var entries []entry
	for _, v := range values {
		t := start(v.Key)
		key := t.Value
		at := join(path, key)
		f, known := fields[key]
		first, twice := seen[key]
		switch {
		case twice:
			r.atToken(t, at, "stands twice, first on line %d; keep one", first.Position.Line)
		case !known:
			r.atToken(t, path, "the key %s", notOneOf(key, names(d)))
		case v.Value == nil || v.Value.Type() == ast.NullType:
			r.atToken(t, at, "has no value; give one or leave the key out")
		default:
			entries = append(entries, entry{key, f, t, v.Value, at})
		}
		if !twice {
			seen[key] = t
		}
		if known && !twice {
			r.places.at[at] = t.Position
		}
	}
	return entries
}

func names(d protoreflect.MessageDescriptor) []string {
	var keys []string
	for _, f := range shape.Of(d) {
		keys = append(keys, f.Key)
	}
	return keys
}

// oneKind sees that a message that is one of several kinds states one.
func (r *reader) oneKind(path string, n ast.Node, entries []entry, d protoreflect.MessageDescriptor) {
	if !shape.OneKind(d) {
		return
	}
	for i, e := range entries {
		if i > 0 {
			r.atToken(e.token, e.path, "%s is stated too; a rule does one thing: write a row for each", entries[0].key)
		}
	}
	if values, _ := pairs(n); len(values) == 0 {
		r.atNode(n, path, "no kind is stated; use %s", keyList(d))
	}
}

// required sees that what must be stated is.
func (r *reader) required(path string, n ast.Node, entries []entry, d protoreflect.MessageDescriptor) {
	stated := map[string]bool{}
	for _, e := range entries {
		stated[e.key] = true
	}
	for _, f := range shape.Of(d) {
		at := join(path, f.Key)
		if stated["like"] && (f.Key == "on" || f.Key == "treatment") {
			continue
		}
		if requiredOf(d)[f.Key] && !stated[f.Key] && r.places.at[at] == nil {
			r.atNode(n, at, "is missing; state it: %s", descriptionOf(d, f.Key))
		}
	}
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}
