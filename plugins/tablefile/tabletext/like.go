package tabletext

import (
	"maps"
	"slices"

	"example.org/rootward/plugins/tablefile/internal/shape"
	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// like gives a case the day, the treatment and the site of one before it.
func (r *reader) like(e entry, m protoreflect.Message) {
	name, ok := r.scalar(e.path, e.value, shape.Field{Kind: shape.Text, Desc: e.field.Desc})
	if !ok {
		return
	}
	base, found := r.cases[name.String()]
	if !found {
		said := quoted(name.String()) + " is not the name of a case before this one"
		if near, ok := nearest(name.String(), slices.Sorted(maps.Keys(r.cases))); ok {
			said += "; did you mean " + quoted(near) + "?"
		}
		r.atNode(e.value, e.path, "%s", said)
		return
	}
	base = proto.CloneOf(base)
	c := m.Interface().(*pb.Case)
	c.On, c.Treatment, c.Site = base.GetOn(), base.GetTreatment(), base.GetSite()
}

// messages lists the entries that have keys of their own.
func messages(list protoreflect.List, kind shape.Kind) []protoreflect.Message {
	var all []protoreflect.Message
	for i := range list.Len() {
		if kind == shape.Keys {
			all = append(all, list.Get(i).Message())
		}
	}
	return all
}

// keepOthers adds what a list had from another case, but for the classes that it now
// has entries of.
func keepOthers(list protoreflect.List, inherited []protoreflect.Message) {
	class := func(m protoreflect.Message) protoreflect.EnumNumber {
		return m.Get(m.Descriptor().Fields().Get(0)).Enum()
	}
	stated := map[protoreflect.EnumNumber]bool{}
	for i := range list.Len() {
		if len(inherited) > 0 {
			stated[class(list.Get(i).Message())] = true
		}
	}
	for _, m := range inherited {
		if !stated[class(m)] {
			list.Append(protoreflect.ValueOfMessage(m))
		}
	}
}
