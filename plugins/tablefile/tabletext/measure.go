package tabletext

import (
	"example.org/rootward/plugins/tablefile/internal/shape"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// amount reads a value in the unit of the measure that stands beside it.
func (r *reader) amount(e entry, m protoreflect.Message) {
	measure := m.Descriptor().Fields().ByName("measure")
	of := measure.Enum().Values().ByNumber(m.Get(measure).Enum())
	switch {
	case of.Number() == 0:
		return // told already: the measure is missing or not known
	case m.Has(e.field.Desc):
		r.atToken(e.token, e.path, "this end of the range is stated already; keep one of at_least and above, and one of at_most and below")
		return
	}
	v, ok := r.scalar(e.path, e.value, shape.Field{Kind: shape.AmountOf(of), Desc: e.field.Desc})
	if !ok {
		return
	}
	m.Set(e.field.Desc, v)
	if e.field.IsOpen {
		m.Set(e.field.Open, protoreflect.ValueOfBool(true))
	}
}

// others adds, for every word that has no entry, that it is no nearer than a
// distance from wherever a rule starts to measure.
func (r *reader) others(e entry, m protoreflect.Message) {
	v, ok := r.scalar(e.path, e.value, shape.Field{Kind: shape.Length, Desc: e.field.Desc})
	if !ok {
		return
	}
	list, element := m.Mutable(e.field.Desc).List(), shape.ElementOf(e.field.Desc)
	named := map[protoreflect.EnumNumber]bool{0: true}
	for i := range list.Len() {
		named[list.Get(i).Message().Get(element.Class).Enum()] = true
	}
	classes := element.Class.Enum().Values()
	for i := range classes.Len() {
		if class := classes.Get(i).Number(); !named[class] {
			setOther(list.AppendMutable().Message(), &element, class, v)
		}
	}
}

func setOther(m protoreflect.Message, element *shape.Element, class protoreflect.EnumNumber, distance protoreflect.Value) {
	m.Set(element.Class, protoreflect.ValueOfEnum(class))
	m.Set(element.Distance, distance)
	m.Set(element.AtLeast, protoreflect.ValueOfBool(true))
	if element.Origin != nil {
		m.Set(element.Origin, protoreflect.ValueOfEnum(element.Farthest()))
	}
}
