package rulewire

import (
	"fmt"
	"slices"

	"example.org/rootward/rules"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// reader gathers what is wrong with a message. A fault is told by the row and the
// field, or by the field alone where the message stands for itself.
type reader struct {
	row    string
	faults rules.Faults
}

func (r *reader) add(field, format string, args ...any) {
	problem := fmt.Sprintf(format, args...)
	if r.row == "" {
		r.faults = append(r.faults, rules.Fault{Row: field, Problem: problem})
		return
	}
	r.faults = append(r.faults, rules.Fault{Row: r.row, Problem: field + ": " + problem})
}

// err gives the faults as an error, and no error when there are none.
func (r *reader) err() error {
	if len(r.faults) == 0 {
		return nil
	}
	return r.faults
}

// word reads one word that may be left out.
func word[V rules.Vocabulary, E ~int32](r *reader, field string, e E) V {
	v, ok := Decode[V](e)
	if !ok {
		r.add(field, "%d is not a word this program knows; use a newer program or an older table", e)
	}
	return v
}

// set reads a list of words; "not stated" is not one of them.
func set[V rules.Vocabulary, E ~int32](r *reader, field string, list []E) rules.OneOf[V] {
	var s rules.OneOf[V]
	for _, e := range list {
		v := word[V](r, field, e)
		if e == 0 {
			r.add(field, "\"not stated\" is in the list; leave the list empty to fit anything")
		}
		if rules.Known(v) {
			s |= rules.AnyOf(v)
		}
	}
	return s
}

// maxDepth is more than any message of this contract nests; what nests deeper is
// not one of them.
const maxDepth = 16

// noUnknown refuses fields that this program does not know, at any depth. The
// messages named by skip are looked at by their own readers.
func (r *reader) noUnknown(field string, m protoreflect.Message, skip ...protoreflect.Name) {
	r.refuseUnknown(field, m, skip, 0)
}

func (r *reader) refuseUnknown(path string, m protoreflect.Message, skip []protoreflect.Name, depth int) {
	if depth > maxDepth {
		r.add(path, "nests deeper than %d messages", maxDepth)
		return
	}
	if raw := m.GetUnknown(); len(raw) > 0 {
		number, _, _ := protowire.ConsumeTag(raw)
		r.add(path, "holds field %d, which this program does not know; what it restricts cannot be read, so it is not skipped: use a newer program or an older table", number)
	}
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		if f.Kind() == protoreflect.MessageKind && !slices.Contains(skip, f.Name()) {
			r.refuseUnknownIn(join(path, string(f.Name())), f, v, depth)
		}
		return true
	})
}

func (r *reader) refuseUnknownIn(path string, f protoreflect.FieldDescriptor, v protoreflect.Value, depth int) {
	if !f.IsList() {
		r.refuseUnknown(path, v.Message(), nil, depth+1)
		return
	}
	for i := range v.List().Len() {
		r.refuseUnknown(fmt.Sprintf("%s[%d]", path, i), v.List().Get(i).Message(), nil, depth+1)
	}
}

func join(path, field string) string {
	if path == "" {
		return field
	}
	return path + "." + field
}
