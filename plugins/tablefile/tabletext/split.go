package tabletext

import (
	"example.org/rootward/plugins/tablefile/internal/shape"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// split divides a list of distances that names every class into the entries that
// stand for themselves and the one distance that the others are "no nearer than".
// Without such others it gives the whole list and no distance.
func split(m protoreflect.Message, f protoreflect.FieldDescriptor) (near, far protoreflect.Value) {
	list, e := m.Get(f).List(), shape.ElementOf(f)
	if list.Len() != e.Class.Enum().Values().Len()-1 {
		return m.Get(f), far
	}
	near = m.NewField(f)
	for i := range list.Len() {
		entry := list.Get(i).Message()
		d := entry.Get(e.Distance)
		switch {
		case !noNearer(entry, &e) || far.IsValid() && d.Int() != far.Int():
			near.List().Append(list.Get(i))
		default:
			far = d
		}
	}
	return near, far
}

// noNearer reports whether an entry is as the short form would make it.
func noNearer(entry protoreflect.Message, e *shape.Element) bool {
	return entry.Get(e.AtLeast).Bool() && (e.Origin == nil || entry.Get(e.Origin).Enum() == e.Farthest()) &&
		!hasMore(entry, e)
}

// hasMore reports whether an entry says anything that the short form does not.
func hasMore(entry protoreflect.Message, e *shape.Element) bool {
	more := false
	entry.Range(func(f protoreflect.FieldDescriptor, _ protoreflect.Value) bool {
		more = more || f != e.Class && f != e.Distance && f != e.AtLeast && f != e.Origin
		return true
	})
	return more
}
