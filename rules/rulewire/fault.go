package rulewire

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"example.org/rootward/rules"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// reader gathers what is wrong with a message. A fault is told by the row and the
// field, or by the field alone where the message stands for itself.
type reader struct {
	row    string
	within []step // where the reader is; in words only once there is a fault
	faults rules.Faults
}

// step goes into a field that holds a message, or into one of a list.
type step struct {
	field string
	index int // in the list, or alone
}

const alone = -1

func (r *reader) enter(field string, index int) { r.within = append(r.within, step{field, index}) }

func (r *reader) leave() { r.within = r.within[:len(r.within)-1] }

// path names a field of the message that the reader is in, or that message if it is empty.
func (r *reader) path(field string) string {
	var path []string
	for _, s := range r.within {
		name := s.field
		if s.index != alone {
			name = fmt.Sprintf("%s[%d]", name, s.index)
		}
		path = append(path, name)
	}
	if field != "" {
		path = append(path, field)
	}
	return strings.Join(path, ".")
}

// add notes what is wrong with a field of the message that the reader is in.
func (r *reader) add(field, format string, args ...any) {
	field = r.path(field)
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
	r.enter(field, alone)
	r.refuseUnknown(m, skip, 0)
	r.leave()
}

func (r *reader) refuseUnknown(m protoreflect.Message, skip []protoreflect.Name, depth int) {
	if depth > maxDepth {
		r.add("", "nests deeper than %d messages", maxDepth)
		return
	}
	if raw := m.GetUnknown(); len(raw) > 0 {
		number, _, _ := protowire.ConsumeTag(raw)
		r.add("", "holds field %d, which this program does not know; what it restricts cannot be read, so it is not skipped: use a newer program or an older table", number)
	}
	for _, f := range messagesOf(m.Descriptor()) {
		if m.Has(f) && !slices.Contains(skip, f.Name()) {
			r.refuseUnknownIn(f, m.Get(f), depth)
		}
	}
}

func (r *reader) refuseUnknownIn(f protoreflect.FieldDescriptor, v protoreflect.Value, depth int) {
	name := string(f.Name())
	if !f.IsList() {
		r.enter(name, alone)
		r.refuseUnknown(v.Message(), nil, depth+1)
		r.leave()
		return
	}
	for i, list := 0, v.List(); i < list.Len(); i++ {
		r.enter(name, i)
		r.refuseUnknown(list.Get(i).Message(), nil, depth+1)
		r.leave()
	}
}

// messageFields holds, by protoreflect.MessageDescriptor, its fields that are messages.
var messageFields sync.Map

func messagesOf(d protoreflect.MessageDescriptor) []protoreflect.FieldDescriptor {
	if known, ok := messageFields.Load(d); ok {
		return known.([]protoreflect.FieldDescriptor)
	}
	var list []protoreflect.FieldDescriptor
	for i := range d.Fields().Len() {
		if f := d.Fields().Get(i); f.Message() != nil {
			list = append(list, f)
		}
	}
	messageFields.Store(d, list)
	return list
}
