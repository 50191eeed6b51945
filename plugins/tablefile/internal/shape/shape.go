// Package shape says how the messages of rootward.ruletable.v1 look as text: the
// keys, the kind of value behind each, and how a value is written. It walks the
// descriptors, so that a field or an effect added to the contract has a key, an
// entry in the editor schema and a reader without a line of code here.
package shape

import (
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// Kind is what a value is written as.
type Kind uint8

// The kinds of value.
const (
	Text    Kind = iota + 1
	Integer      // a whole number
	Number       // a decimal number
	Flag         // true or false
	Word         // a word of a vocabulary
	Length       // "100 ft"
	Area         // "5 acres"
	Rate         // "8 lb ae/acre"
	Date         // "2026-01-31"
	Window       // "15 July to 15 October"
	Hours        // "7:00 to sunset - 1:00"
	Amount       // in the unit of the measure beside it
	Keys         // keys of its own
	Others       // a length that stands for every word of the list that has no entry
	Like         // the name of a worked case before this one
)

// Field is one key of a message.
type Field struct {
	Key  string
	Kind Kind
	List bool
	Desc protoreflect.FieldDescriptor // what it sets; for Others the list, for Like the name that it quotes
	// Open is the field that says whether an end of a range is open, and IsOpen what
	// this key says of it.
	Open   protoreflect.FieldDescriptor
	IsOpen bool
}

// unitSuffixes are the units that field names hold and the text states instead.
var unitSuffixes = []struct {
	suffix string
	kind   Kind
}{{"_ug_per_ac", Rate}, {"_um", Length}, {"_mm2", Area}}

// Of lists the keys of a message in the order of its fields.
func Of(message protoreflect.MessageDescriptor) []Field {
	var fields []Field
	for i := range message.Fields().Len() {
		f := message.Fields().Get(i)
		switch {
		case message.Fields().ByName("measure") != nil && f.Name() != "measure":
			fields = append(fields, ends(message, f)...)
		default:
			fields = append(fields, field(f))
		}
	}
	if message.Name() == "Case" {
		fields = append(fields, Field{Key: "like", Kind: Like, Desc: message.Fields().ByName("name")})
	}
	return append(fields, others(message)...)
}

func field(f protoreflect.FieldDescriptor) Field {
	key, kind := string(f.Name()), kindOf(f)
	if kind == Integer {
		key, kind = withoutUnit(key, kind)
	}
	return Field{Key: key, Kind: kind, List: f.IsList(), Desc: f}
}

func withoutUnit(name string, kind Kind) (string, Kind) {
	for _, u := range unitSuffixes {
		if key, found := strings.CutSuffix(name, u.suffix); found {
			return key, u.kind
		}
	}
	return name, kind
}

func kindOf(f protoreflect.FieldDescriptor) Kind {
	switch f.Kind() {
	case protoreflect.EnumKind:
		return Word
	case protoreflect.BoolKind:
		return Flag
	case protoreflect.DoubleKind:
		return Number
	case protoreflect.StringKind:
		return Text
	case protoreflect.MessageKind:
		return kindOfMessage(f.Message())
	}
	return Integer
}

func kindOfMessage(m protoreflect.MessageDescriptor) Kind {
	switch m.Name() {
	case "Date":
		return Date
	case "Window":
		return Window
	case "ClockHours":
		return Hours
	}
	return Keys
}

// ends are the keys for one end of a range, or for the value of a measure.
func ends(message protoreflect.MessageDescriptor, f protoreflect.FieldDescriptor) []Field {
	if f.Kind() == protoreflect.BoolKind {
		return nil // said by the key of the end
	}
	open := message.Fields().ByName(f.Name() + "_open")
	if open == nil {
		return []Field{{Key: string(f.Name()), Kind: Amount, Desc: f}}
	}
	closedKey, openKey := "at_least", "above"
	if f.Name() == "max" {
		closedKey, openKey = "at_most", "below"
	}
	return []Field{
		{Key: closedKey, Kind: Amount, Desc: f, Open: open},
		{Key: openKey, Kind: Amount, Desc: f, Open: open, IsOpen: true},
	}
}

// others are the short forms for lists of distances: "other_water_beyond: 1 mi".
func others(message protoreflect.MessageDescriptor) []Field {
	var fields []Field
	for i := range message.Fields().Len() {
		f := message.Fields().Get(i)
		if f.IsList() && f.Kind() == protoreflect.MessageKind && f.Message().Fields().ByName("at_least") != nil {
			fields = append(fields, Field{Key: "other_" + string(f.Name()) + "_beyond", Kind: Others, Desc: f})
		}
	}
	return fields
}

// OneKind reports whether exactly one key of the message is stated.
func OneKind(message protoreflect.MessageDescriptor) bool {
	return message.Oneofs().ByName("kind") != nil
}

// Element is the message and the fields of a list that an Others key fills: the
// class, the distance and that it is at least so far, and where there is one the
// origin.
type Element struct {
	Message                          protoreflect.MessageDescriptor
	Class, Distance, AtLeast, Origin protoreflect.FieldDescriptor
}

// ElementOf describes the entries of the list behind an Others key.
func ElementOf(list protoreflect.FieldDescriptor) Element {
	m := list.Message()
	return Element{
		Message:  m,
		Class:    m.Fields().Get(0),
		Distance: m.Fields().ByName("distance_um"),
		AtLeast:  m.Fields().ByName("at_least"),
		Origin:   m.Fields().ByName("origin"),
	}
}

// Farthest is the origin that lies farthest from the water, so that "no nearer
// than" holds from wherever a rule starts to measure: the last word, as the
// contract sorts them.
func (e *Element) Farthest() protoreflect.EnumNumber {
	values := e.Origin.Enum().Values()
	return values.Get(values.Len() - 1).Number()
}
